//! `holdfast timeline` as a company meets it: a file in, a page, an array or a table out.

use std::path::{Path, PathBuf};
use std::process::{Command, Output};

use serde_json::Value;

const QUAY: &str = r#"fight "The Salt Stair"
beats 4
tempo 60
fighters
  MARET rapier right
  OSK   rapier right
bystanders
  PELL
phrase "Across the quay"
  place MARET -1.5,3.0 facing OSK
  place PELL 3.5,5.0 facing 90
  1      MARET thrust belly / OSK parry 4 ! steel -20 ms -3 dB
  2+1/2  OSK cut flank right / MARET parry 3 ! steel "mind the rail"
  3      MARET walk -0.5,2.0 by 5
  tempo 60 -> 120 from 5 to 13
phrase "The wound" tempo 30
  1      OSK guard
"#;

#[test]
fn json_is_one_array_in_order_of_time() {
    let rows = rows(&["--count-in", "2"]);
    let seconds: Vec<f64> = rows.iter().map(|row| row["seconds"].as_f64().unwrap()).collect();
    assert!(seconds.is_sorted());
    for row in &rows {
        assert!(
            row["kind"].is_string() && row["phrase"].is_string() && row["beat"].is_string() && row["bar"].is_u64(),
            "{row}"
        );
    }
    let count_in: Vec<_> = rows
        .iter()
        .filter(|row| row["count_in"].is_u64())
        .map(|row| (row["seconds"].as_f64().unwrap(), row["beat"].as_str().unwrap(), row["bar"].as_u64().unwrap()))
        .collect();
    assert_eq!(count_in, [(-2.0, "-1", 0), (-1.0, "0", 0)]);
    assert_eq!(
        (&rows.last().unwrap()["kind"], &rows.last().unwrap()["beat"]),
        (&Value::from("end"), &Value::from("2"))
    );
}

#[test]
fn seconds_are_exact_to_the_microsecond_at_any_speed() {
    // A ramp 60 -> 120 over 8 beats from second 4 on takes 8·ln 2 seconds; at its middle beat it has taken 3.243721.
    for (speed, factor) in [("100", 1.0), ("50%", 2.0), ("10%", 10.0)] {
        let rows = rows(&["--speed", speed]);
        let beat = |label: &str| {
            let found = rows
                .iter()
                .find(|row| row["kind"] == "beat" && row["beat"] == label && row["phrase"] == "Across the quay");
            found.unwrap()["seconds"].as_f64().unwrap()
        };
        assert_eq!(beat("5"), 4.0 * factor);
        assert!((beat("9") - (4.0 + 3.243_721_f64) * factor).abs() < 2e-6 * factor);
        let end = rows.last().unwrap()["seconds"].as_f64().unwrap();
        assert_eq!(end, ((4.0 + 8.0 * 2f64.ln() + 2.0) * factor * 1e6).round() / 1e6);
    }
}

#[test]
fn each_kind_of_row_has_its_fields() {
    let rows = rows(&[]);
    let first = |kind: &str| rows.iter().find(|row| row["kind"] == kind).unwrap();
    let sound = first("sound");
    assert_eq!(
        (&sound["name"], sound["seconds"].as_f64(), sound["level_db"].as_f64(), &sound["move"]),
        (&Value::from("steel"), Some(-0.02), Some(-3.0), &Value::from(1))
    );
    let second = rows.iter().filter(|row| row["kind"] == "move").nth(1).unwrap();
    for (field, value) in [
        ("who", "OSK"),
        ("action", "cut"),
        ("target", "flank"),
        ("side", "right"),
        ("to", "MARET"),
        ("reply", "parry 3"),
        ("beat", "2+1/2"),
        ("text", "mind the rail"),
    ] {
        assert_eq!(second[field], Value::from(value));
    }
    assert_eq!((second["number"].as_u64(), second["seconds"].as_f64()), (Some(2), Some(1.5)));
    let guard = rows.iter().rfind(|row| row["kind"] == "move").unwrap();
    assert!(["target", "to", "reply"].iter().all(|field| guard.get(field) == Some(&Value::Null)));
    let walk = first("walk");
    assert_eq!(
        (&walk["who"], &walk["until"], walk["until_seconds"].as_f64()),
        (&Value::from("MARET"), &Value::from("5"), Some(4.0))
    );
    let ramp = rows.iter().find(|row| row["to_bpm"].is_f64()).unwrap();
    assert_eq!(
        (ramp["bpm"].as_f64(), ramp["to_bpm"].as_f64(), &ramp["beat"], &ramp["until"]),
        (Some(60.0), Some(120.0), &Value::from("5"), &Value::from("13"))
    );
    assert_eq!(first("place")["facing"], "OSK");
    assert_eq!(rows.iter().rfind(|row| row["kind"] == "place").unwrap()["facing_degrees"], 90.0);
}

