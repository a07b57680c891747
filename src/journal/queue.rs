//! The two queues before the writer: records, which are never dropped, and lateness reports, which give way to them
//! and of which the oldest are dropped, and counted, when the disk cannot keep up. Putting something in never waits
//! for the disk: the lock is only ever held to move a few pointers.

use std::collections::VecDeque;
use std::path::{Path, PathBuf};
use std::sync::{Condvar, Mutex, MutexGuard, PoisonError};
use std::time::Duration;

use super::record::{Record, Report};
use crate::event::What;
use crate::time::{ServerClock, utc_now};
use crate::units::{Micros, ServerTime};

/// What is called once a record is on disk, with the event's `seq` (for other records: that of the event before it).
pub type Done = Box<dyn FnOnce(u64) + Send>;

/// Reports that are kept while the disk is busy: a minute of 50 members at a report each five times a second.
const REPORTS_KEPT: usize = 15_000;
/// Reports written in one commit: few enough that a hold that arrives meanwhile waits for a few milliseconds at most.
const REPORTS_AT_ONCE: usize = 256;
/// How long reports wait for company, so that they cost a few commits in a second and not one each.
const REPORTS_PAUSE: Duration = Duration::from_millis(250);
/// How long to wait before a failed commit is tried again.
const RETRY_PAUSE: Duration = Duration::from_secs(1);

/// What a call without a log costs.
pub const FORGOTTEN: &str = "Cues and HOLD work as ever. When the server stops, it forgets who came, what was checked and signed, every run, hold and \
note: write down on paper what must be known.";

/// A record that is not on disk after so long is told.
const STILL: Micros = Micros::seconds(2);

/// A record that waits.
pub(super) struct Queued {
    /// What to write.
    pub(super) record: Record,
    /// Whom to tell.
    pub(super) done: Option<Done>,
}

/// Whether the journal is being written.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Health {
    /// True when everything that was recorded so far is on disk or about to be.
    pub well: bool,
    /// A sentence: what it does, or what is wrong and what to do.
    pub says: String,
}

#[derive(Default)]
struct Waiting {
    records: VecDeque<Queued>,
    reports: VecDeque<Report>,
    reports_dropped: u64,
    /// Since when there are records that are not on disk.
    owed_since: Option<ServerTime>,
    closing: bool,
    /// Why the last commit failed, and how many records it held.
    trouble: Option<(String, usize)>,
    /// Why what is recorded is not kept: the journal began without a file that it could write.
    unkept: Option<String>,
    /// How many records were let go because of that.
    dropped: usize,
    /// Where the server listens.
    place: Option<String>,
    /// Why the writer is not at work at the moment.
    stopped: Option<String>,
    /// True once nothing will be written any more.
    ended: bool,
}

/// What the handles and the writer share.
pub(super) struct Queue {
    waiting: Mutex<Waiting>,
    wake: Condvar,
    path: PathBuf,
    clock: ServerClock,
}

impl Queue {
    /// Empty queues for the journal at `path`.
    pub(super) fn new(path: &Path) -> Queue {
        Queue { waiting: Mutex::default(), wake: Condvar::new(), path: path.into(), clock: ServerClock::new() }
    }

    /// Empty queues for a journal that cannot be written, for that reason.
    pub(super) fn without(path: &Path, why: &str) -> Queue {
        let queue = Queue::new(path);
        queue.lock().unkept = Some(why.to_owned());
        queue
    }

    /// False while what is recorded is not kept.
    pub(super) fn keeps(&self) -> bool {
        self.lock().unkept.is_none()
    }

    /// The file can be written after all: what waits will be.
    pub(super) fn is_kept_from_now_on(&self) {
        self.lock().unkept = None;
    }

    /// So many records were let go.
    pub(super) fn count_dropped(&self, records: usize) {
        let mut waiting = self.lock();
        waiting.dropped += records;
        waiting.owed_since = None;
    }

    /// Notes where the server listens.
    pub(super) fn set_place(&self, place: &str) {
        self.lock().place = Some(place.to_owned());
    }

    /// Where the server listens, if that is known yet.
    pub(super) fn listens_at(&self) -> Option<String> {
        self.lock().place.clone()
    }

    /// The journal's file.
    pub(super) fn path(&self) -> &Path {
        &self.path
    }

