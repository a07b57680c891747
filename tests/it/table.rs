//! A fight as a table: what goes out comes in again as the same moves, and what is not understood is kept and listed.

use std::fs;

use crate::timeline_command::{errors, holdfast};

const BRIDGE: &str = concat!(env!("CARGO_MANIFEST_DIR"), "/configs/demo/scores/lantern-bridge.fight");

fn moves(score: &str) -> Vec<String> {
    let output = holdfast(&["timeline", score, "--format", "csv"]);
    let text = String::from_utf8(output.stdout).unwrap();
    let mut reader = csv::Reader::from_reader(text.as_bytes());
    let headings = reader.headers().unwrap().clone();
    let column = |name: &str| headings.iter().position(|it| it == name).unwrap();
    let (kind, rest) = (
        column("kind"),
        ["phrase", "beat", "who", "action", "target", "side", "to", "reply", "sounds", "text"].map(column),
    );
    let rows = reader.records().map(Result::unwrap).filter(|row| &row[kind] == "move");
    rows.map(|row| rest.map(|at| row[at].to_owned()).join("|")).collect()
}

#[test]
fn what_goes_out_comes_in_again() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (table, score) = (path("bridge.csv"), path("bridge.fight"));
    assert!(holdfast(&["export", BRIDGE, "--csv", &table]).status.success());
    let arguments = [
        "import",
        &table,
        "--out",
        &score,
        "--fight",
        "Bridge",
        "--fighter",
        "TAVISH rapier right",
        "--fighter",
        "ORSINA rapier left",
        "--phrase",
        "phrase",
        "--beat",
        "beat",
        "--attack",
        "attack",
        "--reply",
        "reply",
        "--sounds",
        "sounds",
        "--words",
        "words",
    ];
    let output = holdfast(&arguments);
    assert_eq!(output.status.code(), Some(0), "{}{}", String::from_utf8_lossy(&output.stdout), errors(&output));
    assert_eq!(moves(&score), moves(BRIDGE));
    // It is in columns already, and what is there is not overwritten.
    assert_eq!(holdfast(&["fmt", "--check", &score]).status.code(), Some(0));
    assert_eq!(holdfast(&arguments).status.code(), Some(2));
}

#[test]
fn headings_are_asked_for_and_rows_that_are_not_understood_are_listed() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).to_str().unwrap().to_owned();
    let (table, score) = (path("old.csv"), path("old.fight"));
    fs::write(&table, "\u{feff}Nr,Angriff,Abwehr\r\n1,MARET cut head,OSK parry 5\r\n2,\"she spins, laughing\",\r\n3,OSK cut head,MARET parry 5\r\n").unwrap();
    let base = [
        "import",
        &table,
        "--out",
        &score,
        "--fight",
        "Old",
        "--fighter",
        "MARET rapier right",
        "--fighter",
        "OSK rapier right",
    ];
    let asked = holdfast(&base);
    assert_eq!((asked.status.code(), errors(&asked).contains("Nr, Angriff, Abwehr")), (Some(2), true));
    let wrong = holdfast(&[&base[..], &["--attack", "Attack"]].concat());
    assert_eq!((wrong.status.code(), errors(&wrong).contains("no column `Attack`")), (Some(2), true));
    let made = holdfast(&[&base[..], &["--attack", "Angriff", "--reply", "Abwehr", "--beat", "Nr"]].concat());
    let said = String::from_utf8(made.stdout).unwrap();
    assert_eq!(
        (made.status.code(), said.contains("2 moves, and 1 to look at"), said.contains("row 2:")),
        (Some(1), true, true),
        "{said}"
    );
    let text = fs::read_to_string(&score).unwrap();
    assert!(text.contains("# row 2: 2 | she spins, laughing"), "{text}");
    assert_eq!(moves(&score).len(), 2);
}
