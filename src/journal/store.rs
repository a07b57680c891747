//! The open file: what the writer does to it. Everything here waits for the disk, so only the writer's thread comes here.
//!
//! Durability rests on SQLite's documented guarantee for write-ahead logging with `synchronous=FULL`: the log is synced
//! after every commit, so a transaction whose COMMIT has returned survives a crash of the program, of the operating
//! system, and a power cut (sqlite.org/pragma.html#pragma_synchronous, sqlite.org/wal.html section 2.2).

use std::fs::{self, File};
use std::path::Path;
use std::time::Duration;

use jiff::Timestamp;
use rusqlite::{Connection, ErrorCode, OpenFlags, OptionalExtension, Transaction};

use super::chain::{Head, append, find_head};
use super::head::{HeadNote, Noted, read_note};
use super::lock::lock;
use super::record::Record;
use super::schema::{self, Found};
use super::{JournalError, columns, rows};
use crate::event::{Entry, Event, RunBegun, Spot, What};
use crate::time::utc_now;
use crate::units::ServerTime;

/// A journal, open for writing.
pub(super) struct Store {
    db: Connection,
    note: HeadNote,
    head: Head,
    pub(super) seq: u64,
    pub(super) session: i64,
    /// Held until the connection above is closed.
    _lock: File,
}

/// The last number that a row may have when a server starts: the rows that it adds are then still numbers of SQLite.
const LAST: i64 = i64::MAX / 2;

impl Store {
    /// Opens or makes the journal at `path`, alone. Its session gets that number at the least.
    ///
    /// # Errors
    /// Every kind of [`JournalError`] but `Missing` and `Unwritten`. What is not a journal of this version is untouched.
    pub(super) fn open(path: &Path, session: i64) -> Result<(Store, Option<RowsLost>), JournalError> {
        Store::open_looking(path, session, LOOK)
    }

    /// The same, looking at so much of it.
    fn open_looking(path: &Path, session: i64, look: Look) -> Result<(Store, Option<RowsLost>), JournalError> {
        let unwritable = |error: std::io::Error| JournalError::Unwritable { path: path.into(), why: error.to_string() };
        if let Some(folder) = path.parent() {
            fs::create_dir_all(folder).map_err(unwritable)?;
        }
        let lock = lock(path)?;
        if schema::look(path)? == Found::Nothing {
            create(path)?;
        }
        let mut db = connect(path, look)?;
        let say = |error| JournalError::writing(path, &error);
        let head = find_head(&db, &schema::TABLES).map_err(say)?;
        let lost = rows_lost(path, &head);
        let seq = last_seq(&db).map_err(say)?;
        if head.link > LAST || seq > LAST.unsigned_abs() {
            let why = "a row has a number that no journal comes to".to_owned();
            return Err(JournalError::Damaged { path: path.into(), why });
        }
        let next = "SELECT coalesce(max(session), 0) + 1 FROM sessions";
        let next: i64 = db.query_row(next, [], |row| row.get(0)).map_err(say)?;
        let session = next.max(session);
        db.set_prepared_statement_cache_capacity(64);
        take_writing(&mut db).map_err(say)?;
        let note = HeadNote::open(path);
        Ok((Store { db, note, head, seq, session, _lock: lock }, lost))
    }

    /// The database, to look things up in while opening.
    pub(super) fn db(&self) -> &Connection {
        &self.db
    }

    /// Writes a batch in one commit: all of it is durable when this returns well, and nothing of it is there when it
    /// does not. Puts into `seqs`, before the commit, for each record the `seq` of its event, or of the last event before it.
    ///
    /// # Errors
    /// What the disk or SQLite says. A record that does not fit is no error: it is written as `misrecorded`.
    pub(super) fn write(&mut self, batch: &[&Record], seqs: &mut Vec<u64>) -> rusqlite::Result<()> {
        let session = self.session;
        self.commit(|page| {
            for record in batch {
                seqs.push(page.put(session, record)?);
            }
            Ok(())
        })
    }

    /// The end of the chain as it is known here.
    pub(super) fn head(&self) -> Head {
        self.head
    }

    /// Goes on after a panic at any place in here: a transaction that was left open is undone, and where the chain ends is
    /// read from the file.
    ///
    /// # Errors
    /// What the disk or SQLite says; try again.
    pub(super) fn resume(&mut self) -> rusqlite::Result<()> {
        if !self.db.is_autocommit() {
            self.db.execute_batch("ROLLBACK")?;
        }
        self.head = find_head(&self.db, &schema::TABLES)?;
        self.seq = last_seq(&self.db)?;
        Ok(())
    }

