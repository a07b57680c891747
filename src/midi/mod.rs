//! MIDI beside the loudspeakers: notes in time with the contacts, clock, timecode and show control for the sound desk,
//! and a foot switch that calls HOLD.
//!
//! Pure, and given the time: [`bytes`], [`clock`], [`timecode`], [`show_control`] and [`trigger`] know the messages,
//! and the [`schedule`] puts all streams of a run into one order and lets none of a dead generation out. Around them
//! stand a port that comes and goes ([`port`], watched by a thread of its own), a thread that sleeps until the next
//! byte is due (`worker`), and the handles [`MidiOut`] and [`MidiIn`]. [`file`] writes Standard MIDI Files, and
//! [`export`] makes one of a run's plan.

pub mod bytes;
pub mod clock;
pub mod export;
pub mod file;
mod handle;
mod input;
pub mod pace;
pub mod port;
pub mod schedule;
pub mod settings;
mod shared;
pub mod show_control;
mod status;
pub mod timecode;
pub mod trigger;
mod worker;

pub use bytes::{Channel, Message, Note, SevenBits};
pub use handle::MidiOut;
pub use input::{MidiEvent, MidiIn};
pub use schedule::{Planned, RunTiming, What};
pub use settings::{MidiSettings, PortChoice, SoundNote, TimecodeSettings};
pub use status::{MidiStatus, Sent};
