//! What can happen, each kind with exactly what belongs to it.

use serde::{Deserialize, Serialize};
use serde_json::{Map, Value};

use super::{EventId, HoldId, OfItem, OrderLine, Role, Spot, UnderWay};
use crate::units::{Decibels, Micros};

/// What happened. Each variant is one [`super::EventKind`], of the same name.
#[derive(Clone, Debug, PartialEq)]
pub enum What {
    /// A server started on this journal.
    Session {
        /// Its version.
        server: String,
        /// False when the server before it went away without closing the journal.
        closed_well: bool,
    },
    /// Somebody joined.
    Joined {
        /// The fighter they play.
        part: Option<String>,
    },
    /// Somebody left for good.
    Left {
        /// The fighter they played.
        part: Option<String>,
    },
    /// Nothing was heard of a member for a second.
    LinkLost,
    /// The member is heard again.
    LinkBack,
    /// A member's part changed.
    Part {
        /// The fighter they play from now on.
        part: Option<String>,
    },
    /// Places were called.
    Places {
        /// What for, in words: fight, phrases, speed.
        set_up: Option<String>,
    },
    /// The order of the evening, as it is from now on.
    Order {
        /// What is to be done, in order.
        order: Vec<OrderLine>,
    },
    /// Somebody plays a part of a fight for this evening.
    Cast {
        /// The fight.
        fight: String,
        /// The fighter.
        part: String,
        /// Who; nothing leaves it to whoever usually plays it.
        person: Option<String>,
        /// Their number.
        member: Option<u32>,
        /// For whom they cover, when the part is another's.
        covers: Option<String>,
    },
    /// A member said ready.
    Ready,
    /// The run was started: the count-in begins.
    Start {
        /// What spoke against it, a sentence each, when it was started all the same.
        anyway: Option<String>,
        /// The run that begins; nothing in what was written before events had names.
        begun: Option<Box<RunBegun>>,
    },
    /// A phrase began.
    Phrase,
    /// A hold: everything stands.
    Hold {
        /// The call that made it.
        call: Called,
        /// The moves that were under way, of every pair, the caller's own first.
        under_way: Vec<UnderWay>,
    },
    /// Another call of the hold that stands.
    HoldJoined(Called),
    /// A hold that arrived when the run it was meant for was over.
    HoldLate {
        /// The tap.
        tap: Option<String>,
        /// Why.
        reason: Option<String>,
    },
    /// A hold was released.
    Release {
        /// Which.
        hold: HoldId,
    },
    /// The run was stopped.
    Stop {
        /// Why.
        reason: Option<String>,
        /// The moves that were under way, of every pair, the caller's own first.
        under_way: Vec<UnderWay>,
    },
    /// Another speed was asked for; the event has it.
    Speed {
        /// The name of the phrase from which on it goes.
        from: Option<String>,
    },
    /// A walk-through went on by one move, or back.
    Step {
        /// True when it went to the move before.
        back: bool,
    },
    /// Something was noted.
    Note {
        /// The hold that it is noted to.
        hold: Option<HoldId>,
        /// The words.
        text: Option<String>,
    },
    /// A reason was given for something that had happened before.
    Reason {
        /// The event that it is the reason of.
        of: EventId,
        /// The hold, when it is that of one.
        hold: Option<HoldId>,
        /// The words.
        reason: String,
    },
    /// Something nearly went wrong, and nobody called a hold. Whoever reported it without a name is not in the event.
    NearMiss {
        /// Why, one of the company's reasons.
        reason: Option<String>,
        /// What there is to say of it.
        note: Option<String>,
    },
    /// The run came to its end.
    Complete,
    /// The call was ended.
    End {
        /// Who signs its record; nothing when nobody does.
        signed_by: Option<String>,
    },
    /// The server went away in the middle of this run.
    CutOff {
        /// When the next one found that, RFC 3339.
        found: String,
    },
    /// Something that was asked for was refused.
    Refused {
        /// Why.
        reason: Option<String>,
    },
    /// What is heard was changed.
    Sound(SoundChange),
    /// The time or the level of one of the production's sounds was chosen.
    Trim {
        /// The sound.
        sound: String,
        /// Later, or, negative, earlier.
        trim: Micros,
        /// Louder or softer.
        gain: Decibels,
    },
    /// Something was tried out on the loudspeakers.
    SoundTest(SoundTest),
    /// Sound, MIDI and OSC were muted, or are heard again.
    Mute {
        /// Muted or not.
        muted: bool,
    },
    /// A check before a call was signed.
    Check {
        /// What was checked.
        check: String,
        /// False when it was signed as not in order.
        in_order: bool,
        /// What was noted.
        note: Option<String>,
        /// Who signed, when that is another than who did it.
        by: Option<String>,
    },
    /// Somebody was noted as there, or not.
    Attendance {
        /// Who.
        person: String,
        /// Whether they are there.
        present: bool,
        /// The part that somebody has who is not there: others may cover it.
        part: Option<String>,
    },
    /// The invitation of a role was handed out again, and the old one is worth nothing.
    Invitation {
        /// The role.
        role: Role,
    },
    /// The desk has changed who may come in, or whose notes are taken.
    Door(DoorChange),
    /// A score was saved from a page.
    Revision(Box<SavedRevision>),
    /// Lateness reports were dropped because the disk could not keep up.
    ReportsLost {
        /// How many.
        reports: u64,
    },
    /// The journal was shorter than it had been.
    RowsLost {
        /// How many rows are gone.
        rows: i64,
        /// The last row that is there.
        last: i64,
    },
    /// A record that did not fit into its table.
    Misrecorded {
        /// Why it did not.
        why: String,
        /// The whole of it.
        record: String,
    },
    /// What this build cannot read: a kind that a newer Holdfast writes, or a row that lacks what belongs to its kind.
    Unknown(Box<Unread>),
}

