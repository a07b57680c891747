//! A journal to which something was done. The bytes are lines that say what: a row is put in past the program, a byte of
//! the file is changed, a server starts on it.
//!
//!     events              a row of this table; the lines below it are its columns: a number, a text, or `#` and a blob
//!     kind=hold
//!     hold=-1
//!     byte 4096 255       the file's byte there becomes this
//!     note 3 65           the same in the head note
//!     start               in the end a server starts on it
//!
//! Whatever was done, the rows before it are read as they were, each failure is a sentence, `verify` calls no journal whole
//! that says something else than before, and nothing panics: reading, printing, counting, or starting.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;
use std::sync::LazyLock;

use holdfast::journal::{EventFilter, EventLine, EventRow, FILE_NAME, Journal, Reader, SessionStart, verify};
use holdfast::review::{Filter, House, Review};
use jiff::Timestamp;
use rusqlite::Connection;
use rusqlite::types::Value;

/// Rows that are put in at the most: each is a transaction.
const MOST_ROWS: usize = 8;

/// A journal before anything is done to it: the one of an evening on a real server that the tests keep, on which a server
/// of this version was started and stopped.
struct Base {
    file: Vec<u8>,
    note: Vec<u8>,
    events: Vec<EventRow>,
    everything: String,
    /// The columns of each table.
    tables: BTreeMap<String, Vec<String>>,
}

static BASE: LazyLock<Base> = LazyLock::new(|| {
    let folder = tempfile::tempdir().unwrap();
    let (file, note) = (folder.path().join(FILE_NAME), folder.path().join(NOTE));
    fs::write(&file, include_bytes!("../../tests/it/data/before/journal.sqlite")).unwrap();
    fs::write(&note, include_bytes!("../../tests/it/data/before/journal.head")).unwrap();
    start_a_server(folder.path()).unwrap();
    let events = Reader::open(folder.path()).unwrap().events(EventFilter::default()).unwrap();
    assert!(verify(folder.path()).unwrap().whole);
    let everything = everything(&Reader::open(folder.path()).unwrap());
    Base { file: fs::read(&file).unwrap(), note: fs::read(note).unwrap(), events, everything, tables: tables(&file) }
});

/// The head note's name.
const NOTE: &str = "journal.head";

/// What the bytes say is done.
#[derive(Debug, Default)]
struct Deeds {
    rows: Vec<(String, BTreeMap<String, Value>)>,
    bytes: Vec<(usize, u8)>,
    note: Vec<(usize, u8)>,
    start: bool,
}

pub(crate) fn run(bytes: &[u8]) {
    let deeds = Deeds::read(bytes);
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join(FILE_NAME);
    fs::write(&file, &BASE.file).unwrap();
    fs::write(folder.path().join(NOTE), changed(&BASE.note, &deeds.note)).unwrap();
    let added = put_in(&file, &deeds.rows);
    if !deeds.bytes.is_empty() {
        let damaged = changed(&fs::read(&file).unwrap(), &deeds.bytes);
        fs::write(&file, damaged).unwrap();
    }
    read_all(folder.path(), &deeds, &added);
    if deeds.start
        && let Err(error) = start_a_server(folder.path())
    {
        is_a_sentence(&error.to_string());
    }
}

impl Deeds {
    fn read(bytes: &[u8]) -> Deeds {
        let mut deeds = Deeds::default();
        for line in bytes.split(|byte| *byte == b'\n') {
            if let Some(at) = line.iter().position(|byte| *byte == b'=') {
                let (name, value) = (String::from_utf8_lossy(&line[..at]), &line[at + 1..]);
                if let Some((table, row)) = deeds.rows.last_mut()
                    && BASE.tables[table].iter().any(|column| *column == name)
                {
                    row.insert(name.into_owned(), column(value));
                }
                continue;
            }
            let line = String::from_utf8_lossy(line);
            let mut words = line.split_whitespace();
            match (words.next(), words.next().and_then(|at| at.parse().ok()), words.next()) {
                (Some("byte"), Some(at), Some(value)) => {
                    deeds.bytes.extend(value.parse().ok().map(|value| (at, value)))
                }
                (Some("note"), Some(at), Some(value)) => deeds.note.extend(value.parse().ok().map(|value| (at, value))),
                (Some("start"), None, None) => deeds.start = true,
                (Some(table), None, None) if BASE.tables.contains_key(table) && deeds.rows.len() < MOST_ROWS => {
                    deeds.rows.push((table.to_owned(), BTreeMap::new()));
                }
                _ => {}
            }
        }
        deeds
    }
}

