//! The rows of all tables in the order of the chain, one at a time: nine tables that are each read in the order of their
//! links, merged, so that a journal of any length is looked at in the same little memory.

use rusqlite::types::ValueRef;
use rusqlite::{Connection, Row, Rows, Statement};

use super::chain::{Seal, row_digest};
use super::schema::{EVENTS, SESSION_ENDS, Table};

/// One row of the chain.
pub(super) struct Link {
    pub(super) link: i64,
    pub(super) table: &'static str,
    pub(super) digest: Seal,
    /// A seal of another length is no seal.
    pub(super) seal: Option<Seal>,
    /// Its time, where it has one that is text.
    pub(super) utc: Option<String>,
    pub(super) told: Told,
}

/// What a row says that other rows are held against.
pub(super) enum Told {
    /// An event.
    Event { seq: Option<i64>, kind: String, hold: Option<i64>, detail: Option<String> },
    /// The end of a session: what it noted of the rows before it.
    SessionEnd { session: i64, links: i64, last_seal: Vec<u8>, events: i64 },
    /// Anything else.
    Other,
}

impl Link {
    /// The event's number, for an event.
    pub(super) fn seq(&self) -> Option<i64> {
        match self.told {
            Told::Event { seq, .. } => seq,
            _ => None,
        }
    }
}

/// A table whose rows could not be read to the end, and why.
pub(super) struct Unreadable {
    pub(super) table: &'static str,
    pub(super) why: rusqlite::Error,
}

/// Gives every row of the chain to `each`, in order, until it says false, and comes back with the tables that could not be read
/// as far as that.
pub(super) fn each_link(db: &Connection, tables: &'static [Table], each: impl FnMut(&Link) -> bool) -> Vec<Unreadable> {
    each_link_from(db, tables, i64::MIN, each)
}

/// The same from the row with that number on.
pub(super) fn each_link_from(
    db: &Connection,
    tables: &'static [Table],
    first: i64,
    mut each: impl FnMut(&Link) -> bool,
) -> Vec<Unreadable> {
    let mut unreadable = Vec::new();
    let mut prepared: Vec<(&'static Table, Statement<'_>)> = Vec::new();
    for table in tables {
        let (columns, name) = (table.columns.join(", "), table.name);
        let sql = format!("SELECT link, {columns}, seal FROM {name} WHERE link >= ? ORDER BY link");
        match db.prepare(&sql) {
            Ok(statement) => prepared.push((table, statement)),
            Err(why) => unreadable.push(Unreadable { table: table.name, why }),
        }
    }
    let mut cursors: Vec<Cursor<'_>> = Vec::new();
    for (table, statement) in &mut prepared {
        match statement.query([first]) {
            Ok(rows) => cursors.push(Cursor { table, rows, next: None }),
            Err(why) => unreadable.push(Unreadable { table: table.name, why }),
        }
    }
    for cursor in &mut cursors {
        cursor.advance(&mut unreadable);
    }
    while let Some(cursor) = cursors.iter_mut().filter(|cursor| cursor.next.is_some()).min_by_key(|c| c.link()) {
        if !cursor.next.as_ref().is_some_and(&mut each) {
            break;
        }
        cursor.advance(&mut unreadable);
    }
    unreadable
}

/// A table that is being read, and its next row.
struct Cursor<'a> {
    table: &'static Table,
    rows: Rows<'a>,
    next: Option<Link>,
}

impl Cursor<'_> {
    fn link(&self) -> i64 {
        self.next.as_ref().map_or(i64::MAX, |link| link.link)
    }

    fn advance(&mut self, unreadable: &mut Vec<Unreadable>) {
        let table = self.table;
        let read = self.rows.next().and_then(|row| row.map(|row| read(table, row)).transpose());
        self.next = read.unwrap_or_else(|why| {
            unreadable.push(Unreadable { table: table.name, why });
            None
        });
    }
}

/// A row as a link of the chain.
///
/// # Errors
/// It has no number, or a column of it cannot be read.
pub(super) fn read(table: &'static Table, row: &Row<'_>) -> rusqlite::Result<Link> {
    let link = row.get(0)?;
    let values =
        (1..=table.columns.len()).map(|at| row.get_ref(at)).collect::<rusqlite::Result<Vec<ValueRef<'_>>>>()?;
    let digest = row_digest(table.name, link, values.into_iter());
    let column = |name: &str| table.columns.iter().position(|column| *column == name).map(|at| at + 1);
    // What has another type than it should is found by its digest.
    let number = |name: &str| column(name).and_then(|at| row.get::<_, i64>(at).ok());
    let text = |name: &str| column(name).and_then(|at| row.get::<_, String>(at).ok());
    let told = if table.name == EVENTS.name {
        let kind = text("kind").unwrap_or_default();
        let detail = if kind == "rows-lost" { text("detail") } else { None };
        Told::Event { seq: number("seq"), kind, hold: number("hold"), detail }
    } else if table.name == SESSION_ENDS.name {
        let last_seal = column("last_seal").and_then(|at| row.get(at).ok()).unwrap_or_default();
        let of = |name| number(name).unwrap_or_default();
        Told::SessionEnd { session: of("session"), links: of("links"), last_seal, events: of("events") }
    } else {
        Told::Other
    };
    let seal = row.get(table.columns.len() + 1).ok();
    Ok(Link { link, table: table.name, digest, seal, utc: text("utc"), told })
}

/// A row as a person can find it.
pub(super) fn describe(link: &Link) -> String {
    match (link.seq(), &link.utc) {
        (Some(seq), Some(utc)) => format!("Event {seq} of {utc}"),
        (_, Some(utc)) => format!("Row {} of {utc}, in the table {},", link.link, link.table),
        _ => format!("Row {}, in the table {},", link.link, link.table),
    }
}