    /// Runs `fill` on a page of new rows and commits it.
    ///
    /// # Errors
    /// What the disk or SQLite says; nothing is written then.
    pub(super) fn commit<T>(&mut self, fill: impl FnOnce(&mut Page) -> rusqlite::Result<T>) -> rusqlite::Result<T> {
        let mut page = Page { rows: self.db.transaction()?, head: self.head, seq: self.seq };
        let filled = fill(&mut page)?;
        let Page { rows, head, seq } = page;
        rows.commit()?;
        (self.head, self.seq) = (head, seq);
        self.note.write(&head);
        Ok(filled)
    }

    /// Writes that this session ended well and closes the file; SQLite folds the write-ahead file into it unless
    /// somebody is reading.
    ///
    /// # Errors
    /// What the disk or SQLite says. Everything that was committed is there all the same.
    pub(super) fn close(mut self) -> rusqlite::Result<()> {
        let session = self.session;
        self.commit(|page| {
            let row = rows::session_end(session, utc_now(), page.seq, &page.head);
            page.append(&schema::SESSION_ENDS, row)
        })?;
        self.db.close().map_err(|(_, error)| error)
    }
}

/// New rows that are not committed yet.
pub(super) struct Page<'a> {
    rows: Transaction<'a>,
    head: Head,
    seq: u64,
}

impl Page<'_> {
    /// Adds a row.
    ///
    /// # Errors
    /// What the disk or SQLite says.
    pub(super) fn append(&mut self, table: &schema::Table, row: Vec<rusqlite::types::Value>) -> rusqlite::Result<()> {
        append(&self.rows, &mut self.head, table, row)
    }

    /// Adds a record. One that does not fit (a run begun twice, say) must not block those behind it, and must not be
    /// lost either: it is written whole as an event.
    ///
    /// # Errors
    /// What the disk says.
    pub(super) fn put(&mut self, session: i64, record: &Record) -> rusqlite::Result<u64> {
        let put = self.put_as_is(session, record);
        let Err(error) = put else { return put };
        let unfit = [ErrorCode::ConstraintViolation, ErrorCode::TypeMismatch, ErrorCode::TooBig];
        if !error.sqlite_error_code().is_some_and(|code| unfit.contains(&code)) {
            return Err(error);
        }
        let why = format!("A record did not fit into the journal: {error}.");
        let what = What::Misrecorded { why, record: format!("{record:?}") };
        self.put_own(session, utc_now(), Own::at(ServerTime(0), what))
    }

    fn put_as_is(&mut self, session: i64, record: &Record) -> rusqlite::Result<u64> {
        match record {
            Record::Entry { utc, entry } => return self.put_entry(session, *utc, entry),
            Record::Own { utc, at, what } => return self.put_own(session, *utc, Own::at(*at, what.clone())),
            Record::Report(report) => self.append(&schema::REPORTS, rows::report(report))?,
            Record::Came(came) => self.append(&schema::INPUTS, rows::came(session, came))?,
            Record::Text { sha256, .. } if self.has("SELECT 1 FROM texts WHERE sha256 = ?", sha256)? => {}
            Record::Text { sha256, text } => self.append(&schema::TEXTS, rows::text_of(sha256, text))?,
            Record::MemberJoined(joined) => self.append(&schema::MEMBER_CHANGES, rows::joined(joined))?,
            Record::MemberRevoked { member, parting, utc } => {
                for row in rows::revoked(*member, *parting, *utc) {
                    self.append(&schema::MEMBER_CHANGES, row)?;
                }
            }
            Record::MemberKey { member, key_sha256, utc } => {
                self.append(&schema::MEMBER_CHANGES, rows::another_key(*member, key_sha256, *utc))?;
            }
            Record::MemberRenamed { member, name, utc } => {
                self.append(&schema::MEMBER_CHANGES, rows::renamed(*member, name, *utc))?;
            }
            Record::MemberClaims { member, of, utc } => {
                self.append(&schema::MEMBER_CHANGES, rows::claims(*member, *of, *utc))?;
            }
            Record::MemberNotes { member, taken, utc } => {
                self.append(&schema::MEMBER_CHANGES, rows::notes(*member, *taken, *utc))?;
            }
        }
        Ok(self.seq)
    }

    fn put_entry(&mut self, session: i64, utc: Timestamp, entry: &Entry) -> rusqlite::Result<u64> {
        match entry {
            Entry::Event(event) => return self.put_event(session, utc, event),
            Entry::Revision(revision) if self.has("SELECT 1 FROM revisions WHERE sha256 = ?", &revision.sha256)? => {}
            Entry::Revision(revision) => self.append(&schema::REVISIONS, rows::revision(revision, utc))?,
            Entry::RunBegun(begun) => self.put_run(session, utc, begun)?,
            Entry::RunEnded(ended) => self.append(&schema::RUN_ENDS, rows::run_end(session, ended, utc))?,
            Entry::Part { member, part } => {
                self.append(&schema::MEMBER_CHANGES, rows::part(*member, part.as_deref(), utc))?;
            }
        }
        Ok(self.seq)
    }

    fn put_run(&mut self, session: i64, utc: Timestamp, begun: &RunBegun) -> rusqlite::Result<()> {
        self.append(&schema::RUNS, rows::run(session, begun, utc))?;
        begun.cast.iter().try_for_each(|cast| self.append(&schema::CASTS, rows::cast(begun.run, cast)))
    }

    /// Adds an event under the session it belongs to.
    ///
    /// # Errors
    /// What the disk or SQLite says.
    fn put_event(&mut self, session: i64, utc: Timestamp, event: &Event) -> rusqlite::Result<u64> {
        self.append(&schema::EVENTS, columns::write(self.seq + 1, session, utc, event))?;
        self.seq += 1;
        Ok(self.seq)
    }

    /// Adds an event of the journal itself: its name is its number.
    ///
    /// # Errors
    /// What the disk or SQLite says.
    pub(super) fn put_own(&mut self, session: i64, utc: Timestamp, own: Own) -> rusqlite::Result<u64> {
        let Own { at, run, spot, what } = own;
        let id = columns::own_id(session, self.seq + 1);
        self.put_event(session, utc, &Event { run, spot, ..Event::new(id, at, what) })
    }

    fn has(&self, sql: &str, sha256: &str) -> rusqlite::Result<bool> {
        let mut query = self.rows.prepare_cached(sql)?;
        Ok(query.query_row([sha256], |_| Ok(())).optional()?.is_some())
    }
}

