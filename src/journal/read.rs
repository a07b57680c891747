//! The journal's rows, typed, for `log` and the review. All that one [`Reader`] gives is of one moment.

use std::path::Path;

use rusqlite::{Params, Row};
use serde::Serialize;

use super::chain::find_head;
use super::members::{Member, members};
use super::record::{Cast, EventKind, Report, Spot};
use super::view::View;
use super::{JournalError, find, schema};

/// A journal that is being read.
pub struct Reader {
    view: View,
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

/// A run, with its end where it has one.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct RunRow {
    /// Its number.
    pub run: u32,
    /// The start of the server that it belongs to.
    pub session: i64,
    /// SHA-256 of the score's text.
    pub revision: String,
    /// The fight's name.
    pub fight: String,
    /// The first phrase, counted from 0.
    pub from_phrase: u32,
    /// Its name.
    pub from_name: String,
    /// The last phrase, counted from 0.
    pub to_phrase: u32,
    /// Its name.
    pub to_name: String,
    /// Percent of performance tempo; nothing in a walk-through.
    pub percent: Option<u16>,
    /// Beats of count-in.
    pub count_in: u32,
    /// What drove it.
    pub drive: String,
    /// When it began, RFC 3339.
    pub begun_utc: String,
    /// When it began, server time, microseconds.
    pub begun_us: i64,
    /// When it ended.
    pub ended_utc: Option<String>,
    /// When it ended, server time, microseconds.
    pub ended_us: Option<i64>,
    /// How it ended: [`super::RunEnd::word`].
    pub how: Option<String>,
    /// The first place reached.
    pub first: Option<Spot>,
    /// The last place reached.
    pub last: Option<Spot>,
}

/// A place as `log --format json` tells it: a [`Spot`] with its names and numbers called as an event calls them.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PlaceRow {
    /// The phrase's name.
    pub phrase: String,
    /// The phrase, counted from 0.
    pub phrase_index: u32,
    /// The beat as the score writes it.
    pub beat: String,
    /// The number of the move in the phrase, from 1.
    #[serde(rename = "move")]
    pub number: Option<u32>,
    /// The move in words.
    pub words: Option<String>,
}

impl From<Spot> for PlaceRow {
    fn from(Spot { phrase, phrase_name, beat, number, words }: Spot) -> PlaceRow {
        PlaceRow { phrase: phrase_name, phrase_index: phrase, beat, number, words }
    }
}

/// Something that happened. Its serialisation is `log --format json` and stays as it is; fields may be added.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct EventRow {
    /// Its number, from 1, without gaps.
    pub seq: u64,
    /// When, RFC 3339 with six digits of the second.
    pub utc: String,
    /// The start of the server that it belongs to.
    pub session: i64,
    /// When, microseconds since that start.
    pub server_us: i64,
    /// The run.
    pub run: Option<u32>,
    /// What: [`EventKind::word`].
    pub kind: String,
    /// Who did it.
    pub who: Option<String>,
    /// Their number.
    pub member: Option<u32>,
    /// Their role: [`crate::call::Role::word`].
    pub role: Option<String>,
    /// The phrase's name, where the run was on the server.
    pub phrase: Option<String>,
    /// The phrase, counted from 0.
    pub phrase_index: Option<u32>,
    /// The beat as the score writes it; 0 and below are the count-in.
    pub beat: Option<String>,
    /// The number of the last move reached in its phrase, from 1.
    #[serde(rename = "move")]
    pub number: Option<u32>,
    /// That move in words.
    pub words: Option<String>,
    /// Percent of performance tempo.
    pub speed: Option<u16>,
    /// Why.
    pub reason: Option<String>,
    /// The hold it belongs to.
    pub hold: Option<u32>,
    /// The tap on HOLD that it answers.
    pub tap: Option<String>,
    /// Where the run was on the screen of whoever did it.
    pub screen: Option<PlaceRow>,
    /// Whatever else is known.
    pub detail: serde_json::Value,
}

