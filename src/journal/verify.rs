//! Whether a journal is whole: SQLite's own checks, the chain of seals, and what the rows say of each other.

use std::path::{Path, PathBuf};

use rusqlite::Connection;
use serde::Serialize;

use super::chain::{Head, row_digest, seal};
use super::head::Noted;
use super::schema::{TABLES, Table, definitions, migrate};
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

/// Something that is damaged or missing.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Finding {
    /// What kind: `tables`, `pages`, `unreadable`, `altered`, `missing`, `reference`, `hold`, `run`, `session`, `head`.
    pub code: &'static str,
    /// The event it is at, or the last one before it.
    pub seq: Option<i64>,
    /// That event's time.
    pub utc: Option<String>,
    /// A sentence.
    pub says: String,
}

/// Checks the journal of a production folder, of a data folder, or the file itself. Never writes to it.
///
/// # Errors
/// `Missing`, `NotAJournal`, `Newer`, `Unreadable`; `Damaged` when so little is left that nothing can be looked at.
pub fn verify(data: &Path) -> Result<Verdict, JournalError> {
    let view = View::open(&find(data)?)?;
    let mut look = Look { db: &view.db, findings: Vec::new(), notes: Vec::new() };
    look.tables();
    look.pages();
    let links = look.chain();
    look.head(&links, view.noted);
    look.session_ends(&links);
    look.queries();
    let Look { db, findings, notes, .. } = look;
    // A table that cannot be counted has been found damaged above.
    let count = |sql: &str| db.query_row(sql, [], |row| row.get::<_, i64>(0)).unwrap_or(0).unsigned_abs();
    let word = |sql: &str| db.query_row(sql, [], |row| row.get::<_, Option<String>>(0)).unwrap_or(None);
    Ok(Verdict {
        whole: findings.is_empty(),
        live: view.live,
        sessions: count("SELECT count(*) FROM sessions"),
        runs: count("SELECT count(*) FROM runs"),
        events: count("SELECT count(*) FROM events"),
        holds: count("SELECT count(*) FROM events WHERE kind = 'hold'"),
        first_utc: word("SELECT utc FROM events ORDER BY seq LIMIT 1"),
        last_utc: word("SELECT utc FROM events ORDER BY seq DESC LIMIT 1"),
        findings,
        notes,
        journal: view.path.clone(),
    })
}

/// One row of the chain.
struct Link {
    link: i64,
    table: &'static str,
    digest: [u8; 32],
    seal: Option<[u8; 32]>,
    seq: Option<i64>,
    utc: Option<String>,
}

struct Look<'a> {
    db: &'a Connection,
    findings: Vec<Finding>,
    notes: Vec<String>,
}

