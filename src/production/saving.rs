//! A score's file is written whole or not at all: the new text goes to a hidden file beside it, to the disk, and only
//! then under the score's name. A reader, and a machine that loses its power, finds the old text or the new one.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::Path;

use super::CONFIG_FILE;
use crate::leftovers::temporary_in;

/// Why a score was not saved. The file is as it was.
#[derive(Debug, thiserror::Error)]
pub enum NotSaved {
    /// Somebody wrote the file since it was read: read it again.
    #[error("{0} was written by another program at the same moment. Save again.")]
    Overtaken(String),
    /// The disk does not take it.
    #[error("{file} could not be written: {why}. Your text is still in the page; see to the disk, then save again.")]
    Unwritable {
        /// The file, as the person knows it.
        file: String,
        /// What the system says.
        why: String,
    },
}

/// Replaces `file` of a production's folder, which had the bytes `before` when it was read, by `text`.
///
/// # Errors
/// [`NotSaved`]
pub fn replace(folder: &Path, file: &str, before: &[u8], text: &str) -> Result<(), NotSaved> {
    let unwritable = |error: io::Error| NotSaved::Unwritable { file: file.to_owned(), why: error.to_string() };
    // A link to a file elsewhere stays a link.
    let path = fs::canonicalize(folder.join(file)).map_err(unwritable)?;
    let beside = path.parent().unwrap_or(folder);
    let mut new = temporary_in(beside).map_err(unwritable)?;
    new.write_all(text.as_bytes()).map_err(unwritable)?;
    new.as_file().set_permissions(fs::metadata(&path).map_err(unwritable)?.permissions()).map_err(unwritable)?;
    new.as_file().sync_all().map_err(unwritable)?;
    if fs::read(&path).map_err(unwritable)? != before {
        return Err(NotSaved::Overtaken(file.to_owned()));
    }
    new.persist(&path).map_err(|error| unwritable(error.error))?;
    // The new name is on the disk once its folder is. Where folders cannot be synced, the system sees to it.
    if let Ok(folder) = File::open(beside) {
        let _ = folder.sync_all();
    }
    Ok(())
}

/// Makes `file` in a production's folder, with that text. It may be read by whoever may read the production's own file.
///
/// # Errors
/// [`NotSaved`]: `Overtaken` when there is such a file already.
pub fn make(folder: &Path, file: &str, text: &str) -> Result<(), NotSaved> {
    let unwritable = |error: io::Error| NotSaved::Unwritable { file: file.to_owned(), why: error.to_string() };
    let path = folder.join(file);
    let beside = path.parent().unwrap_or(folder);
    fs::create_dir_all(beside).map_err(unwritable)?;
    let mut new = temporary_in(beside).map_err(unwritable)?;
    new.write_all(text.as_bytes()).map_err(unwritable)?;
    if let Ok(like) = fs::metadata(folder.join(CONFIG_FILE)) {
        new.as_file().set_permissions(like.permissions()).map_err(unwritable)?;
    }
    new.as_file().sync_all().map_err(unwritable)?;
    new.persist_noclobber(&path).map_err(|error| match error.error.kind() {
        io::ErrorKind::AlreadyExists => NotSaved::Overtaken(file.to_owned()),
        _ => unwritable(error.error),
    })?;
    if let Ok(folder) = File::open(beside) {
        let _ = folder.sync_all();
    }
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_text_is_replaced_and_nothing_else_is_left() {
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("a.fight"), "old").unwrap();
        replace(folder.path(), "a.fight", b"old", "new").unwrap();
        assert_eq!(fs::read_to_string(folder.path().join("a.fight")).unwrap(), "new");
        let overtaken = replace(folder.path(), "a.fight", b"old", "newer").unwrap_err();
        assert!(matches!(overtaken, NotSaved::Overtaken(_)));
        assert_eq!(fs::read_to_string(folder.path().join("a.fight")).unwrap(), "new");
        let gone = replace(folder.path(), "b.fight", b"", "new").unwrap_err();
        assert!(matches!(gone, NotSaved::Unwritable { .. }));
        assert_eq!(fs::read_dir(folder.path()).unwrap().count(), 1);
    }

    #[cfg(unix)]
    #[test]
    fn a_disk_that_takes_nothing_leaves_the_old_text() {
        use std::os::unix::fs::PermissionsExt;
        let folder = tempfile::tempdir().unwrap();
        fs::write(folder.path().join("a.fight"), "old").unwrap();
        fs::set_permissions(folder.path(), fs::Permissions::from_mode(0o555)).unwrap();
        // Whoever may do everything on this machine may also write into a folder that is closed.
        let closed = File::create(folder.path().join("probe")).is_err();
        let saved = replace(folder.path(), "a.fight", b"old", "new");
        fs::set_permissions(folder.path(), fs::Permissions::from_mode(0o755)).unwrap();
        assert_eq!(saved.is_err(), closed);
        let expected = if closed { "old" } else { "new" };
        assert_eq!(fs::read_to_string(folder.path().join("a.fight")).unwrap(), expected);
    }
}
