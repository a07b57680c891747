//! Heavy steel: two long, broad blades meet near their middles.
//!
//! A long sword's hilt weighs little against its blade, so the blade is a bar with free ends. It is longer and heavier
//! than a light one: its modes lie closer and lower, the touch lasts longer and leaves the highest out, the hands take
//! less of it, and so it rings longer. The sections are those of a stage broadsword (common practice, no source).

use super::beam::{Bar, Ends};
use super::blades::{Blade, Meeting};
use super::material::STEEL;
use super::seed::Seed;

/// The meeting that a seed gives.
pub(super) fn meeting(mut seed: Seed) -> Meeting {
    let blades = [(0.62, 0.80), (0.35, 0.52)].map(|(low, high)| {
        let length = seed.between(1.06, 1.14);
        let bar = Bar { ends: Ends::Free, length, gyration: 0.0062 / 12f64.sqrt(), material: STEEL };
        Blade { bar, width: 0.042, mass: 1.4, grip: seed.between(2.4, 3.2), touched: seed.between(low, high) }
    });
    let touch = seed.between(2.4e-4, 3.4e-4);
    let (second, third) = (seed.between(0.018, 0.032), seed.between(0.040, 0.055));
    let touches = vec![(0.0, 1.0), (second, seed.between(0.25, 0.45)), (third, seed.between(0.08, 0.2))];
    Meeting { blades, touch, touches, length: 2.4 }
}