    /// Puts a record at the end of its queue. A report that somebody wants to hear about counts as a record.
    pub(super) fn put(&self, record: Record, done: Option<Done>) {
        let mut waiting = self.lock();
        if waiting.ended {
            tracing::error!("recorded after the log was closed, and lost: {record:?}");
            return;
        }
        match (record, done) {
            (Record::Report(report), None) => {
                if waiting.reports.len() >= REPORTS_KEPT {
                    waiting.reports.pop_front();
                    waiting.reports_dropped += 1;
                }
                waiting.reports.push_back(report);
            }
            (record, done) => {
                waiting.owed_since.get_or_insert_with(|| self.clock.now());
                waiting.records.push_back(Queued { record, done });
            }
        }
        drop(waiting);
        self.wake.notify_one();
    }

    /// Everything that waits, as one batch: records if there are any, else some reports. Waits until there is
    /// something; nothing once the queue is closed and empty.
    pub(super) fn next_batch(&self) -> Option<Vec<Queued>> {
        let mut waiting = self.lock();
        loop {
            if !waiting.records.is_empty() {
                return Some(waiting.records.drain(..).collect());
            }
            if waiting.reports.is_empty() {
                if waiting.closing {
                    return None;
                }
                waiting = self.wake.wait(waiting).unwrap_or_else(PoisonError::into_inner);
                continue;
            }
            let company = |w: &mut Waiting| w.records.is_empty() && !w.closing && w.reports.len() < REPORTS_AT_ONCE;
            waiting =
                self.wake.wait_timeout_while(waiting, REPORTS_PAUSE, company).unwrap_or_else(PoisonError::into_inner).0;
            if waiting.records.is_empty() {
                return Some(take_reports(&mut waiting));
            }
        }
    }

    /// The records that came while a batch could not be written.
    pub(super) fn take_records(&self) -> Vec<Queued> {
        self.lock().records.drain(..).collect()
    }

    /// Says that a batch of `records` could not be written.
    pub(super) fn set_trouble(&self, why: &str, records: usize) {
        let mut waiting = self.lock();
        if waiting.trouble.is_none() {
            tracing::error!("the log cannot be written: {why}; everything is kept in memory and tried again");
        }
        waiting.trouble = Some((why.to_owned(), records));
    }

    /// Says that the writer failed, and will begin again.
    pub(super) fn set_stopped(&self, why: &str) {
        self.lock().stopped = Some(why.to_owned());
    }

    /// True once the journal is being closed.
    pub(super) fn is_closing(&self) -> bool {
        self.lock().closing
    }

    /// Says that everything up to the last batch is written.
    pub(super) fn set_well(&self) {
        let mut waiting = self.lock();
        waiting.owed_since = (!waiting.records.is_empty()).then(|| self.clock.now());
        let stopped = waiting.stopped.take();
        if waiting.trouble.take().or(stopped.map(|why| (why, 0))).is_some() {
            tracing::info!("the log is written again, nothing of it is lost");
        }
    }

    /// Waits before the next try. True when the journal is being closed and there will be no other try.
    pub(super) fn pause_before_retry(&self) -> bool {
        let waiting = self.lock();
        let paused = self.wake.wait_timeout_while(waiting, RETRY_PAUSE, |w| !w.closing);
        paused.unwrap_or_else(PoisonError::into_inner).0.closing
    }

    /// Asks the writer to finish what waits and to stop.
    pub(super) fn close(&self) {
        self.lock().closing = true;
        self.wake.notify_one();
    }

    /// Nothing will be written any more. Says what is left and why.
    pub(super) fn end(&self) -> (usize, Option<String>) {
        let mut waiting = self.lock();
        waiting.ended = true;
        let left =
            waiting.dropped + waiting.records.len() + waiting.trouble.as_ref().map_or(0, |(_, records)| *records);
        (left, waiting.trouble.as_ref().map(|(why, _)| why.clone()).or(waiting.unkept.clone()))
    }

