//! A breath that is heard: pulses of the voice that fall in pitch, and breath, through the resonances of a throat that
//! says the open vowel of "but". Its formants are those of men in G. Peterson and H. Barney, *Control methods used in a
//! study of the vowels*, 1952: 640, 1190 and 2390 Hz (from memory).

use super::filter::BandPass;
use super::seed::Seed;

const FORMANTS: [(f64, f64, f64); 3] = [(640.0, 6.0, 1.0), (1_190.0, 9.0, 0.55), (2_390.0, 12.0, 0.2)];

/// The sound that a seed gives.
pub(super) fn render(mut seed: Seed, rate: u32) -> Vec<f64> {
    let rate = f64::from(rate);
    let throat = seed.between(0.92, 1.08);
    let (high, low) = (seed.between(120.0, 150.0), seed.between(78.0, 92.0));
    let length = seed.between(0.22, 0.30);
    let mut filters = FORMANTS.map(|formant| (BandPass::default(), formant));
    let (mut phase, mut soft, mut roughness) = (1.0, 0.0, 1.0);
    (0..(length * rate) as usize)
        .map(|n| {
            let done = n as f64 / (length * rate);
            phase += (high + (low - high) * done) / rate;
            let mut pulse = 0.0;
            if phase >= 1.0 {
                phase -= 1.0;
                roughness = seed.between(0.6, 1.0);
                // One pulse carries the same whatever the rate.
                pulse = roughness * rate / 48_000.0 * 40.0;
            }
            // The pulse of the voice loses 6 dB an octave above 300 Hz.
            soft += (pulse - soft) * (1.0 - (-std::f64::consts::TAU * 300.0 / rate).exp());
            let envelope = (done / 0.08).min(1.0) * (1.0 - done).powf(1.3);
            let source = (soft * (1.0 - 0.6 * done) + 0.35 * seed.noise() * (0.4 + done)) * envelope;
            filters
                .iter_mut()
                .map(|(filter, (hertz, quality, part))| *part * filter.next(source, *hertz * throat, *quality, rate))
                .sum::<f64>()
        })
        .collect()
}
