//! A blade on the bell of a guard: the rim of the guard rings like a ring, the blade that hit it like a blade.
//!
//! The modes of a free ring in its own plane lie at n(n²-1)/√(n²+1), n = 2, 3, 4 …, which is 1 : 2.828 : 5.423 : 8.771
//! (Rayleigh, *The Theory of Sound*, section 233; recomputed). A ring that is not quite round has each of them twice,
//! a little apart, and the two beat against each other: that is what makes a bell of it. The guard sits on the hilt by
//! its middle, where its rim modes do not move, so the hand takes little.

use std::f64::consts::{PI, TAU};

use super::material::STEEL;
use super::modal::{Mode, Push, heard_from, ring, touch_spectrum};
use super::seed::Seed;
use super::steel::light_blade;

/// How long it may ring, seconds.
const LENGTH: f64 = 2.0;

/// The guard: half of its opening, and the thickness of its rim, metres.
const RADIUS: f64 = 0.060;
const THICKNESS: f64 = 0.0022;

/// The sound that a seed gives.
pub(super) fn render(mut seed: Seed, rate: u32) -> Vec<f64> {
    let modes = modes(&mut seed);
    let (angle, touch) = (seed.between(0.0, TAU), seed.between(1.0e-4, 1.6e-4));
    let blade = light_blade(&mut seed, 0.5, 0.9);
    let guard: Vec<f64> = (2..).zip(modes.chunks(2)).flat_map(|(n, pair)| pushed(n, pair, angle, touch)).collect();
    let struck = blade.modes();
    let all: Vec<Mode> = modes.iter().copied().chain(struck.iter().map(|(_, mode)| *mode)).collect();
    let of_blade = struck.iter().map(|(root, mode)| 0.12 * blade.push(*root, mode.hertz, blade.touched, touch));
    let amounts: Vec<f64> = guard.into_iter().chain(of_blade).collect();
    let again = seed.between(0.015, 0.03);
    let weaker = amounts.iter().map(|amount| 0.3 * amount).collect();
    ring(&all, &[Push { at: 0.0, amounts }, Push { at: again, amounts: weaker }], LENGTH, rate)
}

/// The modes of the guard, two by two.
pub(super) fn modes(seed: &mut Seed) -> Vec<Mode> {
    let size = seed.between(0.97, 1.03);
    let middle = THICKNESS * STEEL.speed() / (12f64.sqrt() * TAU * (RADIUS * size).powi(2));
    let mut modes = Vec::new();
    for n in 2..=11 {
        let n = f64::from(n);
        let hertz = middle * n * (n * n - 1.0) / (n * n + 1.0).sqrt();
        let apart = seed.between(0.0015, 0.005);
        for hertz in [hertz * (1.0 - apart), hertz * (1.0 + apart)] {
            modes.push(Mode { hertz, fall: STEEL.fall(hertz) + 2.0 });
        }
    }
    modes
}

/// The push to both of a pair, by the angle at which the rim is hit. The rim is as wide as half its opening.
fn pushed(n: u32, pair: &[Mode], angle: f64, touch: f64) -> Vec<f64> {
    let turned = f64::from(n) * angle;
    let push = |mode: &Mode, part: f64| part * touch_spectrum(mode.hertz, touch) * heard_from(mode.hertz, RADIUS);
    pair.iter().zip([turned.cos(), (turned + PI / 2.0).cos()]).map(|(mode, part)| push(mode, part)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: Rayleigh, section 233 (the ratios recomputed from its formula).
    #[test]
    fn the_pairs_lie_at_the_ratios_of_a_ring() {
        let modes = modes(&mut Seed::new(1));
        let middle = |pair: &[Mode]| (pair[0].hertz + pair[1].hertz) / 2.0;
        let pairs: Vec<f64> = modes.chunks(2).map(middle).collect();
        for (pair, ratio) in pairs.iter().zip([1.0, 2.828, 5.423, 8.771]) {
            assert!((pair / pairs[0] - ratio).abs() < 0.001, "{} for {ratio}", pair / pairs[0]);
        }
    }
}
