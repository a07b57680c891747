//! A fight on the stage's plan, as pages are told of it: what a page finds from it is what `Tracks::presence` says, and it is
//! given under the name that a run's sheet has.

use std::fs;
use std::path::Path;
use std::sync::Arc;

use holdfast::call::Role;
use holdfast::check::{HouseRules, approaches};
use holdfast::production::{Production, start_demo};
use holdfast::score::model::Score;
use holdfast::score::read;
use holdfast::score::vocabulary::Vocabulary;
use holdfast::server::floor_sheet;
use holdfast::stage::{self, StagePlan, Tracks};
use holdfast::timeline::{PhraseRange, Plan};
use holdfast::units::Speed;
use serde_json::{Value, json};

use crate::server_scores::Desk;

/// Walks straight, round a middle and back, a duck, a kneel, a fall, blades that are drawn and lost, somebody seated.
const WAYS: &str = "fight \"Ways\"\nbeats 4\ntempo 60\nfighters\n  MARET rapier right\n  OSK rapier left\n  TAM none none\n\
    bystanders\n  SITS\nphrase \"One\"\n  tempo 60 -> 90 from 1 to 9\n  place MARET -1.1,3 facing OSK\n  place OSK 1.1,3 facing MARET\n  \
    place TAM -4,6 facing 135\n  place SITS 3,6\n  1 MARET slash head / OSK duck ! swish\n  3 TAM walk 4,6 by 9 around 0,6 clockwise\n  \
    5 OSK thrust belly / MARET parry 4 ! steel\n  10 MARET walk further -0.5,0.5 by 12\nphrase \"Two\"\n  \
    place MARET -1.1,3 facing OSK\n  place OSK 1.1,3 facing MARET\n  1 OSK slash feet / MARET jump ! swish\n  \
    4 MARET disarm / OSK yield ! fall\n  7 TAM walk 3,7 by 9 around 4,7 anticlockwise\n  9 OSK fall ! fall\n";
const STAGE: &str = "area = [[-6, 0], [6, 0], [6, 9], [-6, 9]]\nseats.house = { outline = [[-6, -8], [6, -8], [6, -2], [-6, -2]] }\n\
    people.SITS = { posture = 'seated' }\npeople.OSK = { stature = 1.9 }\n";

fn plan(text: &str) -> Arc<StagePlan> {
    Arc::new(stage::read(text, "stage.toml").0.unwrap())
}

fn ways() -> (Score, Vocabulary, Arc<StagePlan>) {
    let vocabulary = Vocabulary::built_in();
    let reading = read(WAYS, "ways.fight", &vocabulary);
    (reading.score.unwrap_or_else(|| panic!("{:?}", reading.problems)), vocabulary, plan(STAGE))
}

/// Where everybody is, every so often: what the twin in the pages is held to.
fn samples(score: &Score, vocabulary: &Vocabulary, stage: &StagePlan, every: f64) -> Vec<Value> {
    let laid_out = Plan::new(score, PhraseRange::whole(score).unwrap(), Speed::FULL, 0);
    let tracks = Tracks::of(score, vocabulary, &laid_out, stage);
    let end = laid_out.duration().0 as f64 / 1e6;
    let mut samples = Vec::new();
    for step in 0..=((end / every) as u32) {
        let time = f64::from(step) * every;
        for person in 0..tracks.people.len() {
            let found = tracks.presence(person, time).map(|it| {
                let blade = it.blade.map(|(guard, point)| [to(guard[0]), to(guard[1]), to(point[0]), to(point[1])]);
                json!({
                    "at": [to(it.at.x), to(it.at.y)],
                    "facing": it.facing.map(to),
                    "pose": format!("{:?}", it.pose).to_lowercase(),
                    "radius": to(it.room.radius),
                    "blade": blade,
                })
            });
            samples.push(json!([to(time), person, found]));
        }
    }
    samples
}

fn to(value: f64) -> f64 {
    (value * 1e4).round() / 1e4 + 0.0
}

#[test]
fn the_pages_are_held_to_what_the_tracks_say() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path().join("demo");
    start_demo(&dir).unwrap();
    let production = Production::open(&dir).unwrap();
    let cellar = production.fight("Three in the Cellar").unwrap().score().unwrap().clone();
    let stage = production.rules.stage.clone().unwrap();
    let cases = [ways(), (cellar, production.vocabulary.clone(), stage)].map(|(score, vocabulary, stage)| {
        let sheet = floor_sheet(&score, &vocabulary, &stage).unwrap();
        json!({ "sheet": sheet, "samples": samples(&score, &vocabulary, &stage, 0.83) })
    });
    let text = serde_json::to_string(&cases).unwrap() + "\n";
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/vectors/floor.json");
    if std::env::var_os("HOLDFAST_WRITE").is_some() {
        fs::write(&file, &text).unwrap();
    }
    let kept = fs::read_to_string(&file).unwrap_or_default();
    assert!(kept == text, "write tests/vectors/floor.json anew: HOLDFAST_WRITE=1 cargo test floor");
}

#[test]
fn whoever_looks_nowhere_is_somewhere_all_the_same() {
    let (score, vocabulary, stage) = ways();
    let laid_out = Plan::new(&score, PhraseRange::whole(&score).unwrap(), Speed::FULL, 0);
    let sits = Tracks::of(&score, &vocabulary, &laid_out, &stage).presence(3, 0.0).unwrap();
    assert_eq!((sits.at.x, sits.at.y, sits.facing, sits.blade), (3.0, 6.0, None, None));
}