/// What the journal says of itself, before it has a name.
pub(super) struct Own {
    pub(super) at: ServerTime,
    pub(super) run: Option<u32>,
    pub(super) spot: Option<Spot>,
    pub(super) what: What,
}

impl Own {
    /// What belongs to no run and no place.
    pub(super) fn at(at: ServerTime, what: What) -> Own {
        Own { at, run: None, spot: None, what }
    }
}

/// Rows at the end of the chain that were there and are not any more.
#[derive(Clone, Copy, Debug)]
pub(super) struct RowsLost {
    /// How many.
    pub(super) rows: i64,
    /// The last one that is there.
    pub(super) last: i64,
}

/// The number of the last event, 0 before the first.
fn last_seq(db: &Connection) -> rusqlite::Result<u64> {
    let seq: i64 = db.query_row("SELECT coalesce(max(seq), 0) FROM events", [], |row| row.get(0))?;
    Ok(seq.unsigned_abs())
}

/// Makes an empty journal under another name and renames it, so that a crash on the way leaves none or a whole one.
pub(super) fn create(path: &Path) -> Result<(), JournalError> {
    let unwritable = |error: std::io::Error| JournalError::Unwritable { path: path.into(), why: error.to_string() };
    let new = path.with_extension("new");
    for leftover in [new.clone(), path.with_extension("new-journal")] {
        if leftover.exists() {
            fs::remove_file(leftover).map_err(unwritable)?;
        }
    }
    let made = Connection::open(&new).and_then(|mut db| {
        schema::migrate(&mut db, 0)?;
        db.close().map_err(|(_, error)| error)
    });
    made.map_err(|error| JournalError::writing(path, &error))?;
    fs::rename(&new, path).map_err(unwritable)?;
    if let Some(Ok(folder)) = path.parent().map(File::open) {
        folder.sync_all().map_err(unwritable)?;
    }
    Ok(())
}

