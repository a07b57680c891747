//! One judge: a page and the command say the same of the same text, by the production's own rules, words and recordings;
//! `check` takes files, folders and productions; a score that lies in none is judged alone, and that is said.

use std::fs;
use std::path::Path;

use holdfast::call::Role;
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;
use serde_json::{Value, json};

use crate::server_scores::Desk;
use crate::strategies::score_text;
use crate::timeline_command::{errors, holdfast};

/// So many texts are compared: fewer than a page may ask for at once.
const TEXTS: usize = 30;

/// A production that decides otherwise than the built-in rules in everything that can be decided.
fn of_its_own_mind(dir: &Path) {
    let config = fs::read_to_string(dir.join("production.toml")).unwrap();
    let config = config.replace("max_tempo = 180", "max_tempo = 70").replace("act_margin = 1.1", "act_margin = 2.0");
    let sets = "\n[weapon_sets.heavy]\nrapier = \"quarterstaff\"\ndagger = \"axe\"\n";
    fs::write(dir.join("production.toml"), config + sets).unwrap();
    let words = "[actions.cut]\nleast_ms = 900\n[replies.duck]\nactions = [\"slash\"]\n[weapons.boathook]\nblade_m = 1.0\ntotal_m = 2.0\nhands = 2\nsource = \"measured\"\n";
    fs::write(dir.join("vocabulary.toml"), words).unwrap();
    fs::write(dir.join("sounds/3 bells.wav"), "").unwrap();
    fs::create_dir(dir.join("patterns")).unwrap();
    let pattern = "pattern \"Ours\" for A, B\n  1 A cut flank right / B parry 4 ! steel\n";
    fs::write(dir.join("patterns/ours.fight"), pattern).unwrap();
}

