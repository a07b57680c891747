//! The journal as the server holds it: records go in without waiting, a thread of its own writes them.

use std::path::{Path, PathBuf};
use std::sync::atomic::{AtomicU64, Ordering};
use std::sync::{Arc, Mutex, PoisonError};
use std::thread::{self, JoinHandle};

use super::lock::say_where;
use super::opening::{Opened, SessionStart, begin_session};
use super::queue::{Done, Health, Queue};
use super::record::Record;
use super::store::Store;
use super::verify::verify;
use super::writer::{self, Writing};
use super::{FILE_NAME, JournalError};
use crate::event::{EventId, Maker};
use crate::faults::Faults;

/// A journal that is being written. Copies are the same journal; it is closed with the last of them.
#[derive(Clone)]
pub struct Journal {
    inner: Arc<Inner>,
}

pub(super) struct Inner {
    queue: Arc<Queue>,
    writer: Mutex<Option<JoinHandle<()>>>,
    opened: Opened,
    faults: Faults,
    /// How many events of the server's own were named.
    named: AtomicU64,
    /// What is damaged or missing in the file.
    found: Mutex<Option<String>>,
}

impl Journal {
    /// Opens or makes `journal.sqlite` in a production's data folder, marks what an earlier server left open, and
    /// starts the writer. Waits for the disk.
    ///
    /// # Errors
    /// A sentence for the person who starts the server; see [`JournalError`].
    pub fn open(data: &Path, start: &SessionStart) -> Result<Journal, JournalError> {
        Journal::open_with(data, start, Faults::default(), Store::write)
    }

    /// The same with another way to write.
    pub(super) fn open_with(
        data: &Path,
        start: &SessionStart,
        faults: Faults,
        write: impl Writing + Send + 'static,
    ) -> Result<Journal, JournalError> {
        let (path, store, opened) = open_store(data, start, 0)?;
        let queue = Arc::new(Queue::new(&path));
        let (theirs, kept) = (Arc::clone(&queue), faults.clone());
        let writer = spawn_writer(path, move || writer::write_all(store, &theirs, &kept, write))?;
        Ok(Inner::journal(queue, Some(writer), opened, faults))
    }

    /// What was found when it was opened.
    pub fn opened(&self) -> &Opened {
        &self.inner.opened
    }

    /// The name of the next event that the server makes beside the call.
    pub fn next_event(&self) -> EventId {
        let session = u32::try_from(self.inner.opened.session).unwrap_or(u32::MAX);
        EventId { session, maker: Maker::Server, number: self.inner.named.fetch_add(1, Ordering::Relaxed) + 1 }
    }

    /// Writes a record down, soon. Never waits, never fails: what the disk does not take is kept and tried again.
    pub fn record(&self, record: impl Into<Record>) {
        self.inner.queue.put(record.into(), None);
    }

    /// The same, and calls `done` with the event's `seq` once the record is durable, on the writer's thread: `done`
    /// must not wait for anything. For a record that is not an event the number is that of the event before it.
    pub fn record_then(&self, record: impl Into<Record>, done: Done) {
        self.inner.queue.put(record.into(), Some(done));
    }

    /// Notes where this server listens, for whoever finds the journal in use.
    pub fn listens_at(&self, place: &str) {
        self.inner.queue.set_place(place);
        say_where(self.inner.queue.path(), place);
    }

    /// False while what is recorded is not kept: it began without a file that it could write.
    pub fn keeps(&self) -> bool {
        self.inner.queue.keeps()
    }

    /// Whether the journal is being written.
    pub fn health(&self) -> Health {
        self.inner.queue.health()
    }

    /// What failed in the writer, a sentence each, and has begun again; and what [`Journal::look_through`] found last.
    pub fn faults(&self) -> Vec<String> {
        let found = self.inner.found.lock().unwrap_or_else(PoisonError::into_inner).clone();
        self.inner.faults.sentences().into_iter().chain(found).collect()
    }

    /// Verifies the file, beside whoever writes it; what is damaged or missing is among the faults from then on. Waits for
    /// the disk.
    pub fn look_through(&self) {
        let path = self.inner.queue.path();
        let found = match verify(path) {
            Ok(verdict) => verdict.findings.first().map(|first| {
                let count = verdict.findings.len();
                let things = if count == 1 { "1 thing is".to_owned() } else { format!("{count} things are") };
                format!(
                    "In the log, {things} damaged or missing. The first: {} What is written now is kept all the same; `holdfast \
                     verify {}` names all of it, and `holdfast salvage` brings what is good into a new log.",
                    first.says,
                    path.display()
                )
            }),
            // That is told by the journal's own health.
            Err(JournalError::Missing(_)) => None,
            Err(error) => Some(error.to_string()),
        };
        *self.inner.found.lock().unwrap_or_else(PoisonError::into_inner) = found;
    }

