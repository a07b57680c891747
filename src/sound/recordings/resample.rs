//! From one rate to another: the whole sound at once by Fourier transform (the crate `rubato`), without delay.

use rubato::audioadapter_buffers::owned::InterleavedOwned;
use rubato::{Fft, FixedSync, Resampler, WindowFunction};

/// The sound at another rate; as it is when that is the same.
pub(super) fn resample(sound: &[f32], from: u32, to: u32) -> Vec<f32> {
    if from == to {
        return sound.to_vec();
    }
    // Both rates are within 8 to 192 kHz, and then the library takes every pair of them.
    transformed(sound, from, to).unwrap_or_default()
}

fn transformed(sound: &[f32], from: u32, to: u32) -> Option<Vec<f32>> {
    let (from_rate, to_rate) = (from as usize, to as usize);
    // The library's delay is half of a block, and it takes it off again in whole samples: of an even number of the
    // smallest blocks the half is whole, so that the sound stays where it was.
    let smallest = from_rate / greatest_common_divisor(from_rate, to_rate);
    let block = 2 * smallest * 512usize.div_ceil(smallest);
    let window = WindowFunction::BlackmanHarris2;
    let mut resampler = Fft::<f32>::new_custom(from_rate, to_rate, block, 1, 1, window, FixedSync::Both).ok()?;
    let input = InterleavedOwned::new_from(sound.to_vec(), 1, sound.len()).ok()?;
    let output = resampler.process_all(&input, sound.len(), None).ok()?;
    let mut made = output.take_data();
    // The library reckons the length in floating point, and is now and then a sample too long.
    let exact = (sound.len() as u64 * u64::from(to)).div_ceil(u64::from(from));
    made.truncate(usize::try_from(exact).unwrap_or(usize::MAX));
    Some(made)
}

fn greatest_common_divisor(a: usize, b: usize) -> usize {
    if b == 0 { a } else { greatest_common_divisor(b, a % b) }
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
            // -70 dB.
            assert!(worst < 3e-4, "{from} to {to}: {worst}");
        }
    }
}
