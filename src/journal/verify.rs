//! Whether a journal is whole: SQLite's own checks, the chain of seals, and what the rows say of each other. Every row is
//! read once, in the order of the chain; nothing is asked for each row of all the others.

use std::path::{Path, PathBuf};

use rusqlite::Connection;
use serde::Serialize;

use super::damage::bad_pages;
use super::finding::Finding;
use super::pass::Pass;
use super::schema::{definitions, definitions_of, tables_of};
use super::view::View;
use super::{JournalError, find};

/// What `verify` found.
#[derive(Clone, Debug, Serialize)]
pub struct Verdict {
    /// The file that was looked at.
    pub journal: PathBuf,
    /// True when nothing is damaged or missing.
    pub whole: bool,
    /// True when a server was writing it meanwhile.
    pub live: bool,
    /// Starts of the server.
    pub sessions: u64,
    /// Runs.
    pub runs: u64,
    /// Events.
    pub events: u64,
    /// Holds among them.
    pub holds: u64,
    /// The time of the first event, RFC 3339.
    pub first_utc: Option<String>,
    /// The time of the last.
    pub last_utc: Option<String>,
    /// What is damaged or missing.
    pub findings: Vec<Finding>,
    /// What is worth knowing and no damage: servers that went away, runs under way.
    pub notes: Vec<String>,
}

/// Checks the journal of a production folder, of a data folder, or the file itself. Never writes to it.
///
/// # Errors
/// `Missing`, `NotAJournal`, `Newer`, `Unreadable`; `Damaged` when so little is left that nothing can be looked at.
pub fn verify(data: &Path) -> Result<Verdict, JournalError> {
    let view = View::open(&find(data)?)?;
    let mut look = Look { db: &view.db, findings: Vec::new(), notes: Vec::new() };
    look.tables(view.version);
    look.pages();
    let pass = Pass::over(&view.db, tables_of(view.version), &view.noted);
    look.findings.extend(pass.findings);
    look.notes.extend(pass.notes);
    look.queries();
    let Look { db, findings, notes } = look;
    // A table that cannot be counted has been found damaged above.
    let count = |sql: &str| db.query_row(sql, [], |row| row.get::<_, i64>(0)).unwrap_or(0).unsigned_abs();
    Ok(Verdict {
        whole: findings.is_empty(),
        live: view.live,
        sessions: count("SELECT count(*) FROM sessions"),
        runs: count("SELECT count(*) FROM runs"),
        events: pass.events,
        holds: pass.holds,
        first_utc: pass.first_utc,
        last_utc: pass.last_utc,
        findings,
        notes,
        journal: view.path.clone(),
    })
}

/// So many findings of SQLite's own check are said.
const MOST_PAGES: usize = 20;

struct Look<'a> {
    db: &'a Connection,
    findings: Vec<Finding>,
    notes: Vec<String>,
}

impl Look<'_> {
    fn find(&mut self, code: &'static str, says: String) {
        self.findings.push(Finding { code, seq: None, utc: None, says });
    }

    /// The tables are those that this program makes of that version.
    fn tables(&mut self, version: u32) {
        match (definitions_of(version), definitions(self.db)) {
            (Ok(ours), Ok(theirs)) if ours == theirs => {}
            (_, Err(error)) => self.find("tables", format!("The list of tables cannot be read: {error}.")),
            _ => self.find("tables", "The tables are not those that Holdfast makes.".to_owned()),
        }
    }

    /// SQLite's own check of pages, rows and indexes.
    fn pages(&mut self) {
        for says in bad_pages(self.db, MOST_PAGES) {
            self.find("pages", format!("SQLite finds the file damaged: {says}."));
        }
    }

    /// What the rows say of each other.
    fn queries(&mut self) {
        self.broken_references();
        for question in &QUESTIONS {
            let answers = self.db.prepare(question.sql).and_then(|mut query| {
                let read = |row: &rusqlite::Row<'_>| {
                    let number: Option<i64> = row.get(2)?;
                    Ok((row.get::<_, Option<i64>>(0)?, row.get::<_, Option<String>>(1)?, number.unwrap_or_default()))
                };
                query.query_map([], read)?.collect::<rusqlite::Result<Vec<_>>>()
            });
            for (seq, utc, number) in answers.unwrap_or_default() {
                let says = question.says.replace('#', &number.to_string());
                if question.code == NOTE {
                    self.notes.push(says);
                } else {
                    self.findings.push(Finding { code: question.code, seq, utc, says });
                }
            }
        }
    }

    fn broken_references(&mut self) {
        let said: rusqlite::Result<Vec<(String, Option<i64>, String)>> = self
            .db
            .prepare("PRAGMA foreign_key_check")
            .and_then(|mut query| query.query_map([], |row| Ok((row.get(0)?, row.get(1)?, row.get(2)?)))?.collect());
        for (table, link, parent) in said.unwrap_or_default() {
            let link = link.unwrap_or_default();
            let says = format!("Row {link}, in the table {table}, belongs to a row of {parent} that is not there.");
            self.find("reference", says);
        }
    }
}

/// Something to ask the rows: every answer is a finding (or a note) at (seq, utc), about number `#`.
struct Question {
    code: &'static str,
    sql: &'static str,
    says: &'static str,
}

const NOTE: &str = "note";

const QUESTIONS: [Question; 3] = [
    Question {
        code: "run",
        sql: "SELECT NULL, utc, run FROM runs WHERE run NOT IN (SELECT run FROM run_ends)
              AND session < (SELECT max(session) FROM sessions)",
        says: "Run # has no end.",
    },
    Question {
        code: NOTE,
        sql: "SELECT NULL, utc, run FROM runs WHERE run NOT IN (SELECT run FROM run_ends)
              AND session = (SELECT max(session) FROM sessions)",
        says: "Run # has no end yet: it is under way, or the server went away in the middle of it.",
    },
    Question {
        code: NOTE,
        sql: "SELECT NULL, utc, session FROM sessions s WHERE session NOT IN (SELECT session FROM session_ends)
              AND session < (SELECT max(session) FROM sessions)",
        says: "The server of session # went away without closing the journal.",
    },
];
