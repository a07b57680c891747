//! The lock file beside a journal: whoever holds it writes the journal, alone. In it stands where its holder listens.

use std::fs::{self, File, OpenOptions, TryLockError};
use std::path::{Path, PathBuf};
use std::time::Duration;

use super::JournalError;

/// Takes the lock file beside the journal. It is a file of its own because SQLite's own locks have to let readers in.
/// `holdfast log` holds it for the moment in which it copies the journal, so a short wait comes first.
pub(super) fn lock(path: &Path) -> Result<File, JournalError> {
    let unwritable = |error: std::io::Error| JournalError::Unwritable { path: path.into(), why: error.to_string() };
    let options = OpenOptions::new().create(true).truncate(false).write(true).open(lock_path(path));
    let file = options.map_err(unwritable)?;
    take(path, &file)?;
    // Whoever stood there before is gone.
    let _ = file.set_len(0);
    Ok(file)
}

/// The same where nothing can be written: nothing when there is no lock file.
pub(super) fn lock_for_reading(path: &Path) -> Result<Option<File>, JournalError> {
    let Ok(file) = File::open(lock_path(path)) else { return Ok(None) };
    take(path, &file)?;
    Ok(Some(file))
}

fn take(path: &Path, file: &File) -> Result<(), JournalError> {
    for _ in 0..20 {
        match file.try_lock() {
            Ok(()) => return Ok(()),
            Err(TryLockError::WouldBlock) => std::thread::sleep(Duration::from_millis(50)),
            Err(TryLockError::Error(error)) => {
                return Err(JournalError::Unwritable { path: path.into(), why: error.to_string() });
            }
        }
    }
    let folder = path.parent().unwrap_or(path).into();
    Err(JournalError::Locked { folder, at: listens_at(path) })
}

/// That a journal is in use, when it is; the journal in a production's data folder.
pub fn in_use(data: &Path) -> Option<JournalError> {
    let path = data.join(super::FILE_NAME);
    if !lock_path(&path).exists() {
        return None;
    }
    lock(&path).err().filter(|error| matches!(error, JournalError::Locked { .. }))
}

/// Writes down where the holder of a journal's lock listens. Without it the journal is locked all the same.
pub(super) fn say_where(journal: &Path, at: &str) {
    let _ = fs::write(lock_path(journal), at);
}

/// Where the holder of a journal's lock listens, if that was written down.
fn listens_at(journal: &Path) -> Option<String> {
    let at = fs::read_to_string(lock_path(journal)).ok()?;
    (!at.is_empty()).then_some(at)
}

/// The lock file of a journal.
pub(super) fn lock_path(journal: &Path) -> PathBuf {
    journal.with_extension("lock")
}