#[test]
fn what_is_nearest_is_what_the_checks_find_too_near() {
    let (score, vocabulary, _) = ways();
    // Somebody stands where the first slash passes.
    let text = WAYS.replace("place SITS 3,6", "place SITS -0.2,4.6");
    let near = read(&text, "ways.fight", &vocabulary).score.unwrap();
    let rules = HouseRules { stage: Some(plan(STAGE)), ..HouseRules::default() };
    let nearest = |score: &Score| {
        let all = approaches(score, &vocabulary, &rules, 2.0);
        all.into_iter().filter(|it| it.to == "SITS").map(|it| it.gap).fold(f64::INFINITY, f64::min)
    };
    let found = |score: &Score| {
        let findings = holdfast::check::check(score, &vocabulary, &rules).findings;
        findings.iter().any(|it| it.code == "C601")
    };
    assert!(nearest(&near) < 0.5 && found(&near));
    assert!(nearest(&score) >= 0.5 && !found(&score));
    assert!(approaches(&score, &vocabulary, &HouseRules::default(), 2.0).is_empty(), "without a stage nothing is said");
}

#[test]
fn a_run_and_its_sets_have_names_of_their_own() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path().join("demo");
    start_demo(&dir).unwrap();
    let names = |production: &Production| {
        let all = production.playable();
        let sets = all.iter().flat_map(|fight| std::iter::once(fight).chain(&fight.sets));
        sets.map(|fight| fight.floor.as_ref().unwrap().id.clone()).collect::<std::collections::BTreeSet<_>>()
    };
    let before = names(&Production::open(&dir).unwrap());
    assert_eq!(before, names(&Production::open(&dir).unwrap()), "the same each time");
    let count: usize = Production::open(&dir).unwrap().playable().iter().map(|it| 1 + it.sets.len()).sum();
    assert_eq!(before.len(), count, "each another");
    let file = dir.join("stage.toml");
    let text = fs::read_to_string(&file).unwrap();
    fs::write(&file, format!("# a note\n{text}")).unwrap();
    assert_eq!(before, names(&Production::open(&dir).unwrap()), "a note changes no stage");
    fs::write(&file, text.replace("drop = 1.05", "drop = 1.1")).unwrap();
    assert!(before.is_disjoint(&names(&Production::open(&dir).unwrap())), "another stage is another picture");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_page_is_given_the_fight_of_that_name() {
    let desk = Desk::open_with(|_| {}).await;
    let fights = Production::open(&desk.dir).unwrap().playable();
    let floor = fights[0].floor.as_ref().unwrap();
    let (_line, key) = desk.key(Role::Observer, "Sol").await;
    let path = format!("/floors/{}", floor.id);
    assert_eq!(desk.get(&path).await.0, 401, "nobody without a key sees who does what");
    let (status, body) = desk.get_as(&key, &path).await;
    assert_eq!(status, 200);
    let vocabulary = Vocabulary::from_texts(&fights[0].vocabulary).unwrap();
    let expected = floor_sheet(&fights[0].score, &vocabulary, &floor.stage).unwrap();
    assert_eq!(serde_json::from_str::<Value>(&body).unwrap(), serde_json::to_value(expected).unwrap());
    assert_eq!(desk.get_as(&key, "/floors/000000000000000000000000").await.0, 404);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_draft_is_told_with_its_marks_where_they_stand() {
    let desk = Desk::open_with(|_| {}).await;
    let (_line, key) = desk.key(Role::Director, "Runa").await;
    let file = Production::open(&desk.dir).unwrap().fights[0].file.clone();
    // Letters of two UTF-16 units and of several bytes before the marks.
    let text = format!("# \u{1f5e1} Übung\n{WAYS}");
    let (status, told) = desk.ask(&key, "floor", &json!({ "file": file, "text": text })).await;
    assert_eq!(status, 200, "{told}");
    let units: Vec<u16> = text.encode_utf16().collect();
    let marks = told["marks"].as_array().unwrap();
    let said: Vec<String> = marks
        .iter()
        .map(|mark| {
            let at = |key: &str| mark[key].as_u64().unwrap() as usize;
            let point = String::from_utf16(&units[at("from")..at("to")]).unwrap();
            format!("{} {} {} {point}", mark["line"], mark["phrase"], mark["who"].as_str().unwrap())
        })
        .collect();
    let of_one = ["13 0 MARET -1.1,3", "14 0 OSK 1.1,3", "15 0 TAM -4,6", "16 0 SITS 3,6", "18 0 TAM 4,6"];
    let of_two = ["22 1 MARET -1.1,3", "23 1 OSK 1.1,3", "26 1 TAM 3,7"];
    assert_eq!(said, [&of_one[..], &of_two[..]].concat());
    assert_eq!(told["phrases"], json!([11, 21]));
    assert!(told["floor"]["people"].as_array().unwrap().len() == 4 && told["why"].is_null());
    let broken = text.replace("by 9 around", "by nine around");
    let (_, told) = desk.ask(&key, "floor", &json!({ "file": file, "text": broken })).await;
    assert!(told["floor"].is_null() && told["why"].as_str().unwrap().contains("errors"));
    assert!(told["marks"].as_array().unwrap().len() >= 6, "what can be read of it stays to be moved");
}
