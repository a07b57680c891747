//! What a call wants done, in the order in which it must be done.

use serde::{Deserialize, Serialize};

use super::{HoldId, MemberId};
use crate::event::Entry;
use crate::timeline::Reader;
use crate::units::{Generation, ServerTime};

/// One thing to do.
#[derive(Clone, Debug, PartialEq)]
pub enum Output {
    /// Every cue and every sound of an older generation is dead, at once and in every queue; nothing lives in this one.
    Silence(Generation),
    /// This generation is to live; everything older is dead. The brake admits it, or a pull is on its way to the call.
    Lives(Generation),
    /// Every pull that the call has taken is released.
    Free,
    /// A hold stands: everybody is told its names and its place, past every queue.
    Held,
    /// Tell a caller what became of their tap.
    TapAnswer {
        /// Whom.
        member: MemberId,
        /// Which tap.
        tap: String,
        /// What became of it.
        fate: TapFate,
    },
    /// The hold is tried: these members' pages are told, past every queue, and the loudspeakers call it.
    Try {
        /// The trial's number.
        trial: u32,
        /// Who tries, by name.
        by: String,
        /// Whom to tell.
        members: Vec<MemberId>,
    },
    /// A cue for some readers.
    Cue(CueOut),
    /// A click at a time; the accent on the first beat of a bar.
    Click {
        /// When it must be heard.
        due: ServerTime,
        /// Accent or plain.
        accent: bool,
        /// The generation it belongs to.
        generation: Generation,
    },
    /// The state changed: tell everybody.
    Changed,
    /// The run was set up or re-timed: describe it to everybody.
    RunChanged,
    /// Tell a member that something is not done, and why.
    Refused {
        /// Whom.
        member: MemberId,
        /// What they asked for.
        asked: Asked,
        /// A sentence for a person.
        reason: String,
    },
    /// Write this down.
    Journal(Entry),
}

/// What became of a tap on HOLD.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum TapFate {
    /// Everything stands.
    Held(HoldId),
    /// It is on disk.
    Written(HoldId),
    /// It was meant for a run that had ended: it is in the log, on disk, and held nothing.
    Late,
}

/// A cue: one moment of the run's plan, with its time.
#[derive(Clone, Debug, PartialEq)]
pub struct CueOut {
    /// The run.
    pub run: u32,
    /// Its generation.
    pub generation: Generation,
    /// The moment's number in the plan.
    pub moment: usize,
    /// The number of the step that it comes with; nothing by the clock.
    pub step: Option<u32>,
    /// When it is due; nothing in a walk-through.
    pub due: Option<ServerTime>,
    /// Who gets it, by what they read.
    pub readers: Vec<(Reader, Vec<MemberId>)>,
}

/// The thing that was asked for and refused, in a word.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Asked {
    /// Release.
    Release,
    /// Stop.
    Stop,
    /// Ready.
    Ready,
    /// A part.
    Part,
    /// Places.
    Places,
    /// Tonight's order.
    Order,
    /// Who plays what in a fight.
    Cast,
    /// Start.
    Start,
    /// Step.
    Step,
    /// Speed.
    Speed,
    /// Note.
    Note,
    /// The reason of a hold.
    Reason,
    /// A near miss.
    NearMiss,
    /// A signature under a check.
    Sign,
    /// Whether somebody is there.
    Attend,
    /// End of the call.
    EndCall,
    /// A trial of the hold.
    TryHold,
}

impl Asked {
    /// The word.
    pub const fn word(self) -> &'static str {
        match self {
            Asked::Release => "release",
            Asked::Stop => "stop",
            Asked::Ready => "ready",
            Asked::Part => "part",
            Asked::Places => "places",
            Asked::Order => "order",
            Asked::Cast => "cast",
            Asked::Start => "start",
            Asked::Step => "step",
            Asked::Speed => "speed",
            Asked::Note => "note",
            Asked::Reason => "reason",
            Asked::NearMiss => "near-miss",
            Asked::Sign => "sign",
            Asked::Attend => "attend",
            Asked::EndCall => "end",
            Asked::TryHold => "try-hold",
        }
    }
}