    /// Whether the journal is being written.
    pub(super) fn health(&self) -> Health {
        let waiting = self.lock();
        match &waiting.trouble {
            Some((why, records)) => {
                let kept = records + waiting.records.len();
                let file = self.path.display();
                let says = if waiting.ended {
                    format!("The log was closed and {kept} records of it are not on disk: {why}.")
                } else {
                    format!(
                        "The log cannot be written: {why}. {kept} records are kept in memory and tried every second: \
                         make room on the disk of {file}, and leave the server running until this is well again."
                    )
                };
                Health { well: false, says }
            }
            None if waiting.unkept.is_some() && !waiting.ended => {
                let why = waiting.unkept.as_deref().unwrap_or_default();
                Health { well: false, says: format!("Nothing of this call is kept. {why} {FORGOTTEN}") }
            }
            None if waiting.stopped.is_some() && !waiting.ended => {
                let why = waiting.stopped.as_deref().unwrap_or_default();
                let says = format!(
                    "The log has stopped: its writer failed ({why}). It begins again by itself. What was recorded is kept in \
                     memory: leave the server running until this is well again."
                );
                Health { well: false, says }
            }
            None if waiting.ended => Health { well: false, says: "The log is closed.".to_owned() },
            None if waiting.owed_since.is_some_and(|since| self.clock.now().since(since) > STILL) => {
                let file = self.path.display();
                let says = format!(
                    "The log stands still: for some seconds nothing has reached the disk of {file}. What was recorded is \
                     kept in memory: leave the server running until this is well again."
                );
                Health { well: false, says }
            }
            None => Health { well: true, says: "The log is being written.".to_owned() },
        }
    }

    /// A thread that panicked with the lock held has at worst not moved a pointer: the queues are still sound.
    fn lock(&self) -> MutexGuard<'_, Waiting> {
        self.waiting.lock().unwrap_or_else(PoisonError::into_inner)
    }
}

/// A batch of reports, led by an event that counts those that were dropped before them.
fn take_reports(waiting: &mut Waiting) -> Vec<Queued> {
    let some = waiting.reports.len().min(REPORTS_AT_ONCE);
    let mut batch: Vec<Record> = waiting.reports.drain(..some).map(Record::Report).collect();
    if waiting.reports_dropped > 0
        && let Some(Record::Report(first)) = batch.first()
    {
        let what = What::ReportsLost { reports: waiting.reports_dropped };
        let gap = Record::Own { utc: utc_now(), at: ServerTime(first.fired_us), what };
        waiting.reports_dropped = 0;
        batch.insert(0, gap);
    }
    batch.into_iter().map(|record| Queued { record, done: None }).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Something that is no report.
    fn left() -> Record {
        Record::Own { utc: utc_now(), at: ServerTime(0), what: What::Left { part: None } }
    }

    fn report(cue: u32) -> Record {
        Record::Report(Report { run: 1, member: 1, cue, due_us: 0, fired_us: 0, bound_us: None })
    }

    #[test]
    fn a_hold_overtakes_reports_and_dropped_reports_are_counted() {
        let queue = Queue::new(Path::new("journal.sqlite"));
        for cue in 0..REPORTS_KEPT as u32 + 7 {
            queue.put(report(cue), None);
        }
        queue.put(left(), None);
        let first = queue.next_batch().unwrap();
        assert!(matches!(&first[..], [Queued { record: Record::Own { what: What::Left { .. }, .. }, .. }]));

        let second = queue.next_batch().unwrap();
        assert_eq!(second.len(), REPORTS_AT_ONCE + 1);
        assert!(
            matches!(second[0].record, Record::Own { what: What::ReportsLost { reports: 7 }, .. }),
            "the gap is told"
        );
        assert_eq!(second[1].record, report(7), "the oldest are the ones that go");

        queue.close();
        let rest: usize = std::iter::from_fn(|| queue.next_batch()).map(|batch| batch.len()).sum();
        assert_eq!(rest, REPORTS_KEPT - REPORTS_AT_ONCE);
    }

    #[test]
    fn a_writer_that_stands_still_is_told_until_it_goes_on() {
        let queue = Queue::new(Path::new("journal.sqlite"));
        queue.put(report(1), None);
        queue.put(left(), None);
        // The writer has it in hand, and nothing more comes of it.
        let in_hand = queue.next_batch().unwrap();
        let began = queue.clock.now();
        while queue.health().well {
            assert!(queue.clock.now().since(began) < Micros::seconds(20), "nobody is told");
            std::thread::sleep(Duration::from_millis(10));
        }
        assert!(queue.health().says.contains("stands still"), "{}", queue.health().says);
        assert_eq!(in_hand.len(), 1);
        queue.set_well();
        assert!(queue.health().well);
    }
}
