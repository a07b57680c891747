//! What the server says.

use serde::{Deserialize, Serialize};
use ts_rs::TS;

use super::{Cue, RunSheet, Setup, SoundTold, SubjectTold};
use crate::call::Role;
use crate::event::EventId;

/// A message from the server to a member.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
#[serde(tag = "kind", rename_all = "kebab-case", rename_all_fields = "snake_case")]
pub enum ToMember {
    /// What an invitation is for.
    Invited {
        /// The production's name.
        production: String,
        /// The role it gives.
        role: Role,
        /// The parts there are; empty unless the role performs.
        parts: Vec<PartChoice>,
    },
    /// You are in: the whole present state in one message.
    Welcome(Box<Welcome>),
    /// A clock exchange's answer (RFC 5905's T1, T2 and T3).
    Clock {
        /// The asker's own time, as it was sent.
        #[ts(type = "number")]
        sent_us: i64,
        /// When the server received it.
        #[ts(type = "number")]
        received_us: i64,
        /// When the server answered.
        #[ts(type = "number")]
        answered_us: i64,
    },
    /// "I am here": every 300 ms, with the generation that lives.
    Pulse {
        /// Server time.
        #[ts(type = "number")]
        now_us: i64,
        /// The generation that lives; cues of older ones are dead.
        #[ts(type = "number")]
        generation: u64,
        /// For how long the server's clock has stood still since its start, because its machine slept: when this changes,
        /// what was measured before says nothing any more. Nothing to somebody who is not let in.
        #[ts(type = "number | null")]
        stood_us: Option<i64>,
    },
    /// The state of the call, whenever it changes. Its size does not depend on how many members, notes and past holds
    /// there are.
    State(Box<State>),
    /// To a member alone: what concerns nobody but them, whenever it changes.
    You(You),
    /// To those who asked for it with [`crate::wire::ToServer::Show`]: a subject whole, or what has changed of it.
    Subject {
        /// What.
        tells: SubjectTold,
    },
    /// The run that was set up or changed (a new speed keeps its generation).
    Run(Box<RunSheet>),
    /// A cue, ahead of its time.
    Cue(Box<Cue>),
    /// Everything stops. Comes past everything else, before anybody knows who called; [`ToMember::Held`] says that.
    Stop {
        /// Everything up to this generation, and it, is dead.
        #[ts(type = "number")]
        generation: u64,
        /// When, server time.
        #[ts(type = "number")]
        at_us: i64,
    },
    /// The hold behind a stop: who called, and where the run was.
    Held(Box<HoldView>),
    /// The hold is tried: the page shows it, sounds and shakes as for a hold, and answers with
    /// [`crate::wire::ToServer::Tried`]. Nothing is held. A page on which a hold stands does nothing.
    Trial {
        /// Which trial.
        trial: u32,
        /// Who tries.
        by: String,
    },
    /// A part of a message that is too long for a stop to wait behind it. The reader puts the parts together.
    Piece {
        /// Which message it is a part of. A part of another one means that the rest of this one will not come.
        of: u32,
        /// Its place, from 0.
        part: u32,
        /// True for the last one.
        last: bool,
        /// The bytes.
        #[serde(with = "serde_bytes")]
        #[ts(type = "Uint8Array")]
        bytes: Vec<u8>,
    },
    /// To the sender of a HOLD only: what became of the tap.
    TapAnswer {
        /// The tap.
        tap: String,
        /// What became of it.
        outcome: TapOutcome,
        /// The hold it made or joined; nothing when it was only logged, as late, or when the hold has no number yet.
        hold: Option<u32>,
    },
    /// Something that was asked is not done; says why and what to do.
    Refused {
        /// What was asked, in a word.
        asked: String,
        /// A sentence for a person.
        reason: String,
    },
    /// To the page on which something was asked that is answered by nothing else: it was taken.
    Taken {
        /// What was asked, in a word.
        asked: String,
        /// Whether the name of whoever asked is kept with it.
        named: bool,
    },
    /// The invitations (desk only).
    Invitations {
        /// One for each role.
        invitations: Vec<InvitationView>,
        /// The SHA-256 of the authority that phones are asked to trust, in pairs of hexadecimal digits, where it is ours.
        fingerprint: Option<String>,
    },
    /// What only the sound page is told.
    Sound {
        /// What.
        tells: SoundTold,
    },
    /// The link will be closed by the server; says why.
    Goodbye {
        /// A sentence for a person.
        reason: String,
        /// Whether the page comes back.
        back: Back,
    },
}

