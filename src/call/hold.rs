//! A hold: who called it, where the run was, and what has become of it since.

use super::{MemberId, Role, Spot};
use crate::units::{Generation, ServerTime, Speed};

/// The number of a hold in its call, from 1.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct HoldId(pub u32);

/// A hold that stands, or has stood.
#[derive(Clone, Debug, PartialEq)]
pub struct Hold {
    /// Its number.
    pub id: HoldId,
    /// The generation that it began.
    pub generation: Generation,
    /// When it arrived.
    pub at: ServerTime,
    /// Where the run was on the server then; nothing when nothing was set up.
    pub spot: Option<Spot>,
    /// The speed there; nothing unless the clock drove.
    pub speed: Option<Speed>,
    /// Who called, each once, in order of arrival; never empty.
    pub callers: Vec<Caller>,
    /// How many calls there have been, those of one person counted each: the number of the last one.
    pub calls: u32,
    /// True once it is on disk.
    pub written: bool,
    /// Who released it.
    pub released_by: Option<String>,
    /// What was noted.
    pub notes: Vec<String>,
}

/// Somebody who called a hold.
#[derive(Clone, Debug, PartialEq)]
pub struct Caller {
    /// Their number, or [`MemberId::FOOT_SWITCH`]. When the link was lost it is the member who was lost.
    pub member: MemberId,
    /// Their name.
    pub name: String,
    /// Their role.
    pub role: Role,
    /// How often they called.
    pub times: u32,
    /// The number of their last call among those of the hold, from 1.
    pub last_call: u32,
    /// Why, as they said it last.
    pub reason: Option<String>,
    /// Where their own screen was when they tapped.
    pub screen: Option<Spot>,
    /// True when nobody tapped: the member's link was lost and the house holds for that.
    pub by_lost_link: bool,
}
