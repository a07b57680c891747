//! Cloth: a blade or a hand on it. Threads catch and let go: a crackle of small grains in the range in which friction of
//! fabric is heard, with a soft body behind it. By ear and spectrogram; no source.

use super::filter::BandPass;
use super::seed::Seed;

/// The sound that a seed gives.
pub(super) fn render(mut seed: Seed, rate: u32) -> Vec<f64> {
    let middle = seed.between(1_700.0, 2_300.0);
    let decay = seed.between(0.035, 0.050);
    let mut out = rustle(&mut seed, rate, middle, decay, 0.30);
    let mut body = BandPass::default();
    for (n, sample) in out.iter_mut().enumerate() {
        let time = n as f64 / f64::from(rate);
        *sample += 2.5 * body.next(seed.noise() * (-time / 0.018).exp(), 210.0, 1.0, f64::from(rate));
    }
    out
}

/// Rustling for `length` seconds, around `middle` hertz, falling to 1/e in `decay` seconds.
pub(super) fn rustle(seed: &mut Seed, rate: u32, middle: f64, decay: f64, length: f64) -> Vec<f64> {
    let rate = f64::from(rate);
    let (mut low, mut high) = (BandPass::default(), BandPass::default());
    let (mut grain, mut left) = (1.0, 0.0);
    (0..(length * rate) as usize)
        .map(|n| {
            let time = n as f64 / rate;
            if left <= 0.0 {
                grain = seed.between(0.05, 1.0f64).powi(2);
                left = seed.between(0.0006, 0.004) * rate;
            }
            left -= 1.0;
            let noise = seed.noise() * grain * (-time / decay).exp() * (time / 0.002).min(1.0);
            low.next(noise, middle, 0.9, rate) + 0.6 * high.next(noise, 2.3 * middle, 0.9, rate)
        })
        .collect()
}