impl Look<'_> {
    fn find(&mut self, code: &'static str, near: Option<&Link>, says: String) {
        let seq = near.and_then(|link| link.seq);
        self.findings.push(Finding { code, seq, utc: near.and_then(|link| link.utc.clone()), says });
    }

    /// The tables are those that this program makes.
    fn tables(&mut self) {
        let ours = Connection::open_in_memory().and_then(|mut db| {
            migrate(&mut db, 0)?;
            definitions(&db)
        });
        match (ours, definitions(self.db)) {
            (Ok(ours), Ok(theirs)) if ours == theirs => {}
            (_, Err(error)) => self.find("tables", None, format!("The list of tables cannot be read: {error}.")),
            _ => self.find("tables", None, "The tables are not those that Holdfast makes.".to_owned()),
        }
    }

    /// SQLite's own check of pages, rows and indexes.
    fn pages(&mut self) {
        let said: rusqlite::Result<Vec<String>> = self
            .db
            .prepare("PRAGMA integrity_check(20)")
            .and_then(|mut query| query.query_map([], |row| row.get(0))?.collect());
        match said {
            Ok(said) if said == ["ok"] => {}
            Ok(said) => {
                for line in said {
                    self.find("pages", None, format!("SQLite finds the file damaged: {line}."));
                }
            }
            Err(error) => self.find("pages", None, format!("SQLite finds the file damaged: {error}.")),
        }
    }

    /// Every row carries the seal that it must have after the row before it, and no link is missing.
    fn chain(&mut self) -> Vec<Link> {
        let mut links = Vec::new();
        for table in &TABLES {
            if let Err(error) = read_links(self.db, table, &mut links) {
                let last = links.iter().rev().find(|link| link.table == table.name);
                let says = format!("Rows of the table {} cannot be read: {error}.", table.name);
                let near = last.map(|l| (l.seq, l.utc.clone())).unwrap_or_default();
                self.findings.push(Finding { code: "unreadable", seq: near.0, utc: near.1, says });
            }
        }
        links.sort_by_key(|link| link.link);
        let mut before = Head::default();
        let mut last_event: Option<&Link> = None;
        for link in &links {
            let here = if link.seq.is_some() { Some(link) } else { last_event };
            match link.link - before.link {
                1 if link.seal != Some(seal(&before.seal, &link.digest)) => {
                    let says = format!("{} was altered, or the row before it was.", describe(link));
                    self.find("altered", here, says);
                }
                1 => {}
                gap if gap > 1 => {
                    let says =
                        format!("Missing between {} and {}: {} rows.", after(last_event), describe(link), gap - 1);
                    self.find("missing", last_event, says);
                }
                _ => self.find("altered", here, format!("{} has the place of another row.", describe(link))),
            }
            before = Head { link: link.link, seal: link.seal.unwrap_or_default() };
            last_event = here;
        }
        links
    }

    /// The chain is at least as long as it was noted to be.
    fn head(&mut self, links: &[Link], noted: Noted) {
        let length = links.last().map_or(0, |link| link.link);
        let last = links.iter().rev().find(|link| link.seq.is_some());
        match noted {
            Noted::Nothing => {}
            Noted::Damaged => {
                self.find(
                    "head",
                    last,
                    "The head note (journal.head) is damaged: whether the last rows are there is not known.".to_owned(),
                );
            }
            Noted::Head(head) if head.link > length => {
                let says = format!(
                    "The last {} rows are missing. If this is a copy, copy journal.sqlite-wal along with journal.sqlite.",
                    head.link - length
                );
                self.find("missing", last, says);
            }
            Noted::Head(head) => {
                let there = links.iter().find(|link| link.link == head.link);
                if head.link > 0 && there.and_then(|link| link.seal) != Some(head.seal) {
                    self.find("head", last, "The head note (journal.head) belongs to another journal.".to_owned());
                }
            }
        }
    }

    /// What each clean close noted about the rows before it.
    fn session_ends(&mut self, links: &[Link]) {
        let sql = "SELECT s.link, s.session, s.links, s.last_seal, s.events,
             (SELECT count(*) FROM events e WHERE e.link < s.link) FROM session_ends s ORDER BY s.link";
        let ends = self.db.prepare(sql).and_then(|mut query| {
            let read = |row: &rusqlite::Row<'_>| {
                let seal: Vec<u8> = row.get(3)?;
                let events: (i64, i64) = (row.get(4)?, row.get(5)?);
                Ok((row.get::<_, i64>(0)?, row.get::<_, i64>(1)?, row.get::<_, i64>(2)?, seal, events))
            };
            query.query_map([], read)?.collect::<rusqlite::Result<Vec<_>>>()
        });
        // A table that cannot be read has been found damaged above.
        for (link, session, noted, last_seal, (events, counted)) in ends.unwrap_or_default() {
            let before = links.iter().find(|l| l.link == noted).and_then(|l| l.seal);
            if noted != link - 1 || before.as_ref().map(|s| &s[..]) != Some(&last_seal[..]) || events != counted {
                let says = format!(
                    "Session {session} was closed with {noted} rows and {events} events before its end; that is not what is there."
                );
                self.find("session", links.iter().find(|l| l.link == link), says);
            }
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
            self.find("reference", None, says);
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

const QUESTIONS: [Question; 7] = [
    Question {
        code: "missing",
        sql: "SELECT before, utc, gap FROM (SELECT seq - lag(seq, 1, 0) OVER (ORDER BY seq) - 1 AS gap,
                  lag(seq) OVER (ORDER BY seq) AS before, lag(utc) OVER (ORDER BY seq) AS utc FROM events)
              WHERE gap <> 0",
        says: "# events are missing after this one.",
    },
    Question {
        code: "missing",
        sql: "SELECT seq, utc, json_extract(detail, '$.rows') FROM events WHERE kind = 'rows-lost' AND json_valid(detail)",
        says: "When the server started here, the last # rows before were gone.",
    },
    Question {
        code: "hold",
        sql: "SELECT seq, utc, hold FROM events e WHERE kind IN ('hold-joined', 'release') AND NOT EXISTS
                  (SELECT 1 FROM events h WHERE h.kind = 'hold' AND h.hold = e.hold AND h.seq < e.seq)",
        says: "This event belongs to hold #, which is not there before it.",
    },
    Question {
        code: "hold",
        sql: "SELECT max(seq), max(utc), hold FROM events WHERE kind = 'hold' GROUP BY hold HAVING count(*) > 1",
        says: "Hold # is written down more than once.",
    },
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

/// Reads the rows of a table as links, up to the first that cannot be read.
fn read_links(db: &Connection, table: &'static Table, links: &mut Vec<Link>) -> rusqlite::Result<()> {
    let sql = format!("SELECT link, {}, seal FROM {} ORDER BY link", table.columns.join(", "), table.name);
    let column = |name: &str| table.columns.iter().position(|column| *column == name).map(|at| at + 1);
    let (seq, utc) = (column("seq"), column("utc"));
    let mut query = db.prepare(&sql)?;
    let mut rows = query.query([])?;
    while let Some(row) = rows.next()? {
        let link = row.get(0)?;
        let values = (1..=table.columns.len()).map(|at| row.get_ref(at)).collect::<rusqlite::Result<Vec<_>>>()?;
        links.push(Link {
            link,
            table: table.name,
            digest: row_digest(table.name, link, values.into_iter()),
            // A seal of another length is no seal, and a time that is no text is found by its digest.
            seal: row.get(table.columns.len() + 1).ok(),
            seq: seq.and_then(|at| row.get(at).ok()),
            utc: utc.and_then(|at| row.get(at).ok()),
        });
    }
    Ok(())
}

/// A row as a person can find it.
fn describe(link: &Link) -> String {
    match (link.seq, &link.utc) {
        (Some(seq), Some(utc)) => format!("Event {seq} of {utc}"),
        (_, Some(utc)) => format!("Row {} of {utc}, in the table {},", link.link, link.table),
        _ => format!("Row {}, in the table {},", link.link, link.table),
    }
}

fn after(event: Option<&Link>) -> String {
    match event {
        Some(event) => describe(event),
        None => "the beginning".to_owned(),
    }
}
