//! A row that was altered, removed or put in, and a byte that changed, are found; and looking changes nothing.

use std::fs;
use std::path::Path;

use holdfast::journal::{Came, EventFilter, FILE_NAME, Reader, Record, verify};
use holdfast::units::ServerTime;
use proptest::prelude::*;
use rusqlite::Connection;

use crate::journal::{begun, contents, ended, hold, open, record_all, records, release, revision};

const TABLES: [&str; 9] =
    ["sessions", "session_ends", "revisions", "runs", "run_ends", "casts", "events", "texts", "inputs"];

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    #[test]
    fn an_altered_or_removed_row_is_found(
        records in records(),
        which in any::<prop::sample::Index>(),
        column in any::<prop::sample::Index>(),
        remove in any::<bool>(),
    ) {
        let folder = closed(&records);
        let file = folder.path().join(FILE_NAME);
        prop_assert!(verify(&file).unwrap().whole);
        edit(&file, |db| {
            let rows = all_rows(db);
            let (table, link) = which.get(&rows);
            if remove {
                db.execute(&format!("DELETE FROM {table} WHERE link = ?"), [link]).unwrap();
            } else {
                let columns = columns(db, table);
                let (name, kind) = column.get(&columns);
                let other = another(name, kind);
                db.execute(&format!("UPDATE {table} SET {name} = {other} WHERE link = ?"), [link]).unwrap();
            }
        });
        let verdict = verify(&file).unwrap();
        prop_assert!(!verdict.whole, "nothing found");
    }

    #[test]
    fn a_flipped_byte_is_found_or_changes_nothing(
        records in records(),
        at in any::<prop::sample::Index>(),
        flip in 1u8..=255,
        after_a_crash in any::<bool>(),
    ) {
        let folder = if after_a_crash { crashed(&records) } else { closed(&records) };
        let name = if after_a_crash { "journal.sqlite-wal" } else { FILE_NAME };
        let told = everything(folder.path());
        let file = folder.path().join(name);
        let mut bytes = fs::read(&file).unwrap();
        let at = at.index(bytes.len());
        bytes[at] ^= flip;
        fs::write(&file, bytes).unwrap();
        if verify(folder.path()).is_ok_and(|verdict| verdict.whole) {
            prop_assert_eq!(everything(folder.path()), told, "byte {} of {}", at, name);
        }
    }
}

#[test]
fn every_letter_of_a_reason_counts() {
    let folder = closed(&[revision(), begun(1), hold(1, 1), ended(1)]);
    let file = folder.path().join(FILE_NAME);
    let sound = fs::read(&file).unwrap();
    let reason = b"grip slipped";
    let places: Vec<usize> =
        sound.windows(reason.len()).enumerate().filter(|(_, w)| w == reason).map(|(at, _)| at).collect();
    assert!(!places.is_empty());
    for at in places.iter().flat_map(|at| *at..at + reason.len()) {
        let mut bytes = sound.clone();
        bytes[at] ^= 1;
        fs::write(&file, &bytes).unwrap();
        let verdict = verify(&file).unwrap();
        assert_eq!(verdict.findings.iter().map(|f| (f.code, f.seq)).next(), Some(("altered", Some(2))), "{verdict:?}");
    }
}

#[test]
fn the_place_of_a_removed_event_is_named() {
    let folder = closed(&[revision(), begun(1), hold(1, 1), hold(1, 2), hold(1, 3), ended(1)]);
    edit(&folder.path().join(FILE_NAME), |db| {
        db.execute("DELETE FROM events WHERE hold = 2", []).unwrap();
    });
    let verdict = verify(folder.path()).unwrap();
    let said: Vec<&str> = verdict.findings.iter().map(|finding| finding.says.as_str()).collect();
    assert!(said[0].contains("Missing between Event 2 of ") && said[0].contains(" and Event 4 of "), "{said:?}");
    assert!(verdict.findings.iter().all(|finding| finding.seq == Some(2) || finding.code == "session"), "{verdict:?}");
}

#[test]
fn a_release_without_its_hold_is_found() {
    let folder = closed(&[revision(), begun(1), release(1, 8), ended(1)]);
    let verdict = verify(folder.path()).unwrap();
    assert_eq!(verdict.findings.len(), 1);
    assert!(verdict.findings[0].says.contains("hold 8"), "{:?}", verdict.findings);
}