/// Whether a page comes back whose link the server closes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(rename_all = "kebab-case")]
pub enum Back {
    /// By itself, with the key that it has.
    ByItself,
    /// When its person asks for it: the key is good, and is used on other pages.
    WhenAsked,
    /// Never: the key is worth nothing any more.
    Never,
}

/// What became of a tap on HOLD.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(rename_all = "kebab-case")]
pub enum TapOutcome {
    /// Everything stands.
    Held,
    /// It is on disk.
    Written,
    /// Everything stands, and it will not be written down: the server began without a log. It need not be sent again.
    Unkept,
    /// It was tapped without a link, for a run that has ended since, and nothing is held. It is in the log, on disk, where
    /// there is one.
    Late,
}

/// A part that a performer can pick.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct PartChoice {
    /// The fighter's name.
    pub part: String,
    /// Who has it now.
    pub taken_by: Option<String>,
}

/// An invitation, as the desk sees it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct InvitationView {
    /// The role it gives.
    pub role: Role,
    /// The link to open.
    pub link: String,
    /// The link as a QR code, an SVG picture.
    pub qr_svg: String,
    /// The same over HTTPS, where the server has it.
    pub secure: Option<SecureLink>,
    /// How many have joined with it.
    pub joined: u32,
    /// When it lets nobody in any more, RFC 3339 in UTC.
    pub until: String,
    /// True when that is past.
    pub ran_out: bool,
    /// True while the desk lets nobody new in with it.
    pub closed: bool,
}

/// A link over HTTPS: a phone that trusts it keeps its screen lit by itself.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct SecureLink {
    /// The link to open.
    pub link: String,
    /// The link as a QR code, an SVG picture.
    pub qr_svg: String,
}

/// The first message to a member.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct Welcome {
    /// The member's number.
    pub member: u32,
    /// The personal key, when it has just been traded for an invitation.
    pub key: Option<String>,
    /// What concerns this member alone.
    pub you: You,
    /// How far ahead of its time a cue is sent, microseconds.
    #[ts(type = "number")]
    pub horizon_us: i64,
    /// The state.
    pub state: State,
    /// The run, if one is set up.
    pub run: Option<RunSheet>,
}

/// What concerns one member alone.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
pub struct You {
    /// What they are called.
    pub name: String,
    /// Their role.
    pub role: Role,
    /// The fighter they play.
    pub part: Option<String>,
    /// True once they said ready at these places.
    pub ready: bool,
    /// Who has come under this member's name: they are asked whether that is them, too.
    pub newcomers: Vec<Newcomer>,
    /// The name that they gave, while somebody else has it and nobody has said yet that they are that person.
    pub waits: Option<String>,
}

/// Somebody who has come under the name of somebody who was there.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
pub struct Newcomer {
    /// Their number.
    pub member: u32,
    /// What they are called until it is said who they are.
    pub name: String,
    /// What kind of device they came with, in words.
    pub device: Option<String>,
}

/// Where the call stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(rename_all = "kebab-case")]
pub enum Stage {
    /// Nothing is set up.
    Idle,
    /// Everybody goes to their place and says ready.
    Places,
    /// Counting in.
    CountIn,
    /// Running.
    Running,
    /// Somebody called hold.
    Held,
    /// Stopped, or released from a hold: waits for places.
    Stopped,
    /// The run came to its end.
    Complete,
}

impl Stage {
    /// True while a run goes or may begin at any moment: members ask for the time several times a second then. The
    /// pages are given the list of these.
    pub fn needs_the_clock(self) -> bool {
        matches!(self, Stage::Places | Stage::CountIn | Stage::Running | Stage::Held)
    }
}

