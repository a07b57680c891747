//! From one rate to another: every sample of the new rate is a sum of the old ones around its moment, weighed by a sine
//! cardinal in a Blackman-Harris window (F. J. Harris, "On the use of windows for harmonic analysis with the discrete Fourier
//! transform", Proc. IEEE 66, 1978: side lobes 92 dB down; the four terms from memory). It knows the whole sound, so it delays
//! nothing, and what the new rate cannot carry is left out.

use std::collections::HashMap;
use std::f64::consts::PI;

/// How many times the sine cardinal crosses zero on either side.
const CROSSINGS: f64 = 64.0;
/// Where it begins to leave out, as a part of what the lower of the two rates can carry.
const CARRIED: f64 = 0.95;

/// The sound at another rate; as it is when that is the same.
pub(super) fn resample(sound: &[f32], from: u32, to: u32) -> Vec<f32> {
    if from == to || from == 0 || to == 0 {
        return sound.to_vec();
    }
    let (from, to) = (u64::from(from), u64::from(to));
    let sieve = Sieve::between(from, to);
    // As many different sums as there are places of a new sample between two old ones.
    let mut weights: HashMap<u64, Vec<f32>> = HashMap::new();
    let length = (sound.len() as u64 * to).div_ceil(from);
    let sample = |n: u64| {
        let (whole, part) = (n * from / to, n * from % to);
        let weights = weights.entry(part).or_insert_with(|| sieve.weights(part as f64 / to as f64));
        let first = whole as i64 + 1 - sieve.reach;
        let skip = usize::try_from(-first).unwrap_or(0);
        let old = sound.iter().skip(usize::try_from(first).unwrap_or(0));
        weights.iter().skip(skip).zip(old).map(|(weight, old)| weight * old).sum()
    };
    (0..length).map(sample).collect()
}

/// What is weighed how.
struct Sieve {
    /// Old samples on either side.
    reach: i64,
    /// Where it begins to leave out, as a part of what the old rate can carry.
    carried: f64,
}

impl Sieve {
    fn between(from: u64, to: u64) -> Sieve {
        let carried = CARRIED * (to as f64 / from as f64).min(1.0);
        Sieve { reach: (CROSSINGS / carried).ceil() as i64, carried }
    }

    /// The weights of the old samples around a moment that lies `into` of the way from one to the next. Their sum is 1.
    fn weights(&self, into: f64) -> Vec<f32> {
        let weight = |step: i64| {
            let distance = (step + 1 - self.reach) as f64 - into;
            let turn = PI * distance / self.reach as f64;
            if turn.abs() >= PI {
                return 0.0;
            }
            let window = 0.35875 + 0.48829 * turn.cos() + 0.14128 * (2.0 * turn).cos() + 0.01168 * (3.0 * turn).cos();
            let crossing = PI * self.carried * distance;
            window * if crossing.abs() < 1e-12 { 1.0 } else { crossing.sin() / crossing }
        };
        let weights: Vec<f64> = (0..2 * self.reach).map(weight).collect();
        let sum: f64 = weights.iter().sum();
        weights.into_iter().map(|weight| (weight / sum) as f32).collect()
    }
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
            assert!(steady[edge..steady.len() - edge].iter().all(|sample| (sample - 0.5).abs() < 1e-5));
        }
        assert!(resample(&[], 44_100, 48_000).is_empty());
    }
}
