//! What the journal's file looks like: its tables, its version, and how an older version becomes this one.

use std::fs::File;
use std::io::{ErrorKind, Read};
use std::path::Path;

use rusqlite::Connection;

use super::JournalError;

/// SQLite's application id of a journal: "HfJl". Offset 68 of the file (SQLite's file format, section 1.3).
pub(super) const APPLICATION_ID: u32 = 0x4866_4a6c;

/// The steps from nothing to the newest version: entry 0 makes version 1, entry 1 makes version 2 of it.
const MIGRATIONS: [&str; 2] = [include_str!("version_1.sql"), include_str!("version_2.sql")];

/// The version this program writes.
pub(super) const VERSION: u32 = MIGRATIONS.len() as u32;

/// The first version that keeps what came into the call.
pub(super) const WITH_INPUTS: u32 = 2;

/// A table whose rows are links of the chain. `columns` are those between `link` and `seal`, in the order in which
/// they are sealed.
pub(super) struct Table {
    /// Its name.
    pub(super) name: &'static str,
    /// Its own columns.
    pub(super) columns: &'static [&'static str],
}

/// A start of the server.
pub(super) const SESSIONS: Table = Table { name: "sessions", columns: &["session", "utc", "server"] };
/// A clean close: how many rows there were before it, and the seal of the last of them.
pub(super) const SESSION_ENDS: Table =
    Table { name: "session_ends", columns: &["session", "utc", "events", "links", "last_seal"] };
/// The text of a score, once for each text.
pub(super) const REVISIONS: Table = Table { name: "revisions", columns: &["sha256", "fight", "text", "utc"] };
/// The beginning of a run.
pub(super) const RUNS: Table = Table {
    name: "runs",
    columns: &[
        "run",
        "session",
        "revision",
        "fight",
        "from_phrase",
        "from_name",
        "to_phrase",
        "to_name",
        "percent",
        "count_in",
        "drive",
        "utc",
        "server_us",
    ],
};
/// The end of a run; `first` and `last` are the places reached, JSON.
pub(super) const RUN_ENDS: Table =
    Table { name: "run_ends", columns: &["run", "session", "how", "first", "last", "utc", "server_us"] };
/// Who played whom in a run.
pub(super) const CASTS: Table = Table { name: "casts", columns: &["run", "part", "person", "member"] };
/// Everything that happened, in order; `screen` and `detail` are JSON.
pub(super) const EVENTS: Table = Table {
    name: "events",
    columns: &[
        "seq",
        "session",
        "server_us",
        "utc",
        "run",
        "kind",
        "who",
        "member",
        "role",
        "phrase",
        "phrase_name",
        "beat",
        "move",
        "words",
        "screen",
        "percent",
        "reason",
        "hold",
        "tap",
        "detail",
    ],
};
/// How a page fired a cue.
pub(super) const REPORTS: Table =
    Table { name: "reports", columns: &["run", "member", "cue", "due_us", "fired_us", "bound_us"] };
/// What became of a member: joined, part, revoked.
pub(super) const MEMBER_CHANGES: Table =
    Table { name: "member_changes", columns: &["member", "what", "utc", "name", "role", "part", "key_sha256"] };

/// A text that a call was given, once for each text.
pub(super) const TEXTS: Table = Table { name: "texts", columns: &["sha256", "text"] };
/// What came into the call, in order; `body` is JSON.
pub(super) const INPUTS: Table = Table { name: "inputs", columns: &["session", "server_us", "body"] };

/// Every table of the chain, in the order in which the versions brought them.
pub(super) const TABLES: [Table; 11] =
    [SESSIONS, SESSION_ENDS, REVISIONS, RUNS, RUN_ENDS, CASTS, EVENTS, REPORTS, MEMBER_CHANGES, TEXTS, INPUTS];

