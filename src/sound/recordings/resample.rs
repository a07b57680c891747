//! From one rate to another: the whole sound at once by a windowed sinc (the crate `rubato`), without delay.

use rubato::audioadapter_buffers::owned::InterleavedOwned;
use rubato::{Async, FixedAsync, Resampler, SincInterpolationParameters, WindowFunction};

use crate::units::greatest_common_divisor;

/// The sound at another rate; as it is when that is the same.
pub(super) fn resample(sound: &[f32], from: u32, to: u32) -> Vec<f32> {
    if from == to {
        return sound.to_vec();
    }
    // Both rates are within 8 to 192 kHz, and then the library takes every pair of them.
    filtered(sound, from, to).unwrap_or_default()
}

/// How many samples of the lower rate a filter is long: it carries up to nine tenths of the band, and what lies above it is
/// a hundred thousandth.
const FILTER: usize = 256;
/// Into how many parts a sample is divided: the library's filter lies up to one of them beside where it is said to be.
const FINE: usize = 1024;
/// How many samples are taken at a time.
const BLOCK: usize = 1024;

fn filtered(sound: &[f32], from: u32, to: u32) -> Option<Vec<f32>> {
    let (from_rate, to_rate) = (from as usize, to as usize);
    let window = WindowFunction::BlackmanHarris2;
    let filter =
        SincInterpolationParameters::new(FILTER * from_rate.div_ceil(to_rate), window).oversampling_factor(FINE);
    let ratio = f64::from(to) / f64::from(from);
    let mut resampler = Async::<f32>::new_sinc(ratio, 1.0, &filter, BLOCK, 1, FixedAsync::Input).ok()?;
    // The filter delays by half its length, and the library takes whole samples of that off again. With so much silence
    // before the sound that the delay is whole at both rates, the sound stays where it was.
    let shared = usize::try_from(greatest_common_divisor(i64::from(from), i64::from(to))).ok()?;
    let (half, whole) = (filter.sinc_len / 2, from_rate / shared);
    let before = half.next_multiple_of(whole) + whole - half;
    let silence = |samples| std::iter::repeat_n(0.0, samples);
    let led: Vec<f32> = silence(before).chain(sound.iter().copied()).chain(silence(whole)).collect();
    let length = led.len();
    let input = InterleavedOwned::new_from(led, 1, length).ok()?;
    let made = resampler.process_all(&input, length, None).ok()?.take_data();
    // The first sample that it makes is one of the new rate after the beginning.
    let late = ((half + before) * to_rate / from_rate).saturating_sub(resampler.output_delay() + 1);
    Some(made.into_iter().skip(late).take((sound.len() * to_rate).div_ceil(from_rate)).collect())
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
            // -76 dB, and a part of a sample by which the filter lies beside its place.
            let beside = TAU as f32 * 997.0 / from as f32 / FINE as f32;
            assert!(worst < 1.5e-4 + beside, "{from} to {to}: {worst}");
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
