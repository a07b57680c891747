//! The disk under the journal, and the thread that writes: slow, full, standing with a commit of which nobody has been
//! told, or well. What is committed is on it whatever becomes of the server.

use super::chance::Chance;
use crate::event::Event;
use crate::journal::ByHand;

/// How the disk is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Disk {
    /// It writes at once.
    Well,
    /// The writer stands: nothing is written until then.
    Stands(i64),
    /// It is full until then.
    Full(i64),
    /// The writer commits a little at a time, and stands until then before it says so.
    Untold(i64),
}

/// At the most so many records go into a commit of a writer that stands after it.
const A_LITTLE: i64 = 4;

impl Disk {
    /// Until when it is not well.
    pub(super) fn until(self) -> i64 {
        match self {
            Disk::Well => 0,
            Disk::Stands(until) | Disk::Full(until) | Disk::Untold(until) => until,
        }
    }

    /// Writes what waits, or does not; gives the events that are on disk by it.
    pub(super) fn write(&mut self, hand: &mut ByHand, now: i64, chance: &mut Chance) -> Vec<Event> {
        match *self {
            Disk::Stands(until) if until > now => Vec::new(),
            Disk::Full(until) if until > now => {
                hand.fail();
                Vec::new()
            }
            Disk::Untold(until) if until > now && hand.owes_a_word() => Vec::new(),
            Disk::Untold(until) if until > now => hand.commit(chance.between(1, A_LITTLE) as usize),
            _ => {
                *self = Disk::Well;
                let written = hand.commit(usize::MAX);
                hand.tell();
                written
            }
        }
    }

    /// The power goes: some of what waits is on disk, and nobody is told.
    pub(super) fn dies(self, hand: &mut ByHand, now: i64, chance: &mut Chance) -> Vec<Event> {
        // A writer that stands may be in the middle of it: what came into the call may be there, and what came of it not.
        let writes = !matches!(self, Disk::Full(until) if until > now);
        if writes && chance.percent(50.0) { hand.commit(chance.between(1, 10) as usize) } else { Vec::new() }
    }
}
