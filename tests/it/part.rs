//! A part that is learned alone, as the server gives it: the whole fight with marks, walks and sounds, what is another since
//! its performer ran it, the sounds as a reference reader of FLAC hears them, and the file for home.

use std::fs;
use std::io::Read;
use std::time::Duration;

use data_encoding::BASE64;
use flate2::read::GzDecoder;
use holdfast::call::Role;
use holdfast::wire::{HomeFile, PartSheet, SoundClips, Stage, ToServer};
use serde_json::json;
use tempfile::tempdir;

use crate::server_scores::Desk;

/// It is asked again no sooner: whoever asks too often is told to wait.
const PACE: Duration = Duration::from_millis(500);

async fn asked<T: serde::de::DeserializeOwned>(desk: &Desk, key: &str, what: &str, body: serde_json::Value) -> T {
    let (status, answer) = desk.ask_at(key, what, &body).await;
    assert_eq!(status, 200, "{what}: {answer}");
    serde_json::from_str(&answer).unwrap_or_else(|error| panic!("{what}: {error}"))
}

/// What a file for home carries.
fn carried(page: &str) -> HomeFile {
    let (_, rest) = page.split_once("id=\"part\">").unwrap();
    let (packed, _) = rest.split_once("</script>").unwrap();
    let packed = BASE64.decode(packed.trim().as_bytes()).unwrap();
    let mut json = String::new();
    GzDecoder::new(packed.as_slice()).read_to_string(&mut json).unwrap();
    serde_json::from_str(&json).unwrap()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_performer_is_told_what_is_another_since_they_ran_it() {
    let desk = Desk::open_with(|_| {}).await;
    let manager = desk.house.join(Role::Desk, "Ines", None).await;
    let (mut lotte, key) = desk.key(Role::Performer, "Lotte").await;
    let (_other, others) = desk.key(Role::Performer, "Yusuf").await;
    lotte.say(&ToServer::TakePart { member: None, part: Some("ALDER".into()) }).await;
    let mine = json!({ "fight": null, "part": "ALDER" });
    let told: PartSheet = asked(&desk, &key, "part", mine.clone()).await;
    assert_eq!(told.since, None, "who never ran it is told of no change");
    let lesson = told.lesson.unwrap();
    assert_eq!(lesson.sheet.moves.len(), 6);
    let first = &lesson.sheet.feet[0];
    let mark = (first.who.as_str(), first.to.x, first.to.y, first.facing.as_deref(), first.until_ticks);
    assert_eq!(mark, ("ALDER", -1.2, 3.0, Some("BRYONY"), None));
    let sounds: Vec<(&str, Option<u32>)> = lesson.sounds.iter().map(|it| (it.name.as_str(), it.by_move)).collect();
    assert_eq!(sounds[4], ("swish", Some(4)));

    manager.call_places(150).await;
    manager.start_anyway().await;
    manager.until_stage(Stage::Complete).await;
    let ran = async {
        loop {
            let told: PartSheet = asked(&desk, &key, "part", mine.clone()).await;
            if let Some(since) = told.since {
                return since;
            }
            tokio::time::sleep(PACE).await;
        }
    };
    let since = tokio::time::timeout(Duration::from_secs(60), ran).await.expect("the run is in the journal");
    assert_eq!((since.new, since.moved, since.gone), (vec![], vec![], vec![]));

    // One reply of theirs becomes another, and the end of the second phrase comes a beat later.
    let file = desk.dir.join("scores/first-steps.fight");
    let text = fs::read_to_string(&file).unwrap();
    let text = text.replace(
        "cut head            / ALDER   parry 5          ! steel      \"eyes",
        "cut flank left      / ALDER   parry 3          ! steel      \"eyes",
    );
    let text = text.replace("5      BRYONY  cut head", "6      BRYONY  cut head");
    fs::write(&file, text).unwrap();
    let read = async {
        loop {
            let told: PartSheet = asked(&desk, &key, "part", mine.clone()).await;
            if let Some(since) = told.since.filter(|since| !since.new.is_empty()) {
                return since;
            }
            tokio::time::sleep(PACE).await;
        }
    };
    let since =
        tokio::time::timeout(Duration::from_secs(60), read).await.expect("the folder is looked at every two seconds");
    assert_eq!((since.new, since.moved), (vec![1], vec![5]));
    let gone: Vec<&str> = since.gone.iter().map(|it| it.words.as_str()).collect();
    assert_eq!(gone, ["BRYONY cut head / ALDER parry 5"]);
    // Who did not run it is told nothing, of a part that somebody else ran.
    let told: PartSheet = asked(&desk, &others, "part", mine).await;
    assert_eq!(told.since, None);
    desk.house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn its_sounds_can_be_read_and_are_on_their_beat() {
    let desk = Desk::open_with(|_| {}).await;
    let (_link, key) = desk.key(Role::Performer, "Lotte").await;
    let told: SoundClips = asked(&desk, &key, "part/sounds", json!({ "fight": null })).await;
    let names: Vec<&str> = told.clips.iter().map(|it| it.name.as_str()).collect();
    assert_eq!(names, ["steel", "swish"]);
    let folder = tempdir().unwrap();
    for clip in &told.clips {
        let path = folder.path().join(format!("{}.flac", clip.name));
        fs::write(&path, BASE64.decode(clip.flac.as_bytes()).unwrap()).unwrap();
        // Read by symphonia, which did not write it.
        let (rate, samples) = crate::practice::flac(&path);
        assert_eq!(rate, 24_000);
        assert!(samples.iter().any(|sample| sample.abs() > 300), "{} is heard", clip.name);
        // A swish is loudest when the blade passes: so much before the beat it begins.
        assert_eq!(clip.early_us > 20_000, clip.name == "swish", "{}: {} µs", clip.name, clip.early_us);
    }
    assert_eq!(desk.ask_at(&key, "part/sounds", &json!({ "fight": "Another" })).await.0, 404);
    assert_eq!(desk.ask_at("no key", "part/home", &json!({ "fight": null })).await.0, 401);
    desk.house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_file_for_home_carries_a_part_or_everybodys() {
    let desk = Desk::open_with(|_| {}).await;
    let (_link, key) = desk.key(Role::Performer, "Lotte").await;
    let (status, page) = desk.ask_at(&key, "part/home", &json!({ "fight": null, "part": "ALDER" })).await;
    assert_eq!(status, 200);
    let file = carried(&page);
    assert_eq!((file.part.as_deref(), file.mute, file.clips.len()), (Some("ALDER"), false, 2));
    assert_eq!(
        file.fights[0].pictures.len(),
        file.fights[0].lesson.sheet.moves.iter().filter_map(|it| it.picture).max().unwrap() as usize + 1
    );
    assert!(!page.contains("@@"), "everything that was to be put in is in");
    assert!(page.len() < holdfast::server::study::MOST_BYTES, "{}", page.len());
    let (_, page) = desk.ask_at(&key, "part/home", &json!({ "fight": null, "part": null })).await;
    assert_eq!(carried(&page).part, None);
    let (status, no) = desk.ask_at(&key, "part/home", &json!({ "fight": null, "part": "CYRUS" })).await;
    assert_eq!(status, 422);
    assert!(no.contains("There is no fight here in which CYRUS fights. Choose another part."), "{no}");
    desk.house.stop().await;
}
