//! What is planned and what was sounded, in the words of the desk: server time, kind, level, generation.

use serde::Serialize;

use crate::units::{Decibels, Generation, ServerTime};

/// A sound to be heard at a moment.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Voice {
    /// When its first sample is to leave the loudspeaker.
    pub due: ServerTime,
    /// Which sound.
    pub kind: VoiceKind,
    /// Louder or softer than its own level; clamped to -120 … +24 dB, and what is no number is silent.
    pub level: Decibels,
    /// The life of the run it belongs to; it dies with it.
    pub generation: Generation,
}

impl Voice {
    /// The factor on the amplitude that its level asks for.
    pub(crate) fn gain(&self) -> f32 {
        gain(self.level)
    }
}

/// A level as a factor, within what can be meant: +24 dB at the most, and no number is silence.
pub(crate) fn gain(level: Decibels) -> f32 {
    if level.0.is_nan() { 0.0 } else { Decibels(level.0.clamp(-120.0, 24.0)).amplitude() as f32 }
}

/// Which sound a voice is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum VoiceKind {
    /// An ordinary beat.
    Click,
    /// The first beat of a bar.
    Accent,
    /// A sound of the production: an effect or a recording.
    Effect(EffectId),
}

/// A take of a sound on the shelf, as [`super::Library::effect`] gives it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
pub struct EffectId {
    /// The stamp of the library that it is from: on the shelf of another one it is silent, never another sound.
    pub library: u32,
    /// The sound's place in the library.
    pub sound: u16,
    /// Which of its takes.
    pub take: u8,
    /// The group that it chokes and is choked in.
    pub choke: Option<u8>,
}

impl VoiceKind {
    /// Every kind that needs no library.
    pub const ALL: [VoiceKind; 2] = [VoiceKind::Click, VoiceKind::Accent];

    /// The choke group: a voice that starts cuts off what still sounds of its own group. Clicks and accents are one
    /// group, because two beats that ring into each other are no beat; other sounds bring theirs with them.
    pub const fn choke_group(self) -> Option<u8> {
        match self {
            VoiceKind::Click | VoiceKind::Accent => Some(0),
            VoiceKind::Effect(effect) => effect.choke,
        }
    }

    /// True for the sounds that the setting `click_level` rules.
    pub(crate) const fn is_click(self) -> bool {
        matches!(self, VoiceKind::Click | VoiceKind::Accent)
    }
}

/// A voice that was sounded.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Sent {
    /// When it was to be heard.
    pub due: ServerTime,
    /// When its first sample is heard, by the device's own time stamps, smoothed, and the calibrated latency.
    pub heard: ServerTime,
    /// The number of its first sample on the sample clock.
    pub sample: i64,
    /// Which sound.
    pub kind: VoiceKind,
    /// The life of the run it belonged to.
    pub generation: Generation,
    /// False when it went to the null device, so that nobody heard it.
    pub audible: bool,
}
