//! What can happen to a call.

use std::borrow::Cow;
use std::sync::Arc;

use serde::{Deserialize, Serialize};
use ts_rs::TS;

use super::{
    Asked, Fight, HoldId, MemberId, Ordered, Reported, Role, SetupRequest, TapFate, TrialAnswer, UsualEvening, Why,
};
use crate::event::EventId;
use crate::units::{Generation, ServerTime};

/// One thing that happened. All of it but the fights can be written down and read back; those are kept as their texts.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Input {
    /// Somebody joined with an invitation.
    Joined {
        /// Their number.
        member: MemberId,
        /// Their name.
        name: String,
        /// Their role.
        role: Role,
        /// The part they picked; not given when somebody else has it.
        part: Option<String>,
        /// Who they were until now, when they come with another device before anybody has seen them in this call: that
        /// member is gone, and what the desk has cast them for is theirs.
        #[serde(default, skip_serializing_if = "Option::is_none")]
        instead_of: Option<MemberId>,
    },
    /// Somebody who had joined before this server was started; their link is not there yet.
    Known {
        /// Their number.
        member: MemberId,
        /// Their name.
        name: String,
        /// Their role.
        role: Role,
        /// Their part.
        part: Option<String>,
    },
    /// Somebody who had joined before this server was started, and is in no call any more; a hold of theirs may still come.
    Left {
        /// Their number.
        member: MemberId,
        /// Their name.
        name: String,
        /// Their role.
        role: Role,
    },
    /// A newcomer is who another member was, by that member's word or the desk's; never while a run goes.
    SamePerson {
        /// The newcomer.
        member: MemberId,
        /// Who they are: that member is gone.
        of: MemberId,
    },
    /// Somebody left for good, or their key was revoked.
    Gone(MemberId),
    /// A member's link is there (again).
    LinkBack(MemberId),
    /// A member has been silent for too long, or their connection broke.
    LinkLost(MemberId),
    /// A member asks for something.
    From(MemberId, Act),
    /// A member's page has answered a trial of the hold.
    Tried {
        /// Whose.
        member: MemberId,
        /// The trial that it was told of.
        trial: u32,
        /// What it did.
        answer: TrialAnswer,
    },
    /// The brake was pulled. Everything is silent already, and everybody has the stop.
    Pulled(Pulling),
    /// A tap on HOLD that did not pull: known already, or kept for a generation that has ended.
    Tap(MemberId, Tap),
    /// A tap that was answered before this server was started.
    KnownTap(MemberId, String, TapFate),
    /// The foot switch at the desk asks for the next move of a walk-through; it does nothing in any other run.
    FootStep,
    /// A hold, or one more call of it, is on disk.
    HoldWritten {
        /// The hold.
        hold: HoldId,
        /// Whose tap it was, unless a lost link called the hold.
        tap: Option<(MemberId, String)>,
    },
    /// A tap that came too late to hold anything is on disk.
    LateWritten {
        /// Whose.
        member: MemberId,
        /// Its name.
        tap: String,
    },
    /// Something nearly went wrong. It comes without a member, where it comes without a name.
    Reported(Reported),
    /// What sounds outside of a run is to end: a new generation, unless a run goes, is held, or stands at places.
    Hush,
    /// The production was read anew. A run that is set up keeps the fight it has.
    #[serde(skip)]
    ReadAnew {
        /// Its fights.
        fights: Vec<Arc<Fight>>,
        /// The company's list of checks before a call.
        checks: Vec<String>,
        /// The company's reasons, and whether near misses are reported.
        why: Why,
        /// What an evening usually is.
        evening: UsualEvening,
    },
    /// The deadline has come.
    Tick,
}

/// A pull of the brake, as the call is told of it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Pulling {
    /// Who or what pulled.
    pub by: Puller,
    /// When.
    pub at: ServerTime,
    /// Everything up to this generation died by it.
    pub dead: Generation,
}

/// Who or what pulls the brake.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Puller {
    /// A member, with a tap.
    Member(MemberId, Tap),
    /// The foot switch at the desk. It has no name for its taps: pressed twice it is called twice.
    FootSwitch,
    /// The lost link of a member whose lost link holds.
    LostLink(MemberId),
    /// The machine that the server runs on, for a reason that a person reads: it slept while a run went, say.
    Machine(Cow<'static, str>),
}