/// A call of a hold.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Called {
    /// The hold.
    pub hold: HoldId,
    /// The tap that made it; nothing for a foot switch, a lost link and the machine.
    pub tap: Option<String>,
    /// Why.
    pub reason: Option<String>,
    /// Where the run was on the caller's own screen.
    pub screen: Option<Spot>,
}

/// The beginning of a run: all that there is to know of what is run.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct RunBegun {
    /// The run's number.
    pub run: u32,
    /// SHA-256 of the score's text.
    pub revision: String,
    /// The fight's name.
    pub fight: String,
    /// The set of weapons; nothing for those that the score names.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weapons: Option<String>,
    /// The first phrase, counted from 0.
    pub from_phrase: u32,
    /// Its name.
    pub from_name: String,
    /// The move of that phrase at which it began, counted from 1; nothing for its beginning.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from_move: Option<u32>,
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
    /// When, on the server's clock, microseconds.
    pub server_us: i64,
    /// The item of the evening's order that it is a run of.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub item: Option<OfItem>,
    /// Who plays whom.
    pub cast: Vec<Cast>,
}

/// Somebody has a part in a run.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Cast {
    /// Who fights, or only stands by.
    pub part: String,
    /// Who plays it.
    pub person: String,
    /// Their number.
    pub member: Option<u32>,
    /// For whom they cover, when the part is another's.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub covers: Option<String>,
}

/// What is heard was changed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum SoundChange {
    /// The loudspeakers were chosen.
    Device {
        /// The device's name; nothing is the machine's own choice.
        device: Option<String>,
        /// Samples per second; nothing is what the device prefers.
        rate: Option<u32>,
        /// Samples mixed at a time; nothing is the usual.
        buffer_frames: Option<u32>,
    },
    /// One of what goes out was switched.
    Switch {
        /// Which, in a word: `click`, `osc`.
        lane: String,
        /// Its name in a sentence: `OSC cues and sounds`.
        named: String,
        /// On or off.
        on: bool,
    },
}

/// Something that was tried out on the loudspeakers. It belongs to no run.
#[derive(Clone, Debug, PartialEq)]
pub enum SoundTest {
    /// One sound was heard.
    Sound {
        /// Its name.
        sound: String,
        /// The level of the cue.
        level: Decibels,
        /// True while a run was going.
        during_run: bool,
    },
    /// A phrase's sounds began to go round.
    Loop {
        /// The fight's name.
        fight: String,
        /// The phrase's name.
        phrase: String,
        /// Percent of performance tempo.
        percent: u16,
    },
    /// They ended.
    LoopEnd {
        /// The phrase's name.
        phrase: String,
    },
}

