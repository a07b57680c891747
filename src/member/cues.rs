//! The cues that wait for their time, and the generation that lives. An older cue is dead here, whenever it comes.

use std::collections::{BTreeMap, BTreeSet};

use crate::units::{Generation, ServerTime};
use crate::wire::Cue;

/// The cues of the living generation that have not been shown yet.
#[derive(Debug, Default)]
pub(super) struct CueQueue {
    alive: Generation,
    waiting: BTreeMap<u32, Waiting>,
    /// The cues of this generation that were shown: one that is sent again after a lost link is not shown again.
    done: BTreeSet<u32>,
}

/// A cue with a time.
#[derive(Debug)]
pub(super) struct Waiting {
    pub(super) cue: Cue,
    pub(super) due: ServerTime,
    /// True when its time had passed as it arrived.
    pub(super) came_late: bool,
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
            self.alive = generation;
            self.waiting.clear();
            self.done.clear();
        }
        newer
    }

    /// A new link: nothing that came over the old one counts. Another server may count generations from the beginning.
    pub(super) fn begin_anew(&mut self, generation: Generation, same_server: bool) {
        self.waiting.clear();
        if !same_server || generation != self.alive {
            self.done.clear();
        }
        self.alive = generation;
    }

    /// True for a cue of the living generation that was not shown before.
    pub(super) fn accepts(&self, cue: &Cue) -> bool {
        Generation(cue.generation) == self.alive && !self.done.contains(&cue.cue)
    }

    /// Lets an accepted cue wait; the same cue with another time takes its place.
    pub(super) fn wait(&mut self, waiting: Waiting) {
        self.waiting.insert(waiting.cue.cue, waiting);
    }

    /// Notes that an accepted cue is shown without waiting (any longer).
    pub(super) fn shown(&mut self, cue: u32) {
        self.waiting.remove(&cue);
        self.done.insert(cue);
    }

    /// When the next one is due.
    pub(super) fn next_due(&self) -> Option<ServerTime> {
        self.waiting.values().map(|waiting| waiting.due).min()
    }

    /// The next one whose time has come, in order of time.
    pub(super) fn pop_due(&mut self, now: ServerTime) -> Option<Waiting> {
        let due = self.waiting.values().filter(|waiting| waiting.due <= now);
        let number = due.min_by_key(|waiting| (waiting.due, waiting.cue.cue))?.cue.cue;
        self.done.insert(number);
        self.waiting.remove(&number)
    }
}