/// The value of a column as a line says it. Text may be no UTF-8: SQLite keeps it all the same.
fn column(bytes: &[u8]) -> Value {
    let number = std::str::from_utf8(bytes).ok().and_then(|text| text.parse().ok());
    match (number, bytes.split_first()) {
        (Some(number), _) => Value::Integer(number),
        (None, None) => Value::Null,
        (None, Some((b'#', blob))) => Value::Blob(blob.to_vec()),
        (None, Some(_)) => Value::Text(String::from_utf8_lossy(bytes).into_owned()),
    }
}

fn changed(bytes: &[u8], changes: &[(usize, u8)]) -> Vec<u8> {
    let mut bytes = bytes.to_vec();
    for (at, value) in changes {
        if let Some(byte) = bytes.get_mut(*at) {
            *byte = *value;
        }
    }
    bytes
}

/// Puts rows in as somebody would who knows SQLite; gives the numbers of the events among those that it takes.
fn put_in(file: &Path, rows: &[(String, BTreeMap<String, Value>)]) -> Vec<Option<i64>> {
    if rows.is_empty() {
        return Vec::new();
    }
    let db = Connection::open(file).unwrap();
    db.execute_batch("PRAGMA synchronous = OFF; PRAGMA foreign_keys = OFF").unwrap();
    let mut added = Vec::new();
    for (number, (table, said)) in (0i64..).zip(rows) {
        let mut row = said.clone();
        for name in &BASE.tables[table] {
            let value = match name.as_str() {
                "link" => (1_000_000 + number).into(),
                "seq" => (1_000 + number).into(),
                "session" => 1.into(),
                "seal" => vec![0; 32].into(),
                "server_us" | "run" | "member" | "cue" if table != "events" => 1.into(),
                "server_us" => 5.into(),
                "utc" => "2026-03-01T18:30:00.000001Z".to_owned().into(),
                "kind" => "note".to_owned().into(),
                _ => continue,
            };
            row.entry(name.clone()).or_insert(value);
        }
        let names: Vec<&str> = row.keys().map(String::as_str).collect();
        let marks = vec!["?"; names.len()].join(", ");
        let sql = format!("INSERT INTO {table} ({}) VALUES ({marks})", names.join(", "));
        // A row that SQLite does not take is none.
        if db.execute(&sql, rusqlite::params_from_iter(row.values())).is_ok() {
            // SQLite makes numbers of some texts: what the row has is what it says afterwards.
            let sql = "SELECT seq FROM events WHERE link = ? AND ? = 'events'";
            added.push(db.query_row(sql, (db.last_insert_rowid(), table), |row| row.get(0)).ok());
        }
    }
    added
}

