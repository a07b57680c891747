//! What can go wrong with a journal, each in a sentence for the person at the desk.

use std::path::PathBuf;

/// Why a journal cannot be used.
#[derive(Debug, thiserror::Error)]
pub enum JournalError {
    /// There is no journal. Remedy: name the right folder, or run a call first.
    #[error("There is no journal at {}. Name a production folder, its data folder, or a journal.sqlite file.", .0.display())]
    Missing(PathBuf),
    /// The file is something else. Remedy: name another file or move this one away; it is left as it is.
    #[error("{} is not a Holdfast journal. It was left as it is: name another file, or move it away.", .0.display())]
    NotAJournal(PathBuf),
    /// A newer program wrote it. Remedy: use that program; the file is left as it is.
    #[error("{} was written by a newer Holdfast (journal version {found}; this one knows {known}). It was left as it is: use the newer Holdfast.", .path.display())]
    Newer {
        /// The file.
        path: PathBuf,
        /// Its version.
        found: u32,
        /// The newest version that this program knows.
        known: u32,
    },
    /// Another server has it. Remedy: stop that server.
    #[error("The journal in {} is in use by another Holdfast server{}. Stop that server first, or serve another production.", .folder.display(), there(.at.as_deref()))]
    Locked {
        /// The folder.
        folder: PathBuf,
        /// Where that server listens, if it is known.
        at: Option<String>,
    },
    /// The folder or file cannot be written. Remedy: rights or room on the disk.
    #[error("The journal cannot be written at {}: {why}. Make the folder writable and see that the disk has room.", .path.display())]
    Unwritable {
        /// The folder or file.
        path: PathBuf,
        /// What the system said.
        why: String,
    },
    /// The file cannot be read. Remedy: rights, or another copy.
    #[error("The journal at {} cannot be read: {why}. Look at the file's rights, or at its disk.", .path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What the system said.
        why: String,
    },
    /// SQLite finds the file damaged. Remedy: keep it, look with `verify`, go on with what `salvage` brings.
    #[error("The journal at {} is damaged: {why}. It was left as it is. `holdfast verify` says where, and `holdfast salvage` brings what is good into a new one: move this one and its -wal file away, and keep them.", .path.display())]
    Damaged {
        /// The file.
        path: PathBuf,
        /// What SQLite found.
        why: String,
    },
    /// The journal was closed while records could not be written. Remedy: none any more; the sentence says what is lost.
    #[error("The journal at {} was closed with {records} records that could not be written: {why}.", .path.display())]
    Unwritten {
        /// The file.
        path: PathBuf,
        /// How many records.
        records: usize,
        /// Why they could not be written.
        why: String,
    },
}

fn there(at: Option<&str>) -> String {
    at.map(|at| format!(", which listens at {at}: open that")).unwrap_or_default()
}

impl JournalError {
    /// What the system said, where it said something; else the whole sentence.
    pub(super) fn cause(&self) -> String {
        match self {
            JournalError::Unwritable { why, .. } | JournalError::Unreadable { why, .. } => why.clone(),
            other => other.to_string(),
        }
    }

    /// The error for what SQLite said while opening `path` for writing.
    pub(super) fn writing(path: &std::path::Path, error: &rusqlite::Error) -> JournalError {
        use rusqlite::ErrorCode::{DatabaseCorrupt, NotADatabase};
        let why = plain(error);
        match error.sqlite_error_code() {
            Some(DatabaseCorrupt | NotADatabase) => JournalError::Damaged { path: path.into(), why },
            _ => JournalError::Unwritable { path: path.into(), why },
        }
    }

    /// The error for what SQLite said while reading `path`.
    pub(super) fn reading(path: &std::path::Path, error: &rusqlite::Error) -> JournalError {
        match (JournalError::writing(path, error), error) {
            (JournalError::Unwritable { path, why }, rusqlite::Error::SqliteFailure(..)) => {
                JournalError::Unreadable { path, why }
            }
            // Whatever is not SQLite's own failure is a value that no journal holds.
            (JournalError::Unwritable { path, why }, _) => JournalError::Damaged { path, why },
            (other, _) => other,
        }
    }
}

/// What SQLite said, in words for a person where there are better ones than its own.
pub(super) fn plain(error: &rusqlite::Error) -> String {
    use rusqlite::ErrorCode;
    match error.sqlite_error_code() {
        Some(ErrorCode::DiskFull) => "the disk is full".to_owned(),
        Some(ErrorCode::ReadOnly) => "it is read-only".to_owned(),
        Some(ErrorCode::SystemIoFailure) => format!("the disk does not take it ({error})"),
        Some(ErrorCode::CannotOpen) => "it cannot be opened".to_owned(),
        _ => error.to_string(),
    }
}
