//! The journal's rows, typed, for `log` and the review. All that one [`Reader`] gives is of one moment.

use std::cell::RefCell;
use std::path::Path;

use rusqlite::{Params, Row};
use serde::Serialize;
use tempfile::TempDir;

use super::chain::find_head;
use super::columns::EventRow;
use super::finding::first_of;
use super::members::{Member, members};
use super::record::Report;
use super::view::View;
use super::{JournalError, columns, find, schema};
use crate::event::{EventId, EventKind, What};
use crate::units::ServerTime;

/// A journal that is being read.
pub struct Reader {
    pub(super) view: View,
    /// What is damaged of what was read, a sentence each.
    pub(super) damage: RefCell<Vec<String>>,
    /// A row that holds what no journal writes there is named and left out; else it ends the reading.
    pub(super) leaves_out: bool,
    /// The folder of the journal that is read in the place of a damaged one.
    pub(super) _salvaged: Option<TempDir>,
}

/// Which events are wanted; everything that is not said is not asked for.
#[derive(Clone, Copy, Debug, Default)]
pub struct EventFilter {
    /// Of this run only.
    pub run: Option<u32>,
    /// Of this kind only.
    pub kind: Option<EventKind>,
}

/// A start of the server.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct SessionRow {
    /// Its number, from 1.
    pub session: i64,
    /// When it started, RFC 3339.
    pub utc: String,
    /// The server's version.
    pub server: String,
    /// When it was closed; nothing when it was not (it runs, or it went away).
    pub closed_utc: Option<String>,
}

/// What came into the call.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct InputRow {
    /// When, on the clock of the server that ran then.
    pub at: ServerTime,
    /// What, as JSON.
    pub body: String,
}

/// An event that was written.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct WrittenEvent {
    /// The start of the server that wrote it.
    pub session: i64,
    /// Its name.
    pub id: EventId,
    /// When it happened, on the clock of the server that wrote it.
    pub at: ServerTime,
}

/// A score's text.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct RevisionRow {
    /// SHA-256 of the text.
    pub sha256: String,
    /// The fight's name.
    pub fight: String,
    /// The text.
    pub text: String,
    /// When it was first used, RFC 3339.
    pub utc: String,
}

impl Reader {
    /// Opens the journal of a production folder, of a data folder, or the file itself. Never writes to it.
    ///
    /// # Errors
    /// `Missing`, `NotAJournal`, `Newer`, `Unreadable`, `Damaged`.
    pub fn open(data: &Path) -> Result<Reader, JournalError> {
        let view = View::open(&find(data)?)?;
        Ok(Reader { view, damage: RefCell::default(), leaves_out: false, _salvaged: None })
    }

    /// What is damaged and therefore not given, a sentence each: of the whole journal when it was opened with
    /// [`Reader::open_good`], and of what was read from it until now. So many that a person reads them: the rest are counted.
    pub fn damage(&self) -> Vec<String> {
        first_of(&self.damage.borrow())
    }

    /// Notes what is damaged, once.
    pub(super) fn note(&self, says: String) {
        let mut damage = self.damage.borrow_mut();
        if !damage.contains(&says) {
            damage.push(says);
        }
    }

    /// True when a server was writing the journal when it was opened here.
    pub fn is_live(&self) -> bool {
        self.view.live
    }

    /// The events that `filter` asks for, in order.
    ///
    /// # Errors
    /// `Unreadable`, `Damaged`; so do all below.
    pub fn events(&self, filter: EventFilter) -> Result<Vec<EventRow>, JournalError> {
        let mut events = Vec::new();
        self.each_event(filter, |event| {
            events.push(event);
            true
        })?;
        Ok(events)
    }

    /// Gives the events that `filter` asks for to `each`, one by one and in order, until it says false. What was given
    /// before an error is good.
    ///
    /// # Errors
    /// As [`Reader::events`].
    pub fn each_event(&self, filter: EventFilter, each: impl FnMut(EventRow) -> bool) -> Result<(), JournalError> {
        self.each_event_after(None, filter, each)
    }

