//! A stage is begun from the score page where there is none: one plain plan, however many begin it at once; what is in the folder
//! already is not touched. From then on the fights are checked on it.

use std::fs;

use holdfast::call::Role;
use holdfast::production::PLAIN_STAGE;
use serde_json::{Value, json};

use crate::server_scores::Desk;

const FIGHT: &str = "scores/first-steps.fight";

async fn without_a_stage() -> Desk {
    Desk::open_with(|dir| fs::remove_file(dir.join("stage.toml")).unwrap()).await
}

fn on_disk(desk: &Desk) -> String {
    fs::read_to_string(desk.dir.join("stage.toml")).unwrap()
}

/// What the checks say of the fight with somebody far off any stage.
async fn said_of_far_off(desk: &Desk, key: &str) -> Vec<String> {
    let text = fs::read_to_string(desk.dir.join(FIGHT)).unwrap();
    let at = text.lines().find(|line| line.trim_start().starts_with("place ")).unwrap().to_owned();
    let who = at.split_whitespace().nth(1).unwrap();
    let text = text.replacen(&at, &format!("place {who} -40.0,3.0"), 1);
    let (_, report) = desk.ask(key, "check", &json!({ "file": FIGHT, "text": text })).await;
    let findings = report["findings"].as_array().unwrap();
    findings.iter().map(|it| it["message"].as_str().unwrap().to_owned()).collect()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_stage_is_begun_once_and_the_fights_are_checked_on_it() {
    let desk = without_a_stage().await;
    let (_one, director) = desk.key(Role::Director, "Runa").await;
    let (_two, manager) = desk.key(Role::Desk, "Ines").await;
    let (_three, player) = desk.key(Role::Performer, "Lotte").await;
    let (_, list) = desk.ask(&director, "list", &json!({})).await;
    assert_eq!(list["stage"], Value::Null);
    let file = json!({ "file": FIGHT });
    let (_, news) = desk.ask(&manager, "here", &file).await;
    let off = |said: &[String]| said.iter().any(|it| it.contains("playing area"));
    assert!(!off(&said_of_far_off(&desk, &director).await), "nothing is known of a stage");
    let (status, _) = desk.ask(&player, "new-stage", &json!({})).await;
    assert_eq!(status, 403, "only who may save scores");
    // Two begin it at the same moment, and one of them once more.
    let begin = |key: &str| {
        let key = key.to_owned();
        let desk = &desk;
        async move { desk.ask(&key, "new-stage", &json!({})).await }
    };
    let answers: [(u16, Value); 3] = tokio::join!(begin(&director), begin(&manager), begin(&manager)).into();
    assert!(answers.iter().all(|(status, told)| *status == 200 && told["file"] == "stage.toml"), "{answers:?}");
    assert_eq!(answers.iter().filter(|(_, told)| told["begun"] == json!(true)).count(), 1, "{answers:?}");
    assert_eq!(on_disk(&desk), PLAIN_STAGE);
    let (_, list) = desk.ask(&director, "list", &json!({})).await;
    assert_eq!(list["stage"], "stage.toml");
    let said = said_of_far_off(&desk, &director).await;
    assert!(off(&said), "{said:?}");
    // Another page hears that the checks go by something else now.
    let (_, now) = desk.ask(&manager, "here", &file).await;
    assert_ne!(now["judged_by"], news["judged_by"]);
    let (_, again) = desk.ask(&manager, "here", &file).await;
    assert_eq!(again["judged_by"], now["judged_by"]);
    let (_, revisions) = desk.ask(&director, "revisions", &json!({ "file": "stage.toml" })).await;
    assert_eq!(revisions["revisions"].as_array().unwrap().len(), 1, "{revisions}");
    // Both draw from the same text on, and what both drew is there.
    let save = |text: &str| json!({ "file": "stage.toml", "base": PLAIN_STAGE, "text": text, "why": "Measured." });
    let (_, saved) = desk.ask(&director, "save", &save(&PLAIN_STAGE.replacen("drop = 1.05", "drop = 1.2", 1))).await;
    assert_eq!(saved["outcome"], "saved", "{saved}");
    let begun = json!({ "text": PLAIN_STAGE, "change": { "set": { "act": "begin", "set": "attic", "fights": ["First Steps"] } } });
    let (status, told) = desk.ask(&manager, "stage", &begun).await;
    assert_eq!(status, 200, "{told}");
    assert_eq!(told["sets"][1]["fights"], json!(["First Steps"]));
    let (_, saved) = desk.ask(&manager, "save", &save(told["text"].as_str().unwrap())).await;
    assert_eq!(saved["outcome"], "merged", "{saved}");
    let now = on_disk(&desk);
    assert!(now.contains("drop = 1.2") && now.contains("[sets.attic]\nfights = [\"First Steps\"]"), "{now}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_appears_in_the_folder_meanwhile_is_not_overwritten() {
    let desk = without_a_stage().await;
    let (_one, director) = desk.key(Role::Director, "Runa").await;
    let theirs = "area = [[-3, 0], [3, 0], [3, 5], [-3, 5]] # the studio\n";
    fs::write(desk.dir.join("stage.toml"), theirs).unwrap();
    let (_, told) = desk.ask(&director, "new-stage", &json!({})).await;
    assert_eq!(told, json!({ "file": "stage.toml", "begun": false }));
    assert_eq!(on_disk(&desk), theirs);
    let (_, opened) = desk.ask(&director, "open", &json!({ "file": "stage.toml" })).await;
    assert_eq!(opened["text"], theirs);
}

#[cfg(unix)]
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn where_it_cannot_be_written_a_sentence_says_so() {
    let desk = without_a_stage().await;
    let (_one, director) = desk.key(Role::Director, "Runa").await;
    // A link to nowhere is something that is there.
    std::os::unix::fs::symlink(desk.dir.join("elsewhere/stage.toml"), desk.dir.join("stage.toml")).unwrap();
    let (status, told) = desk.ask(&director, "new-stage", &json!({})).await;
    assert_eq!((status, &told["begun"]), (200, &json!(false)), "{told}");
    let (status, told) = desk.ask(&director, "open", &json!({ "file": "stage.toml" })).await;
    assert_eq!(status, 422, "{told}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_set_is_for_fights_that_are_there_and_a_merge_stays_a_plan() {
    let desk = Desk::open_with(|_| {}).await;
    let (_one, director) = desk.key(Role::Director, "Runa").await;
    let (_two, manager) = desk.key(Role::Desk, "Ines").await;
    let change = |text: &str, change: Value| json!({ "text": text, "change": { "set": change } });
    let (_, told) = desk.ask(&director, "stage", &json!({ "text": PLAIN_STAGE, "change": null })).await;
    let named: Vec<&str> =
        told["for_sets"].as_array().unwrap().iter().map(|it| it["named"].as_str().unwrap()).collect();
    assert!(named.contains(&"First Steps") && named.contains(&"First Steps: The answer"), "{named:?}");
    let unknown = json!({ "act": "begin", "set": "attic", "fights": ["The Roof"] });
    let (status, told) = desk.ask(&director, "stage", &change(PLAIN_STAGE, unknown)).await;
    assert_eq!(status, 422);
    assert!(told.to_string().contains("There is no “The Roof” in the production any more."), "{told}");
    let gone = json!({ "act": "add", "set": "attic", "fight": "First Steps" });
    let (status, _) = desk.ask(&director, "stage", &change(PLAIN_STAGE, gone)).await;
    assert_eq!(status, 422, "a screen that shows a set that is not in the text any more");
    // Both begin a set of one name, at two places of the file: neither is lost, and the plan on the disk stays one.
    let mine = PLAIN_STAGE.replacen("[edges.front]", "[sets.attic]\nfights = [\"First Steps\"]\n\n[edges.front]", 1);
    let theirs = format!("{PLAIN_STAGE}\n[sets.attic]\nfights = [\"First Steps: The answer\"]\n");
    let save = |text: &str| json!({ "file": "stage.toml", "base": PLAIN_STAGE, "text": text, "why": "A set." });
    let (_, saved) = desk.ask(&manager, "save", &save(&theirs)).await;
    assert_eq!(saved["outcome"], "saved", "{saved}");
    let (_, clash) = desk.ask(&director, "save", &save(&mine)).await;
    assert_eq!(clash["outcome"], "conflict", "{clash}");
    assert_eq!(clash["pieces"][0]["mine"], mine);
    assert_eq!(on_disk(&desk), theirs);
}
