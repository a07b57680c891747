//! Runs with their ends and casts. A row of a cast that cannot be read hides no run: the run is given without it, and
//! the reader says so.

use std::collections::HashMap;

use rusqlite::Row;
use serde::Serialize;

use super::read::Reader;
use super::{JournalError, columns};
use crate::event::{Cast, RunBegun, RunEnd, Spot};

/// A run, with its end where it has one.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct RunRow {
    /// The start of the server that it belongs to.
    pub session: i64,
    /// Its beginning, as it was written down, with who plays whom.
    pub begun: RunBegun,
    /// When it began, RFC 3339.
    pub begun_utc: String,
    /// When it ended.
    pub ended_utc: Option<String>,
    /// When it ended, server time, microseconds.
    pub ended_us: Option<i64>,
    /// How it ended; nothing while it has no end, and when a newer Holdfast wrote a word that this one does not know.
    pub how: Option<RunEnd>,
    /// The first place reached.
    pub first: Option<Spot>,
    /// The last place reached.
    pub last: Option<Spot>,
}

/// The set of weapons of a run: its start event has it, among the first of its events.
const WEAPONS: &str = "SELECT CASE WHEN json_valid(s.detail) THEN
        CASE json_type(s.detail, '$.begun.weapons') WHEN 'text' THEN json_extract(s.detail, '$.begun.weapons') END END
    FROM events s WHERE s.run = r.run AND s.kind = 'start' ORDER BY s.link LIMIT 1";

/// A run that somebody was in.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct RunOf {
    /// When it began, RFC 3339.
    pub utc: String,
    /// The SHA-256 of the text that was run.
    pub revision: String,
}

/// The move at which a run began, from the same event.
const FROM_MOVE: &str = "SELECT CASE WHEN json_valid(s.detail) THEN
        CASE json_type(s.detail, '$.begun.from_move') WHEN 'integer' THEN json_extract(s.detail, '$.begun.from_move') END END
    FROM events s WHERE s.run = r.run AND s.kind = 'start' ORDER BY s.link LIMIT 1";

impl Reader {
    /// The last run of a fight in which that person, by their number or their name, had that part.
    ///
    /// # Errors
    /// As [`Reader::events`].
    pub fn last_run_of(
        &self,
        fight: &str,
        part: &str,
        member: Option<u32>,
        name: &str,
    ) -> Result<Option<RunOf>, JournalError> {
        let sql = "SELECT r.utc, r.revision FROM runs r WHERE r.fight = ?1 AND EXISTS
                (SELECT 1 FROM casts c WHERE c.run = r.run AND c.part = ?2 AND (c.person = ?4 OR c.member = ?3))
             ORDER BY r.run DESC LIMIT 1";
        let found =
            self.all(sql, (fight, part, member, name), |row| Ok(RunOf { utc: row.get(0)?, revision: row.get(1)? }))?;
        Ok(found.into_iter().next())
    }

    /// Every run. Rows of casts that cannot be read are left out, and [`Reader::damage`] names them.
    ///
    /// # Errors
    /// As [`Reader::events`].
    pub fn runs(&self) -> Result<Vec<RunRow>, JournalError> {
        self.runs_from(0)
    }

    /// The same from the run with that number on.
    ///
    /// # Errors
    /// As [`Reader::events`].
    pub fn runs_from(&self, first: u32) -> Result<Vec<RunRow>, JournalError> {
        let sql = format!(
            "SELECT r.run, r.session, r.revision, r.fight, r.from_phrase, r.from_name, r.to_phrase, r.to_name,
                r.percent, r.count_in, r.drive, r.utc, r.server_us, e.utc, e.server_us, e.how, e.first, e.last,
                ({WEAPONS}), ({FROM_MOVE})
             FROM runs r LEFT JOIN run_ends e ON e.run = r.run WHERE r.run >= ? ORDER BY r.run"
        );
        let mut runs = self.all(&sql, [first], run)?;
        let mut casts: HashMap<u32, Vec<Cast>> = HashMap::new();
        for (run, cast) in self.casts(first) {
            casts.entry(run).or_default().push(cast);
        }
        for row in &mut runs {
            row.begun.cast = casts.remove(&row.begun.run).unwrap_or_default();
        }
        Ok(runs)
    }

