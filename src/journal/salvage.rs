//! All that is good of a damaged journal, in a new one. Rows are taken as they are, with their seals, so that the chain
//! holds where it held, and `verify` says of the new journal what is missing between them. The damaged one is never
//! touched.

use std::collections::BTreeMap;
use std::path::{Path, PathBuf};

use rusqlite::types::Value;
use rusqlite::{Connection, params_from_iter};

use super::chain::{Seal, find_head, seal};
use super::head::{HeadNote, Noted};
use super::links::{self, Link};
use super::schema::{self, Table};
use super::store::create;
use super::view::View;
use super::{FILE_NAME, JournalError, find};

/// In a gap that SQLite cannot read across, so many rows are asked for one by one.
const MOST_ASKED: usize = 2_000_000;

/// What came of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Salvaged {
    /// The new journal.
    pub journal: PathBuf,
    /// How many rows it has.
    pub rows: u64,
    /// Which are not in it, and why, a sentence each; rows that follow each other are one.
    pub lost: Vec<String>,
}

/// Brings what is good of the journal of a production folder, of a data folder, or of the file itself into a new journal
/// in the folder `to`.
///
/// # Errors
/// `Missing`, `NotAJournal`, `Newer`, `Unreadable`; `Damaged` when so little is left that nothing can be looked at;
/// `Unwritable` for the new one, also when there is a journal already.
pub fn salvage(data: &Path, to: &Path) -> Result<Salvaged, JournalError> {
    bring(&View::open(&find(data)?)?, to)
}

/// Brings what is good of a journal that is looked at into a new one in the folder `to`.
///
/// # Errors
/// `Unwritable` for the new one, also when there is a journal already.
pub(super) fn bring(view: &View, to: &Path) -> Result<Salvaged, JournalError> {
    let journal = to.join(FILE_NAME);
    let unwritable = |why: String| JournalError::Unwritable { path: journal.clone(), why };
    if journal.exists() {
        return Err(unwritable("there is a journal already".to_owned()));
    }
    std::fs::create_dir_all(to).map_err(|error| unwritable(error.to_string()))?;
    let tables = schema::tables_of(view.version);
    let found = Found::of(view, tables);
    create(&journal)?;
    let failed = |error: rusqlite::Error| JournalError::writing(&journal, &error);
    let mut db = Connection::open(&journal).map_err(failed)?;
    db.pragma_update(None, "foreign_keys", false).map_err(failed)?;
    let (rows, refused) = found.copy(&view.db, &mut db).map_err(failed)?;
    let head = find_head(&db, &schema::TABLES).map_err(failed)?;
    db.close().map_err(|(_, error)| failed(error))?;
    HeadNote::open(&journal).write(&head);
    Ok(Salvaged { lost: found.lost(&refused), journal, rows })
}

/// A row that could be read.
struct Read {
    table: &'static Table,
    digest: Seal,
    seal: Option<Seal>,
    /// How a person finds it.
    called: String,
}

/// Every row that could be read, by its link.
struct Found {
    rows: BTreeMap<i64, Read>,
    /// The last row that there must have been.
    last: i64,
    /// The tables that could not be read to the end.
    unread: Vec<&'static str>,
}

/// What a row is worth.
enum Worth {
    /// Its content is what was written, with this seal.
    Good(Seal),
    /// It was altered.
    Altered,
}

impl Found {
    fn of(view: &View, tables: &'static [Table]) -> Found {
        let mut found = Found { rows: BTreeMap::new(), last: 0, unread: Vec::new() };
        let unread: Vec<_> = tables.iter().filter(|table| !found.read(&view.db, table)).collect();
        let noted = match view.noted {
            Noted::Head(head) => head.link,
            _ => 0,
        };
        found.last = found.rows.keys().next_back().copied().unwrap_or(0).max(noted);
        found.unread = unread.iter().map(|table| table.name).collect();
        for table in unread {
            found.ask(&view.db, table);
        }
        found
    }

    /// Reads a table from its beginning, and where that stops from its end. True when that was all of it.
    fn read(&mut self, db: &Connection, table: &'static Table) -> bool {
        let whole = self.read_some(db, table, "ORDER BY link");
        whole || {
            self.read_some(db, table, "ORDER BY link DESC");
            false
        }
    }

    /// Asks a table for the rows that are known from nowhere, one by one.
    fn ask(&mut self, db: &Connection, table: &'static Table) {
        let unknown: Vec<i64> = (1..=self.last).filter(|link| !self.rows.contains_key(link)).take(MOST_ASKED).collect();
        for link in unknown {
            self.read_some(db, table, &format!("WHERE link = {link}"));
        }
    }

