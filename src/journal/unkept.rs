//! A journal that cannot be written when the server begins, and a person says that the show goes on without it. What is
//! recorded waits in memory: it is written once the disk takes it, or never, where the file itself is the trouble.

use std::path::Path;
use std::sync::Arc;

use super::handle::{Inner, open_store, spawn_writer};
use super::lock::{lock_for_reading, say_where};
use super::opening::{Opened, SessionStart, found};
use super::queue::Queue;
use super::store::Store;
use super::view::View;
use super::writer;
use super::{FILE_NAME, Journal, JournalError};
use crate::faults::Faults;

impl Journal {
    /// Begins although the journal in `data` cannot be written, for that reason: what can be read of it is known, and
    /// what is recorded is kept in memory. Where the disk is the trouble, it is tried every second.
    ///
    /// # Errors
    /// [`JournalError::Locked`] when another server has it; [`JournalError::Unwritable`] when there is no thread to be had.
    pub fn without(data: &Path, start: &SessionStart, why: &JournalError) -> Result<Journal, JournalError> {
        let path = data.join(FILE_NAME);
        let lock = lock_for_reading(&path)?;
        let opened = remembered(data, start);
        let queue = Arc::new(Queue::without(&path, &why.to_string()));
        let (theirs, start) = (Arc::clone(&queue), start.clone());
        let wanted = matches!(why, JournalError::Unwritable { .. }).then_some((data.to_owned(), opened.session));
        let faults = Faults::default();
        let kept = faults.clone();
        let writer = spawn_writer(path, move || match wanted {
            Some((data, session)) => write_when_it_can(&data, &start, session, lock, &theirs, &kept),
            None => {
                drop_all(&theirs);
                drop(lock);
            }
        })?;
        Ok(Inner::journal(queue, Some(writer), opened, faults))
    }

    /// Opens or makes a journal in the folder `second`, because the one in `data` cannot be used: what can be read of that
    /// one is known, and numbers go on where it ended.
    ///
    /// # Errors
    /// As [`Journal::open`], for the second one; [`JournalError::Locked`] when another server has the first.
    pub fn open_second(second: &Path, data: &Path, start: &SessionStart) -> Result<Journal, JournalError> {
        let lock = lock_for_reading(&data.join(FILE_NAME))?;
        let first = remembered(data, start);
        let (path, store, theirs) = open_store(second, start, first.session)?;
        let opened = Opened {
            last_run: first.last_run.max(theirs.last_run),
            last_hold: first.last_hold.max(theirs.last_hold),
            members: if theirs.members.is_empty() { first.members } else { theirs.members },
            taps: first.taps.into_iter().chain(theirs.taps).collect(),
            ..theirs
        };
        let faults = Faults::default();
        let queue = Arc::new(Queue::new(&path));
        let (held, kept) = (Arc::clone(&queue), faults.clone());
        let writer = spawn_writer(path, move || {
            writer::write_all(store, &held, &kept, Store::write);
            // Nobody else serves the production meanwhile.
            drop(lock);
        })?;
        Ok(Inner::journal(queue, Some(writer), opened, faults))
    }
}

/// What a journal that cannot be written says when it is read; of one that cannot be read either, nothing, and a number of
/// this start that no other start of late had: phones tell starts apart by it.
fn remembered(data: &Path, start: &SessionStart) -> Opened {
    let path = data.join(FILE_NAME);
    let seconds = start.utc.as_second();
    let session = 1_000_000 + seconds.div_euclid(8).rem_euclid(1_000_000);
    let none = Opened { session, closed_well: true, ..Opened::default() };
    match View::open(&path) {
        Ok(view) => found(&view.db).unwrap_or(none),
        Err(JournalError::Missing(_)) => Opened { session: 1, ..none },
        Err(_) => none,
    }
}

/// Tries until the disk takes the journal, and then writes it as ever.
fn write_when_it_can(
    data: &Path,
    start: &SessionStart,
    session: i64,
    lock: Option<std::fs::File>,
    queue: &Queue,
    faults: &Faults,
) {
    let mut lock = lock;
    loop {
        // Nobody else may have it meanwhile; the journal's own way in wants it to itself.
        let at = queue.listens_at();
        drop(lock.take());
        match open_store(data, start, session) {
            Ok((path, store, opened)) if opened.session == session => {
                if let Some(at) = at {
                    say_where(&path, &at);
                }
                queue.is_kept_from_now_on();
                return writer::write_all(store, queue, faults, Store::write);
            }
            Ok(_) => {
                let why = "another server has written it meanwhile; stop this server and start it again";
                queue.set_trouble(why, 0);
                return drop_all(queue);
            }
            Err(error) => queue.set_trouble(&error.cause(), 0),
        }
        lock = lock_for_reading(&data.join(FILE_NAME)).ok().flatten();
        if queue.pause_before_retry() {
            queue.end();
            return;
        }
    }
}

/// Takes what is recorded and forgets it, so that a long evening does not fill the memory.
fn drop_all(queue: &Queue) {
    while let Some(batch) = queue.next_batch() {
        queue.count_dropped(batch.len());
    }
    queue.end();
}