/// What everybody needs to know of the call. However many members, notes and past holds there are, it is as long.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct State {
    /// Server time when this was true.
    #[ts(type = "number")]
    pub now_us: i64,
    /// The generation that lives.
    #[ts(type = "number")]
    pub generation: u64,
    /// The production's name.
    pub production: String,
    /// The last event that whoever calls places or starts must have seen; they name it.
    #[ts(type = "string")]
    pub last_event: EventId,
    /// Where the call stands.
    pub stage: Stage,
    /// Why it stands there, in a sentence: the reason of a stop, what must come next.
    pub because: Option<String>,
    /// What is set up.
    pub setup: Option<Setup>,
    /// The number of the run.
    pub run: Option<u32>,
    /// True from the end of a call until another begins: everybody may go.
    pub over: bool,
    /// The speed that was asked for from the next phrase on, and which phrase that is.
    pub next_speed: Option<NextSpeed>,
    /// How many parts of the run are ready, of how many there are; nothing while nothing is set up.
    pub ready: Option<ReadyCount>,
    /// The hold that stands.
    pub hold: Option<HoldView>,
    /// The hold that was released last, until something is set up: its callers can still say why.
    pub released: Option<HoldView>,
    /// The last place a cue was due at, while something is set up.
    pub spot: Option<Spot>,
    /// The loudspeakers, in a sentence, and whether they work.
    pub sound: Health,
    /// True when the loudspeakers say HOLD: the house wants it, and they work.
    pub hold_call: bool,
    /// The log, in a sentence, and whether it is being written.
    pub log: Health,
}

/// Whether a part of the server does its work.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct Health {
    /// True when it does.
    pub well: bool,
    /// What it is doing, or what is wrong and what to do.
    pub says: String,
}

/// How many parts of a run are ready.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
pub struct ReadyCount {
    /// Parts whose player is linked, looks at the page and has said ready.
    pub ready: u32,
    /// All parts.
    pub of: u32,
}

/// A speed that waits for its phrase.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct NextSpeed {
    /// Percent of performance tempo.
    pub percent: u16,
    /// The phrase it begins with.
    pub phrase: String,
}

/// A place in the fight that a person can find.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct Spot {
    /// The number of the cue.
    pub cue: u32,
    /// The phrase, counted from 0.
    pub phrase: u32,
    /// Its name.
    pub phrase_name: String,
    /// The beat as the score writes it; 0 and below are the count-in.
    pub beat: String,
    /// The number of the move in its phrase, counted from 1: the last one reached.
    #[serde(rename = "move")]
    pub r#move: Option<u32>,
    /// That move in words.
    pub words: Option<String>,
}

/// A hold, as everybody sees it. However many call it, it is as long.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct HoldView {
    /// The hold's number in this call.
    pub hold: u32,
    /// The generation that it began.
    #[ts(type = "number")]
    pub generation: u64,
    /// When it arrived, server time.
    #[ts(type = "number")]
    pub at_us: i64,
    /// Where the run was then.
    pub spot: Option<Spot>,
    /// At which speed, percent; nothing in a walk-through or when nothing ran.
    pub percent: Option<u16>,
    /// The other moves that were under way then, in words; the first is that of the place. [`UNDER_WAY_TOLD`] at the most.
    pub also: Vec<String>,
    /// How many calls there have been, those of one person counted each.
    pub calls: u32,
    /// The event of the last call: whoever releases names it.
    #[ts(type = "string")]
    pub last_event: EventId,
    /// How many have called, each counted once.
    pub caller_count: u32,
    /// Who called, each once, in order of arrival: the first and the latest, [`CALLERS_TOLD`] at the most. Never empty.
    pub callers: Vec<Caller>,
    /// The reason that was given last; nothing before one is.
    pub reason: Option<ReasonView>,
    /// True once it is on disk.
    pub written: bool,
    /// Who released it.
    pub released_by: Option<String>,
}

/// The reason of a hold.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
pub struct ReasonView {
    /// It, as the company's list has it.
    pub says: String,
    /// Who gave it.
    pub by: String,
}

/// How many callers of a hold are told by name.
pub const CALLERS_TOLD: usize = 8;
/// How many other moves under way are told with a hold; the log has all of them.
pub const UNDER_WAY_TOLD: usize = 7;
/// How many characters of a caller's reason are told; the log has all of it.
pub const REASON_TOLD: usize = 200;

/// Somebody who called a hold.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct Caller {
    /// Their number; nothing when it was not a person (a lost link).
    pub member: Option<u32>,
    /// Their name.
    pub name: String,
    /// Their role.
    pub role: Role,
    /// How often they called.
    pub times: u32,
    /// Why; its first [`REASON_TOLD`] characters.
    pub reason: Option<String>,
    /// Where their screen was when they tapped.
    pub screen: Option<Spot>,
}