/// The tables that every run makes longer, with their columns that have an index.
pub(super) const GROWING: [(&str, &[&str]); 6] = [
    (RUNS.name, &["run"]),
    (RUN_ENDS.name, &["run"]),
    (CASTS.name, &[]),
    (EVENTS.name, &["seq", "run"]),
    (REPORTS.name, &["run"]),
    (INPUTS.name, &["session"]),
];

/// The tables of the chain in a journal of that version.
pub(super) fn tables_of(version: u32) -> &'static [Table] {
    match version {
        1 => TABLES.split_at(9).0,
        _ => &TABLES,
    }
}

/// What the first hundred bytes of a file say, read without SQLite so that a file that is not ours stays untouched.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Found {
    /// No file.
    Nothing,
    /// A journal of a version that this program knows.
    Journal {
        /// Its version.
        version: u32,
    },
}

/// Looks at a file from outside.
///
/// # Errors
/// [`JournalError::NotAJournal`], [`JournalError::Newer`], or [`JournalError::Unreadable`].
pub(super) fn look(path: &Path) -> Result<Found, JournalError> {
    let mut head = [0u8; 100];
    let read = File::open(path).and_then(|mut file| file.read_exact(&mut head));
    match read {
        Ok(()) => {}
        Err(error) if error.kind() == ErrorKind::NotFound => return Ok(Found::Nothing),
        Err(error) if error.kind() == ErrorKind::UnexpectedEof => return Err(JournalError::NotAJournal(path.into())),
        Err(error) => return Err(JournalError::Unreadable { path: path.into(), why: error.to_string() }),
    }
    let number = |at: usize| head.get(at..at + 4).and_then(|b| b.try_into().ok()).map_or(0, u32::from_be_bytes);
    if !head.starts_with(b"SQLite format 3\0") || number(68) != APPLICATION_ID {
        return Err(JournalError::NotAJournal(path.into()));
    }
    known_version(path, number(60)).map(|version| Found::Journal { version })
}

/// `version`, if this program can read it.
///
/// # Errors
/// [`JournalError::Newer`] when it cannot; [`JournalError::NotAJournal`] for version 0, which was never written.
pub(super) fn known_version(path: &Path, version: u32) -> Result<u32, JournalError> {
    match version {
        0 => Err(JournalError::NotAJournal(path.into())),
        v if v > VERSION => Err(JournalError::Newer { path: path.into(), found: v, known: VERSION }),
        v => Ok(v),
    }
}

/// Brings a database from `version` (0: empty) to [`VERSION`], all or nothing.
///
/// # Errors
/// Whatever SQLite says; the database is then as it was.
pub(super) fn migrate(db: &mut Connection, version: u32) -> rusqlite::Result<()> {
    bring(db, version, VERSION)
}

/// What [`definitions`] says of a sound journal of that version.
///
/// # Errors
/// Whatever SQLite says.
pub(super) fn definitions_of(version: u32) -> rusqlite::Result<Vec<(String, Option<String>)>> {
    let mut db = Connection::open_in_memory()?;
    bring(&mut db, 0, version)?;
    definitions(&db)
}

fn bring(db: &mut Connection, from: u32, to: u32) -> rusqlite::Result<()> {
    if from >= to {
        return Ok(());
    }
    let step = db.transaction()?;
    for sql in MIGRATIONS.iter().take(to as usize).skip(from as usize) {
        step.execute_batch(sql)?;
    }
    step.pragma_update(None, "application_id", APPLICATION_ID)?;
    step.pragma_update(None, "user_version", to)?;
    step.commit()
}

/// Every table, index and trigger of a database as SQLite keeps them: name and definition, in order of name.
///
/// # Errors
/// Whatever SQLite says.
pub(super) fn definitions(db: &Connection) -> rusqlite::Result<Vec<(String, Option<String>)>> {
    let mut query = db.prepare("SELECT name, sql FROM sqlite_schema ORDER BY name")?;
    query.query_map([], |row| Ok((row.get(0)?, row.get(1)?)))?.collect()
}
