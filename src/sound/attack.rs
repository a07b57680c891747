//! The perceived attack of a sound: the moment of it that is heard as "now". It is what must fall on the beat; the first
//! sample of a swish comes long before the blade passes. Computed effects that begin with a contact (a blow, a scrape, a
//! fall) have it at their first sample by what they are; what swells by nature and every recording is measured.
//!
//! The rule, the same for what is computed and what is recorded: the energies of windows of 30 ms, a millisecond apart, are
//! compared with the greatest of them. In the first window that comes within half a decibel of it the sound arrives. Its
//! rise is the first 5 ms in there that have half the energy of the loudest 5 ms. Where the sound comes out of little (the 10
//! ms before have less than a quarter of the energy of the 10 ms after), that is the attack: a blow is heard at once. What
//! swells is heard where it is loudest: at the centre of the loudest 60 ms near there. (That the attack of a sound that swells is
//! heard near its greatest intensity, and not at its onset: Gordon, The perceptual attack time of musical tones, JASA 82,
//! 1987; Vos and Rasch, 1981; both from memory. The figures of the rule are ours.)

use crate::units::Micros;

/// The windows that are compared, seconds.
const WINDOW: f64 = 0.030;
/// How far apart they are, seconds.
const STEP: f64 = 0.001;
/// A window counts as loudest from this part of the greatest energy on: half a decibel less.
const LOUDEST: f64 = 0.891_251;
/// How long a rise is, seconds, and what is compared on both sides of it.
const RISE: f64 = 0.005;
const SIDE: f64 = 0.010;
/// The part of the energy of the loudest moment that a rise has.
const RISEN: f64 = 0.5;
/// A sound comes out of little when it had less than this part of its energy just before.
const LITTLE: f64 = 0.25;

/// When the attack is heard, after the first sample. Nothing for silence.
pub fn perceived_attack(sound: &[f32], rate: u32) -> Option<Micros> {
    let energy = Energy::of(sound, rate);
    let [window, step, rise, side] = [WINDOW, STEP, RISE, SIDE].map(|seconds| energy.samples(seconds));
    let fine = energy.samples(STEP / 4.0);
    let arrives = first_near_greatest(0..sound.len(), step, LOUDEST, |start| energy.sum(start, window))?;
    let rises = first_near_greatest(arrives..arrives + window, fine, RISEN, |start| energy.sum(start, rise))?;
    let before = energy.sum(rises.saturating_sub(side), rises.min(side));
    match rises {
        0 => Some(Micros::ZERO),
        _ if before < LITTLE * energy.sum(rises, side) => Some(energy.time((rises + rise / 2) as f64)),
        _ => energy.loudest_moment(arrives.saturating_sub(window)..arrives + 2 * window),
    }
}

/// When a sound that swells is loudest, after its first sample: at the centre of its loudest 60 ms. Nothing for silence.
pub fn loudest_moment(sound: &[f32], rate: u32) -> Option<Micros> {
    Energy::of(sound, rate).loudest_moment(0..sound.len())
}

/// The energy of a sound, ready to be summed over any stretch of it.
struct Energy {
    rate: f64,
    /// The energy before every sample, and of all of them.
    gathered: Vec<f64>,
}

impl Energy {
    fn of(sound: &[f32], rate: u32) -> Energy {
        let mut sum = 0.0;
        let sums = sound.iter().map(|sample| {
            sum += f64::from(*sample) * f64::from(*sample);
            sum
        });
        Energy { rate: f64::from(rate), gathered: std::iter::once(0.0).chain(sums).collect() }
    }

    fn samples(&self, seconds: f64) -> usize {
        (seconds * self.rate).round().max(1.0) as usize
    }

    fn time(&self, sample: f64) -> Micros {
        Micros((sample * 1e6 / self.rate).round() as i64)
    }

    fn sum(&self, from: usize, length: usize) -> f64 {
        let last = self.gathered.len().saturating_sub(1);
        let at = |n: usize| self.gathered.get(n.min(last)).copied().unwrap_or_default();
        at(from + length) - at(from)
    }

    fn loudest_moment(&self, near: std::ops::Range<usize>) -> Option<Micros> {
        let swell = self.samples(2.0 * WINDOW);
        let start = first_near_greatest(near, self.samples(STEP), 1.0, |start| self.sum(start, swell))?;
        let moments = (start..start + swell).map(|n| n as f64 * self.sum(n, 1));
        Some(self.time(moments.sum::<f64>() / self.sum(start, swell)))
    }
}

/// The first of these places whose energy is at least that part of the greatest; nothing when all are silent.
fn first_near_greatest(
    places: std::ops::Range<usize>,
    step: usize,
    part: f64,
    energy: impl Fn(usize) -> f64,
) -> Option<usize> {
    let energies: Vec<(usize, f64)> = places.step_by(step).map(|place| (place, energy(place))).collect();
    let greatest = energies.iter().map(|(_, energy)| *energy).fold(0.0, f64::max);
    energies.into_iter().find(|(_, energy)| greatest > 0.0 && *energy >= part * greatest).map(|(place, _)| place)
}

#[cfg(test)]
mod tests {
    use super::*;

    const RATE: u32 = 48_000;

    fn made(seconds: f64, shape: impl Fn(f64) -> f64) -> Vec<f32> {
        let count = (seconds * f64::from(RATE)) as usize;
        (0..count).map(|n| shape(n as f64 / f64::from(RATE))).map(|sample| sample as f32).collect()
    }

    fn tone(at: f64) -> f64 {
        (std::f64::consts::TAU * 1_000.0 * at).sin()
    }

    #[test]
    fn a_blow_is_heard_at_once_and_silence_never() {
        for ring in [0.005, 0.02, 0.3] {
            let blow = made(0.5, |at| tone(at) * (-at / ring).exp());
            let attack = perceived_attack(&blow, RATE).unwrap();
            assert!(attack < Micros::millis(4), "{attack:?}");
            let later = [vec![0.0; 4_800], blow].concat();
            let moved = perceived_attack(&later, RATE).unwrap() - Micros::millis(100);
            assert!((moved - attack).0.abs() <= 4_000, "silence before it moves it: {moved:?} {attack:?}");
        }
        assert_eq!(perceived_attack(&[0.0; 4_800], RATE), None);
        assert_eq!(perceived_attack(&[], RATE), None);
        assert_eq!(perceived_attack(&[1.0], RATE), Some(Micros::ZERO));
    }

    #[test]
    fn what_swells_is_heard_where_it_is_loudest() {
        for middle in [0.05, 0.08, 0.2] {
            let swell = made(0.5, |at| tone(at) * (-((at - middle) / 0.03).powi(2)).exp());
            let attack = perceived_attack(&swell, RATE).unwrap().as_seconds();
            assert!((middle - 0.012..middle + 0.003).contains(&attack), "{attack} for {middle}");
        }
    }

    /// What rises quickly and then goes on is heard when it is there, not in its middle.
    #[test]
    fn what_goes_on_is_heard_when_it_begins() {
        let drone = made(2.0, |at| tone(at) * (at / 0.005).min(1.0) * (1.0 - at / 4.0));
        let attack = perceived_attack(&drone, RATE).unwrap();
        assert!(attack < Micros::millis(10), "{attack:?}");
    }
}