#[test]
fn an_event_of_no_run_is_kept_and_found() {
    let folder = closed(&[hold(5, 1)]);
    let verdict = verify(folder.path()).unwrap();
    assert_eq!((verdict.holds, verdict.findings[0].code), (1, "reference"));
}

#[test]
fn the_end_of_the_journal_cannot_go_unnoticed() {
    let records = [revision(), begun(1), hold(1, 1), ended(1)];
    // A copy without the write-ahead file, as somebody in a hurry makes it.
    let folder = crashed(&records);
    fs::remove_file(folder.path().join("journal.sqlite-wal")).unwrap();
    let verdict = verify(folder.path()).unwrap();
    assert!(verdict.findings.iter().any(|f| f.says.contains("copy journal.sqlite-wal")), "{verdict:?}");

    // A server starts on it: the gap stays in the journal for good.
    let journal = open(folder.path());
    assert!(journal.opened().rows_lost > 0);
    journal.close().unwrap();
    let verdict = verify(folder.path()).unwrap();
    assert!(verdict.findings.iter().any(|f| f.says.contains("rows before were gone")), "{verdict:?}");
}

/// One bad row hides no other: `log` prints those before and behind it and says which it is. A plain reader gives those
/// before it.
#[test]
fn a_bad_row_hides_no_other() {
    let folder = closed(&[revision(), begun(1), hold(1, 1), hold(1, 2), hold(1, 3), ended(1)]);
    edit(&folder.path().join(FILE_NAME), |db| {
        db.execute("UPDATE events SET screen = '{' WHERE hold = 2", []).unwrap();
    });
    let mut holds = Vec::new();
    let read = Reader::open(folder.path()).unwrap().each_event(EventFilter::default(), |row| {
        holds.extend(row.event.what.hold().map(|hold| hold.0));
        true
    });
    assert!(read.is_err());
    assert_eq!(holds, [1]);
    let program = env!("CARGO_BIN_EXE_holdfast");
    let printed = std::process::Command::new(program).arg("log").arg(folder.path()).output().unwrap();
    let text = String::from_utf8_lossy(&printed.stdout).into_owned();
    assert!(text.contains("HOLD 1") && text.contains("HOLD 3") && !text.contains("HOLD 2"), "{text}");
    let said = String::from_utf8_lossy(&printed.stderr).into_owned();
    assert!(
        said.contains("Event 3 of ") && said.contains("was altered") && said.contains("holdfast salvage"),
        "{said}"
    );
    assert_eq!(printed.status.code(), Some(1));
}

/// Whoever wants the first event has it before the rest is looked at; whoever wants all of them has all that are good, in
/// order, the damaged place apart, and hears of it.
#[test]
fn what_is_good_is_given_while_the_journal_is_looked_at() {
    let holds = (1..=300).map(|number| hold(1, number));
    let records: Vec<Record> = [revision(), begun(1)].into_iter().chain(holds).chain([ended(1)]).collect();
    let folder = closed(&records);
    let all = Reader::open(folder.path()).unwrap().events(EventFilter::default()).unwrap();
    let given = |most: usize| {
        let mut given = Vec::new();
        let damage = Reader::each_good_event(folder.path(), EventFilter::default(), |row| {
            given.push(row);
            given.len() < most
        });
        (given, damage.unwrap())
    };
    assert_eq!(given(usize::MAX), (all.clone(), Vec::new()));
    edit(&folder.path().join(FILE_NAME), |db| {
        db.execute("UPDATE events SET reason = 'another' WHERE seq = 200", []).unwrap();
    });
    assert_eq!(given(1), (all[..1].to_vec(), Vec::new()), "nothing else is looked at");
    let (good, damage) = given(usize::MAX);
    let expected: Vec<_> = all.into_iter().filter(|row| row.seq != 200).collect();
    assert_eq!(good, expected);
    assert!(damage.iter().any(|says| says.starts_with("Event 200 of")), "{damage:?}");
}

