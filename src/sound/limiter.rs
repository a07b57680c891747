//! A limiter for finished tracks: louder, and no true peak over the ceiling. It sees the whole track, so that it turns down
//! ahead of a peak and moves no onset: what is silent stays silent, sample by sample.
//!
//! The gain at a sample is the mean, over a short window on both sides, of the least gain that any peak within the same
//! window asks for; a mean of numbers that are all small enough is small enough. Between peaks it comes back slowly. (The
//! usual look-ahead limiter: D. Giannoulis, M. Massberg, J. Reiss, “Digital Dynamic Range Compressor Design”, J. Audio Eng.
//! Soc. 60, 2012, from memory.) Peaks are those between samples as well: four times as many points, ITU-R BS.1770, annex 2.

use std::collections::VecDeque;

use super::between::{Between, FINE, REACH};

/// So long on either side of a peak the gain is already, or still, low: seconds.
const AHEAD: f64 = 0.003;
/// Afterwards two thirds of the way back take so long: seconds.
const RELEASE: f64 = 0.080;

/// The track with no true peak over `ceiling` (of full scale), and by how much it was turned down at the most (1 is not
/// at all).
pub(super) fn limited(track: &[f32], ceiling: f32, rate: u32) -> (Vec<f32>, f32) {
    let asked: Vec<f32> =
        peaks(track).into_iter().map(|peak| (ceiling / peak.max(f32::MIN_POSITIVE)).min(1.0)).collect();
    let window = (AHEAD * f64::from(rate)).ceil() as usize;
    let mut least = sliding_minimum(&asked, window);
    let back = (1.0 - (-1.0 / (RELEASE * f64::from(rate))).exp()) as f32;
    let mut before = 1.0_f32;
    for gain in &mut least {
        before = gain.min(before + (1.0 - before) * back);
        *gain = before;
    }
    let gains = sliding_mean(&least, window);
    let lowest = gains.iter().copied().fold(1.0, f32::min);
    (track.iter().zip(gains).map(|(sample, gain)| sample * gain).collect(), lowest)
}

/// For each sample the highest point from half a sample before it to half a sample after.
fn peaks(track: &[f32]) -> Vec<f32> {
    let between = Between::new();
    let mut padded = vec![0.0; REACH - 1];
    padded.extend_from_slice(track);
    padded.resize(track.len() + 2 * REACH, 0.0);
    let mut peaks: Vec<f32> = track.iter().map(|sample| sample.abs()).collect();
    for (here, around) in padded.windows(2 * REACH).take(track.len()).enumerate() {
        for (point, value) in (1..).zip(between.points(around)) {
            // A point belongs to the sample that is nearer; the one in the middle to both.
            for (share, index) in [(2 * point <= FINE, here), (2 * point >= FINE, here + 1)] {
                if let Some(peak) = peaks.get_mut(index).filter(|_| share) {
                    *peak = peak.max(value.abs());
                }
            }
        }
    }
    peaks
}

/// For each place the least value at most `reach` places away.
fn sliding_minimum(values: &[f32], reach: usize) -> Vec<f32> {
    let value = |at: usize| values.get(at).copied().unwrap_or(1.0);
    let mut rising: VecDeque<usize> = VecDeque::new();
    let mut least = Vec::with_capacity(values.len());
    for end in 0..values.len() + reach {
        if end < values.len() {
            while rising.back().is_some_and(|&last| value(last) >= value(end)) {
                rising.pop_back();
            }
            rising.push_back(end);
        }
        if let Some(here) = end.checked_sub(reach) {
            while rising.front().is_some_and(|&first| first + reach < here) {
                rising.pop_front();
            }
            least.push(rising.front().map_or(1.0, |&first| value(first)));
        }
    }
    least
}

/// For each place the mean of the values at most `reach` places away; beyond the ends stands what stands at the ends.
fn sliding_mean(values: &[f32], reach: usize) -> Vec<f32> {
    let (Some(first), Some(last)) = (values.first(), values.last()) else { return Vec::new() };
    let padded = std::iter::repeat_n(first, reach).chain(values).chain(std::iter::repeat_n(last, reach));
    let mut sums = vec![0.0_f64];
    for value in padded {
        sums.push(sums.last().copied().unwrap_or(0.0) + f64::from(*value));
    }
    let width = 2 * reach + 1;
    sums.windows(width + 1).map(|sums| ((sums[width] - sums[0]) / width as f64) as f32).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use ebur128::{EbuR128, Mode};
    use proptest::prelude::*;
    use std::f64::consts::PI;

    fn true_peak(track: &[f32], rate: u32) -> f64 {
        let mut meter = EbuR128::new(1, rate, Mode::TRUE_PEAK).unwrap();
        meter.add_frames_f32(track).unwrap();
        meter.true_peak(0).unwrap()
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(48))]

        /// The true peak as another meter has it (`ebur128`, BS.1770 annex 2) stays under the ceiling but for what two meters
        /// of four points differ by; what was silent is silent, and what is below the ceiling throughout is as it was.
        #[test]
        fn no_true_peak_over_the_ceiling_and_silence_stays(
            bursts in prop::collection::vec((0usize..4_000, 50usize..1_500, 0.01f32..20.0, 200f64..12_000.0), 1..12),
        ) {
            let mut track = vec![0.0f32; 12_000];
            for (at, length, level, hertz) in bursts {
                for n in 0..length {
                    let fade = (PI * n as f64 / length as f64).sin();
                    track[2 * at + n] += level * (fade * (2.0 * PI * hertz * n as f64 / 48_000.0).sin()) as f32;
                }
            }
            let ceiling = 0.9;
            let (made, lowest) = limited(&track, ceiling, 48_000);
            prop_assert!(true_peak(&made, 48_000) <= f64::from(ceiling) * 1.03, "{}", true_peak(&made, 48_000));
            prop_assert!(track.iter().zip(&made).all(|(was, is)| is.abs() <= was.abs() && (*was == 0.0) == (*is == 0.0)));
            if true_peak(&track, 48_000) < 0.85 {
                prop_assert_eq!(made, track);
                prop_assert_eq!(lowest, 1.0);
            }
        }
    }

    #[test]
    fn nothing_is_made_of_nothing() {
        assert_eq!(limited(&[], 0.9, 48_000), (Vec::new(), 1.0));
    }
}