/// What a member asks for.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Act {
    /// Let go of a hold.
    Release {
        /// The hold.
        hold: HoldId,
        /// The last of its calls that was on the screen.
        seen: EventId,
    },
    /// End the run, with a reason.
    Stop(String),
    /// Ready at these places, or not.
    Ready {
        /// Ready or not.
        ready: bool,
        /// The places that are meant.
        generation: Generation,
    },
    /// Give a part to somebody (to oneself, for those who perform), or take it away.
    TakePart {
        /// To whom.
        member: MemberId,
        /// The fighter's name.
        part: Option<String>,
    },
    /// Set up a run and call places for it.
    Places {
        /// What is to be run.
        request: SetupRequest,
        /// The last event that was on the screen.
        seen: EventId,
    },
    /// Set up a run of an item of tonight's order and call places for it.
    PlacesFor {
        /// The item.
        item: u32,
        /// The last event that was on the screen.
        seen: EventId,
    },
    /// Give tonight's order, whole.
    Order {
        /// The items.
        items: Vec<Ordered>,
        /// Which order was on the screen.
        seen: u64,
    },
    /// Cast somebody for a part of a fight tonight.
    Cast {
        /// The fight.
        fight: String,
        /// The fighter's name.
        part: String,
        /// Whom; nobody leaves it to whoever usually has the part.
        member: Option<MemberId>,
    },
    /// Start from places.
    Start {
        /// The places that are meant.
        generation: Generation,
        /// Although somebody is missing or the checks found errors.
        anyway: bool,
        /// The last event that was on the screen.
        seen: EventId,
    },
    /// The next move of a walk-through, or the one before.
    Step(Step),
    /// A new speed from the next phrase on, percent.
    Speed(u16),
    /// A note to a hold.
    Note {
        /// The hold.
        hold: HoldId,
        /// The words.
        text: String,
    },
    /// Why a hold was called.
    Reason {
        /// The hold.
        hold: HoldId,
        /// One of the company's reasons.
        reason: String,
    },
    /// Sign a check of the company's list.
    Sign {
        /// The check, as the list has it.
        check: String,
        /// False when it is not in order.
        in_order: bool,
        /// What there is to say of it.
        note: Option<String>,
        /// Who signs, when that is not the member who asks.
        by: Option<String>,
    },
    /// Note whether somebody is there.
    Attend {
        /// Their name.
        person: String,
        /// Whether they are.
        present: bool,
    },
    /// Try the hold: every phone shows it, sounds and answers, and nothing is held.
    TryHold,
    /// The call is over.
    EndCall {
        /// Who signs its record; nothing when nobody does.
        signed_by: Option<String>,
    },
}

impl Act {
    /// What it asks for, in a word.
    pub const fn asked(&self) -> Asked {
        match self {
            Act::Release { .. } => Asked::Release,
            Act::Stop(_) => Asked::Stop,
            Act::Ready { .. } => Asked::Ready,
            Act::TakePart { .. } => Asked::Part,
            Act::Places { .. } | Act::PlacesFor { .. } => Asked::Places,
            Act::Order { .. } => Asked::Order,
            Act::Cast { .. } => Asked::Cast,
            Act::Start { .. } => Asked::Start,
            Act::Step(_) => Asked::Step,
            Act::Speed(_) => Asked::Speed,
            Act::Note { .. } => Asked::Note,
            Act::Reason { .. } => Asked::Reason,
            Act::Sign { .. } => Asked::Sign,
            Act::Attend { .. } => Asked::Attend,
            Act::EndCall { .. } => Asked::EndCall,
            Act::TryHold => Asked::TryHold,
        }
    }
}

/// Which way a walk-through steps.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(rename_all = "kebab-case")]
pub enum Way {
    /// To the next move.
    On,
    /// To the move before.
    Back,
}

/// A step of a walk-through.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(from = "StepRead")]
pub struct Step {
    /// The run that is meant.
    pub generation: Generation,
    /// The number of the step that was on the asker's screen, 0 before the first: a step from where the run is no more is
    /// none. Nothing in what was written before steps had numbers.
    pub from: Option<u32>,
    /// Which way.
    pub way: Way,
}

/// A step as it is read: once it was a generation alone.
#[derive(Deserialize)]
#[serde(untagged)]
enum StepRead {
    Before(Generation),
    Now { generation: Generation, from: Option<u32>, way: Way },
}

impl From<StepRead> for Step {
    fn from(read: StepRead) -> Step {
        match read {
            StepRead::Before(generation) => Step { generation, from: None, way: Way::On },
            StepRead::Now { generation, from, way } => Step { generation, from, way },
        }
    }
}

/// A tap on HOLD.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Tap {
    /// The tap's own name: one sent again is the same tap.
    pub id: String,
    /// The generation on the caller's screen.
    pub generation: Generation,
    /// True when it was tapped while there was no link.
    pub queued: bool,
    /// The cue on the caller's screen.
    pub screen_cue: Option<u32>,
    /// Why.
    pub reason: Option<String>,
}
