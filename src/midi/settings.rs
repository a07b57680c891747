//! What a company may choose about MIDI. Everything in here is sound: `production.toml` is checked where it is read.

use std::collections::BTreeMap;

use super::bytes::{Note, SevenBits};
use super::show_control::{Device, Format};
use super::timecode::Timecode;
use super::trigger::Trigger;
use crate::units::{Decibels, Micros};

/// The settings of MIDI.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct MidiSettings {
    /// Where MIDI goes out; nothing is no MIDI out.
    pub out: Option<PortChoice>,
    /// Where MIDI comes in; nothing is no MIDI in.
    pub input: Option<PortChoice>,
    /// The note of each sound, by its name in the score.
    pub notes: BTreeMap<String, SoundNote>,
    /// The notes of accent and click; nothing is no click on MIDI.
    pub click: Option<(SoundNote, SoundNote)>,
    /// MIDI clock with start, stop and song position.
    pub clock: bool,
    /// MIDI Time Code.
    pub timecode: Option<TimecodeSettings>,
    /// Show control.
    pub show_control: Option<ShowControl>,
    /// How much later than it is sent a message is heard; everything is sent early by it.
    pub latency: Micros,
    /// What calls HOLD.
    pub hold: Option<Trigger>,
    /// What steps on.
    pub step: Option<Trigger>,
}

/// Which port.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum PortChoice {
    /// One of our own, that other programs connect to.
    Virtual,
    /// The port whose name contains this, whatever the case of its letters.
    Named(String),
}

/// The note that plays a sound.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct SoundNote {
    /// Which note.
    pub note: Note,
    /// How hard, at the sound's own level.
    pub velocity: SevenBits,
    /// How long it is held.
    pub length: Micros,
}

impl SoundNote {
    /// The velocity at another level: 40 dB are the whole range, since velocity goes with the square root of the
    /// amplitude (the General MIDI recommendation, 40·log₁₀(velocity/127) dB; from memory).
    pub fn velocity_at(&self, level: Decibels) -> SevenBits {
        let factor = 10f64.powf(level.0 / 40.0);
        SevenBits::nearest((f64::from(self.velocity.get()) * factor).round().clamp(1.0, 127.0) as i64)
    }
}

/// MIDI Time Code.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct TimecodeSettings {
    /// The label of the first beat of the first phrase, at the rate that is sent.
    pub start: Timecode,
}

/// Show control.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct ShowControl {
    /// Whom it is for.
    pub device: Device,
    /// The kind of device it is for.
    pub format: Format,
    /// Whether a run that begins after a stop resumes what was stopped, instead of letting its cue go anew.
    pub resumes: bool,
}
