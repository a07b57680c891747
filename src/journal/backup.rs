//! A copy of a journal, also while a server writes it: of one moment, whole or not there.

use std::path::Path;
use std::time::Duration;

use rusqlite::Connection;
use rusqlite::backup::Backup;

use super::chain::find_head;
use super::head::HeadNote;
use super::view::View;
use super::{FILE_NAME, JournalError, find, schema};

/// So many pages are copied at a time.
const PAGES: i32 = 1_024;

/// Copies the journal of a production folder, of a data folder, or the file itself into the folder `to`, as it stands at
/// this moment. Returns how many rows it has.
///
/// # Errors
/// As [`super::Reader::open`]; `Unwritable` for the copy, of which nothing may be used then.
pub fn copy_into(data: &Path, to: &Path) -> Result<i64, JournalError> {
    let view = View::open(&find(data)?)?;
    let copy = to.join(FILE_NAME);
    let failed = |error: rusqlite::Error| JournalError::writing(&copy, &error);
    let head = find_head(&view.db, schema::tables_of(view.version));
    let head = head.map_err(|error| JournalError::reading(&view.path, &error))?;
    let mut db = Connection::open(&copy).map_err(failed)?;
    Backup::new(&view.db, &mut db)
        .and_then(|backup| backup.run_to_completion(PAGES, Duration::ZERO, None))
        .map_err(failed)?;
    db.close().map_err(|(_, error)| failed(error))?;
    // So that `verify` notices when the copy loses its end.
    HeadNote::open(&copy).write(&head);
    Ok(head.link)
}