#[test]
fn rows_are_only_ever_added() {
    let came = Record::Came(Came { at: ServerTime(1), body: "{}".into() });
    let text = Record::Text { sha256: "0".repeat(64), text: "beats 4".into() };
    let folder = closed(&[revision(), begun(1), hold(1, 1), ended(1), came, text]);
    let db = Connection::open(folder.path().join(FILE_NAME)).unwrap();
    for table in TABLES {
        for sql in [format!("DELETE FROM {table}"), format!("UPDATE {table} SET link = link + 100")] {
            let refused = db.execute(&sql, []).unwrap_err().to_string();
            assert!(refused.contains("only ever added"), "{refused}");
        }
    }
}

#[test]
fn looking_changes_nothing() {
    for make in [closed, crashed] {
        let folder = make(&[revision(), begun(1), hold(1, 1)]);
        let before = contents(folder.path());
        everything(folder.path());
        verify(folder.path()).unwrap();
        assert_eq!(contents(folder.path()), before);
    }
}

/// A journal that was closed in order.
pub(crate) fn closed(records: &[Record]) -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let journal = open(folder.path());
    record_all(&journal, records);
    journal.close().unwrap();
    folder
}

/// What a crash leaves: the files as they are once everything is acknowledged, without a close.
fn crashed(records: &[Record]) -> tempfile::TempDir {
    let (folder, left) = (tempfile::tempdir().unwrap(), tempfile::tempdir().unwrap());
    let journal = open(folder.path());
    record_all(&journal, records);
    for name in [FILE_NAME, "journal.sqlite-wal", "journal.head"] {
        fs::copy(folder.path().join(name), left.path().join(name)).unwrap();
    }
    left
}

/// Everything that can be read, as text.
fn everything(folder: &Path) -> String {
    let Ok(reader) = Reader::open(folder) else { return "unreadable".to_owned() };
    let mut inputs = Vec::new();
    let read = reader.each_input(1, |row| {
        inputs.push(row);
        true
    });
    let texts: Vec<_> = inputs.iter().map(|row| reader.text(&row.body)).collect();
    format!(
        "{read:?} {inputs:?} {texts:?} {:?} {:?} {:?} {:?} {:?} {:?}",
        reader.events(EventFilter::default()),
        reader.sessions(),
        reader.revisions(),
        reader.runs(),
        reader.reports(None),
        reader.members()
    )
}

/// Edits as somebody would who knows SQLite and puts the triggers back afterwards.
pub(crate) fn edit(file: &Path, change: impl FnOnce(&Connection)) {
    let db = Connection::open(file).unwrap();
    db.pragma_update(None, "synchronous", "OFF").unwrap();
    let mut query = db.prepare("SELECT name, sql FROM sqlite_schema WHERE type = 'trigger' ORDER BY rowid").unwrap();
    let triggers: Vec<(String, String)> =
        query.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap().map(Result::unwrap).collect();
    for (name, _) in &triggers {
        db.execute_batch(&format!("DROP TRIGGER {name}")).unwrap();
    }
    db.pragma_update(None, "foreign_keys", false).unwrap();
    change(&db);
    for (_, sql) in &triggers {
        db.execute_batch(sql).unwrap();
    }
}

pub(crate) fn all_rows(db: &Connection) -> Vec<(&'static str, i64)> {
    let links = |table: &'static str| {
        let mut query = db.prepare(&format!("SELECT link FROM {table}")).unwrap();
        let links: Vec<i64> = query.query_map([], |row| row.get(0)).unwrap().map(Result::unwrap).collect();
        links.into_iter().map(move |link| (table, link))
    };
    TABLES.into_iter().chain(["reports", "member_changes"]).flat_map(links).collect()
}

/// SQL for another value of that column's type.
pub(crate) fn another(name: &str, kind: &str) -> String {
    let filler = if kind == "INTEGER" { "1" } else { "'x'" };
    format!(
        "CASE typeof({name}) WHEN 'integer' THEN {name} + 1000000 WHEN 'text' THEN {name} || 'x'
         WHEN 'blob' THEN zeroblob(32) ELSE {filler} END"
    )
}

pub(crate) fn columns(db: &Connection, table: &str) -> Vec<(String, String)> {
    let mut query = db.prepare(&format!("SELECT name, type FROM pragma_table_info('{table}')")).unwrap();
    query.query_map([], |row| Ok((row.get(0)?, row.get(1)?))).unwrap().map(Result::unwrap).collect()
}
