//! The cues that wait for their time, and the generation that lives. An older cue is dead here, whenever it comes. The
//! pages' twin is `clients/core/scheduler.ts`.

use std::collections::{BTreeMap, BTreeSet};

use crate::units::{Generation, ServerTime};
use crate::wire::Cue;

/// The cues of the living generation that have not been shown yet.
#[derive(Debug, Default)]
pub(super) struct CueQueue {
    alive: Generation,
    /// By their place in the order of the run: [`order`].
    waiting: BTreeMap<u32, Waiting>,
    /// The cues of this generation that were shown.
    done: BTreeSet<u32>,
    /// Those of them that were shown over this link: over a new one a cue may come again, for a screen that is empty.
    shown: BTreeSet<u32>,
}

/// A cue's place in the order of its run: its number, or in a walk-through, which may go back to an earlier cue, the number
/// of its step.
pub(super) fn order(cue: &Cue) -> u32 {
    cue.step.unwrap_or(cue.cue)
}

/// A cue that waits.
#[derive(Debug)]
pub(super) struct Waiting {
    pub(super) cue: Cue,
    /// True when its time had passed as it arrived.
    pub(super) came_late: bool,
}

impl Waiting {
    /// When it is due; a step is due at once.
    pub(super) fn due(&self) -> Option<ServerTime> {
        self.cue.due_us.map(ServerTime)
    }
}

impl CueQueue {
    /// The generation that lives.
    pub(super) fn alive(&self) -> Generation {
        self.alive
    }

    /// At least this generation lives: if it is a newer one, everything that waits is dead. True when it was newer.
    pub(super) fn raise(&mut self, generation: Generation) -> bool {
        let newer = generation > self.alive;
        if newer {
            *self = CueQueue { alive: generation, ..CueQueue::default() };
        }
        newer
    }

    /// A new link: nothing that came over the old one counts. Another server may count generations from the beginning.
    pub(super) fn begin_anew(&mut self, generation: Generation, same_server: bool) {
        let done = std::mem::take(&mut self.done);
        let same = same_server && generation == self.alive;
        *self = CueQueue { alive: generation, done: if same { done } else { BTreeSet::new() }, ..CueQueue::default() };
    }

    /// Takes a cue of the living generation that this link has not shown. The same cue with another time is a correction:
    /// the newer time counts.
    pub(super) fn take(&mut self, cue: Cue, came_late: bool) {
        if Generation(cue.generation) != self.alive || self.shown.contains(&order(&cue)) {
            return;
        }
        let known = self.waiting.get(&order(&cue)).filter(|known| known.cue.due_us == cue.due_us);
        let came_late = known.map_or(came_late, |known| known.came_late);
        self.waiting.insert(order(&cue), Waiting { cue, came_late });
    }

    /// True when nothing waits to be shown.
    pub(super) fn is_empty(&self) -> bool {
        self.waiting.is_empty()
    }

    /// When the next one with a time is due.
    pub(super) fn next_due(&self) -> Option<ServerTime> {
        self.waiting.values().filter_map(Waiting::due).min()
    }

    /// The next one whose time has come, in order of time, and whether it was shown over an earlier link. Without a time
    /// of the server's only steps come.
    pub(super) fn pop_due(&mut self, now: Option<ServerTime>) -> Option<(Waiting, bool)> {
        let due =
            self.waiting.values().filter(|waiting| waiting.due().is_none_or(|due| now.is_some_and(|now| due <= now)));
        let number = order(&due.min_by_key(|waiting| (waiting.due(), order(&waiting.cue)))?.cue);
        let again = !self.done.insert(number);
        self.shown.insert(number);
        self.waiting.remove(&number).map(|waiting| (waiting, again))
    }
}
