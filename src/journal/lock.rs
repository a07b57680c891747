//! The lock file beside a journal: whoever holds it writes the journal, alone.

use std::fs::{File, OpenOptions, TryLockError};
use std::path::{Path, PathBuf};
use std::time::Duration;

use super::JournalError;

/// Takes the lock file beside the journal. It is a file of its own because SQLite's own locks have to let readers in.
/// `holdfast log` holds it for the moment in which it copies the journal, so a short wait comes first.
pub(super) fn lock(path: &Path) -> Result<File, JournalError> {
    let unwritable = |error: std::io::Error| JournalError::Unwritable { path: path.into(), why: error.to_string() };
    let options = OpenOptions::new().create(true).truncate(false).write(true).open(lock_path(path));
    let file = options.map_err(unwritable)?;
    for _ in 0..20 {
        match file.try_lock() {
            Ok(()) => return Ok(file),
            Err(TryLockError::WouldBlock) => std::thread::sleep(Duration::from_millis(50)),
            Err(TryLockError::Error(error)) => return Err(unwritable(error)),
        }
    }
    Err(JournalError::Locked(path.parent().unwrap_or(path).into()))
}

/// The lock file of a journal.
pub(super) fn lock_path(journal: &Path) -> PathBuf {
    journal.with_extension("lock")
}
