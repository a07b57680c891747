//! What can be written down. Plain values: they know nothing of the database, and whoever makes one gives it its times.
//! Every word that ends up in the journal and in `holdfast log --format json` is spelled here and never changes.

use jiff::Timestamp;
use serde::{Deserialize, Serialize};

use crate::call::Role;

/// One thing to write down.
#[derive(Clone, Debug, PartialEq)]
pub enum Record {
    /// A score as it read when a run was set up; written once for each text.
    Revision(Revision),
    /// A run begins.
    RunBegun(Box<RunBegun>),
    /// Somebody has a part in a run.
    Cast(Cast),
    /// A run is over.
    RunEnded(Box<RunEnded>),
    /// Something happened.
    Event(Box<Event>),
    /// How a member's page fired a cue. Reports give way to everything else.
    Report(Report),
    /// Somebody traded an invitation for a personal key.
    MemberJoined(MemberJoined),
    /// A personal key is no longer good.
    MemberRevoked {
        /// The member.
        member: u32,
        /// When.
        utc: Timestamp,
    },
    /// A member has another part from now on, or none.
    MemberPart {
        /// The member.
        member: u32,
        /// The fighter they play.
        part: Option<String>,
        /// When.
        utc: Timestamp,
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
    /// When it was first used.
    pub utc: Timestamp,
}

/// The beginning of a run.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RunBegun {
    /// The run's number: one more than [`super::Opened::last_run`], and so on.
    pub run: u32,
    /// SHA-256 of the score's text; recorded before the run.
    pub revision: String,
    /// The fight's name.
    pub fight: String,
    /// The first phrase, counted from 0.
    pub from_phrase: u32,
    /// Its name.
    pub from_name: String,
    /// The last phrase, counted from 0.
    pub to_phrase: u32,
    /// Its name.
    pub to_name: String,
    /// Percent of performance tempo at the start; nothing in a walk-through.
    pub percent: Option<u16>,
    /// Beats of count-in.
    pub count_in: u32,
    /// What drives it, in a word: `clock`, `step`.
    pub drive: String,
    /// When, on the wall clock.
    pub utc: Timestamp,
    /// When, on the server's clock, microseconds.
    pub server_us: i64,
}

/// Somebody has a part in a run.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Cast {
    /// The run.
    pub run: u32,
    /// The fighter.
    pub part: String,
    /// Who plays it.
    pub person: String,
    /// Their number.
    pub member: Option<u32>,
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
    /// When, on the wall clock.
    pub utc: Timestamp,
    /// When, on the server's clock, microseconds.
    pub server_us: i64,
}

/// How a run ended.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
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

/// A place in the fight that a person can find.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Spot {
    /// The phrase, counted from 0.
    pub phrase: u32,
    /// Its name.
    pub phrase_name: String,
    /// The beat as the score writes it; 0 and below are the count-in.
    pub beat: String,
    /// The number of the move in its phrase, counted from 1: the last one reached.
    #[serde(rename = "move")]
    pub number: Option<u32>,
    /// That move in words.
    pub words: Option<String>,
}

/// Something that happened.
#[derive(Clone, Debug, PartialEq)]
pub struct Event {
    /// When, on the server's clock, microseconds since this server started.
    pub server_us: i64,
    /// When, on the wall clock.
    pub utc: Timestamp,
    /// The run it belongs to.
    pub run: Option<u32>,
    /// What.
    pub kind: EventKind,
    /// Who did it, by name.
    pub who: Option<String>,
    /// Their number.
    pub member: Option<u32>,
    /// Their role.
    pub role: Option<Role>,
    /// Where the run was on the server.
    pub spot: Option<Spot>,
    /// Where it was on the screen of whoever did it.
    pub screen: Option<Spot>,
    /// At which speed, percent of performance tempo.
    pub percent: Option<u16>,
    /// Why: their words, or a sentence.
    pub reason: Option<String>,
    /// The hold it belongs to: never left out of `hold`, `hold-joined` and `release`. Numbers go on from
    /// [`super::Opened::last_hold`] and are used once; `verify` finds a release or a second caller without the hold.
    pub hold: Option<u32>,
    /// The tap on HOLD that it answers.
    pub tap: Option<String>,
    /// Whatever else is known; `null` when nothing is.
    pub detail: serde_json::Value,
}