    /// Writes what waits, notes that the session ended well, and closes the file. What is recorded afterwards is lost.
    ///
    /// # Errors
    /// [`JournalError::Unwritten`] when the disk takes something no more; it is tried once.
    pub fn close(&self) -> Result<(), JournalError> {
        self.inner.close()
    }
}

/// The file, open for writing, what an earlier server left open marked in it, and what was found. The session has that
/// number at the least.
pub(super) fn open_store(
    data: &Path,
    start: &SessionStart,
    session: i64,
) -> Result<(PathBuf, Store, Opened), JournalError> {
    let path = data.join(FILE_NAME);
    let (mut store, lost) = Store::open(&path, session)?;
    let opened = begin_session(&mut store, lost, start).map_err(|error| JournalError::writing(&path, &error))?;
    Ok((path, store, opened))
}

/// The writer's thread.
pub(super) fn spawn_writer(
    path: PathBuf,
    work: impl FnOnce() + Send + 'static,
) -> Result<JoinHandle<()>, JournalError> {
    let thread = thread::Builder::new().name("journal".to_owned()).spawn(work);
    thread.map_err(|error| JournalError::Unwritable { path, why: error.to_string() })
}

impl Inner {
    /// A journal of these parts.
    pub(super) fn journal(
        queue: Arc<Queue>,
        writer: Option<JoinHandle<()>>,
        opened: Opened,
        faults: Faults,
    ) -> Journal {
        let named = AtomicU64::new(0);
        let found = Mutex::default();
        Journal { inner: Arc::new(Inner { queue, writer: Mutex::new(writer), opened, faults, named, found }) }
    }

    fn close(&self) -> Result<(), JournalError> {
        self.queue.close();
        let writer = self.writer.lock().unwrap_or_else(PoisonError::into_inner).take();
        // The last copy may be dropped by a `done` on the writer's own thread, which cannot wait for itself.
        if let Some(writer) = writer.filter(|writer| writer.thread().id() != thread::current().id()) {
            let _ = writer.join();
        }
        match self.queue.end() {
            (0, None) => Ok(()),
            (records, why) => Err(JournalError::Unwritten {
                path: self.queue.path().into(),
                records,
                why: why.unwrap_or_else(|| "its writer had stopped".to_owned()),
            }),
        }
    }
}

impl Drop for Inner {
    fn drop(&mut self) {
        if let Err(error) = self.close() {
            tracing::error!("{error}");
        }
    }
}

/// A journal without a thread, for simulations: whoever holds this writes, when and if they like.
#[cfg(test)]
pub(crate) struct ByHand {
    store: Store,
    queue: Arc<Queue>,
    batch: std::collections::VecDeque<super::queue::Queued>,
    /// Whom to tell of what is committed, and its number.
    untold: Vec<(super::queue::Done, u64)>,
}

#[cfg(test)]
impl Journal {
    /// Opens a journal that is written by hand.
    pub(crate) fn by_hand(data: &Path, start: &SessionStart) -> Result<(Journal, ByHand), JournalError> {
        let (path, store, opened) = open_store(data, start, 0)?;
        let queue = Arc::new(Queue::new(&path));
        let hand = ByHand { store, queue: Arc::clone(&queue), batch: Default::default(), untold: Vec::new() };
        Ok((Inner::journal(queue, None, opened, Faults::default()), hand))
    }
}

#[cfg(test)]
impl ByHand {
    /// Takes what was recorded since this was last asked into the hand, and gives the events among it.
    pub(crate) fn take(&mut self) -> Vec<crate::event::Event> {
        let taken = self.queue.take_records();
        let events = taken.iter().filter_map(|queued| queued.record.event().cloned()).collect();
        self.batch.extend(taken);
        events
    }

    /// Writes so many of the records in the hand in one commit, and gives the events among them. Nobody is told yet.
    pub(crate) fn commit(&mut self, most: usize) -> Vec<crate::event::Event> {
        let records: Vec<&Record> = self.batch.iter().take(most).map(|queued| &queued.record).collect();
        let count = records.len();
        if count == 0 {
            return Vec::new();
        }
        let mut seqs = Vec::new();
        if let Err(error) = self.store.write(&records, &mut seqs) {
            self.queue.set_trouble(&super::error::plain(&error), count);
            return Vec::new();
        }
        let written = self.batch.drain(..count).zip(seqs);
        let mut events = Vec::new();
        for (queued, seq) in written {
            events.extend(queued.record.event().cloned());
            self.untold.extend(queued.done.map(|done| (done, seq)));
        }
        events
    }

    /// True while something is committed of which nobody was told.
    pub(crate) fn owes_a_word(&self) -> bool {
        !self.untold.is_empty()
    }

    /// Tells whoever waits that what is committed is on disk.
    pub(crate) fn tell(&mut self) {
        for (done, seq) in self.untold.drain(..) {
            done(seq);
        }
        self.queue.set_well();
    }

    /// The disk is full: what waits is tried, and stays.
    pub(crate) fn fail(&mut self) {
        if !self.batch.is_empty() {
            self.queue.set_trouble("the disk is full", self.batch.len());
        }
    }
}