/// Sound scores, and scores from which a line was lost, each with a fight's name of its own.
fn texts() -> Vec<String> {
    let mut runner = TestRunner::deterministic();
    let strategy = (score_text(), any::<prop::sample::Index>(), any::<bool>());
    let mut text = |number: usize| {
        let (text, lost, whole) = strategy.new_tree(&mut runner).unwrap().current();
        let lost = lost.index(text.lines().count());
        let lines = text.split_inclusive('\n').enumerate().filter(|(at, _)| whole || *at != lost);
        lines.map(|(_, line)| line).collect::<String>().replace("The # Stair", &format!("Stair {number}"))
    };
    let borrowed = "fight \"Borrowed\"\ntempo 60\nfighters\n  ANA rapier right\n  BO rapier right\nphrase \"One\"\n  use \"Ours\" at 1 by ANA, BO\n";
    (1..TEXTS).map(&mut text).chain([borrowed.to_owned()]).collect()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_page_and_the_command_judge_alike() {
    let desk = Desk::open_with(of_its_own_mind).await;
    let (_link, key) = desk.key(Role::Director, "Ana").await;
    let texts = texts();
    for (number, text) in texts.iter().enumerate() {
        fs::write(desk.dir.join(format!("scores/s{number:02}.fight")), text).unwrap();
    }
    let output = holdfast(&["check", "--format", "json", desk.dir.to_str().unwrap()]);
    let told: Value = serde_json::from_slice(&output.stdout).unwrap();
    let (mut seen, mut others) = (0, 0);
    for (number, text) in texts.iter().enumerate() {
        let (status, page) =
            desk.ask(&key, "check", &json!({ "file": "scores/first-steps.fight", "text": text })).await;
        assert_eq!(status, 200, "{page}");
        let file = desk.dir.join(format!("scores/s{number:02}.fight")).display().to_string();
        let mut own: Vec<Value> =
            told["findings"].as_array().unwrap().iter().filter(|it| it["file"] == json!(file)).cloned().collect();
        own.iter_mut().for_each(|finding| drop(finding.as_object_mut().unwrap().remove("file")));
        let page_findings = page["findings"].as_array().unwrap();
        assert_eq!(page_findings, &own, "{text}");
        seen += own.len();
        let row = told["files"].as_array().unwrap().iter().find(|it| it["file"] == json!(file)).unwrap();
        let limits = |phrases: &Value, limit: fn(&Value) -> Value| {
            phrases.as_array().unwrap().iter().map(limit).collect::<Vec<Value>>()
        };
        assert_eq!(
            limits(&row["phrases"], |it| it["bpm"].clone()),
            limits(&page["phrases"], |it| it["safe"]["bpm"].clone())
        );
        let with_set = &row["weapon_sets"][0];
        for (at, phrase) in page["phrases"].as_array().unwrap().iter().enumerate() {
            let set = phrase["with_sets"].as_array().unwrap().first();
            let safe = set.map_or(&phrase["safe"], |set| &set["safe"]);
            if !with_set.is_null() && with_set["phrases"][at].is_object() {
                assert_eq!(with_set["phrases"][at]["bpm"], safe["bpm"], "{text}");
                others += usize::from(set.is_some());
            }
        }
        assert_eq!(told["unchecked"], page["unchecked"]);
    }
    assert!(others > 0, "heavier weapons make some phrases slower");
    assert!(seen > TEXTS, "the texts give the checks something to say: {seen}");
    let codes: Vec<&str> = told["findings"].as_array().unwrap().iter().filter_map(|it| it["code"].as_str()).collect();
    assert!(codes.contains(&"H401") && codes.contains(&"T301"), "the company's limits count: {codes:?}");
    assert!(!told["findings"].to_string().contains("`3 bells`"), "the company's recordings are known");
    assert!(codes.contains(&"A104") && !codes.contains(&"S225"), "the company's patterns are known: {codes:?}");
    desk.house.stop().await;
}

#[test]
fn a_score_is_judged_by_the_production_it_lies_in_or_alone() {
    let folder = tempfile::tempdir().unwrap();
    let home = folder.path().join("quay");
    holdfast::production::start(&home).unwrap();
    of_its_own_mind(&home);
    let inside = home.join("scores/first-steps.fight");
    let outside = folder.path().join("first-steps.fight");
    let text = fs::read_to_string(&inside)
        .unwrap()
        .replace("tempo 60", "tempo 80")
        .replace("ALDER   rapier", "ALDER boathook");
    fs::write(&inside, &text).unwrap();
    fs::write(&outside, text.replace("boathook", "rapier")).unwrap();
    let said = |path: &Path| String::from_utf8(holdfast(&["check", path.to_str().unwrap()]).stdout).unwrap();
    let (by_production, alone) = (said(&inside), said(&outside));
    assert!(
        by_production.contains("[H401]") && by_production.contains("Judged by the rules and words of quay"),
        "{by_production}"
    );
    assert!(!alone.contains("[H401]") && alone.contains("Judged by the built-in rules"), "{alone}");
    // A folder, a production and its files give the same.
    let counts = |page: &str| page.lines().find(|line| line.contains(": First Steps:")).map(str::to_owned).unwrap();
    assert_eq!(counts(&said(&home)), counts(&by_production));
    assert_eq!(counts(&said(&home.join("scores"))), counts(&by_production));
    assert_eq!(counts(&said(folder.path())), counts(&alone));
    assert!(alone.contains("Where people stand was not checked") && alone.contains("planning values"), "{alone}");
    let on_stage = "were checked from marks, walks and the stage's plan";
    assert!(by_production.contains(on_stage) && by_production.contains("planning values"), "{by_production}");
    // The sheet, the timeline and the practice track read it by the same words: none of them knows a boathook alone.
    for command in [&["sheet"][..], &["timeline"]] {
        assert!(holdfast(&[command, &[inside.to_str().unwrap()]].concat()).status.success(), "{command:?}");
    }
    let empty = folder.path().join("empty");
    fs::create_dir(&empty).unwrap();
    let refused = holdfast(&["check", empty.to_str().unwrap()]);
    assert_eq!((refused.status.code(), errors(&refused).contains("has no scores")), (Some(2), true));
    fs::write(home.join("production.toml"), "name = 3").unwrap();
    assert_eq!(holdfast(&["check", inside.to_str().unwrap()]).status.code(), Some(2));
}
