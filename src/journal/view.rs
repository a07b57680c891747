//! Looking at a journal without touching it. While a server writes it, the file is opened read-only beside that server.
//! When none does and it was closed in order, the file itself is opened as one that cannot change, which takes no longer
//! for a journal of ten years. Else a private copy of the file and its write-ahead file is made and opened: a journal that
//! was left by a crash needs its write-ahead file folded in, and that must be possible on a read-only disk and change
//! nothing there.

use std::fs::{self, File, TryLockError};
use std::io;
use std::path::{Path, PathBuf};
use std::time::Duration;

use rusqlite::{Connection, OpenFlags};
use tempfile::TempDir;

use crate::leftovers::COPIES;

use super::head::{Noted, read_note};
use super::lock::lock_path;
use super::schema::{self, Found};
use super::{FILE_NAME, JournalError};

/// The journal's file, given a production folder, its data folder, or the file itself.
///
/// # Errors
/// [`JournalError::Missing`].
pub fn find(data: &Path) -> Result<PathBuf, JournalError> {
    let places = [data.join("data").join(FILE_NAME), data.join(FILE_NAME), data.to_path_buf()];
    places.into_iter().find(|place| place.is_file()).ok_or_else(|| JournalError::Missing(data.into()))
}

/// A journal as it was at one moment.
pub(super) struct View {
    /// The database, inside one reading transaction.
    pub(super) db: Connection,
    /// The journal's own file.
    pub(super) path: PathBuf,
    /// What the head note said before the database was looked at.
    pub(super) noted: Noted,
    /// True when a server is writing it.
    pub(super) live: bool,
    /// The version that it has.
    pub(super) version: u32,
    _copy: Option<TempDir>,
}

impl View {
    /// Looks at the journal at `path`.
    ///
    /// # Errors
    /// `Missing`, `NotAJournal`, `Newer`, `Unreadable`, `Damaged`.
    pub(super) fn open(path: &Path) -> Result<View, JournalError> {
        if schema::look(path)? == Found::Nothing {
            return Err(JournalError::Missing(path.into()));
        }
        let guard = keep_still(path);
        let noted = read_note(path);
        let (db, copy) = match &guard {
            Stillness::Written => (beside_a_server(path)?, None),
            Stillness::Still(_) => match unchanging(path) {
                Some(db) => (db?, None),
                None => copied(path)?,
            },
        };
        let say = |error| JournalError::reading(path, &error);
        let version = db.pragma_query_value(None, "user_version", |row| row.get(0)).map_err(say)?;
        let version = schema::known_version(path, version)?;
        let live = matches!(guard, Stillness::Written);
        Ok(View { db, path: path.into(), noted, live, version, _copy: copy })
    }
}

/// Whether somebody writes the journal.
enum Stillness {
    /// A server does.
    Written,
    /// Nobody does, nor can while this is kept.
    Still(#[allow(dead_code, reason = "the lock is kept by keeping the file open")] Option<File>),
}

/// A lock file that is not there or cannot be locked belongs to a copy of a journal: nobody writes that.
fn keep_still(path: &Path) -> Stillness {
    let Ok(file) = File::open(lock_path(path)) else { return Stillness::Still(None) };
    match file.try_lock_shared() {
        Ok(()) => Stillness::Still(Some(file)),
        // On a disk that takes nothing, whoever has the lock has begun without a log: nobody writes.
        Err(TryLockError::WouldBlock) if is_read_only(path) => Stillness::Still(None),
        Err(TryLockError::WouldBlock) => Stillness::Written,
        Err(TryLockError::Error(_)) => Stillness::Still(None),
    }
}

/// True when the lock file of a journal lies on a disk that cannot be written.
fn is_read_only(path: &Path) -> bool {
    let opened = fs::OpenOptions::new().write(true).open(lock_path(path));
    opened.is_err_and(|error| matches!(error.kind(), io::ErrorKind::ReadOnlyFilesystem | io::ErrorKind::IsADirectory))
}

fn beside_a_server(path: &Path) -> Result<Connection, JournalError> {
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    begin(Connection::open_with_flags(path, flags)).map_err(|error| JournalError::reading(path, &error))
}

/// The file of a journal that was closed in order and that nobody writes, opened without any file beside it (`immutable`,
/// sqlite.org/uri.html). Nothing when there is a write-ahead file, or the path cannot be said in a URI.
fn unchanging(path: &Path) -> Option<Result<Connection, JournalError>> {
    let has_wal = fs::metadata(wal_path(path)).is_ok_and(|wal| wal.len() > 0);
    let absolute = fs::canonicalize(path).ok().filter(|_| !has_wal && cfg!(unix))?;
    let mut uri = String::from("file:");
    for byte in absolute.to_str()?.bytes() {
        match byte {
            b'a'..=b'z' | b'A'..=b'Z' | b'0'..=b'9' | b'/' | b'-' | b'_' | b'.' => uri.push(char::from(byte)),
            other => uri.push_str(&format!("%{other:02X}")),
        }
    }
    uri.push_str("?immutable=1");
    let flags = OpenFlags::SQLITE_OPEN_READ_ONLY | OpenFlags::SQLITE_OPEN_NO_MUTEX | OpenFlags::SQLITE_OPEN_URI;
    Some(begin(Connection::open_with_flags(uri, flags)).map_err(|error| JournalError::reading(path, &error)))
}

fn copied(path: &Path) -> Result<(Connection, Option<TempDir>), JournalError> {
    let unreadable = |error: io::Error| JournalError::Unreadable { path: path.into(), why: error.to_string() };
    let folder = TempDir::with_prefix(COPIES).map_err(unreadable)?;
    let copy = folder.path().join(FILE_NAME);
    copy_bytes(path, &copy).map_err(unreadable)?;
    match copy_bytes(&wal_path(path), &wal_path(&copy)) {
        Err(error) if error.kind() != io::ErrorKind::NotFound => return Err(unreadable(error)),
        _ => {}
    }
    let flags = OpenFlags::SQLITE_OPEN_READ_WRITE | OpenFlags::SQLITE_OPEN_NO_MUTEX;
    let db = begin(Connection::open_with_flags(&copy, flags)).map_err(|error| JournalError::reading(path, &error))?;
    Ok((db, Some(folder)))
}

/// Copies bytes and nothing else: the copy of a read-only file can be written.
fn copy_bytes(from: &Path, to: &Path) -> io::Result<()> {
    let mut from = File::open(from)?;
    io::copy(&mut from, &mut fs::File::create_new(to)?)?;
    Ok(())
}

/// The write-ahead file of a database.
fn wal_path(database: &Path) -> PathBuf {
    let mut name = database.as_os_str().to_owned();
    name.push("-wal");
    name.into()
}

/// Starts a reading transaction: everything read from here on is of one moment.
fn begin(db: rusqlite::Result<Connection>) -> rusqlite::Result<Connection> {
    let db = db?;
    db.busy_timeout(Duration::from_secs(2))?;
    db.execute_batch("BEGIN")?;
    db.query_row("SELECT count(*) FROM sqlite_schema", [], |_| Ok(()))?;
    Ok(db)
}
