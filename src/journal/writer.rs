//! The writer's thread: takes batches from the queue and commits them, as often as it takes. A panic in it loses nothing
//! and writes nothing twice: the batch it had in hand stays outside of what panics, and whether its commit was made is
//! read from the file itself before anything is written again.

use std::collections::VecDeque;
use std::panic::{AssertUnwindSafe, catch_unwind};

use super::chain::Head;
use super::error::plain;
use super::queue::{Done, Queue, Queued};
use super::record::Record;
use super::store::Store;
use crate::event::What;
use crate::faults::{Faults, Part};
use crate::time::utc_now;
use crate::units::ServerTime;

/// The log, to the desk.
const PART: Part = Part { name: "The writer of the log", costs: "Nothing of the log is lost." };

/// How a batch is written: in one commit, with the number of each record's event put into the list before the commit.
/// [`Store::write`] outside of tests.
pub(super) trait Writing: FnMut(&mut Store, &[&Record], &mut Vec<u64>) -> rusqlite::Result<()> {}

impl<F: FnMut(&mut Store, &[&Record], &mut Vec<u64>) -> rusqlite::Result<()>> Writing for F {}

/// The writer's whole life.
pub(super) fn write_all(mut store: Store, queue: &Queue, faults: &Faults, mut write: impl Writing) {
    let mut hand = Hand::default();
    let stopped = |why: &str| queue.set_stopped(why);
    let written = faults.keep_running(PART, stopped, || hand.work(&mut store, queue, &mut write));
    if written && let Err(error) = store.close() {
        queue.set_trouble(&plain(&error), 0);
    }
    queue.end();
}

/// A record that makes the writer panic this often by itself is written down in other words: one that only met somebody
/// else's fault is not.
const TRIES: u8 = 5;

/// How much of the batch in hand goes into one commit.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
enum Care {
    /// All of it.
    #[default]
    Whole,
    /// One record, since the whole batch made the writer panic; by itself it did so this often.
    One(u8),
    /// One record, and what it says instead of what made the writer panic by itself.
    Replaced,
}

/// What the writer has in hand. It outlives a panic.
#[derive(Default)]
struct Hand {
    batch: VecDeque<Queued>,
    care: Care,
    /// The end of the chain before the commit that was tried last, and the numbers of its events.
    tried: Option<Head>,
    seqs: Vec<u64>,
}

impl Hand {
    /// Writes what comes until the queue is closed. False when something could not be written and never will be.
    fn work(&mut self, store: &mut Store, queue: &Queue, write: &mut impl Writing) -> bool {
        if !self.take_up(store, queue) {
            return false;
        }
        loop {
            while !self.batch.is_empty() {
                if !self.write_some(store, queue, write) {
                    return false;
                }
            }
            self.care = Care::Whole;
            queue.set_well();
            let Some(batch) = queue.next_batch() else { return true };
            self.batch = batch.into();
        }
    }

    /// After a panic: looks at the file whether the commit that it broke off was made, and takes more care from now on.
    /// False when the file cannot be read and the journal is being closed.
    fn take_up(&mut self, store: &mut Store, queue: &Queue) -> bool {
        let Some(before) = self.tried else { return true };
        loop {
            match store.resume() {
                Ok(()) => break,
                Err(error) => queue.set_trouble(&plain(&error), self.batch.len()),
            }
            if queue.pause_before_retry() {
                return false;
            }
        }
        self.tried = None;
        if store.head() != before {
            self.acknowledge();
        } else if self.care == Care::Replaced && queue.is_closing() {
            // It fails whatever it is given: waiting any longer would keep the server from ending.
            queue.set_trouble("its writer fails again and again", self.batch.len());
            return false;
        } else {
            self.take_care();
        }
        true
    }

    /// The batch made the writer panic: which record of it did? One that does so alone is written down in other words.
    fn take_care(&mut self) {
        match self.care {
            Care::Whole => self.care = Care::One(0),
            Care::One(failed) if failed + 1 < TRIES => self.care = Care::One(failed + 1),
            Care::One(_) => {
                if let Some(first) = self.batch.front_mut() {
                    first.record = unwritable(&first.record);
                }
                self.care = Care::Replaced;
            }
            Care::Replaced => {}
        }
    }

    /// Writes a commit's worth, as often as it takes. False when it could not be written and the journal is being closed.
    fn write_some(&mut self, store: &mut Store, queue: &Queue, write: &mut impl Writing) -> bool {
        let mut last_try = false;
        loop {
            let some = if self.care == Care::Whole { self.batch.len() } else { 1 };
            let records: Vec<&Record> = self.batch.iter().take(some).map(|queued| &queued.record).collect();
            self.tried = Some(store.head());
            self.seqs.clear();
            match write(store, &records, &mut self.seqs) {
                Ok(()) => {
                    self.tried = None;
                    queue.set_well();
                    self.acknowledge();
                    return true;
                }
                Err(error) => queue.set_trouble(&plain(&error), self.batch.len()),
            }
            self.tried = None;
            if last_try {
                return false;
            }
            last_try = queue.pause_before_retry();
            self.batch.extend(queue.take_records());
        }
    }

    /// What was committed is out of hand, and whoever waited for it is told.
    fn acknowledge(&mut self) {
        for seq in std::mem::take(&mut self.seqs) {
            tell(self.batch.pop_front().and_then(|queued| queued.done), seq);
        }
        if self.care != Care::Whole {
            self.care = Care::One(0);
        }
    }
}

/// A record that makes the writer panic must not block those behind it, and must not be lost either.
fn unwritable(record: &Record) -> Record {
    let shown = catch_unwind(AssertUnwindSafe(|| format!("{record:?}")));
    let why = "A record made the writer of the journal fail.".to_owned();
    let record = shown.unwrap_or_else(|_| "it cannot be shown".to_owned());
    Record::Own { utc: utc_now(), at: ServerTime(0), what: What::Misrecorded { why, record } }
}

/// Calls a `done`. One that panics must not take the log with it.
fn tell(done: Option<Done>, seq: u64) {
    let Some(done) = done else { return };
    if catch_unwind(AssertUnwindSafe(|| done(seq))).is_err() {
        tracing::error!("whoever waited for event {seq} to be written failed; the log goes on");
    }
}

#[cfg(test)]
#[path = "writer_tests.rs"]
mod tests;
