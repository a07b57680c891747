//! Temporary files: how they are named, so that those which a crash has left are known and can be taken away.

use std::ffi::OsStr;
use std::fs;
use std::io;
use std::path::Path;
use std::time::{Duration, SystemTime};

use tempfile::{Builder, NamedTempFile};

/// What the names of temporary files begin and end with.
const PREFIX: &str = ".holdfast-";
const SUFFIX: &str = ".part";

/// What the names of private copies of a journal begin with, in the system's folder for temporary files.
pub const COPIES: &str = "holdfast-journal-";

/// A copy is read for as long as a report takes; one that is older was left.
const COPY_LEFT: Duration = Duration::from_secs(24 * 3_600);

/// A temporary file is written in a moment; one that is older was left.
const LEFT: Duration = Duration::from_secs(120);

/// How deep the folders of a production go.
const DEEPEST: usize = 6;

/// A new temporary file in a folder, readable by its owner only; it takes its place when it is whole.
///
/// # Errors
/// What the system says.
pub fn temporary_in(folder: &Path) -> io::Result<NamedTempFile> {
    temporary().tempfile_in(folder)
}

/// How temporary files are made, for those that want more of them than [`temporary_in`].
pub fn temporary() -> Builder<'static, 'static> {
    let mut builder = Builder::new();
    builder.prefix(PREFIX).suffix(SUFFIX);
    builder
}

/// Takes away what a crash has left in a folder and those within it, and says how many files those were. What cannot be
/// looked at or taken away stays; links to elsewhere are not followed.
pub fn sweep(folder: &Path, now: SystemTime) -> usize {
    within(folder, now, 0)
}

/// Takes away the private copies of journals that a crash has left in the system's folder for temporary files, and says
/// how many those were.
pub fn sweep_copies(folder: &Path, now: SystemTime) -> usize {
    let Ok(entries) = fs::read_dir(folder) else { return 0 };
    let is_copy = |entry: &fs::DirEntry| {
        let name = entry.file_name();
        let is_named = name.to_str().and_then(|name| name.strip_prefix(COPIES)).is_some_and(is_random);
        is_named && entry.metadata().is_ok_and(|found| found.is_dir() && is_older(&found, now, COPY_LEFT))
    };
    entries.flatten().filter(is_copy).filter(|entry| fs::remove_dir_all(entry.path()).is_ok()).count()
}

fn within(folder: &Path, now: SystemTime, deep: usize) -> usize {
    let Ok(entries) = fs::read_dir(folder) else { return 0 };
    let mut swept = 0;
    for entry in entries.flatten() {
        let Ok(found) = entry.metadata() else { continue };
        if found.is_dir() && deep < DEEPEST {
            swept += within(&entry.path(), now, deep + 1);
        } else if found.is_file() && is_temporary(&entry.file_name()) && is_older(&found, now, LEFT) {
            swept += usize::from(fs::remove_file(entry.path()).is_ok());
        }
    }
    swept
}

/// True for the names that this Holdfast and earlier ones give to temporary files.
pub(crate) fn is_temporary(name: &OsStr) -> bool {
    let Some(name) = name.to_str() else { return false };
    let between = |before: &str, after: &str| name.strip_prefix(before).and_then(|name| name.strip_suffix(after));
    [(PREFIX, SUFFIX), (".tmp", ""), (".", ".saving")]
        .iter()
        .any(|(before, after)| between(before, after).is_some_and(is_random))
}

/// What `tempfile` puts in the middle of a name.
fn is_random(rest: &str) -> bool {
    rest.len() == 6 && rest.bytes().all(|byte| byte.is_ascii_alphanumeric())
}

fn is_older(found: &fs::Metadata, now: SystemTime, most: Duration) -> bool {
    let age = found.modified().ok().and_then(|made| now.duration_since(made).ok());
    age.is_some_and(|age| age > most)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_a_crash_left_goes_and_everything_else_stays() {
        let folder = tempfile::tempdir().unwrap();
        let inner = folder.path().join("scores");
        fs::create_dir(&inner).unwrap();
        let (_, left) = temporary_in(&inner).unwrap().keep().unwrap();
        let of_before = [".tmpAb3dE9", ".x1Y2z3.saving"].map(|name| folder.path().join(name));
        let stays =
            [".tmp", ".tmpAb3dE", ".holdfast-new-abcdef", "a.part", ".saving", "a.fight"].map(|name| inner.join(name));
        for path in of_before.iter().chain(&stays) {
            fs::write(path, "x").unwrap();
        }
        let now = fs::metadata(&left).unwrap().modified().unwrap();
        assert_eq!(sweep(folder.path(), now + LEFT), 0, "somebody may be writing it");
        assert_eq!(sweep(folder.path(), now + LEFT + Duration::from_secs(5)), 3);
        assert!(!left.exists() && of_before.iter().all(|path| !path.exists()));
        assert!(stays.iter().all(|path| path.exists()));
    }

    #[test]
    fn a_private_copy_of_a_journal_goes_after_a_day() {
        let folder = tempfile::tempdir().unwrap();
        let copy = tempfile::TempDir::with_prefix_in(COPIES, folder.path()).unwrap();
        fs::write(copy.path().join("journal.sqlite"), "x").unwrap();
        let other = tempfile::TempDir::with_prefix_in("holdfast-browser-", folder.path()).unwrap();
        let now = fs::metadata(copy.path()).unwrap().modified().unwrap();
        assert_eq!(sweep_copies(folder.path(), now + COPY_LEFT), 0);
        assert_eq!(sweep_copies(folder.path(), now + COPY_LEFT + Duration::from_secs(5)), 1);
        assert!(!copy.path().exists() && other.path().exists());
    }
}
