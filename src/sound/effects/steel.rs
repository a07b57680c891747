//! Light steel: two one-handed blades meet, the foible of one on the forte of the other.
//!
//! A light blade in a heavy hilt is a bar that is held at one end. The sections are those of a stage rapier (common
//! practice, no source). What the hand takes is chosen so that the ringing lasts for about a second, as it does.

use super::beam::{Bar, Ends};
use super::blades::{Blade, Meeting};
use super::material::STEEL;
use super::seed::Seed;

/// The meeting that a seed gives.
pub(super) fn meeting(mut seed: Seed) -> Meeting {
    let mut blades = [(0.55, 0.85), (0.22, 0.42)].map(|(low, high)| light_blade(&mut seed, low, high));
    // The hand that strikes holds looser than the one that stops the blow.
    blades[1].grip *= 1.3;
    let touch = seed.between(0.9e-4, 1.4e-4);
    let mut touches = vec![(0.0, 1.0)];
    let (mut gap, mut strength) = (seed.between(0.009, 0.018), 1.0);
    for _ in 0..3 {
        let last = touches.last().map_or(0.0, |(at, _)| *at);
        strength *= seed.between(0.3, 0.55);
        touches.push((last + gap, strength));
        gap *= seed.between(0.45, 0.8);
    }
    Meeting { blades, touch, touches, length: 1.5 }
}

/// A light blade that is touched somewhere between two places.
pub(super) fn light_blade(seed: &mut Seed, low: f64, high: f64) -> Blade {
    let length = seed.between(0.86, 0.92);
    let bar = Bar { ends: Ends::Held, length, gyration: 0.0075 / 12f64.sqrt(), material: STEEL };
    Blade { bar, width: 0.016, mass: 0.55, grip: seed.between(4.5, 6.0), touched: seed.between(low, high) }
}
