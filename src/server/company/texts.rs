//! Texts that are longer than this house takes. What is asked with one is refused, in words; what stops everybody is done
//! whatever it says: its reason is cut, and the desk is told.

use super::Company;
use crate::call::{Act, Call, MemberId, Ordered, Planned, Puller, Pulling};
use crate::server::deed::Deed;
use crate::server::reached::Limit;
use crate::server::request::{HoldLane, Speaker};

/// What stands at the end of a reason that was cut.
const CUT: char = '…';

impl Company {
    /// What becomes of what a member asks: it is the call's matter, unless one of its texts is too long.
    pub(in crate::server) fn within(&self, call: &Call, by: Speaker, mut act: Act) -> Deed {
        let longest = self.reached.limits().text_letters;
        if let Act::Stop(reason) = &mut act {
            if cut(reason, longest) {
                self.too_long(call, by.member);
            }
            return Deed::Asked(by, act);
        }
        match texts(&act).into_iter().map(letters).max() {
            Some(letters) if letters > longest => {
                self.too_long(call, by.member);
                let reason = format!(
                    "This has {letters} letters, and {longest} are the most that are kept. Nothing was done. Make it shorter, or say it in two."
                );
                Deed::Refuse(by.link, act.asked().word(), reason)
            }
            _ => Deed::Asked(by, act),
        }
    }

    /// A hold as it is kept: whole but for a reason that is too long.
    pub(in crate::server) fn shortened(&self, call: &Call, mut hold: HoldLane) -> HoldLane {
        if let HoldLane::Tap(member, tap) | HoldLane::Pulled(Pulling { by: Puller::Member(member, tap), .. }) =
            &mut hold
            && tap.reason.as_mut().is_some_and(|reason| cut(reason, self.reached.limits().text_letters))
        {
            self.too_long(call, *member);
        }
        hold
    }

    fn too_long(&self, call: &Call, member: MemberId) {
        if let Some(known) = call.roster().get(member) {
            self.reached.note(Limit::Text(known.name.clone()));
        }
    }
}

/// Everything that somebody has typed of what they ask.
fn texts(act: &Act) -> Vec<&str> {
    let of: [Option<&str>; 3] = match act {
        Act::Order { items, .. } => return ordered(items),
        Act::Cast { fight, part, .. } => [Some(fight), Some(part), None],
        Act::Stop(text) | Act::Note { text, .. } | Act::Reason { reason: text, .. } => [Some(text), None, None],
        Act::TakePart { part, .. } => [part.as_deref(), None, None],
        Act::Places { request, .. } => [Some(&request.fight), None, None],
        Act::Sign { check, note, by, .. } => [Some(check), note.as_deref(), by.as_deref()],
        Act::Attend { person, .. } => [Some(person), None, None],
        Act::EndCall { signed_by } => [signed_by.as_deref(), None, None],
        Act::Release { .. }
        | Act::Ready { .. }
        | Act::PlacesFor { .. }
        | Act::Start { .. }
        | Act::Step(_)
        | Act::Speed(_)
        | Act::TryHold => [None; 3],
    };
    of.into_iter().flatten().collect()
}

fn ordered(items: &[Ordered]) -> Vec<&str> {
    let of = items.iter().flat_map(|Ordered { planned, .. }| {
        let Planned { fight, weapons, from, to, .. } = planned;
        [Some(fight), weapons.as_ref(), from.as_ref(), to.as_ref()]
    });
    of.flatten().map(String::as_str).collect()
}

pub(super) fn letters(text: &str) -> usize {
    text.chars().count()
}

/// Cuts a text that has more letters than that, and says whether it has.
fn cut(text: &mut String, longest: usize) -> bool {
    let Some((end, _)) = text.char_indices().nth(longest) else { return false };
    text.truncate(end);
    text.push(CUT);
    true
}
