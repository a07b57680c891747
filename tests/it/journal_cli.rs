//! `holdfast log` and `holdfast verify`: what they print, and how they exit.

use std::path::Path;
use std::process::{Command, Output};

use holdfast::event::Spot;
use holdfast::journal::{FILE_NAME, Record};
use holdfast::time::utc_now;
use serde_json::Value;

use crate::journal::{begun, called, ended, event_of, open, record_all, release, revision, spot};
use crate::review::{Hall, TEXT};

#[test]
fn log_prints_the_documented_fields_and_null_for_what_does_not_apply() {
    let folder = a_call();
    // A production folder, its data folder and the file are all the same journal.
    let places = [folder.path().to_path_buf(), folder.path().join("data"), folder.path().join("data").join(FILE_NAME)];
    let printed: Vec<Value> = places.iter().map(|place| json(&holdfast(&["log", "--format", "json"], place))).collect();
    assert!(printed.windows(2).all(|pair| pair[0] == pair[1]));

    let events = printed[0].as_array().unwrap();
    let fields = [
        "seq",
        "id",
        "utc",
        "session",
        "server_us",
        "run",
        "fight",
        "revision",
        "begun",
        "kind",
        "who",
        "member",
        "role",
        "phrase",
        "phrase_index",
        "beat",
        "move",
        "words",
        "speed",
        "reason",
        "hold",
        "tap",
        "screen",
        "detail",
    ];
    let help = String::from_utf8(holdfast(&["log", "--help"], Path::new(".")).stdout).unwrap();
    for event in events {
        let mut found: Vec<&str> = event.as_object().unwrap().keys().map(String::as_str).collect();
        let mut expected = fields.to_vec();
        found.sort_unstable();
        expected.sort_unstable();
        assert_eq!(found, expected);
    }
    for field in fields {
        assert!(help.contains(&format!("  {field} ")), "{field} is not documented in\n{help}");
    }
    assert_eq!(
        (&events[0]["kind"], &events[0]["who"], &events[0]["run"]),
        (&"session".into(), &Value::Null, &Value::Null)
    );
    let hold = &events[1];
    let expected = serde_json::json!({
        "seq": 2, "run": 1, "kind": "hold", "who": "Bea Lund", "role": "performer", "phrase": "Across the quay",
        "beat": "4+1/2", "move": 4, "words": "MARET bind / OSK yield", "speed": 50, "reason": "grip slipped", "hold": 1,
    });
    for (field, value) in expected.as_object().unwrap() {
        assert_eq!(&hold[field], value, "{field}");
    }
    assert_eq!(hold["screen"]["beat"], "4");
}

#[test]
fn log_tells_a_run_wholly() {
    let folder = tempfile::tempdir().unwrap();
    let mut hall = Hall::open(folder.path());
    hall.run(TEXT, 65, Some((1, 1)));
    hall.close();
    let events = json(&holdfast(&["log", "--format", "json"], folder.path()));
    let of_kind = |kind: &str| events.as_array().unwrap().iter().find(|event| event["kind"] == kind).unwrap();
    let start = of_kind("start");
    let told = serde_json::json!({
        "from": "one", "from_index": 0, "from_move": null, "to": "two", "to_index": 1, "speed": 65, "count_in": 4,
        "drive": "clock", "weapons": null,
        "cast": [
            { "part": "A", "person": "Bea", "member": 1, "covers": null },
            { "part": "B", "person": "Cem", "member": 2, "covers": null },
        ],
    });
    assert_eq!(start["begun"], told);
    let hold = of_kind("hold");
    assert_eq!((&hold["fight"], &hold["revision"], &hold["begun"]), (&"F".into(), &start["revision"], &Value::Null));
    assert_eq!(start["revision"].as_str().unwrap().len(), 64);
    assert_eq!(of_kind("session")["fight"], Value::Null);
}

#[test]
fn log_reads_like_a_log() {
    let folder = a_call();
    let text = String::from_utf8(holdfast(&["log"], folder.path()).stdout).unwrap();
    let line = text.lines().find(|line| line.contains("HOLD 1")).unwrap();
    let told = "HOLD 1  Bea Lund (performer)  at \"Across the quay\" beat 4+1/2, move 4: MARET bind / OSK yield  50 %  \
                \"grip slipped\"  (their screen was at \"Across the quay\" beat 4, move 4: MARET bind / OSK yield)";
    assert!(line.ends_with(told), "{line}");
    let only = String::from_utf8(holdfast(&["log", "--kind", "release", "--run", "1"], folder.path()).stdout).unwrap();
    assert!(only.contains("release (hold 1)") && !only.contains("HOLD"), "{only}");
    let none = holdfast(&["log", "--run", "9"], folder.path());
    assert!(none.status.success() && String::from_utf8(none.stdout).unwrap().starts_with("Nothing of that kind"));
}

#[test]
fn verify_exits_by_what_it_found() {
    let folder = a_call();
    let whole = holdfast(&["verify"], folder.path());
    assert_eq!(whole.status.code(), Some(0));
    assert!(String::from_utf8(whole.stdout).unwrap().ends_with("The journal is whole.\n"));
    assert_eq!(json(&holdfast(&["verify", "--format", "json"], folder.path()))["holds"], 1);

    let file = folder.path().join("data").join(FILE_NAME);
    let mut bytes = std::fs::read(&file).unwrap();
    let at = bytes.windows(12).position(|w| w == b"grip slipped").unwrap();
    bytes[at] = b'G';
    std::fs::write(&file, &bytes).unwrap();
    let damaged = holdfast(&["verify"], folder.path());
    assert_eq!(damaged.status.code(), Some(1));
    let said = String::from_utf8(damaged.stdout).unwrap();
    assert!(said.contains("Found: [altered] at event 2, ") && said.contains("NOT whole"), "{said}");

    bytes[20..].fill(0);
    std::fs::write(&file, &bytes).unwrap();
    let nowhere = folder.path().join("nowhere");
    for (command, place) in [("verify", file.as_path()), ("verify", &nowhere), ("log", &nowhere)] {
        let refused = holdfast(&[command], place);
        assert_eq!(refused.status.code(), Some(2), "{refused:?}");
        assert!(refused.stdout.is_empty() && String::from_utf8(refused.stderr).unwrap().ends_with(".\n"));
    }
}

#[test]
fn an_unknown_kind_is_answered_with_the_known_ones() {
    let refused = holdfast(&["log", "--kind", "holds"], Path::new("."));
    let said = String::from_utf8(refused.stderr).unwrap();
    assert_eq!(refused.status.code(), Some(2));
    assert!(said.contains("'hold'") && said.contains("link-lost"), "{said}");
}

fn a_call() -> tempfile::TempDir {
    let folder = tempfile::tempdir().unwrap();
    let journal = open(&folder.path().join("data"));
    let screen = Spot { beat: "4".to_owned(), ..spot() };
    let call = Record::of(utc_now(), event_of(1, called(1, Some(screen))));
    record_all(&journal, &[revision(), begun(1), call, release(1, 1), ended(1)]);
    journal.close().unwrap();
    folder
}

fn holdfast(args: &[&str], place: &Path) -> Output {
    Command::new(env!("CARGO_BIN_EXE_holdfast")).args(args).arg(place).output().unwrap()
}

fn json(output: &Output) -> Value {
    serde_json::from_slice(&output.stdout).unwrap()
}
