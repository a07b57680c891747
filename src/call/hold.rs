//! A hold: who called it, where the run was, and what has become of it since.

use std::collections::BTreeMap;

use super::{HoldId, MemberId, Reason, Role, Spot};
use crate::event::{EventId, UnderWay};
use crate::units::{Generation, ServerTime, Speed};

/// How many notes to a hold the call remembers: what a screen shows. The journal has all.
pub const MOST_NOTES: usize = 12;

/// A hold that stands, or has stood.
#[derive(Clone, Debug, PartialEq)]
pub struct Hold {
    /// Its number.
    pub id: HoldId,
    /// The generation that it began.
    pub generation: Generation,
    /// The generation that it ended.
    pub ended: Generation,
    /// When it arrived.
    pub at: ServerTime,
    /// Where the run was on the server then; nothing when nothing was set up.
    pub spot: Option<Spot>,
    /// The speed there; nothing unless the clock drove.
    pub speed: Option<Speed>,
    /// The moves that were under way, the first caller's own first.
    pub under_way: Vec<UnderWay>,
    /// Who called, each once, in order of their first call; never empty.
    pub callers: Vec<Caller>,
    /// How many calls there were, by all of them.
    pub calls: u32,
    /// The event of the last call.
    pub last_event: EventId,
    /// The event of the first call, which made it.
    pub event: EventId,
    /// The reason that was given last.
    pub reason: Option<Reason>,
    /// True once it is on disk.
    pub written: bool,
    /// Who released it.
    pub released_by: Option<String>,
    /// What was noted last, [`MOST_NOTES`] at the most.
    pub notes: Vec<String>,
    /// How many notes there were before these.
    pub forgotten_notes: u32,
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
    /// Why.
    pub reason: Option<String>,
    /// Where their own screen was when they tapped.
    pub screen: Option<Spot>,
    /// True when nobody tapped: the member's link was lost and the house holds for that.
    pub by_lost_link: bool,
    /// How often they called.
    pub times: u32,
    /// The event of their last call.
    pub last_call: EventId,
    /// Whose release was refused because of their calls, and the last of these then, of which they were told.
    pub(super) warned: BTreeMap<MemberId, EventId>,
}

impl Hold {
    /// One more note.
    pub(super) fn note(&mut self, text: String) {
        if self.notes.len() >= MOST_NOTES {
            self.notes.remove(0);
            self.forgotten_notes = self.forgotten_notes.saturating_add(1);
        }
        self.notes.push(text);
    }

    /// One more call, as the event of that name. Whoever calls again is counted, not listed again.
    pub(super) fn join(&mut self, caller: &Caller, event: EventId) {
        if self.calls == 0 {
            self.event = event;
        }
        self.calls = self.calls.saturating_add(1);
        self.last_event = event;
        let known = self
            .callers
            .iter_mut()
            .find(|known| known.member == caller.member && known.by_lost_link == caller.by_lost_link);
        match known {
            Some(known) => {
                known.times = known.times.saturating_add(1);
                known.last_call = event;
                known.reason = known.reason.take().or_else(|| caller.reason.clone());
            }
            None => self.callers.push(Caller { times: 1, last_call: event, warned: BTreeMap::new(), ..caller.clone() }),
        }
    }

    /// Whether a release by somebody who has seen that call and all before it may let go. It may not while somebody has
    /// called since: whoever releases is refused for each caller until they have seen the call that they were refused for.
    /// So nobody's second call is released unseen, not by a double press either, and a flood of one person's calls cannot keep
    /// a hold for ever.
    ///
    /// # Errors
    /// Who has called since, in words.
    pub(super) fn refuse_unseen(&mut self, by: MemberId, seen: EventId) -> Result<(), String> {
        let mut unseen = Vec::new();
        for caller in &mut self.callers {
            let looked = caller.warned.get(&by).is_some_and(|told| *told <= seen);
            if caller.last_call <= seen {
                caller.warned.remove(&by);
            } else if !looked {
                caller.warned.insert(by, caller.last_call);
                unseen.push((caller.name.as_str(), caller.times > 1));
            }
        }
        let Some((last, again)) = unseen.pop() else { return Ok(()) };
        let how = if again { "has called hold again" } else { "has called hold as well" };
        match unseen.len() {
            0 => Err(format!("{last} {how}. Look again, then release.")),
            others => Err(format!("{last} and {others} more have called hold since. Look again, then release.")),
        }
    }
}