    /// The same of the events after that row of the chain, where one is named.
    pub(super) fn each_event_after(
        &self,
        link: Option<i64>,
        filter: EventFilter,
        mut each: impl FnMut(EventRow) -> bool,
    ) -> Result<(), JournalError> {
        let sql = format!(
            "SELECT {} FROM events WHERE {} AND (?2 IS NULL OR kind = ?2) AND (?3 IS NULL OR link > ?3) ORDER BY seq",
            columns::READ,
            // The index of runs is used only where a run is asked for.
            if filter.run.is_some() { "run = ?1" } else { "?1 IS NULL" }
        );
        let mut go = || -> rusqlite::Result<()> {
            let mut query = self.view.db.prepare(&sql)?;
            let mut rows = query.query((filter.run, filter.kind.map(EventKind::word), link))?;
            while let Some(row) = rows.next()? {
                match columns::read(row) {
                    Ok(event) => {
                        if !each(event) {
                            break;
                        }
                    }
                    Err(error) => self.leave_out(|| format!("Event {}", row.get(0).unwrap_or(0_i64)), error)?,
                }
            }
            Ok(())
        };
        go().map_err(|error| JournalError::reading(&self.view.path, &error))
    }

    /// What came into the call in that start of the server, in order. Given to `each` one by one until it says false.
    /// Nothing where an older Holdfast wrote the journal.
    ///
    /// # Errors
    /// As [`Reader::events`].
    pub fn each_input(&self, session: i64, mut each: impl FnMut(InputRow) -> bool) -> Result<(), JournalError> {
        if self.view.version < schema::WITH_INPUTS {
            return Ok(());
        }
        let mut go = || -> rusqlite::Result<()> {
            let sql = "SELECT server_us, body FROM inputs WHERE session = ? ORDER BY link";
            let mut query = self.view.db.prepare(sql)?;
            let mut rows = query.query([session])?;
            while let Some(row) = rows.next()? {
                if !each(InputRow { at: ServerTime(row.get(0)?), body: row.get(1)? }) {
                    break;
                }
            }
            Ok(())
        };
        go().map_err(|error| JournalError::reading(&self.view.path, &error))
    }

    /// A text that a call was given, by its SHA-256 in hexadecimal.
    ///
    /// # Errors
    /// As [`Reader::events`].
    pub fn text(&self, sha256: &str) -> Result<Option<String>, JournalError> {
        if self.view.version < schema::WITH_INPUTS {
            return Ok(None);
        }
        let found = self.all("SELECT text FROM texts WHERE sha256 = ?", [sha256], |row| row.get(0))?;
        Ok(found.into_iter().next())
    }

    /// The last start of the server before that one of which there are inputs, and the time of the last of them.
    ///
    /// # Errors
    /// As [`Reader::events`].
    pub fn last_inputs_before(&self, session: i64) -> Result<Option<(i64, ServerTime)>, JournalError> {
        if self.view.version < schema::WITH_INPUTS {
            return Ok(None);
        }
        let sql = "SELECT session, server_us FROM inputs WHERE session < ? ORDER BY link DESC LIMIT 1";
        let found = self.all(sql, [session], |row| Ok((row.get(0)?, ServerTime(row.get(1)?))))?;
        Ok(found.into_iter().next())
    }

    /// The events that were written since that start of the server.
    ///
    /// # Errors
    /// As [`Reader::events`].
    pub fn events_since(&self, session: i64) -> Result<Vec<WrittenEvent>, JournalError> {
        let mut events = Vec::new();
        let mut go = || -> rusqlite::Result<()> {
            // From the end: a journal of years is not read for the sake of its last evening.
            let mut query = self.view.db.prepare(&format!("SELECT {} FROM events ORDER BY seq DESC", columns::READ))?;
            let mut rows = query.query([])?;
            while let Some(row) = rows.next()? {
                let row = columns::read(row)?;
                let begins = row.session == session && matches!(row.event.what, What::Session { .. });
                if begins {
                    break;
                }
                events.push(WrittenEvent { session: row.session, id: row.event.id, at: row.event.at });
            }
            Ok(())
        };
        go().map_err(|error| JournalError::reading(&self.view.path, &error))?;
        events.reverse();
        Ok(events)
    }