/// A score that was saved from a page.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct SavedRevision {
    /// The score's file in its production.
    pub file: String,
    /// The fight's name; nothing when the text has none.
    pub fight: Option<String>,
    /// What became of the text.
    pub saving: Saving,
    /// SHA-256 of the text.
    pub revision: String,
    /// SHA-256 of the text that it was made from.
    pub base: String,
    /// Why it was changed, in the writer's words.
    pub why: Option<String>,
}

/// What became of a text that somebody saved.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Saving {
    /// It is the score.
    Saved,
    /// It is in the score, beside what somebody else had changed.
    Merged,
    /// It was kept beside the score, because both had changed the same lines.
    Kept,
}

impl Saving {
    /// Its word in the journal.
    pub const fn word(self) -> &'static str {
        match self {
            Saving::Saved => "saved",
            Saving::Merged => "merged",
            Saving::Kept => "kept",
        }
    }
}

/// A row that this build cannot read, as it stands in the journal.
#[derive(Clone, Debug, PartialEq)]
pub struct Unread {
    /// The word of its kind.
    pub word: String,
    /// Why.
    pub reason: Option<String>,
    /// The hold it belongs to.
    pub hold: Option<HoldId>,
    /// The tap on HOLD that it answers.
    pub tap: Option<String>,
    /// Where the run was on the screen of whoever did it.
    pub screen: Option<Spot>,
    /// Whatever else is known; empty when nothing is.
    pub detail: Map<String, Value>,
}

impl What {
    /// The moves that were under way where a hold or stop hit, the caller's own first.
    pub fn under_way(&self) -> &[UnderWay] {
        match self {
            What::Hold { under_way, .. } | What::Stop { under_way, .. } => under_way,
            _ => &[],
        }
    }

    /// The hold it belongs to.
    pub fn hold(&self) -> Option<HoldId> {
        match self {
            What::Hold { call, .. } | What::HoldJoined(call) => Some(call.hold),
            What::Release { hold } => Some(*hold),
            What::Note { hold, .. } | What::Reason { hold, .. } => *hold,
            What::Unknown(unread) => unread.hold,
            _ => None,
        }
    }

    /// The tap on HOLD that it answers.
    pub fn tap(&self) -> Option<&str> {
        match self {
            What::Hold { call, .. } | What::HoldJoined(call) => call.tap.as_deref(),
            What::HoldLate { tap, .. } => tap.as_deref(),
            What::Unknown(unread) => unread.tap.as_deref(),
            _ => None,
        }
    }

    /// Where the run was on the screen of whoever did it.
    pub fn screen(&self) -> Option<&Spot> {
        match self {
            What::Hold { call, .. } | What::HoldJoined(call) => call.screen.as_ref(),
            What::Unknown(unread) => unread.screen.as_ref(),
            _ => None,
        }
    }
}

/// What the desk changed of who may come in, or whose notes are taken.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize)]
#[serde(tag = "door", rename_all = "kebab-case")]
pub enum DoorChange {
    /// Somebody was taken out of the call; their key is worth nothing any more.
    Removed {
        /// What they were called.
        name: String,
    },
    /// Nobody new is let in as that role.
    Closed {
        /// The role.
        role: Role,
    },
    /// Newcomers are let in as that role again.
    Opened {
        /// The role.
        role: Role,
    },
    /// Nothing that somebody notes is taken.
    NotesRefused {
        /// What they are called.
        name: String,
    },
    /// What they note is taken again.
    NotesTaken {
        /// What they are called.
        name: String,
    },
    /// A newcomer is who somebody else was, whose name and part they have from now on.
    Same {
        /// What they were called until then.
        newcomer: String,
        /// What they are called from now on.
        name: String,
    },
    /// A newcomer is not the one whose name they gave.
    Other {
        /// What they are called.
        newcomer: String,
        /// The name that they gave.
        name: String,
    },
}