impl Event {
    /// An event of which only kind and times are known yet.
    pub fn new(kind: EventKind, server_us: i64, utc: Timestamp) -> Event {
        Event {
            server_us,
            utc,
            run: None,
            kind,
            who: None,
            member: None,
            role: None,
            spot: None,
            screen: None,
            percent: None,
            reason: None,
            hold: None,
            tap: None,
            detail: serde_json::Value::Null,
        }
    }
}

impl From<Event> for Record {
    fn from(event: Event) -> Record {
        Record::Event(Box::new(event))
    }
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

// One list makes the kinds, their words and the list of all kinds, so that none of them can be forgotten.
macro_rules! event_kinds {
    ($($(#[doc = $doc:literal])+ $kind:ident = $word:literal,)+) => {
        /// What kind of thing happened. The words are public and stay as they are; a kind may be added.
        #[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
        pub enum EventKind { $($(#[doc = $doc])+ $kind,)+ }

        impl EventKind {
            /// Every kind.
            pub const ALL: &'static [EventKind] = &[$(EventKind::$kind,)+];

            /// The word in the journal and in `log --format json`.
            pub const fn word(self) -> &'static str {
                match self { $(EventKind::$kind => $word,)+ }
            }
        }
    };
}

event_kinds! {
    /// A server started on this journal; written by the journal itself.
    Session = "session",
    /// Somebody joined.
    Joined = "joined",
    /// Somebody left for good.
    Left = "left",
    /// Nothing was heard of a member for a second.
    LinkLost = "link-lost",
    /// The member is heard again.
    LinkBack = "link-back",
    /// A member's part changed.
    Part = "part",
    /// Places were called.
    Places = "places",
    /// A member said ready.
    Ready = "ready",
    /// The run was started: the count-in begins.
    Start = "start",
    /// A phrase began.
    Phrase = "phrase",
    /// A hold: everything stands.
    Hold = "hold",
    /// Another member called the hold that stands.
    HoldJoined = "hold-joined",
    /// A hold that arrived when the run it was meant for was over.
    HoldLate = "hold-late",
    /// A hold was released.
    Release = "release",
    /// The run was stopped.
    Stop = "stop",
    /// Another speed was asked for.
    Speed = "speed",
    /// A walk-through went on by one move.
    Step = "step",
    /// Something was noted, usually to a hold.
    Note = "note",
    /// The run came to its end.
    Complete = "complete",
    /// The call was ended from the desk; the detail may have `signed_by`, who signs its record.
    End = "end",
    /// The server went away in the middle of this run; written by the journal when it is opened next.
    CutOff = "cut-off",
    /// Something that was asked for was refused.
    Refused = "refused",
    /// The sound device changed its state.
    Sound = "sound",
    /// The time or the level of one of the production's sounds was chosen: the detail has `sound`, `trim_ms`, `gain_db`.
    Trim = "trim",
    /// A sound was tried out, or a phrase's sounds began or ended to go round: it belongs to no run. The detail has `test`
    /// (`sound`, `loop`, `loop-end`), and `during_run` when a run was going.
    SoundTest = "sound-test",
    /// Sound, MIDI and OSC were muted or unmuted: the detail has `muted`.
    Mute = "mute",
    /// A check before a call was signed: what was checked is the reason; the detail may have `in_order` (false when it
    /// was signed as not in order), a `note`, and `signed_by` when another than `who` signed.
    Check = "check",
    /// The desk noted whether somebody is there: the detail has `person` and `present`.
    Attendance = "attendance",
    /// An invitation was handed out anew or revoked.
    Invitation = "invitation",
    /// A score was saved from a page, or a draft was kept beside the score because both changed the same lines; file,
    /// revision and what became of it are in the detail.
    Revision = "revision",
    /// Lateness reports were dropped because the disk could not keep up; written by the journal itself.
    ReportsLost = "reports-lost",
    /// The journal was shorter than it had been when it was opened: something removed its last rows.
    RowsLost = "rows-lost",
    /// A record that did not fit into its table; the whole of it is in the detail. Written by the journal itself.
    Misrecorded = "misrecorded",
}

impl EventKind {
    /// The kind with that [`EventKind::word`].
    pub fn from_word(word: &str) -> Option<EventKind> {
        EventKind::ALL.iter().copied().find(|kind| kind.word() == word)
    }
}
