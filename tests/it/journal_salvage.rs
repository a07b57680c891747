//! What is good of a damaged journal comes into a new one, and nothing else does; the damaged one is left as it is.

use std::collections::BTreeMap;
use std::fs;
use std::path::Path;

use holdfast::journal::{EventFilter, FILE_NAME, Journal, JournalError, Reader, Record, salvage, verify};
use holdfast::server::session_start;
use proptest::prelude::*;
use rusqlite::Connection;
use rusqlite::types::Value;

use crate::journal::{begun, contents, ended, hold, records, revision};
use crate::journal_damage::{all_rows, another, closed, columns, edit};

type Rows = BTreeMap<(&'static str, i64), Vec<Value>>;

/// Every row of a journal, seal and all.
fn rows(file: &Path) -> Rows {
    let db = Connection::open(file).unwrap();
    let row = |(table, link): (&'static str, i64)| {
        let width = columns(&db, table).len();
        let values = db.query_row(&format!("SELECT * FROM {table} WHERE link = ?"), [link], |row| {
            (0..width).map(|at| row.get(at)).collect::<Result<Vec<Value>, _>>()
        });
        ((table, link), values.unwrap())
    };
    all_rows(&db).into_iter().map(row).collect()
}

/// A journal of several pages.
fn long() -> Vec<Record> {
    let holds = (1..=300).map(|number| hold(1, number));
    [revision(), begun(1)].into_iter().chain(holds).chain([ended(1)]).collect()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    #[test]
    fn rows_that_nobody_touched_come_back_as_they_were_and_no_other(
        records in records(),
        harmed in prop::collection::vec((any::<prop::sample::Index>(), any::<prop::sample::Index>(), any::<bool>()), 1..4),
    ) {
        let folder = closed(&records);
        let file = folder.path().join(FILE_NAME);
        let mut expected = rows(&file);
        let keys: Vec<_> = expected.keys().copied().collect();
        edit(&file, |db| for (which, column, remove) in &harmed {
            let (table, link) = *which.get(&keys);
            if *remove {
                db.execute(&format!("DELETE FROM {table} WHERE link = ?"), [link]).unwrap();
                expected.remove(&(table, link));
                continue;
            }
            // Any column but the place of the row; a seal that was damaged is made anew from its neighbours.
            let columns: Vec<_> = columns(db, table).into_iter().filter(|(name, _)| name != "link").collect();
            let (name, kind) = column.get(&columns);
            let other = another(name, kind);
            db.execute(&format!("UPDATE {table} SET {name} = {other} WHERE link = ?"), [link]).unwrap();
            if name != "seal" {
                expected.remove(&(table, link));
            }
        });
        let before = contents(folder.path());
        let to = tempfile::tempdir().unwrap();
        let salvaged = salvage(folder.path(), to.path()).unwrap();
        prop_assert_eq!(contents(folder.path()), before, "the damaged one is left as it is");
        let found = rows(&salvaged.journal);
        prop_assert_eq!(found.len() as u64, salvaged.rows);
        // Of a row that was harmed itself, or has two harms beside it, nobody can tell what is good.
        let close = |(_, link): &(&str, i64)| {
            let harms = |at: i64| harmed.iter().filter(|(which, ..)| which.get(&keys).1 == at).count();
            harms(*link) > 0 || (link - 2..=link + 1).map(harms).sum::<usize>() > 1
        };
        for (key, row) in &expected {
            prop_assert!(found.get(key) == Some(row) || close(key), "{key:?} is missing or another: {:?}", found.get(key));
        }
        for key in found.keys() {
            prop_assert!(expected.contains_key(key) || close(key), "{key:?} was altered and is there");
        }
        if found.len() < keys.len() {
            prop_assert!(!salvaged.lost.is_empty());
        }
    }

    #[test]
    fn of_a_file_with_a_bad_page_the_rest_comes_back(page in any::<prop::sample::Index>(), garbage in any::<bool>()) {
        let folder = closed(&long());
        let file = folder.path().join(FILE_NAME);
        let sound = rows(&file);
        let mut bytes = fs::read(&file).unwrap();
        let pages = bytes.len() / 4_096;
        // The first page says what the file is: without it there is nothing to be looked at.
        let at = 4_096 * (1 + page.index(pages - 1));
        bytes[at..at + 4_096].fill(if garbage { 0xA5 } else { 0 });
        fs::write(&file, &bytes).unwrap();
        let to = tempfile::tempdir().unwrap();
        match salvage(folder.path(), to.path()) {
            Ok(salvaged) => {
                for (key, row) in rows(&salvaged.journal) {
                    prop_assert_eq!(sound.get(&key), Some(&row), "{:?}", key);
                }
                let verdict = verify(to.path()).unwrap();
                let wrong = verdict.findings.iter().find(|finding| ["pages", "altered", "unreadable", "tables"].contains(&finding.code));
                prop_assert!(wrong.is_none(), "{wrong:?}");
            }
            // Of a page with the list of tables nothing can be read.
            Err(error) => prop_assert!(matches!(error, JournalError::Damaged { .. }), "{error}"),
        }
    }
}

#[test]
fn most_of_a_long_journal_comes_back_and_it_goes_on() {
    let folder = closed(&long());
    let file = folder.path().join(FILE_NAME);
    let sound = rows(&file);
    // A leaf in the middle of the events: one of the pages with a text of theirs.
    let text = b"Across the quay";
    let mut bytes = fs::read(&file).unwrap();
    let places: Vec<usize> =
        bytes.windows(text.len()).enumerate().filter(|(_, found)| found == text).map(|(at, _)| at / 4_096).collect();
    let leaf = places[places.len() / 2];
    bytes[leaf * 4_096..(leaf + 1) * 4_096].fill(0xA5);
    fs::write(&file, &bytes).unwrap();
    assert!(
        Journal::open(folder.path(), &session_start())
            .is_err_and(|error| error.to_string().contains("holdfast salvage"))
    );

    let to = tempfile::tempdir().unwrap();
    let program = env!("CARGO_BIN_EXE_holdfast");
    let made = std::process::Command::new(program).arg("salvage").args([folder.path(), to.path()]).output().unwrap();
    let says = String::from_utf8(made.stdout).unwrap();
    assert!(made.status.code() == Some(1) && says.contains("Left out: Rows "), "{says}");
    let found = rows(&to.path().join(FILE_NAME));
    assert!(found.len() < sound.len() && found.len() > sound.len() * 3 / 4, "{} of {}", found.len(), sound.len());
    assert!(verify(to.path()).unwrap().findings.iter().any(|finding| finding.code == "missing"));

    // A second time it is not written over, and a server goes on with it.
    assert!(matches!(salvage(folder.path(), to.path()), Err(JournalError::Unwritable { .. })));
    let journal = Journal::open(to.path(), &session_start()).unwrap();
    assert_eq!(journal.opened().last_hold, 300);
    journal.close().unwrap();
    let events = Reader::open(to.path()).unwrap().events(EventFilter::default()).unwrap();
    assert!(events.len() > 200, "{}", events.len());
}

#[test]
fn of_a_sound_journal_nothing_is_left_out() {
    let folder = closed(&long());
    let to = tempfile::tempdir().unwrap();
    let salvaged = salvage(folder.path(), to.path()).unwrap();
    assert_eq!((salvaged.lost, rows(&salvaged.journal)), (Vec::new(), rows(&folder.path().join(FILE_NAME))));
    assert!(verify(to.path()).unwrap().whole);
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(12))]

    /// The commands for people and programs give what the salvage gives, and name what it left out.
    #[test]
    fn log_and_report_give_every_good_row_and_say_that_there_are_others(
        harmed in prop::collection::vec(any::<prop::sample::Index>(), 0..3),
        page in prop::option::of(any::<prop::sample::Index>()),
    ) {
        let folder = closed(&long());
        let file = folder.path().join(FILE_NAME);
        let keys: Vec<_> = rows(&file).keys().copied().collect();
        edit(&file, |db| for which in &harmed {
            let (table, link) = *which.get(&keys);
            db.execute(&format!("DELETE FROM {table} WHERE link = ?"), [link]).unwrap();
        });
        if let Some(page) = page {
            let mut bytes = fs::read(&file).unwrap();
            let at = 4_096 * (1 + page.index(bytes.len() / 4_096 - 1));
            bytes[at..at + 4_096].fill(0xA5);
            fs::write(&file, &bytes).unwrap();
        }
        let before = contents(folder.path());
        let run = |words: &[&str]| {
            let program = env!("CARGO_BIN_EXE_holdfast");
            std::process::Command::new(program).args(words).arg(folder.path()).output().unwrap()
        };
        let to = tempfile::tempdir().unwrap();
        let salvaged = salvage(folder.path(), to.path());
        for words in [["log", "--format", "json"], ["report", "--format", "json"]] {
            let said = run(&words);
            let errors = String::from_utf8(said.stderr).unwrap();
            match &salvaged {
                Err(_) => prop_assert_eq!(said.status.code(), Some(2), "{}", errors),
                Ok(salvaged) => {
                    let whole = salvaged.lost.is_empty() && page.is_none();
                    prop_assert_eq!(said.status.code() == Some(0), whole, "{:?}: {}", words, errors);
                    for lost in salvaged.lost.iter().take(3) {
                        prop_assert!(errors.contains(lost.as_str()), "{lost} is not said: {errors}");
                    }
                    let given: serde_json::Value = serde_json::from_slice(&said.stdout).unwrap();
                    if words[0] == "log" {
                        let good = Reader::open(to.path()).unwrap().events(EventFilter::default()).unwrap();
                        let good: Vec<u64> = good.iter().map(|row| row.seq).collect();
                        let given: Vec<u64> =
                            given.as_array().unwrap().iter().map(|event| event["seq"].as_u64().unwrap()).collect();
                        prop_assert_eq!(given, good);
                    }
                }
            }
        }
        prop_assert_eq!(contents(folder.path()), before, "the damaged one is left as it is");
    }
}
