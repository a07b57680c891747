//! What happens in a call, in one shape: the call and the server make an [`Event`], the journal keeps it as such, and the
//! review and `holdfast log` match on it. Plain values: they know no socket, file, clock or database, and no wall clock;
//! the journal puts the time of day beside them.

mod entry;
mod id;
mod kind;
mod order;
mod role;
pub(crate) mod says;
mod sight;
mod spot;
mod what;

pub use entry::{Entry, Revision, RunEnd, RunEnded};
pub use id::{EventId, Maker};
pub use kind::EventKind;
pub use order::{OfItem, OrderLine, Planned};
pub use role::Role;
pub use sight::Sight;
pub use spot::{Spot, UnderWay, counted_at};
pub use what::{Called, Cast, DoorChange, RunBegun, SavedRevision, Saving, SoundChange, SoundTest, Unread, What};

use serde::{Deserialize, Serialize};

use crate::units::ServerTime;

/// The number of a hold in its journal, from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct HoldId(pub u32);

/// Something that happened.
#[derive(Clone, Debug, PartialEq)]
pub struct Event {
    /// Its own name: the same wherever it is sent or copied to.
    pub id: EventId,
    /// When, on the clock of the server that ran then.
    pub at: ServerTime,
    /// The run it belongs to.
    pub run: Option<u32>,
    /// Who did it; nothing when time alone did, or the machine.
    pub who: Option<Who>,
    /// Where the run was on the server.
    pub spot: Option<Spot>,
    /// How fast it went there, percent of performance tempo; nothing when nothing was timed.
    pub percent: Option<u16>,
    /// What happened.
    pub what: What,
}

/// Somebody who did something.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Who {
    /// What they are called.
    pub name: String,
    /// Their number; nothing for the foot switch and the machine, which are nobody's.
    pub member: Option<u32>,
    /// Their role; nothing when a newer Holdfast wrote down one that this one does not know.
    pub role: Option<Role>,
}

impl Event {
    /// An event of which only this is known.
    pub fn new(id: EventId, at: ServerTime, what: What) -> Event {
        Event { id, at, run: None, who: None, spot: None, percent: None, what }
    }

    /// The number of whoever did it, if they are a member.
    pub fn member(&self) -> Option<u32> {
        self.who.as_ref().and_then(|who| who.member)
    }

    /// The name of whoever did it.
    pub fn name(&self) -> Option<&str> {
        self.who.as_ref().map(|who| who.name.as_str())
    }
}
