//! What the call gives to be written down: events, and the few records that go with some of them. Each carries all that
//! its reader needs.

use serde::Serialize;

use super::{Event, RunBegun, Spot};
use crate::units::ServerTime;

/// One thing to write down.
#[derive(Clone, Debug, PartialEq)]
pub enum Entry {
    /// Something happened.
    Event(Box<Event>),
    /// A score as it read when a run of it was started, or when it was saved; written once for each text.
    Revision(Revision),
    /// A run begins. Its score was written before it.
    RunBegun(Box<RunBegun>),
    /// A run is over.
    RunEnded(Box<RunEnded>),
    /// A member has another part from now on, or none.
    Part {
        /// The member.
        member: u32,
        /// The fighter they play.
        part: Option<String>,
    },
}

/// The text of a score.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Revision {
    /// SHA-256 of the text, 64 hexadecimal digits.
    pub sha256: String,
    /// The fight's name.
    pub fight: String,
    /// The whole text.
    pub text: String,
}

/// The end of a run.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RunEnded {
    /// The run.
    pub run: u32,
    /// How it ended.
    pub how: RunEnd,
    /// The first place that was reached.
    pub first: Option<Spot>,
    /// The last place that was reached.
    pub last: Option<Spot>,
    /// When, on the server's clock.
    pub at: ServerTime,
}

/// How a run ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum RunEnd {
    /// It came to its end.
    Complete,
    /// It was stopped from the desk or by the captain.
    Stopped,
    /// A hold ended it: what went on afterwards was another run.
    Held,
    /// It was set up and never started.
    NotStarted,
    /// The server went away in the middle of it.
    CutOff,
}

impl RunEnd {
    const ALL: [RunEnd; 5] = [RunEnd::Complete, RunEnd::Stopped, RunEnd::Held, RunEnd::NotStarted, RunEnd::CutOff];

    /// The end with that [`RunEnd::word`].
    pub fn from_word(word: &str) -> Option<RunEnd> {
        RunEnd::ALL.into_iter().find(|end| end.word() == word)
    }

    /// The word in the journal.
    pub const fn word(self) -> &'static str {
        match self {
            RunEnd::Complete => "complete",
            RunEnd::Stopped => "stopped",
            RunEnd::Held => "held",
            RunEnd::NotStarted => "not-started",
            RunEnd::CutOff => "cut-off",
        }
    }
}

impl From<Event> for Entry {
    fn from(event: Event) -> Entry {
        Entry::Event(Box::new(event))
    }
}

impl From<Revision> for Entry {
    fn from(revision: Revision) -> Entry {
        Entry::Revision(revision)
    }
}

impl From<RunBegun> for Entry {
    fn from(begun: RunBegun) -> Entry {
        Entry::RunBegun(Box::new(begun))
    }
}

impl From<RunEnded> for Entry {
    fn from(ended: RunEnded) -> Entry {
        Entry::RunEnded(Box::new(ended))
    }
}