/// Opens an existing journal, finds it sound, and brings it to this version.
fn connect(path: &Path, look: Look) -> Result<Connection, JournalError> {
    let say = |error| JournalError::writing(path, &error);
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let mut db = Connection::open_with_flags(path, flags).map_err(say)?;
    db.busy_timeout(Duration::from_secs(2)).map_err(say)?;
    // Asked again: what the file's first bytes say may be overtaken by its write-ahead file.
    let version = db.pragma_query_value(None, "user_version", |row| row.get(0)).map_err(say)?;
    let version = schema::known_version(path, version)?;
    match unsound(&db, schema::tables_of(version), look).map_err(say)? {
        Some(why) => return Err(JournalError::Damaged { path: path.into(), why }),
        None => schema::migrate(&mut db, version).map_err(say)?,
    }
    let mode: String = db.pragma_update_and_check(None, "journal_mode", "WAL", |row| row.get(0)).map_err(say)?;
    if mode != "wal" {
        let why =
            "this kind of disk does not allow write-ahead logging; keep the production on a local disk".to_owned();
        return Err(JournalError::Unwritable { path: path.into(), why });
    }
    db.pragma_update(None, "synchronous", "FULL").map_err(say)?;
    // On a Mac a plain sync stops at the drive's cache; elsewhere these two do nothing.
    db.pragma_update(None, "fullfsync", true).map_err(say)?;
    db.pragma_update(None, "checkpoint_fullfsync", true).map_err(say)?;
    // A hold with a wrong run number must still be written: `verify` looks for broken references, not the writer.
    db.pragma_update(None, "foreign_keys", false).map_err(say)?;
    Ok(db)
}

/// How much of a journal is looked at when it is opened.
#[derive(Clone, Copy)]
struct Look {
    /// One of no more rows is looked at wholly.
    wholly: i64,
    /// Of a longer one's long tables, so many rows at the end.
    at_the_end: u32,
}

/// Some tenths of a second at most.
const LOOK: Look = Look { wholly: 1_000_000, at_the_end: 10_000 };

/// What is wrong with the pages of a journal, if anything is. Of a long one it looks at the end of those tables that every
/// run makes longer, where rows are added, and wholly at the others: a call does not wait for ten years.
/// The server looks through the whole file once it is up (`server::audit`), and the desk is told then.
///
/// # Errors
/// What the disk or SQLite says; `DatabaseCorrupt` for a page that cannot be read at all.
fn unsound(db: &Connection, tables: &[schema::Table], look: Look) -> rusqlite::Result<Option<String>> {
    if find_head(db, tables)?.link <= look.wholly {
        return said_by(db, "PRAGMA quick_check(1)");
    }
    for table in std::iter::once("sqlite_schema").chain(tables.iter().map(|table| table.name)) {
        match schema::GROWING.iter().find(|(growing, _)| *growing == table) {
            Some((_, indexed)) => read_end(db, table, indexed, look.at_the_end)?,
            None => {
                let wrong = said_by(db, &format!("PRAGMA quick_check({table})"))?;
                if wrong.is_some() {
                    return Ok(wrong);
                }
            }
        }
    }
    Ok(None)
}

/// What SQLite's own check says first, unless it is that all is well.
fn said_by(db: &Connection, check: &str) -> rusqlite::Result<Option<String>> {
    let said: String = db.query_row(check, [], |row| row.get(0))?;
    Ok(Some(said).filter(|said| said != "ok"))
}

/// Reads the last rows of a table to their last column, and the ends of its indexes.
fn read_end(db: &Connection, table: &str, indexed: &[&str], rows: u32) -> rusqlite::Result<()> {
    let rows = format!("SELECT total(length(seal)) FROM (SELECT seal FROM {table} ORDER BY link DESC LIMIT {rows})");
    db.query_row(&rows, [], |_| Ok(()))?;
    indexed.iter().try_for_each(|column| db.query_row(&format!("SELECT max({column}) FROM {table}"), [], |_| Ok(())))
}

/// Finds out now, and not at the first hold, whether the file can be written.
fn take_writing(db: &mut Connection) -> rusqlite::Result<()> {
    db.transaction_with_behavior(rusqlite::TransactionBehavior::Immediate)?.rollback()
}

/// Whether the end of the chain is gone.
fn rows_lost(path: &Path, head: &Head) -> Option<RowsLost> {
    let Noted::Head(noted) = read_note(path) else { return None };
    (noted.link > head.link).then(|| RowsLost { rows: noted.link - head.link, last: head.link })
}

#[cfg(test)]
#[path = "store_tests.rs"]
mod tests;
