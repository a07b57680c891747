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

    /// What lies above half of the new rate cannot be carried and must not come back as another tone (the sampling theorem).
    #[test]
    fn what_cannot_be_carried_is_left_out() {
        let tone: Vec<f32> = (0..48_000).map(|n| (TAU * 9_000.0 * f64::from(n) / 48_000.0).sin() as f32).collect();
        let found = resample(&tone, 48_000, 16_000);
        let inner = &found[800..found.len() - 800];
        assert!(inner.iter().all(|sample| sample.abs() < 1e-4), "-80 dB");
    }

    /// A click stays at its moment, and what is steady stays as high as it is.
    #[test]
    fn nothing_is_moved_or_made_louder() {
        for (from, to) in [(44_100, 48_000), (48_000, 44_100), (96_000, 48_000), (11_025, 48_000)] {
            let mut click = vec![0.0_f32; from as usize];
            let at = from as usize / 3;
            click[at] = 1.0;
            let found = resample(&click, from, to);
            let loudest = found.iter().enumerate().max_by(|one, other| one.1.total_cmp(other.1)).unwrap().0;
            let expected = at as f64 * f64::from(to) / f64::from(from);
            assert!((loudest as f64 - expected).abs() <= 1.0, "{from} to {to}: {loudest}, not {expected}");
            let steady = resample(&vec![0.5; from as usize], from, to);
            let edge = to as usize / 50;
            // -70 dB.
            assert!(steady[edge..steady.len() - edge].iter().all(|sample| (sample - 0.5).abs() < 1.5e-4));
        }
        assert!(resample(&[], 44_100, 48_000).is_empty());
    }
}
