//! What happens first when a server opens its journal: whatever an earlier server left open is marked as cut off.

use jiff::Timestamp;
use rusqlite::{Connection, OptionalExtension, Row};

use super::members::{Member, members};
use super::store::{Own, RowsLost, Store};
use super::taps::{KnownTap, OF_LATE, known_taps};
use super::{rows, schema};
use crate::event::{RunEnd, RunEnded, Spot, What};
use crate::time::utc_now;
use crate::units::ServerTime;

/// What the journal is told about this start of the server.
#[derive(Clone, Debug)]
pub struct SessionStart {
    /// The wall clock.
    pub utc: Timestamp,
    /// The server's version.
    pub server: String,
}

/// What was found when the journal was opened.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Opened {
    /// The number of this start of the server, counted from 1.
    pub session: i64,
    /// The number of the last run there was, 0 before the first.
    pub last_run: u32,
    /// The highest number a hold has had, 0 before the first.
    pub last_hold: u32,
    /// Everybody who ever joined, in order of their number, the revoked ones too.
    pub members: Vec<Member>,
    /// The taps of late.
    pub taps: Vec<KnownTap>,
    /// True unless the server before this one went away without closing.
    pub closed_well: bool,
    /// The runs that this opening marked as cut off.
    pub cut_off: Vec<u32>,
    /// How many rows are missing at the end; 0 in a sound journal.
    pub rows_lost: i64,
}

/// Begins a session: ends the runs that have no end, then writes the session and its event, in one commit. `lost` is
/// what says that rows are missing.
///
/// # Errors
/// What the disk or SQLite says.
pub(super) fn begin_session(
    store: &mut Store,
    lost: Option<RowsLost>,
    start: &SessionStart,
) -> rusqlite::Result<Opened> {
    let left = open_runs(store.db())?;
    let opened = Opened {
        session: store.session,
        cut_off: left.iter().map(|run| run.end.run).collect(),
        rows_lost: lost.map_or(0, |lost| lost.rows),
        ..found(store.db())?
    };
    let session = store.session;
    store.commit(|page| {
        page.append(&schema::SESSIONS, rows::session(session, start.utc, &start.server))?;
        let begun = What::Session { server: start.server.clone(), closed_well: opened.closed_well };
        page.put_own(session, start.utc, Own::at(ServerTime(0), begun))?;
        if let Some(RowsLost { rows, last }) = lost {
            page.put_own(session, utc_now(), Own::at(ServerTime(0), What::RowsLost { rows, last }))?;
        }
        for run in &left {
            page.put_own(run.session, run.utc, run.event(start))?;
            page.append(&schema::RUN_ENDS, rows::run_end(run.session, &run.end, run.utc))?;
        }
        Ok(())
    })?;
    Ok(opened)
}

/// What a journal says to whoever begins the next session. Nothing is marked.
///
/// # Errors
/// What the disk or SQLite says.
pub(super) fn found(db: &Connection) -> rusqlite::Result<Opened> {
    Ok(Opened {
        session: one(db, "SELECT coalesce(max(session), 0) + 1 FROM sessions")?,
        last_run: one(db, "SELECT coalesce(max(run), 0) FROM runs")?,
        last_hold: last_hold(db)?,
        members: members(db)?,
        taps: known_taps(db)?,
        closed_well: last_session_closed(db)?,
        cut_off: Vec::new(),
        rows_lost: 0,
    })
}

/// A run without an end, and the end it is given: the time and place of the last thing known of it.
struct CutOff {
    session: i64,
    utc: Timestamp,
    end: RunEnded,
}

impl CutOff {
    fn event(&self, start: &SessionStart) -> Own {
        let what = What::CutOff { found: format!("{:.6}", start.utc) };
        Own { at: self.end.at, run: Some(self.end.run), spot: self.end.last.clone(), what }
    }
}

fn open_runs(db: &Connection) -> rusqlite::Result<Vec<CutOff>> {
    let mut query = db.prepare(
        "SELECT run, session, utc, server_us FROM runs WHERE run NOT IN (SELECT run FROM run_ends) ORDER BY run",
    )?;
    let begun = query
        .query_map([], |row| Ok((row.get::<_, u32>(0)?, row.get::<_, i64>(1)?, Moment::read(row, 2)?)))?
        .collect::<rusqlite::Result<Vec<_>>>()?;
    begun.into_iter().map(|(run, session, begun)| cut_off(db, run, session, begun)).collect()
}

fn cut_off(db: &Connection, run: u32, session: i64, begun: Moment) -> rusqlite::Result<CutOff> {
    let last_event = "SELECT utc, server_us FROM events WHERE run = ? ORDER BY seq DESC LIMIT 1";
    let last = db.query_row(last_event, [run], |row| Moment::read(row, 0)).optional()?.unwrap_or(begun);
    let end = RunEnded {
        run,
        how: RunEnd::CutOff,
        first: spot(db, run, "ASC")?,
        last: spot(db, run, "DESC")?,
        at: ServerTime(last.server_us),
    };
    Ok(CutOff { session, utc: last.utc.parse().unwrap_or_default(), end })
}

struct Moment {
    utc: String,
    server_us: i64,
}

impl Moment {
    fn read(row: &Row<'_>, at: usize) -> rusqlite::Result<Moment> {
        Ok(Moment { utc: row.get(at)?, server_us: row.get(at + 1)? })
    }
}

fn spot(db: &Connection, run: u32, order: &str) -> rusqlite::Result<Option<Spot>> {
    let sql = format!(
        "SELECT phrase, phrase_name, beat, move, words FROM events
         WHERE run = ? AND phrase IS NOT NULL AND beat IS NOT NULL ORDER BY seq {order} LIMIT 1"
    );
    let read = |row: &Row<'_>| {
        Ok(Spot {
            cue: None,
            phrase: row.get(0)?,
            phrase_name: row.get::<_, Option<String>>(1)?.unwrap_or_default(),
            beat: row.get(2)?,
            number: row.get(3)?,
            words: row.get(4)?,
        })
    };
    db.query_row(&sql, [run], read).optional()
}

/// Numbers of holds only ever grow: the highest is among the last events, or, when those tell of none, among all.
fn last_hold(db: &Connection) -> rusqlite::Result<u32> {
    let of_late = "SELECT max(hold) FROM events WHERE seq > (SELECT max(seq) FROM events) - ?1";
    let of_all = "SELECT max(hold) FROM events";
    db.query_row(&format!("SELECT coalesce(({of_late}), ({of_all}), 0)"), [OF_LATE], |row| row.get(0))
}

fn last_session_closed(db: &Connection) -> rusqlite::Result<bool> {
    one(db, "SELECT (SELECT max(session) FROM sessions) IS (SELECT max(session) FROM session_ends)")
}

fn one<T: rusqlite::types::FromSql>(db: &Connection, sql: &str) -> rusqlite::Result<T> {
    db.query_row(sql, [], |row| row.get(0))
}
