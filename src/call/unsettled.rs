//! What is to be written down, but may still be taken back: what time alone did (a phrase reached, the end) at an instant
//! for which a pull of the brake may still arrive, and what stands behind it. A pull takes back what is later than it;
//! the rest is written once nothing earlier can arrive any more.

use std::collections::VecDeque;

use crate::event::{Entry, Event, What};
use crate::units::ServerTime;

/// Entries in the order in which they are to be written.
#[derive(Debug, Default)]
pub(super) struct Unsettled {
    waiting: VecDeque<Waiting>,
}

#[derive(Debug)]
struct Waiting {
    entry: Entry,
    /// When, for what time alone made.
    by_time: Option<ServerTime>,
}

impl Unsettled {
    /// An entry that time alone made, at that instant.
    pub(super) fn by_time(&mut self, at: ServerTime, entry: Entry) {
        self.waiting.push_back(Waiting { entry, by_time: Some(at) });
    }

    /// An entry that somebody made: given back when nothing waits before it.
    pub(super) fn by_somebody(&mut self, entry: Entry) -> Option<Entry> {
        if self.waiting.is_empty() {
            return Some(entry);
        }
        self.waiting.push_back(Waiting { entry, by_time: None });
        None
    }

    /// A pull at that instant: what time alone did later is dropped. Says how many phrases were among it.
    pub(super) fn take_back(&mut self, at: ServerTime) -> usize {
        let mut phrases = 0;
        self.waiting.retain(|waiting| {
            let later = waiting.by_time.is_some_and(|made| made > at);
            phrases += usize::from(later && is_phrase(&waiting.entry));
            !later
        });
        phrases
    }

    /// What is settled once no pull can arrive any more for an instant before `until`.
    pub(super) fn settle(&mut self, until: ServerTime) -> Vec<Entry> {
        let open = |waiting: &Waiting| waiting.by_time.is_some_and(|made| made > until);
        let settled = self.waiting.iter().position(open).unwrap_or(self.waiting.len());
        self.waiting.drain(..settled).map(|waiting| waiting.entry).collect()
    }
}

fn is_phrase(entry: &Entry) -> bool {
    matches!(entry, Entry::Event(event) if matches!(**event, Event { what: What::Phrase, .. }))
}
