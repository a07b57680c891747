//! From one rate to another: the whole sound at once by Fourier transform (the crate `rubato`), without delay.

use rubato::audioadapter_buffers::owned::InterleavedOwned;
use rubato::{Fft, FixedSync, Resampler};

/// The sound at another rate; as it is when that is the same.
pub(super) fn resample(sound: &[f32], from: u32, to: u32) -> Vec<f32> {
    if from == to {
        return sound.to_vec();
    }
    // Both rates are within 8 to 192 kHz, and then the library takes every pair of them.
    transformed(sound, from, to).unwrap_or_default()
}

fn transformed(sound: &[f32], from: u32, to: u32) -> Option<Vec<f32>> {
    let mut resampler = Fft::<f32>::new(from as usize, to as usize, 1024, 1, FixedSync::Both).ok()?;
    let input = InterleavedOwned::new_from(sound.to_vec(), 1, sound.len()).ok()?;
    let output = resampler.process_all(&input, sound.len(), None).ok()?;
    Some(output.take_data())
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    /// A tone is the same tone at the other rate, from the same moment on; the edges are left out, where the tone itself
    /// begins and ends with a step.
    #[test]
    fn a_tone_stays_where_it_is() {
        let tone = |rate: u32| -> Vec<f32> {
            (0..rate).map(|n| (TAU * 997.0 * f64::from(n) / f64::from(rate)).sin() as f32).collect()
        };
        for (from, to) in [(44_100, 48_000), (48_000, 44_100), (22_050, 48_000), (96_000, 48_000), (8_000, 44_101)] {
            let (found, expected) = (resample(&tone(from), from, to), tone(to));
            assert_eq!(found.len(), expected.len(), "{from} to {to}");
            let edge = to as usize / 20;
            let inner = edge..found.len() - edge;
            let worst = inner.map(|n| (found[n] - expected[n]).abs()).fold(0.0, f32::max);
            // -80 dB.
            assert!(worst < 1e-4, "{from} to {to}: {worst}");
        }
    }
}
