//! A blade through air. Behind a rod that moves through air, eddies part from it at f = St · v / d with a Strouhal
//! number St of about 0.2, and the power that is heard of it grows as v⁶ (both from memory, after texts on aeolian
//! tones). The blade turns about the hand, so every part of it has a speed of its own; eight parts are added up.

use std::f64::consts::PI;

use super::filter::BandPass;
use super::seed::Seed;

const STROUHAL: f64 = 0.2;
const PARTS: u32 = 8;
/// How sharp the tone of the eddies is.
const SHARPNESS: f64 = 2.5;

/// The sound that a seed gives.
pub(super) fn render(mut seed: Seed, rate: u32) -> Vec<f64> {
    let fastest = seed.between(27.0, 36.0);
    let across = seed.between(0.007, 0.009);
    let length = seed.between(0.20, 0.26);
    let rate = f64::from(rate);
    let mut out = vec![0.0; (length * rate) as usize];
    for part in 1..=PARTS {
        let place = 0.3 + 0.7 * f64::from(part) / f64::from(PARTS);
        let (mut wide, mut narrow) = (BandPass::default(), BandPass::default());
        let count = out.len() as f64;
        for (n, sample) in out.iter_mut().enumerate() {
            // The swing is fastest a little before its middle, so that it is heard soon after its beginning.
            let speed = fastest * place * (PI * (n as f64 / count).powf(0.7)).sin().powi(2);
            let loud = (speed / fastest).powi(3);
            let tone = STROUHAL * speed / across;
            let eddies = wide.next(seed.noise(), tone, SHARPNESS, rate);
            *sample += loud * narrow.next(eddies, tone, SHARPNESS, rate);
        }
    }
    out
}