impl Reader {
    /// Opens the journal of a production folder, of a data folder, or the file itself. Never writes to it.
    ///
    /// # Errors
    /// `Missing`, `NotAJournal`, `Newer`, `Unreadable`, `Damaged`.
    pub fn open(data: &Path) -> Result<Reader, JournalError> {
        Ok(Reader { view: View::open(&find(data)?)? })
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
    pub fn each_event(&self, filter: EventFilter, mut each: impl FnMut(EventRow) -> bool) -> Result<(), JournalError> {
        let sql = format!(
            "SELECT seq, utc, session, server_us, run, kind, who, member, role, phrase_name, phrase, beat, move,
                words, percent, reason, hold, tap, screen, detail FROM events
             WHERE {} AND (?2 IS NULL OR kind = ?2) ORDER BY seq",
            // The index of runs is used only where a run is asked for.
            if filter.run.is_some() { "run = ?1" } else { "?1 IS NULL" }
        );
        let mut go = || -> rusqlite::Result<()> {
            let mut query = self.view.db.prepare(&sql)?;
            let mut rows = query.query((filter.run, filter.kind.map(EventKind::word)))?;
            while let Some(row) = rows.next()? {
                if !each(event(row)?) {
                    break;
                }
            }
            Ok(())
        };
        go().map_err(|error| JournalError::reading(&self.view.path, &error))
    }

    /// How many rows the journal has: a journal of the same length says the same.
    ///
    /// # Errors
    /// As [`Reader::events`].
    pub fn rows(&self) -> Result<i64, JournalError> {
        let head = find_head(&self.view.db, &schema::TABLES);
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

    /// Every run.
    ///
    /// # Errors
    /// As [`Reader::events`].
    pub fn runs(&self) -> Result<Vec<RunRow>, JournalError> {
        let sql = "SELECT r.run, r.session, r.revision, r.fight, r.from_phrase, r.from_name, r.to_phrase, r.to_name,
                r.percent, r.count_in, r.drive, r.utc, r.server_us, e.utc, e.server_us, e.how, e.first, e.last
             FROM runs r LEFT JOIN run_ends e ON e.run = r.run ORDER BY r.run";
        self.all(sql, [], run)
    }

    /// Who played whom, in every run.
    ///
    /// # Errors
    /// As [`Reader::events`].
    pub fn casts(&self) -> Result<Vec<Cast>, JournalError> {
        self.all("SELECT run, part, person, member FROM casts ORDER BY link", [], |row| {
            Ok(Cast { run: row.get(0)?, part: row.get(1)?, person: row.get(2)?, member: row.get(3)? })
        })
    }

    /// The lateness reports of a run, or of all, in the order in which they came.
    ///
    /// # Errors
    /// As [`Reader::events`].
    pub fn reports(&self, run: Option<u32>) -> Result<Vec<Report>, JournalError> {
        let sql = "SELECT run, member, cue, due_us, fired_us, bound_us FROM reports
             WHERE ?1 IS NULL OR run = ?1 ORDER BY link";
        self.all(sql, [run], |row| {
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

    fn all<T>(
        &self,
        sql: &str,
        params: impl Params,
        read: fn(&Row<'_>) -> rusqlite::Result<T>,
    ) -> Result<Vec<T>, JournalError> {
        let rows = self.view.db.prepare(sql).and_then(|mut query| query.query_map(params, read)?.collect());
        rows.map_err(|error| JournalError::reading(&self.view.path, &error))
    }
}

fn event(row: &Row<'_>) -> rusqlite::Result<EventRow> {
    Ok(EventRow {
        seq: row.get::<_, i64>(0)?.unsigned_abs(),
        utc: row.get(1)?,
        session: row.get(2)?,
        server_us: row.get(3)?,
        run: row.get(4)?,
        kind: row.get(5)?,
        who: row.get(6)?,
        member: row.get(7)?,
        role: row.get(8)?,
        phrase: row.get(9)?,
        phrase_index: row.get(10)?,
        beat: row.get(11)?,
        number: row.get(12)?,
        words: row.get(13)?,
        speed: row.get(14)?,
        reason: row.get(15)?,
        hold: row.get(16)?,
        tap: row.get(17)?,
        screen: spot(row, 18)?.map(PlaceRow::from),
        detail: json(row, 19)?.unwrap_or_default(),
    })
}

fn run(row: &Row<'_>) -> rusqlite::Result<RunRow> {
    Ok(RunRow {
        run: row.get(0)?,
        session: row.get(1)?,
        revision: row.get(2)?,
        fight: row.get(3)?,
        from_phrase: row.get(4)?,
        from_name: row.get(5)?,
        to_phrase: row.get(6)?,
        to_name: row.get(7)?,
        percent: row.get(8)?,
        count_in: row.get(9)?,
        drive: row.get(10)?,
        begun_utc: row.get(11)?,
        begun_us: row.get(12)?,
        ended_utc: row.get(13)?,
        ended_us: row.get(14)?,
        how: row.get(15)?,
        first: spot(row, 16)?,
        last: spot(row, 17)?,
    })
}

fn spot(row: &Row<'_>, at: usize) -> rusqlite::Result<Option<Spot>> {
    json(row, at)
}

/// A column that holds JSON, or nothing.
fn json<T: serde::de::DeserializeOwned>(row: &Row<'_>, at: usize) -> rusqlite::Result<Option<T>> {
    let text: Option<String> = row.get(at)?;
    let wrong = |error| rusqlite::Error::FromSqlConversionFailure(at, rusqlite::types::Type::Text, Box::new(error));
    text.map(|text| serde_json::from_str(&text).map_err(wrong)).transpose()
}
