//! A journal that was written before events had one shape is opened, gone on with, read, verified and reviewed as it was
//! then. `data/before/` holds the journal of an evening on a real server (a held, a stopped, a whole and a cut-off run,
//! checks, sounds, invitations, a saved score) and what `log` and `report` said of it on the day it was written.

use std::fs;
use std::path::{Path, PathBuf};
use std::process::Command;

use holdfast::journal::{FILE_NAME, verify};
use serde_json::Value;
use tempfile::TempDir;

use crate::journal::{hold, open, record_all};

fn kept(file: &str) -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/it/data/before").join(file)
}

fn text(file: &str) -> String {
    fs::read_to_string(kept(file)).unwrap()
}

/// A copy that may be written to.
fn copy() -> TempDir {
    let folder = tempfile::tempdir().unwrap();
    for file in [FILE_NAME, "journal.head"] {
        fs::copy(kept(file), folder.path().join(file)).unwrap();
    }
    folder
}

fn said(args: &[&str], place: &Path) -> String {
    let output = Command::new(env!("CARGO_BIN_EXE_holdfast")).args(args).arg(place).output().unwrap();
    assert!(output.status.success(), "{output:?}");
    String::from_utf8(output.stdout).unwrap()
}

fn json(text: &str) -> Vec<Value> {
    serde_json::from_str(text).unwrap()
}

/// Fields may be added, to an event and to what is in it; those that were there stay.
fn assert_holds(now: &Value, then: &Value, place: &str) {
    match (now, then) {
        (Value::Object(now), Value::Object(then)) => {
            for (key, then) in then {
                assert_holds(now.get(key).unwrap_or(&Value::Null), then, &format!("{place}.{key}"));
            }
        }
        (Value::Array(now), Value::Array(then)) => {
            assert_eq!(now.len(), then.len(), "{place}");
            now.iter().zip(then).for_each(|(now, then)| assert_holds(now, then, place));
        }
        (now, then) => assert_eq!(now, then, "{place}"),
    }
}

#[test]
fn the_log_of_a_journal_of_before_says_what_it_said() {
    let folder = copy();
    assert_eq!(said(&["log"], folder.path()), text("log.txt"));
    let (now, then) = (json(&said(&["log", "--format", "json"], folder.path())), json(&text("log.json")));
    assert_eq!(now.len(), then.len());
    for (number, (now, then)) in now.iter().zip(&then).enumerate() {
        assert_holds(now, then, &format!("event {}", number + 1));
    }
}

#[test]
fn the_review_of_a_journal_of_before_says_what_it_said() {
    let folder = copy();
    let report = |more: &[&str]| said(&[&["report", "--zone", "UTC"], more].concat(), folder.path());
    assert_eq!(report(&[]), text("report.txt"));
    let [now, mut then] = [report(&["--format", "json"]), text("report.json")]
        .map(|text| serde_json::from_str::<Value>(&text).expect("JSON"));
    // The ladder and its rule are today's.
    then.as_object_mut().expect("an object").remove("ladder_rule");
    let phrases =
        then["fights"].as_array_mut().expect("fights").iter_mut().flat_map(|fight| fight["phrases"].as_array_mut());
    phrases.flatten().for_each(|phrase| drop(phrase.as_object_mut().expect("a phrase").remove("ladder")));
    assert_holds(&now, &then, "report");
    assert_eq!(report(&["--format", "csv", "--table", "calls"]), text("calls.csv"));
}

#[test]
fn a_journal_of_before_is_whole_and_goes_on() {
    let folder = copy();
    let counts = |folder: &TempDir| {
        let verdict = verify(folder.path()).unwrap();
        assert!(verdict.whole, "{:?}", verdict.findings);
        (verdict.sessions, verdict.runs, verdict.events, verdict.holds)
    };
    assert_eq!(counts(&folder), (3, 4, 67, 2));
    let journal = open(folder.path());
    let opened = journal.opened();
    assert_eq!((opened.session, opened.last_run, opened.last_hold, opened.closed_well), (4, 4, 2, true));
    let people: Vec<(&str, bool)> = opened.members.iter().map(|it| (it.name.as_str(), it.revoked)).collect();
    assert_eq!(people[1..6], [("Ines", false), ("Bram", false), ("Lotte", false), ("Yusuf", false), ("Pim", true)]);
    assert_eq!(opened.members[4].part.as_deref(), Some("BRYONY"));
    assert!(opened.taps.iter().any(|tap| tap.tap == "a late tap" && tap.hold.is_none()), "{:?}", opened.taps);
    assert_eq!(record_all(&journal, &[hold(4, 3)]), [69]);
    journal.close().unwrap();
    assert_eq!(counts(&folder), (4, 4, 69, 3));
    let log = said(&["log"], folder.path());
    assert!(log.starts_with(&text("log.txt")) && log.contains("HOLD 3  Bea Lund"), "{log}");
}
