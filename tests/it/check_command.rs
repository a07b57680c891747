//! `holdfast check`: exit codes that scripts can use, and the same findings for people and programs.

use std::process::Output;

use serde_json::Value;

use crate::timeline_command::{errors, holdfast, write};

const CLEAN: &str = "fight \"Little\"\ntempo 60\nfighters\n  MARET rapier right\n  OSK rapier right\nphrase \"One\"\n  1 MARET cut head / OSK parry 5 ! steel\n  2 MARET cut head / OSK parry 5 ! steel\nphrase \"Two\"\n  rest 2\n";

#[test]
fn exit_codes_tell_clean_wrong_and_unusable() {
    let rows = [
        ("clean", CLEAN.to_owned(), 0, 0),
        ("advice", CLEAN.replace(" ! steel", ""), 0, 0),
        ("warning", CLEAN.replace("tempo 60", "tempo 110"), 0, 1),
        ("error of the checks", CLEAN.replace(" / OSK parry 5", ""), 1, 1),
        ("error of the grammar", CLEAN.replace("cut head", "cut haed"), 1, 1),
    ];
    for (what, text, code, strict) in rows {
        assert_eq!(check(text.as_bytes(), &[]).status.code(), Some(code), "{what}");
        assert_eq!(check(text.as_bytes(), &["--strict"]).status.code(), Some(strict), "{what}, strict");
    }
    let bytes = check(b"fight \"\xff\"", &[]);
    assert_eq!((bytes.status.code(), errors(&bytes).contains("not text in UTF-8 (line 1)")), (Some(2), true));
    assert_eq!(holdfast(&["check", "no-such.fight"]).status.code(), Some(2));
    assert_eq!(holdfast(&["check"]).status.code(), Some(2));
}

#[test]
fn people_see_the_line_and_programs_its_number() {
    let wrong = CLEAN.replace("  2 MARET cut head / OSK parry 5", "  2 MARET cut head / OSK parry 4");
    let page = String::from_utf8(check(wrong.as_bytes(), &[]).stdout).unwrap();
    assert!(page.contains("error[A104]: parry 4 leaves the head open") && page.contains(".fight:8:"), "{page}");
    let json = json(&check(wrong.as_bytes(), &["--format", "json"]));
    let finding = &json["findings"][0];
    assert_eq!(
        (&finding["code"], &finding["severity"], finding["line"].as_u64()),
        (&Value::from("A104"), &Value::from("error"), Some(8))
    );
    assert!(finding["help"].as_str().unwrap().contains("parry 5"));
    assert_eq!((json["files"][0]["errors"].as_u64(), json["files"][0]["warnings"].as_u64()), (Some(1), Some(0)));
}

#[test]
fn the_summary_tells_the_fastest_safe_tempo_of_each_phrase() {
    let page = String::from_utf8(check(CLEAN.as_bytes(), &[]).stdout).unwrap();
    // A cut needs 0.5 s and a tenth of it to be safe: 60 / 0.55 = 109.09 beats a minute.
    assert!(page.contains("One  109 beats a minute (181 %) at beat 2: MARET cut head / OSK parry 5"), "{page}");
    assert!(page.contains("Two  nothing limits it"), "{page}");
    let json = json(&check(CLEAN.as_bytes(), &["--format", "json"]));
    let phrases = &json["files"][0]["phrases"];
    assert!((phrases[0]["bpm"].as_f64().unwrap() - 60.0 / 0.55).abs() < 1e-6);
    assert_eq!(
        (phrases[0]["move"].as_u64(), phrases[0]["line"].as_u64(), &phrases[0]["who"]),
        (Some(2), Some(8), &Value::from("MARET"))
    );
    assert_eq!(phrases[1]["bpm"], Value::Null);
}

#[test]
fn several_files_are_checked_and_the_worst_decides() {
    let folder = tempfile::tempdir().unwrap();
    let good = write(folder.path(), "good.fight", CLEAN.as_bytes());
    let bad = write(folder.path(), "bad.fight", CLEAN.replace(" / OSK parry 5", "").as_bytes());
    let (good, bad) = (good.to_str().unwrap(), bad.to_str().unwrap());
    assert_eq!(holdfast(&["check", good, bad]).status.code(), Some(1));
    let output = holdfast(&["check", good, "no-such.fight", bad, "--format", "json"]);
    assert_eq!(output.status.code(), Some(2));
    let json = json(&output);
    assert_eq!(json["files"].as_array().unwrap().len(), 3);
    assert!(json["files"][1]["unusable"].as_str().unwrap().contains("no-such.fight"));
    assert!(json["findings"].as_array().unwrap().iter().all(|finding| finding["file"] == bad));
}

#[test]
fn a_vocabulary_of_the_production_is_laid_over_the_built_in_one() {
    let folder = tempfile::tempdir().unwrap();
    let score = write(folder.path(), "a.fight", CLEAN.as_bytes());
    let words = write(folder.path(), "words.toml", b"[actions.cut]\nleast_ms = 2000\n");
    let broken = write(folder.path(), "broken.toml", b"[actions.cut]\nleast_ms = \"long\"\n");
    let run = |words: &str| holdfast(&["check", score.to_str().unwrap(), "--vocabulary", words]);
    assert_eq!(run(words.to_str().unwrap()).status.code(), Some(1));
    let refused = run(broken.to_str().unwrap());
    assert_eq!(
        (refused.status.code(), errors(&refused).contains("broken.toml, line 2")),
        (Some(2), true),
        "{}",
        errors(&refused)
    );
}

fn check(score: &[u8], arguments: &[&str]) -> Output {
    let folder = tempfile::tempdir().unwrap();
    let file = write(folder.path(), "little.fight", score);
    holdfast(&[&["check", file.to_str().unwrap()], arguments].concat())
}

fn json(output: &Output) -> Value {
    serde_json::from_slice(&output.stdout).unwrap()
}
