//! A journal that may be damaged, for reading: as it is where its pages and its chain are whole, and else what is good of
//! it, from a journal of its own in the system's folder for temporary files. The damaged one is never touched.

use std::cell::RefCell;
use std::path::Path;

use rusqlite::Connection;
use tempfile::TempDir;

use super::chain::{Head, seal};
use super::head::Noted;
use super::links::each_link;
use super::read::Reader;
use super::salvage::bring;
use super::view::View;
use super::{FILE_NAME, JournalError, find, schema};
use crate::leftovers::COPIES;

/// What stands before the sentences about a damaged journal of which the rest is given.
pub const DAMAGED: &str = "The journal is damaged. It was left as it is, and what is good of it is here; what follows is not. `holdfast \
                           salvage` brings the good rows into a new journal.";

impl Reader {
    /// Opens what is good of the journal of a production folder, of a data folder, or of the file itself:
    /// [`Reader::damage`] says what is not. It takes as long as looking at every row. Never writes to the journal or beside it.
    ///
    /// # Errors
    /// `Missing`, `NotAJournal`, `Newer`, `Unreadable`; `Damaged` when so little is left that nothing can be looked at;
    /// `Unwritable` when there is no room for what is good.
    pub fn open_good(data: &Path) -> Result<Reader, JournalError> {
        let view = View::open(&find(data)?)?;
        let pages = bad_pages(&view.db, 1);
        if pages.is_empty() && is_unbroken(&view) { Ok(Reader::leaving_out(view)) } else { salvaged(view, &pages) }
    }

    /// Of a journal that is whole as far as its chain says.
    pub(super) fn leaving_out(view: View) -> Reader {
        Reader { view, damage: RefCell::default(), leaves_out: true, _salvaged: None }
    }
}

/// What is good of a journal that is damaged, from a journal of its own. `pages` is what is wrong with its pages.
///
/// # Errors
/// `Unwritable` when there is no room for it; `Unreadable`, `Damaged`.
pub(super) fn salvaged(view: View, pages: &[String]) -> Result<Reader, JournalError> {
    let unwritable =
        |error: std::io::Error| JournalError::Unwritable { path: std::env::temp_dir(), why: error.to_string() };
    let folder = TempDir::with_prefix(COPIES).map_err(unwritable)?;
    let mut damage = bring(&view, folder.path())?.lost;
    if damage.is_empty() {
        damage.push(format!("All rows are good, but the file is not: {}.", pages.join("; ")));
    }
    let mut good = View::open(&folder.path().join(FILE_NAME))?;
    // What is said of it is said of the journal that was asked for.
    (good.path, good.live) = (view.path, view.live);
    Ok(Reader { view: good, damage: RefCell::new(damage), leaves_out: true, _salvaged: Some(folder) })
}

/// What SQLite's own check finds wrong with pages, rows and indexes, so many at the most.
pub(super) fn bad_pages(db: &Connection, most: usize) -> Vec<String> {
    let said: rusqlite::Result<Vec<String>> = db
        .prepare(&format!("PRAGMA integrity_check({most})"))
        .and_then(|mut query| query.query_map([], |row| row.get(0))?.collect());
    match said {
        Ok(said) if said == ["ok"] => Vec::new(),
        Ok(said) => said,
        Err(error) => vec![error.to_string()],
    }
}

/// True when no row is missing at the end, as far as the head note knows: the last one there is that one.
pub(super) fn is_long_enough(view: &View, last: i64) -> bool {
    !matches!(view.noted, Noted::Head(noted) if noted.link > last)
}

/// True when every row can be read, is as it was sealed, and none is missing.
fn is_unbroken(view: &View) -> bool {
    let (mut before, mut unbroken) = (Head::default(), true);
    let unreadable = each_link(&view.db, schema::tables_of(view.version), |link| {
        let follows = link.link.checked_sub(1) == Some(before.link);
        unbroken &= follows && link.seal == Some(seal(&before.seal, &link.digest));
        before = Head { link: link.link, seal: link.seal.unwrap_or_default() };
        unbroken
    });
    unbroken && unreadable.is_empty() && is_long_enough(view, before.link)
}
