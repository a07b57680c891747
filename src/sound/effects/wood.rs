//! Wood on wood: two staves meet. The same bars as steel, of ash: it loses twenty-five times as much in every vibration,
//! so the same theory that gives a ringing blade gives a short, dry knock.

use super::beam::{Bar, Ends};
use super::blades::{Blade, Meeting};
use super::material::HARDWOOD;
use super::seed::Seed;

/// The meeting that a seed gives.
pub(super) fn meeting(mut seed: Seed) -> Meeting {
    let blades = [(0.72, 0.9), (0.42, 0.6)].map(|(low, high)| {
        let (length, across) = (seed.between(1.4, 1.6), seed.between(0.026, 0.030));
        let bar = Bar { ends: Ends::Free, length, gyration: across / 4.0, material: HARDWOOD };
        Blade { bar, width: across, mass: 0.6, grip: seed.between(14.0, 20.0), touched: seed.between(low, high) }
    });
    let touch = seed.between(3.0e-4, 5.0e-4);
    let touches = vec![(0.0, 1.0), (seed.between(0.02, 0.035), seed.between(0.1, 0.3))];
    Meeting { blades, touch, touches, length: 0.5 }
}