/// Reads everything in every way, and looks at what must hold.
fn read_all(folder: &Path, deeds: &Deeds, added: &[Option<i64>]) {
    let damaged = !deeds.bytes.is_empty();
    let verdict = verify(folder);
    match &verdict {
        Ok(verdict) => {
            assert_eq!(verdict.whole, verdict.findings.is_empty());
            for finding in &verdict.findings {
                assert!(!finding.code.is_empty());
                is_a_sentence(&finding.says);
            }
            assert!(added.is_empty() || damaged || !verdict.whole, "a row that was put in is not found");
        }
        Err(error) => {
            assert!(damaged, "{error}");
            is_a_sentence(&error.to_string());
        }
    }
    let reader = match Reader::open(folder) {
        Ok(reader) => reader,
        Err(error) => {
            assert!(damaged, "{error}");
            return is_a_sentence(&error.to_string());
        }
    };
    let mut given = Vec::new();
    let read = reader.each_event(EventFilter::default(), |row| {
        given.push(row);
        true
    });
    for row in &given {
        let line = EventLine::of(row.clone(), None);
        assert_eq!(line.kind, row.event.what.word());
        assert!(serde_json::to_string(&line).is_ok());
    }
    if !damaged {
        // Good rows are read as they were, up to the first that is not.
        let first_bad = added.iter().flatten().min().copied().unwrap_or(i64::MAX);
        let good = BASE.events.iter().filter(|row| i64::try_from(row.seq).is_ok_and(|seq| seq < first_bad));
        let good: Vec<&EventRow> = good.collect();
        assert!(given.iter().take(good.len()).eq(good), "what lies before a bad row is not read");
        let all = BASE.events.len() + added.iter().flatten().count();
        assert!(read.is_err() || given.len() == all, "a row is not read and nobody says it");
    }
    if let Err(error) = &read {
        is_a_sentence(&error.to_string());
    }
    match Review::of(&reader, &House::default(), &Filter::default()) {
        Ok(review) => assert!(!holdfast::review::text::text(&review).is_empty()),
        Err(error) => is_a_sentence(&error.to_string()),
    }
    let now = everything(&reader);
    if verdict.is_ok_and(|verdict| verdict.whole) {
        assert_eq!(now, BASE.everything, "it is called whole and says something else");
    }
}

/// All that can be read, as text. Whatever cannot be is a sentence there.
fn everything(reader: &Reader) -> String {
    let mut inputs = Vec::new();
    let mut failed = Vec::new();
    for session in [1, 2] {
        let read = reader.each_input(session, |row| {
            inputs.push(row);
            true
        });
        failed.extend(read.err());
    }
    let last = reader.last_inputs_before(2);
    let (text, since, rows) = (reader.text(&"ab".repeat(32)), reader.events_since(1), reader.rows());
    let (events, sessions) = (reader.events(EventFilter::default()), reader.sessions());
    let (revisions, runs) = (reader.revisions(), reader.runs());
    let (reports, members) = (reader.reports(None), reader.members());
    let errors = [
        last.as_ref().err(),
        text.as_ref().err(),
        since.as_ref().err(),
        rows.as_ref().err(),
        events.as_ref().err(),
        sessions.as_ref().err(),
        revisions.as_ref().err(),
        runs.as_ref().err(),
        reports.as_ref().err(),
        members.as_ref().err(),
    ];
    errors.into_iter().flatten().chain(&failed).for_each(|error| is_a_sentence(&error.to_string()));
    format!(
        "{inputs:?} {last:?} {text:?} {since:?} {rows:?} {events:?} {sessions:?} {revisions:?} {runs:?} {reports:?} {members:?}"
    )
}

fn is_a_sentence(says: &str) {
    assert!(says.len() > 10 && says.ends_with(['.', '?', '!']), "no sentence: {says:?}");
}

/// Starts a server's journal in that folder and closes it in order.
fn start_a_server(folder: &Path) -> Result<(), holdfast::journal::JournalError> {
    let utc: Timestamp = "2026-03-08T18:30:00Z".parse().unwrap();
    Journal::open(folder, &SessionStart { utc, server: "0.0.0-fuzz".to_owned() })?.close()
}

/// The journal's own tables, each with its columns.
fn tables(file: &Path) -> BTreeMap<String, Vec<String>> {
    let db = Connection::open(file).unwrap();
    let sql = "SELECT m.name, c.name FROM sqlite_schema m, pragma_table_info(m.name) c WHERE m.type = 'table'";
    let mut query = db.prepare(sql).unwrap();
    let mut tables = BTreeMap::<String, Vec<String>>::new();
    for row in query.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap() {
        let (table, column): (String, String) = row.unwrap();
        tables.entry(table).or_default().push(column);
    }
    tables
}
