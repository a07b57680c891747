//! The newest part of a journal, read from its end: what an evening asks takes no longer after ten years than after one.

use std::path::Path;

use super::chain::{Head, Seal, seal};
use super::columns::{self, EventRow};
use super::damage::is_long_enough;
use super::links::each_link_from;
use super::read::Reader;
use super::view::View;
use super::{JournalError, find, schema};

/// That somebody had a part in a run of a text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Played {
    /// The SHA-256 of the text.
    pub revision: String,
    /// Whom they played.
    pub part: String,
    /// Their name.
    pub person: String,
    /// When the first such run began, RFC 3339.
    pub first_utc: String,
}

impl Reader {
    /// Opens the journal of a production folder, of a data folder, or the file itself, and leaves out single rows that
    /// cannot be read, as [`Reader::damage`] then says. Looks at no row yet: [`Reader::holds_from`] does.
    ///
    /// # Errors
    /// As [`Reader::open`].
    pub fn open_newest(data: &Path) -> Result<Reader, JournalError> {
        Ok(Reader::leaving_out(View::open(&find(data)?)?))
    }

    /// The last events, at most so many, in order; and whether they are all there are.
    ///
    /// # Errors
    /// As [`Reader::events`].
    pub fn newest_events(&self, most: usize) -> Result<(Vec<EventRow>, bool), JournalError> {
        let (mut events, mut read) = (Vec::new(), 0);
        let mut go = || -> rusqlite::Result<()> {
            let sql = format!("SELECT {} FROM events ORDER BY seq DESC LIMIT ?", columns::READ);
            let mut query = self.view.db.prepare(&sql)?;
            let mut rows = query.query([i64::try_from(most).unwrap_or(i64::MAX)])?;
            while let Some(row) = rows.next()? {
                read += 1;
                match columns::read(row) {
                    Ok(event) => events.push(event),
                    Err(error) => self.leave_out(|| format!("Event {}", row.get(0).unwrap_or(0_i64)), error)?,
                }
            }
            Ok(())
        };
        go().map_err(|error| JournalError::reading(&self.view.path, &error))?;
        events.reverse();
        Ok((events, read < most))
    }

    /// When the journal was begun, RFC 3339; nothing of one in which nothing stands.
    ///
    /// # Errors
    /// As [`Reader::events`].
    pub fn begun(&self) -> Result<Option<String>, JournalError> {
        let found = self.all("SELECT utc FROM sessions ORDER BY session LIMIT 1", [], |row| row.get(0))?;
        Ok(found.into_iter().next())
    }

    /// When an event happened, RFC 3339, by its number.
    ///
    /// # Errors
    /// As [`Reader::events`].
    pub fn time_of_event(&self, seq: u64) -> Result<Option<String>, JournalError> {
        let seq = i64::try_from(seq).unwrap_or(i64::MAX);
        Ok(self.all("SELECT utc FROM events WHERE seq = ?", [seq], |row| row.get(0))?.into_iter().next())
    }

    /// Whoever was in a run of a text, each once, over the whole journal.
    ///
    /// # Errors
    /// As [`Reader::events`].
    pub fn played(&self) -> Result<Vec<Played>, JournalError> {
        let sql = "SELECT r.revision, c.part, c.person, MIN(r.utc) FROM casts c JOIN runs r ON r.run = c.run
             GROUP BY r.revision, c.part, c.person";
        self.all(sql, (), |row| {
            Ok(Played { revision: row.get(0)?, part: row.get(1)?, person: row.get(2)?, first_utc: row.get(3)? })
        })
    }

    /// The text of every run, by its SHA-256, and when the run began, RFC 3339.
    ///
    /// # Errors
    /// As [`Reader::events`].
    pub fn texts_run(&self) -> Result<Vec<(String, String)>, JournalError> {
        self.all("SELECT revision, utc FROM runs ORDER BY run", (), |row| Ok((row.get(0)?, row.get(1)?)))
    }

    /// True when every row from that event to the end can be read, is as it was sealed, and none is missing. What is
    /// older, and the pages of the file, are not looked at: `verify` does.
    ///
    /// # Errors
    /// As [`Reader::events`].
    pub fn holds_from(&self, seq: u64) -> Result<bool, JournalError> {
        let reading = |error: rusqlite::Error| JournalError::reading(&self.view.path, &error);
        let seq = i64::try_from(seq).unwrap_or(i64::MAX);
        let links = self.all("SELECT link FROM events WHERE seq = ?", [seq], |row| row.get::<_, i64>(0))?;
        let Some(before) = links.first().and_then(|link| link.checked_sub(1)) else { return Ok(false) };
        let Some(mut head) = self.link(before).map_err(reading)? else { return Ok(false) };
        let mut unbroken = true;
        let tables = schema::tables_of(self.view.version);
        let unreadable = each_link_from(&self.view.db, tables, head.link + 1, |link| {
            let follows = link.link.checked_sub(1) == Some(head.link);
            unbroken &= follows && link.seal == Some(seal(&head.seal, &link.digest));
            head = Head { link: link.link, seal: link.seal.unwrap_or_default() };
            unbroken
        });
        Ok(unbroken && unreadable.is_empty() && is_long_enough(&self.view, head.link))
    }

    /// The row of the chain with that number; before the first stands nothing.
    fn link(&self, link: i64) -> rusqlite::Result<Option<Head>> {
        if link == 0 {
            return Ok(Some(Head::default()));
        }
        for table in schema::tables_of(self.view.version) {
            let mut query = self.view.db.prepare(&format!("SELECT seal FROM {} WHERE link = ?", table.name))?;
            let mut rows = query.query([link])?;
            if let Some(row) = rows.next()? {
                let seal: Option<Seal> = row.get(0).ok();
                return Ok(seal.map(|seal| Head { link, seal }));
            }
        }
        Ok(None)
    }
}