    /// Who plays whom, with the number of the run, in the order of the rows: from the first on, and where that stops from
    /// the last back.
    fn casts(&self, first: u32) -> Vec<(u32, Cast)> {
        let (mut casts, mut before) = (Vec::new(), 0);
        let Err(why) = self.each_cast(first, "ORDER BY link", |link, cast| {
            before = link;
            casts.extend(cast);
            true
        }) else {
            return casts;
        };
        let (mut behind, mut after) = (Vec::new(), None);
        // What ends this reading is what ended the one before: it is said once.
        let _ = self.each_cast(first, "ORDER BY link DESC", |link, cast| {
            let is_new = link > before;
            if is_new {
                after = Some(link);
                behind.extend(cast);
            }
            is_new
        });
        let up_to = after.map_or_else(|| "the end".to_owned(), |after| format!("row {after}"));
        self.note(format!(
            "Rows of the table casts between row {before} and {up_to} cannot be read: {why}. Who played whom is not known \
             for all runs."
        ));
        casts.extend(behind.into_iter().rev());
        casts
    }

    /// Gives the rows of casts to `each` until it says false: their numbers in the chain, and what can be read of them.
    fn each_cast(
        &self,
        first: u32,
        order: &str,
        mut each: impl FnMut(i64, Option<(u32, Cast)>) -> bool,
    ) -> rusqlite::Result<()> {
        // A cast is written after its run: what stands before it in the chain is not read.
        let since = "CASE ?1 WHEN 0 THEN -9223372036854775808 ELSE (SELECT link FROM runs WHERE run >= ?1 ORDER BY run LIMIT 1) END";
        let sql = format!("SELECT link, run, part, person, member FROM casts WHERE link >= {since} {order}");
        let mut query = self.view.db.prepare(&sql)?;
        let mut rows = query.query([first])?;
        while let Some(row) = rows.next()? {
            let link = row.get(0)?;
            let cast = cast(row).map_err(|why| {
                self.note(format!(
                    "Row {link}, in the table casts, holds what this Holdfast cannot read: {why}. One who played in a run is \
                     not known."
                ));
            });
            if !each(link, cast.ok()) {
                break;
            }
        }
        Ok(())
    }
}

/// A row of a cast, with the number of its run.
fn cast(row: &Row<'_>) -> rusqlite::Result<(u32, Cast)> {
    let (part, person, member) = (row.get(2)?, row.get(3)?, row.get(4)?);
    Ok((row.get(1)?, Cast { part, person, member, covers: None }))
}

/// A run without its cast.
fn run(row: &Row<'_>) -> rusqlite::Result<RunRow> {
    let begun = RunBegun {
        run: row.get(0)?,
        revision: row.get(2)?,
        fight: row.get(3)?,
        weapons: row.get(18)?,
        from_move: row.get(19)?,
        from_phrase: row.get(4)?,
        from_name: row.get(5)?,
        to_phrase: row.get(6)?,
        to_name: row.get(7)?,
        percent: row.get(8)?,
        count_in: row.get(9)?,
        drive: row.get(10)?,
        server_us: row.get(12)?,
        item: None,
        cast: Vec::new(),
    };
    Ok(RunRow {
        session: row.get(1)?,
        begun,
        begun_utc: row.get(11)?,
        ended_utc: row.get(13)?,
        ended_us: row.get(14)?,
        how: row.get::<_, Option<String>>(15)?.as_deref().and_then(RunEnd::from_word),
        first: columns::json(row, 16)?,
        last: columns::json(row, 17)?,
    })
}
