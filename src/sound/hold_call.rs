//! The call of the hold: what the loudspeakers say, once, when a hold is called and everything else has faded. The house
//! chooses what it is and how loud; the samples are made off the audio thread, at the loudness of all sounds, and lie
//! ready long before anybody calls a hold.
//!
//! It belongs to no generation, so that no hold and no stop silences it, and it passes the sound page's mute: muting is
//! the sound operator's choice about the sounds of the show, and whoever mutes a show does not mean "let them fight on
//! unwarned". A house that wants no call chooses `off`, and then the pages say that nobody will hear one.

use super::effects::hold_tone;
use super::library::Library;
use super::loudness::levelled;
use super::voice::gain;
use crate::units::Decibels;

/// What the loudspeakers say.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub enum HoldCall {
    /// The computed tone.
    #[default]
    Tone,
    /// The first take of the company's recording of that name. While there is no such recording, the tone.
    Recording(String),
    /// Nothing.
    Off,
}

/// What the house chose.
#[derive(Clone, Debug, PartialEq)]
pub struct HoldSettings {
    /// What is said.
    pub call: HoldCall,
    /// How much louder than a sound at its own level, of which the loudest moment is at -34 LUFS.
    pub level: Decibels,
}

impl HoldSettings {
    /// The level when nothing else is asked for: clearly above any cue, and in a theatre's usual gain not above what
    /// hurts. By ear: common practice, no source.
    pub const USUAL_LEVEL: Decibels = Decibels(12.0);
    /// The lowest and the highest level that can be chosen.
    pub const LEVELS: std::ops::RangeInclusive<f64> = -20.0..=24.0;

    /// The samples of the call, none when it is off. A recording of more than three seconds is cut off softly.
    pub(super) fn samples(&self, library: Option<&Library>, rate: u32) -> Box<[f32]> {
        let recorded = match &self.call {
            HoldCall::Off => return Box::default(),
            HoldCall::Tone => None,
            HoldCall::Recording(name) => library.and_then(|library| library.recorded(name, rate)),
        };
        let chosen = recorded.and_then(|recorded| levelled(&shortened(recorded, rate), rate));
        // A recording that is silent says nothing: then the tone does.
        let said = chosen.or_else(|| levelled(&hold_tone::render(rate), rate)).unwrap_or_default();
        let factor = gain(self.level);
        said.iter().map(|sample| sample * factor).collect()
    }
}

impl Default for HoldSettings {
    fn default() -> HoldSettings {
        HoldSettings { call: HoldCall::Tone, level: HoldSettings::USUAL_LEVEL }
    }
}

/// The longest call, seconds: after it people must be able to hear each other.
const LONGEST: f64 = 3.0;
/// A longer recording fades out over so many seconds.
const FADE: f64 = 0.05;

fn shortened(mut samples: Vec<f32>, rate: u32) -> Vec<f32> {
    let most = (LONGEST * f64::from(rate)) as usize;
    if samples.len() > most {
        samples.truncate(most);
        let fade = (FADE * f64::from(rate)).ceil();
        for (left, sample) in samples.iter_mut().rev().enumerate().take_while(|(left, _)| (*left as f64) < fade) {
            *sample *= (left as f64 / fade) as f32;
        }
    }
    samples
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeMap;

    use super::*;
    use crate::sound::loudness::{TARGET, measure};
    use crate::sound::recordings::{Clip, Recording};

    fn library(samples: Vec<f32>) -> Library {
        let take = Clip { rate: 8_000, samples: samples.into() };
        Library::of(vec![Recording { name: "halt".into(), takes: vec![take] }], &BTreeMap::new(), |name| name == "halt")
    }

    fn hum(seconds: f64) -> Vec<f32> {
        (0..(seconds * 8_000.0) as usize).map(|n| 0.1 * (n as f32 * 0.4).sin()).collect()
    }

    fn asked(call: HoldCall, level: f64) -> HoldSettings {
        HoldSettings { call, level: Decibels(level) }
    }

    /// The measure is the library `ebur128`'s.
    #[test]
    fn it_is_as_loud_as_the_house_sets_whatever_it_is() {
        let library = library(hum(1.0));
        let halt = HoldCall::Recording("halt".into());
        for (call, level) in [(HoldCall::Tone, 0.0), (HoldCall::Tone, 12.0), (halt.clone(), -20.0), (halt, 6.0)] {
            let said = asked(call, level).samples(Some(&library), 48_000);
            let found = measure(&said, 48_000).unwrap().loudness;
            assert!((found - (TARGET + level)).abs() < 0.3, "{found} LUFS at {level} dB");
        }
    }

    #[test]
    fn off_is_silence_and_a_recording_that_is_missing_or_silent_is_the_tone() {
        assert!(asked(HoldCall::Off, 0.0).samples(None, 48_000).is_empty());
        let tone = HoldSettings::default().samples(None, 8_000);
        let halt = asked(HoldCall::Recording("halt".into()), 12.0);
        assert_eq!(halt.samples(None, 8_000), tone);
        assert_eq!(halt.samples(Some(&library(vec![0.0; 800])), 8_000), tone);
        assert_ne!(halt.samples(Some(&library(hum(1.0))), 8_000), tone);
    }

    #[test]
    fn a_long_recording_is_cut_off_softly() {
        let said = asked(HoldCall::Recording("halt".into()), 0.0).samples(Some(&library(hum(9.0))), 8_000);
        assert_eq!((said.len(), said[said.len() - 1]), (24_000, 0.0));
        let last = said[said.len() - 40..].iter().fold(0.0f32, |high, sample| high.max(sample.abs()));
        let whole = said.iter().fold(0.0f32, |high, sample| high.max(sample.abs()));
        assert!(last < whole * 0.11, "the last 5 ms of 50 are nearly silent");
    }
}