    /// How many rows the journal has: a journal of the same length says the same.
    ///
    /// # Errors
    /// As [`Reader::events`].
    pub fn rows(&self) -> Result<i64, JournalError> {
        let head = find_head(&self.view.db, schema::tables_of(self.view.version));
        head.map(|head| head.link).map_err(|error| JournalError::reading(&self.view.path, &error))
    }

    /// Every start of the server.
    ///
    /// # Errors
    /// As [`Reader::events`].
    pub fn sessions(&self) -> Result<Vec<SessionRow>, JournalError> {
        let sql = "SELECT s.session, s.utc, s.server, e.utc FROM sessions s
             LEFT JOIN session_ends e ON e.session = s.session ORDER BY s.session";
        self.all(sql, [], |row| {
            Ok(SessionRow { session: row.get(0)?, utc: row.get(1)?, server: row.get(2)?, closed_utc: row.get(3)? })
        })
    }

    /// Every text that was ever run, in order of first use.
    ///
    /// # Errors
    /// As [`Reader::events`].
    pub fn revisions(&self) -> Result<Vec<RevisionRow>, JournalError> {
        self.all("SELECT sha256, fight, text, utc FROM revisions ORDER BY link", [], |row| {
            Ok(RevisionRow { sha256: row.get(0)?, fight: row.get(1)?, text: row.get(2)?, utc: row.get(3)? })
        })
    }

    /// A text that was run, by its SHA-256.
    ///
    /// # Errors
    /// As [`Reader::events`].
    pub fn text_of(&self, sha256: &str) -> Result<Option<String>, JournalError> {
        Ok(self.all("SELECT text FROM revisions WHERE sha256 = ?", [sha256], |row| row.get(0))?.into_iter().next())
    }

    /// The lateness reports of a run, or of all, in the order in which they came.
    ///
    /// # Errors
    /// As [`Reader::events`].
    pub fn reports(&self, run: Option<u32>) -> Result<Vec<Report>, JournalError> {
        // The index of runs is used only where a run is asked for.
        let which = if run.is_some() { "run = ?1" } else { "?1 IS NULL" };
        let sql =
            format!("SELECT run, member, cue, due_us, fired_us, bound_us FROM reports WHERE {which} ORDER BY link");
        self.all(&sql, [run], |row| {
            Ok(Report {
                run: row.get(0)?,
                member: row.get(1)?,
                cue: row.get(2)?,
                due_us: row.get(3)?,
                fired_us: row.get(4)?,
                bound_us: row.get(5)?,
            })
        })
    }

    /// Everybody who ever joined, the revoked ones too.
    ///
    /// # Errors
    /// As [`Reader::events`].
    pub fn members(&self) -> Result<Vec<Member>, JournalError> {
        members(&self.view.db).map_err(|error| JournalError::reading(&self.view.path, &error))
    }

    pub(super) fn all<T>(
        &self,
        sql: &str,
        params: impl Params,
        read: fn(&Row<'_>) -> rusqlite::Result<T>,
    ) -> Result<Vec<T>, JournalError> {
        let go = || -> rusqlite::Result<Vec<T>> {
            let mut found = Vec::new();
            let mut query = self.view.db.prepare(sql)?;
            let table = table_of(sql).to_owned();
            let mut rows = query.query(params)?;
            while let Some(row) = rows.next()? {
                match read(row) {
                    Ok(row) => found.push(row),
                    Err(error) => self.leave_out(|| format!("A row of the table {table}"), error)?,
                }
            }
            Ok(found)
        };
        go().map_err(|error| JournalError::reading(&self.view.path, &error))
    }

    /// Names a row that holds what no journal writes there.
    ///
    /// # Errors
    /// `error`, when such rows are not left out here.
    pub(super) fn leave_out(&self, called: impl FnOnce() -> String, error: rusqlite::Error) -> rusqlite::Result<()> {
        if !self.leaves_out {
            return Err(error);
        }
        self.note(format!("{} holds what this Holdfast cannot read: {error}.", called()));
        Ok(())
    }
}

/// The table that a query begins with.
fn table_of(sql: &str) -> &str {
    // What stands in brackets before it is not what is read.
    let own = sql.rsplit_once("FROM ").map_or("", |(_, own)| own);
    own.split_whitespace().next().unwrap_or_default()
}
