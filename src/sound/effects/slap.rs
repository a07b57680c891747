//! A slap that is made with the hands (a knap): two palms close on a pocket of air. The pocket and the palms have a few
//! strongly damped resonances, the lowest below 1 kHz for flat palms (B. Repp, *The sound of two hands clapping*, 1987,
//! from memory), and the closing itself is a hiss of some milliseconds.

use std::f64::consts::PI;

use super::filter::BandPass;
use super::modal::{Mode, Push, ring};
use super::seed::Seed;

/// The sound that a seed gives.
pub(super) fn render(mut seed: Seed, rate: u32) -> Vec<f64> {
    let size = seed.between(0.88, 1.12);
    let modes =
        [(720.0, 11.0), (1_480.0, 12.0), (2_450.0, 14.0), (4_100.0, 14.0)].map(|(hertz, quality): (f64, f64)| {
            let hertz = hertz * size * seed.between(0.96, 1.04);
            Mode { hertz, fall: PI * hertz / quality }
        });
    // Palms do not close at once, but finger by finger.
    let mut pushes: Vec<Push> = (0..24)
        .map(|n| {
            let at = if n == 0 { 0.0 } else { seed.between(0.0, 0.004) };
            let strength = seed.noise() * (-at / 0.0015f64).exp() + if n == 0 { 1.0 } else { 0.0 };
            (at, strength)
        })
        .map(|(at, strength)| Push { at, amounts: [1.0, 0.9, 0.6, 0.35].map(|part| part * strength).into() })
        .collect();
    pushes.sort_by(|one, other| one.at.total_cmp(&other.at));
    let mut out = ring(&modes, &pushes, 0.16, rate);
    let mut hiss = BandPass::default();
    for (n, sample) in out.iter_mut().enumerate() {
        let time = n as f64 / f64::from(rate);
        let noise = seed.noise() * (0.8 * (-time / 0.003).exp() + 0.25 * (-time / 0.022).exp());
        *sample += 3.2 * hiss.next(noise, 3_000.0, 0.6, f64::from(rate));
    }
    out
}
