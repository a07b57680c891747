//! A fist on a body: flesh and ribs, low and almost without ringing, and the cloth over them. The loss factor of flesh
//! is taken as a quarter: nothing in it vibrates more than a few times (by ear and spectrogram; no source).

use std::f64::consts::PI;

use super::cloth::rustle;
use super::modal::{Mode, Push, ring, touch_spectrum};
use super::seed::Seed;

const FLESH: f64 = 0.25;

/// The sound that a seed gives.
pub(super) fn render(mut seed: Seed, rate: u32) -> Vec<f64> {
    let size = seed.between(0.8, 1.2);
    let modes = [92.0, 138.0, 205.0, 330.0, 520.0].map(|hertz| {
        let hertz = hertz * size * seed.between(0.9, 1.1);
        Mode { hertz, fall: PI * hertz * FLESH + 8.0 }
    });
    let touch = seed.between(0.0022, 0.0032);
    // A fist lands on ribs or on flesh: each answers in its own way.
    let amounts = modes.iter().map(|mode| seed.between(0.5, 1.5) * touch_spectrum(mode.hertz, touch)).collect();
    let mut out = ring(&modes, &[Push { at: 0.0, amounts }], 0.25, rate);
    let cloth = rustle(&mut seed, rate, 900.0, 0.012, 0.12);
    for (sample, cloth) in out.iter_mut().zip(cloth) {
        *sample += 0.8 * cloth;
    }
    out
}
