//! What can be written down: what the call and the server give, and what only the journal keeps. Plain values that know
//! nothing of the database; whoever makes one gives it its time of day.

use std::sync::Arc;

use jiff::Timestamp;

use crate::event::{Entry, Event, Role, What};
use crate::units::ServerTime;

/// One thing to write down.
#[derive(Clone, Debug, PartialEq)]
pub enum Record {
    /// Something happened, or what goes with it.
    Entry {
        /// When, on the wall clock.
        utc: Timestamp,
        /// What.
        entry: Entry,
    },
    /// What the journal says of itself: it gets its name and number when it is written.
    Own {
        /// When, on the wall clock.
        utc: Timestamp,
        /// When, on the server's clock; 0 where there is none.
        at: ServerTime,
        /// What.
        what: What,
    },
    /// How a member's page fired a cue. Reports give way to everything else.
    Report(Report),
    /// What came into the call, or was told of it.
    Came(Came),
    /// A text that the call was given, with its SHA-256 in hexadecimal; written once.
    Text {
        /// The SHA-256.
        sha256: String,
        /// The text.
        text: Arc<str>,
    },
    /// Somebody traded an invitation for a personal key.
    MemberJoined(MemberJoined),
    /// A personal key is no longer good.
    MemberRevoked {
        /// The member.
        member: u32,
        /// How they parted.
        parting: Parting,
        /// When.
        utc: Timestamp,
    },
    /// A member has another personal key: they have not had the one before.
    MemberKey {
        /// The member.
        member: u32,
        /// SHA-256 of the key, 64 hexadecimal digits.
        key_sha256: String,
        /// When.
        utc: Timestamp,
    },
    /// A member is called otherwise from now on.
    MemberRenamed {
        /// The member.
        member: u32,
        /// Their name.
        name: String,
        /// When.
        utc: Timestamp,
    },
    /// A member has given the name of another, or it has been said that they are somebody else.
    MemberClaims {
        /// The member.
        member: u32,
        /// Whose name it is; nothing once they are somebody else.
        of: Option<u32>,
        /// When.
        utc: Timestamp,
    },
    /// What a member notes is taken from now on, or not.
    MemberNotes {
        /// The member.
        member: u32,
        /// Whether it is taken.
        taken: bool,
        /// When.
        utc: Timestamp,
    },
}

impl Record {
    /// A record of something at that time of day.
    pub fn of(utc: Timestamp, entry: impl Into<Entry>) -> Record {
        Record::Entry { utc, entry: entry.into() }
    }

    /// The event, when it is one that somebody gave.
    pub fn event(&self) -> Option<&Event> {
        match self {
            Record::Entry { entry: Entry::Event(event), .. } => Some(event),
            _ => None,
        }
    }
}

/// What came into the call, or was told of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Came {
    /// When, on the server's clock.
    pub at: ServerTime,
    /// What, as JSON: whoever keeps it knows how to read it.
    pub body: String,
}

/// How a member's page fired a cue.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Report {
    /// The run.
    pub run: u32,
    /// The member.
    pub member: u32,
    /// The number of the cue in its run.
    pub cue: u32,
    /// When it was due, server time, microseconds.
    pub due_us: i64,
    /// When it was fired, server time as the page knew it, microseconds.
    pub fired_us: i64,
    /// The page's bound of its clock error, microseconds.
    pub bound_us: Option<i64>,
}

/// How somebody parted, and what their key may still do.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Parting {
    /// They left: nothing.
    #[default]
    Left,
    /// They came by another way: it may still hold.
    Replaced,
    /// The desk took them out: nothing, and what was tapped is written down as come too late.
    Removed,
}

/// Somebody traded an invitation for a personal key.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct MemberJoined {
    /// Their number; no two members ever share one.
    pub member: u32,
    /// What they are called.
    pub name: String,
    /// The role that the invitation gave.
    pub role: Role,
    /// The fighter they play.
    pub part: Option<String>,
    /// SHA-256 of the personal key, 64 hexadecimal digits. The key itself is never written down.
    pub key_sha256: String,
    /// When.
    pub utc: Timestamp,
}
