//! The head note: a file of one line beside the journal that says how long the chain is. SQLite drops the end of a
//! write-ahead file whose bytes are damaged or that was not copied along, without a word; the note is how that is
//! noticed. It is written after each commit and never synced, so it is never ahead of what is on disk, costs a
//! microsecond, and after a power cut may be behind, which does no harm.

use std::fs::{File, OpenOptions};
use std::io::{Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use super::chain::Head;

use crate::hex;

/// Where the note of a journal is kept.
fn note_path(journal: &Path) -> PathBuf {
    journal.with_extension("head")
}

/// The note, open for writing.
pub(super) struct HeadNote {
    file: Option<File>,
}

impl HeadNote {
    /// Opens or makes the note of a journal. A note that cannot be kept is gone without: the journal itself is whole.
    pub(super) fn open(journal: &Path) -> HeadNote {
        HeadNote { file: OpenOptions::new().create(true).truncate(false).write(true).open(note_path(journal)).ok() }
    }

    /// Notes the end of the chain. The line always has the same length, so writing it needs no room on the disk.
    pub(super) fn write(&mut self, head: &Head) {
        let line = format!("{:020} {}\n", head.link, hex::encode(&head.seal));
        let written =
            self.file.as_mut().map(|file| file.seek(SeekFrom::Start(0)).and_then(|_| file.write_all(line.as_bytes())));
        if let Some(Err(error)) = written {
            tracing::debug!("the journal's head note cannot be written: {error}");
        }
    }
}

/// What a note says.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Noted {
    /// There is none, or it is empty: nothing is known.
    Nothing,
    /// The chain was at least this long.
    Head(Head),
    /// It is not a note any more.
    Damaged,
}

/// Reads the note of a journal.
pub(super) fn read_note(journal: &Path) -> Noted {
    match std::fs::read(note_path(journal)) {
        Ok(bytes) if !bytes.is_empty() => parse(&bytes).map_or(Noted::Damaged, Noted::Head),
        _ => Noted::Nothing,
    }
}

fn parse(bytes: &[u8]) -> Option<Head> {
    let line = std::str::from_utf8(bytes).ok()?.strip_suffix('\n')?;
    let (link, digits) = line.split_once(' ')?;
    Some(Head { link: link.parse().ok()?, seal: hex::decode(digits)? })
}
