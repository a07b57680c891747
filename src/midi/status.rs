//! How MIDI is, for the desk.

use serde::Serialize;

use super::bytes::Message;
use super::schedule::What;
use crate::units::{Micros, ServerTime};

/// The state of MIDI out, with a sentence for a person.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct MidiStatus {
    /// The port's name; empty while there is none.
    pub port: String,
    /// True when everything is as it was asked for: the port is there, or MIDI was left off on purpose.
    pub well: bool,
    /// A sentence for the desk.
    pub says: String,
    /// Messages that went out.
    pub sent: u64,
    /// Messages that went out more than [`Sent::LATE`] after their time.
    pub late: u64,
    /// Notes that were dropped because their time was long over.
    pub dropped: u64,
    /// Messages that died with their generation.
    pub silenced: u64,
    /// Messages for which there was no port.
    pub lost: u64,
    /// How often the port was opened.
    pub opened: u64,
}

/// A message that went out.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Sent {
    /// What it was.
    pub what: What,
    /// When it was due.
    pub due: ServerTime,
    /// When it was handed to the port.
    pub at: ServerTime,
    /// Its bytes.
    pub message: Message,
}

impl Sent {
    /// Later than this counts as late: an eighth of what a viewer notices of a late sound (ITU-R BT.1359-1: 125 ms).
    pub const LATE: Micros = Micros::millis(15);

    /// How late it was handed over.
    pub fn lateness(&self) -> Micros {
        self.at.since(self.due)
    }
}