#[test]
fn csv_says_what_json_says() {
    let output = timeline(QUAY, &["--format", "csv"]);
    let mut reader = csv::Reader::from_reader(output.stdout.as_slice());
    let heads = reader.headers().unwrap().clone();
    let table: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    let rows = rows(&[]);
    assert_eq!(table.len(), rows.len());
    for (record, row) in table.iter().zip(&rows) {
        for (name, value) in row.as_object().unwrap() {
            let cell =
                &record[heads.iter().position(|head| head == name).unwrap_or_else(|| panic!("no column {name}"))];
            match value {
                Value::String(text) => assert_eq!(cell, text),
                Value::Number(number) => assert_eq!(cell.parse::<f64>().unwrap(), number.as_f64().unwrap()),
                Value::Null => assert_eq!(cell, ""),
                Value::Bool(truth) => assert_eq!(cell, truth.to_string()),
                Value::Array(values) => {
                    assert_eq!(cell, values.iter().map(|it| it.as_str().unwrap()).collect::<Vec<_>>().join("+"))
                }
                Value::Object(_) => panic!("a row is flat"),
            }
        }
    }
}

#[test]
fn a_page_shows_what_happens_beside_its_beat() {
    let page = String::from_utf8(timeline(QUAY, &["--to", "1", "--count-in", "4"]).stdout).unwrap();
    for line in [
        "The Salt Stair: 1 phrase, 12 beats, 0:09.545 at 100 % of performance tempo, count-in of 4 beats",
        " -0:04.000      0  -3        count 1, 4 to go",
        "  0:01.500      1  2+1/2     OSK cut flank right / MARET parry 3  ! steel  \"mind the rail\"",
        "  0:04.000      2  5         tempo 60 to 120 by beat 13",
        "  0:04.000      2  5",
    ] {
        assert!(page.lines().any(|found| found == line), "{line}\n{page}");
    }
}

#[test]
fn a_wrong_phrase_lists_the_phrases() {
    for arguments in [["--from", "3"], ["--to", "Nowhere"]] {
        let output = timeline(QUAY, &arguments);
        assert_eq!(output.status.code(), Some(2));
        assert!(errors(&output).contains("1 \"Across the quay\", 2 \"The wound\""), "{}", errors(&output));
    }
    assert_eq!(timeline(QUAY, &["--from", "the w"]).status.code(), Some(0));
}

#[test]
fn what_cannot_be_used_is_said_with_exit_code_2() {
    let broken = timeline("fight \"One\"\nfighters\n  MARET rapier right\nphrase \"P\"\n  1 MARET dance\n", &[]);
    assert_eq!(broken.status.code(), Some(2));
    assert!(errors(&broken).contains(":5:") && broken.stdout.is_empty(), "{}", errors(&broken));
    for arguments in
        [["--speed", "9%"], ["--speed", "151"], ["--speed", "fast"], ["--count-in", "65"], ["--format", "xml"]]
    {
        assert_eq!(timeline(QUAY, &arguments).status.code(), Some(2), "{arguments:?}");
    }
    let missing = holdfast(&["timeline", "no-such.fight"]);
    assert_eq!((missing.status.code(), errors(&missing).contains("no file no-such.fight")), (Some(2), true));
}

fn rows(arguments: &[&str]) -> Vec<Value> {
    let output = timeline(QUAY, &[&["--format", "json"], arguments].concat());
    assert_eq!(output.status.code(), Some(0), "{}", errors(&output));
    serde_json::from_slice(&output.stdout).unwrap()
}

fn timeline(score: &str, arguments: &[&str]) -> Output {
    let folder = tempfile::tempdir().unwrap();
    let file = write(folder.path(), "quay.fight", score.as_bytes());
    holdfast(&[&["timeline", file.to_str().unwrap()], arguments].concat())
}

pub(crate) fn write(folder: &Path, name: &str, bytes: &[u8]) -> PathBuf {
    let file = folder.join(name);
    std::fs::write(&file, bytes).unwrap();
    file
}

pub(crate) fn holdfast(arguments: &[&str]) -> Output {
    Command::new(env!("CARGO_BIN_EXE_holdfast")).args(arguments).output().unwrap()
}

pub(crate) fn errors(output: &Output) -> String {
    String::from_utf8_lossy(&output.stderr).into_owned()
}