    /// True when everything that was asked for could be read.
    fn read_some(&mut self, db: &Connection, table: &'static Table, which: &str) -> bool {
        let sql = format!("SELECT link, {}, seal FROM {} {which}", table.columns.join(", "), table.name);
        let Ok(mut query) = db.prepare(&sql) else { return false };
        let Ok(mut rows) = query.query([]) else { return false };
        loop {
            match rows.next() {
                Ok(Some(row)) => {
                    if let Ok(link) = links::read(table, row) {
                        self.take(table, &link);
                    }
                }
                Ok(None) => return true,
                Err(_) => return false,
            }
        }
    }

    fn take(&mut self, table: &'static Table, link: &Link) {
        let row = Read { table, digest: link.digest, seal: link.seal, called: links::describe(link) };
        // Of two rows with one place the first counts: neither can be told from the other here.
        self.rows.entry(link.link).or_insert(row);
    }

    /// What a row is worth, by its neighbours in the chain.
    fn worth(&self, link: i64, row: &Read) -> Worth {
        let Some(before) = self.seals_of(link - 1) else {
            // Nothing stands against it.
            return row.seal.map_or(Worth::Altered, Worth::Good);
        };
        let own = before.map(|before| seal(&before, &row.digest));
        match row.seal.filter(|found| own.contains(found)) {
            Some(found) => Worth::Good(found),
            // The next row was sealed on what this one says: only its seal was damaged.
            None => {
                let next = self.rows.get(&(link + 1));
                let vouched = |own: &&Seal| next.is_some_and(|next| next.seal == Some(seal(own, &next.digest)));
                own.iter().find(vouched).map_or(Worth::Altered, |own| Worth::Good(*own))
            }
        }
    }

    /// The seal that a row has, and the one that it should have by the row before it; nothing when it is not there.
    fn seals_of(&self, link: i64) -> Option<[Seal; 2]> {
        if link == 0 {
            return Some([Seal::default(); 2]);
        }
        let row = self.rows.get(&link)?;
        let before = match link {
            1 => Some(Seal::default()),
            _ => self.rows.get(&(link - 1)).and_then(|before| before.seal),
        };
        let should = before.map(|before| seal(&before, &row.digest));
        let has = row.seal.or(should)?;
        Some([has, should.unwrap_or(has)])
    }

    /// Copies the good rows in the order of the chain. Says how many there are, and which did not fit.
    fn copy(&self, from: &Connection, to: &mut Connection) -> rusqlite::Result<(u64, BTreeMap<i64, String>)> {
        let (mut rows, mut refused) = (0, BTreeMap::new());
        let page = to.transaction()?;
        for (link, row) in &self.rows {
            let Worth::Good(seal) = self.worth(*link, row) else { continue };
            let columns = row.table.columns.join(", ");
            let sql = format!("SELECT {columns} FROM {} WHERE link = ?", row.table.name);
            let read = from.prepare_cached(&sql).and_then(|mut query| {
                query.query_row([link], |found| {
                    (0..row.table.columns.len()).map(|at| found.get::<_, Value>(at)).collect()
                })
            });
            let values: Vec<Value> = match read {
                Ok(values) => values,
                Err(error) => {
                    refused.insert(*link, error.to_string());
                    continue;
                }
            };
            let places = vec!["?"; values.len() + 2].join(", ");
            let sql = format!("INSERT INTO {} (link, {columns}, seal) VALUES ({places})", row.table.name);
            let all = std::iter::once(Value::from(*link)).chain(values).chain([Value::from(seal.to_vec())]);
            match page.prepare_cached(&sql)?.execute(params_from_iter(all)) {
                Ok(_) => rows += 1,
                Err(error) if error.sqlite_error_code() == Some(rusqlite::ErrorCode::ConstraintViolation) => {
                    refused.insert(*link, error.to_string());
                }
                Err(error) => return Err(error),
            }
        }
        page.commit()?;
        Ok((rows, refused))
    }

    /// What is not in the new journal.
    fn lost(&self, refused: &BTreeMap<i64, String>) -> Vec<String> {
        let (mut lost, mut next) = (Vec::new(), 1);
        for (link, row) in &self.rows {
            lost.extend(self.gap(next, link.saturating_sub(1)));
            next = link.saturating_add(1);
            match (self.worth(*link, row), refused.get(link)) {
                (Worth::Altered, _) => lost.push(format!("{} was altered, or the row before it was.", row.called)),
                (_, Some(why)) => lost.push(format!("{} does not fit: {why}.", row.called)),
                _ => {}
            }
        }
        lost.extend(self.gap(next, self.last));
        lost
    }

    /// The rows from the first to the last, if there are any, of which nothing is known, and the tables that they may be of.
    fn gap(&self, first: i64, last: i64) -> Option<String> {
        let more = last.checked_sub(first).filter(|more| *more >= 0)?;
        let of = match self.unread.as_slice() {
            [] => String::new(),
            [table] => format!(" of the table {table}"),
            tables => format!(" of the tables {}", tables.join(", ")),
        };
        Some(match more {
            0 => format!("Row {first}{of} cannot be read."),
            more => format!("Rows {first} to {last}{of} cannot be read: {} rows.", more.saturating_add(1)),
        })
    }
}
