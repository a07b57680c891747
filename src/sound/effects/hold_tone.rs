//! The tone that says HOLD where the house has no voice of its own for it: two long notes, the second lower, as a person
//! calls across a stage. It is no effect: no score can name it.
//!
//! Why it sounds as it does:
//! - Every click and every effect of a fight is a blow or a breath that dies away. This one stays: two notes held at full
//!   level for more than a second, with harmonics, is what nothing else here does (a test measures it).
//! - Auditory danger signals are to lie from 300 to 3,000 Hz, with enough below 1,500 Hz for whoever hears high sounds
//!   badly or wears protectors, and a change of pitch is better than one steady tone (EN 457, taken over by ISO 7731; read
//!   in a maker's summary, not in the standard). The notes are 880 and 660 Hz, and their harmonics end at 2,640 Hz.
//! - It must not be taken for the order to leave the house: that is three pulses of half a second with pauses of half a
//!   second, at any pitch (ISO 8201, as the National Building Code of Canada, note A-3.2.4.18.(2), quotes it). So there are
//!   no pulses and no pauses, and it is not repeated.
//! - It is over in 1.2 seconds, so that people can be heard: what is called by a voice comes first.
//! - That it falls by a fourth, as calls do, is by ear: common practice, no source.

use std::f64::consts::TAU;

use crate::rules::HOLD_NOTES as NOTES;

/// The amplitudes of a note's harmonics, from the first.
const HARMONICS: [f64; 3] = [1.0, 0.6, 0.35];
/// It rises within so many seconds: too slow for a click, too fast to be missed.
const RISE: f64 = 0.008;
/// It ends within so many.
const FALL: f64 = 0.06;

/// The tone at `rate` samples per second: one channel, highest sample 1, its last is zero.
pub(in crate::sound) fn render(rate: u32) -> Vec<f32> {
    let rate = f64::from(rate);
    let seconds: f64 = NOTES.iter().map(|(_, seconds)| seconds).sum();
    let length = (seconds * rate).round() as usize;
    // The phase goes on from note to note, so that there is no click between them.
    let mut phase = 0.0;
    let raw: Vec<f64> = (0..length)
        .map(|n| {
            let time = n as f64 / rate;
            let pitch = if time < NOTES[0].1 { NOTES[0].0 } else { NOTES[1].0 };
            phase = (phase + pitch / rate).fract();
            let rise = (time / RISE).min(1.0);
            let fall = ((length - 1 - n) as f64 / rate / FALL).min(1.0);
            note(phase, pitch, rate) * rise * fall
        })
        .collect();
    let highest = raw.iter().fold(0.0f64, |high, sample| high.max(sample.abs()));
    raw.iter().map(|sample| (sample / highest.max(f64::MIN_POSITIVE)) as f32).collect()
}

/// The sum of the harmonics at a phase from 0 to 1. Those above 0.45 of the rate are left out: they would fold back.
fn note(phase: f64, pitch: f64, rate: f64) -> f64 {
    let heard = (1u8..).zip(HARMONICS).map(|(number, strength)| (f64::from(number), strength));
    heard
        .filter(|(number, _)| pitch * number < 0.45 * rate)
        .map(|(number, strength)| strength * (TAU * phase * number).sin())
        .sum()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sound::click::{ACCENT, CLICK};
    use crate::sound::effects::Effect;
    use realfft::RealFftPlanner;

    /// The part of a sound's energy that lies between two frequencies, by a library's Fourier transform.
    fn share(sound: &[f32], rate: f64, from: f64, to: f64) -> f64 {
        let mut input = sound.to_vec();
        let transform = RealFftPlanner::<f32>::new().plan_fft_forward(input.len());
        let mut bins = transform.make_output_vec();
        transform.process(&mut input, &mut bins).unwrap();
        let hertz = rate / sound.len() as f64;
        let energy = |keep: &dyn Fn(f64) -> bool| -> f64 {
            let kept = bins.iter().enumerate().filter(|(n, _)| keep(*n as f64 * hertz));
            kept.map(|(_, bin)| f64::from(bin.norm_sqr())).sum()
        };
        energy(&|f| (from..to).contains(&f)) / energy(&|_| true)
    }

    /// For how many seconds a sound stays within 6 dB of its loudest 10 ms.
    fn stays(sound: &[f32], rate: u32) -> f64 {
        let parts = sound.chunks((rate / 100) as usize);
        let levels: Vec<f64> =
            parts.map(|part| part.iter().map(|s| f64::from(*s).powi(2)).sum::<f64>() / part.len() as f64).collect();
        let loudest = levels.iter().fold(0.0f64, |high, level| high.max(*level));
        levels.iter().filter(|level| **level >= loudest / 4.0).count() as f64 / 100.0
    }

    /// Source: the ranges of EN 457 and ISO 7731, as quoted at the top of this file.
    #[test]
    fn it_lies_where_a_danger_signal_is_to_lie() {
        let tone = render(48_000);
        assert!(share(&tone, 48_000.0, 300.0, 3_000.0) > 0.99);
        assert!(share(&tone, 48_000.0, 300.0, 1_500.0) > 0.6, "for whoever hears high sounds badly");
    }

    #[test]
    fn it_stays_for_over_a_second_and_no_click_or_effect_does_half_of_that() {
        for rate in [8_000, 44_100, 48_000, 192_000] {
            let tone = render(rate);
            let seconds = tone.len() as f64 / f64::from(rate);
            assert!((1.0..2.0).contains(&seconds) && stays(&tone, rate) > 1.0, "{seconds} s at {rate} Hz");
            assert_eq!((tone[0], tone[tone.len() - 1]), (0.0, 0.0));
            assert_eq!(tone.iter().fold(0.0f32, |high, sample| high.max(sample.abs())), 1.0);
        }
        let struck = [CLICK, ACCENT].map(|block| ("click", block.render(48_000)));
        let effects =
            Effect::ALL.iter().flat_map(|effect| (0..5).map(|take| (effect.name(), effect.render(take, 48_000))));
        for (name, sound) in struck.into_iter().chain(effects) {
            let stays = stays(&sound, 48_000);
            assert!(stays < 0.5, "{name} stays for {stays} s");
        }
    }

    /// Source: ISO 8201, as quoted at the top of this file: its pauses are half a second.
    #[test]
    fn it_has_no_pause_that_could_make_it_an_evacuation_signal() {
        let tone = render(48_000);
        let quiet = |part: &[f32]| part.iter().all(|sample| sample.abs() < 0.1);
        assert!(!tone[480..tone.len() - 4_800].chunks(480).any(quiet));
    }
}
