//! A production's weapon sets: the same score with practice weapons is checked with them, run with them when the desk
//! says so, and the log and the review know with which; and patterns by themselves, a stage at a time.

use std::fs;
use std::path::Path;

use holdfast::call::{Drive, Role, Setup, SetupRequest};
use holdfast::check::check;
use holdfast::event::What;
use holdfast::journal::{EventFilter, Reader};
use holdfast::production::Production;
use holdfast::review::{Filter, House as ReviewHouse, Review};
use holdfast::score::drill::drills;
use holdfast::score::problem::Severity;
use holdfast::score::read;
use holdfast::score::vocabulary::Vocabulary;
use holdfast::server::replay::replay;
use holdfast::wire::{DriveKind, Stage, ToServer};
use serde_json::Value;

use crate::support::house::House;
use crate::timeline_command::holdfast;

const SETS: &str = "\n[weapon_sets.wood]\nrapier = \"dowel\"\n\n[weapon_sets.poles]\nrapier = \"quarterstaff\"\n\n[weapon_sets.axes]\naxe = \"club\"\n";
/// A dagger stops a rapier, and no staff; what a staff needs longer for is no trouble at this tempo.
const SCORE: &str = "fight \"The Stair\"\ntempo 60\nfighters\n  ALDER rapier right\n  BIRCH dagger right\nphrase \"One\"\n  use \"Round\" at 1 by ALDER, BIRCH\nphrase \"Two\" tempo 90\n  1 ALDER guard\n  use \"Round\" at 3 by ALDER, BIRCH times 2\npattern \"Round\" for A, B every 4\n  stage \"in place\"\n    1 A cut flank right / B parry 3\n  stage \"both\"\n    3 B thrust belly / A parry 4\n";

fn production(folder: &Path, score: &str) {
    holdfast::production::start(folder).unwrap();
    fs::remove_file(folder.join("scores/first-steps.fight")).unwrap();
    let config = fs::read_to_string(folder.join("production.toml")).unwrap();
    fs::write(folder.join("production.toml"), config + SETS).unwrap();
    fs::write(folder.join("scores/stair.fight"), score).unwrap();
}

fn opened(score: &str) -> (tempfile::TempDir, Production) {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path().join("quay");
    production(&dir, score);
    let production = Production::open(&dir).unwrap();
    (folder, production)
}

#[test]
fn a_score_is_judged_with_every_set_that_concerns_it() {
    let (_folder, production) = opened(SCORE);
    let fight = &production.fights[0];
    let sets: Vec<&str> = fight.with_sets.iter().map(|set| set.weapons.as_str()).collect();
    assert_eq!(sets, ["poles", "wood"], "no axe is in it");
    // What is found with a set is what is found in the score in which the set's weapons are written.
    for (set, weapon) in fight.with_sets.iter().zip(["quarterstaff", "dowel"]) {
        let written = SCORE.replace("rapier", weapon);
        let score = read(&written, "a.fight", &Vocabulary::built_in()).score.unwrap();
        let found = check(&score, &production.vocabulary, &production.rules);
        let codes = |severity: Severity| found.findings.iter().filter(|it| it.severity == severity).count();
        assert_eq!((set.errors, set.warnings), (codes(Severity::Error), codes(Severity::Warning)), "{weapon}");
        let limits = |fastest: &holdfast::check::Fastest| {
            fastest.phrases.iter().map(|it| it.limit.as_ref().map(|limit| limit.bpm.to_bits())).collect::<Vec<_>>()
        };
        assert_eq!(limits(set.fastest.as_ref().unwrap()), limits(&found.fastest), "{weapon}");
    }
    let as_written = production.read_fight(SCORE.replace("rapier", "foil").as_bytes(), "a.fight");
    assert!(as_written.with_sets.is_empty(), "no set says anything of a foil");
    let poles = &fight.with_sets[0];
    assert!(poles.errors + poles.warnings > 0, "a dagger does not stop a staff");
    assert!(fight.findings().iter().any(|it| it.message.starts_with("with the weapons “poles”: ")));
    assert!(!fight.findings().iter().any(|it| it.message.contains("“wood”")));
}

#[test]
fn only_weapons_that_are_in_the_list_can_be_set_up() {
    let (_folder, production) = opened(SCORE);
    let fights = production.playable();
    let setup = |weapons: Option<&str>| {
        let (fight, weapons, drive) = ("The Stair".into(), weapons.map(str::to_owned), Drive::Clock);
        Setup::check(
            &SetupRequest { fight, weapons, first: 0, from_move: None, last: 1, percent: 100, count_in: 0, drive },
            &fights,
        )
    };
    for weapons in [None, Some("wood"), Some("poles")] {
        assert_eq!(setup(weapons).unwrap().fight.weapons.as_deref(), weapons);
    }
    let why = setup(Some("axes")).unwrap_err().to_string();
    assert_eq!(
        why,
        "There are no weapons called “axes” for The Stair in this production. Choose others from the list."
    );
    // A call that was written down before there were sets is read as one without.
    let old = r#"{"fight":"The Stair","first":0,"last":1,"percent":100,"count_in":0,"drive":"Clock"}"#;
    assert_eq!(serde_json::from_str::<SetupRequest>(old).unwrap().weapons, None);
}

#[test]
fn the_command_says_what_each_set_brings() {
    let (folder, _) = opened(SCORE);
    let dir = folder.path().join("quay");
    let told = holdfast(&["check", dir.to_str().unwrap()]);
    let text = String::from_utf8(told.stdout).unwrap();
    assert!(text.contains("with the weapons “poles”: "), "{text}");
    assert!(text.contains("With the weapons “wood” the same."), "{text}");
    assert!(text.contains("With the weapons “poles”:\n"), "{text}");
    let told = holdfast(&["check", "--format", "json", dir.to_str().unwrap()]);
    let json: Value = serde_json::from_slice(&told.stdout).unwrap();
    let sets = json["files"][0]["weapon_sets"].as_array().unwrap();
    assert_eq!(sets.iter().map(|set| set["weapons"].as_str().unwrap()).collect::<Vec<_>>(), ["poles", "wood"]);
}

#[test]
fn a_set_that_cannot_be_used_is_told_and_keeps_nothing_from_use() {
    let (folder, _) = opened(SCORE);
    let dir = folder.path().join("quay");
    let config = fs::read_to_string(dir.join("production.toml")).unwrap();
    fs::write(dir.join("production.toml"), config.replace("\"dowel\"", "\"dowl\"")).unwrap();
    let production = Production::open(&dir).unwrap();
    assert_eq!(
        production.troubles(),
        ["The weapon set “wood” cannot be used: “dowl” is not a weapon of the vocabulary; did you mean `dowel`?"]
    );
    assert_eq!(production.fights[0].with_sets.len(), 1);
    let config = fs::read_to_string(dir.join("production.toml")).unwrap();
    fs::write(dir.join("production.toml"), config.replace("\"dowl\"", "7")).unwrap();
    let error = Production::open(&dir).unwrap_err().to_string();
    assert!(error.contains("weapon_sets.wood.rapier") && error.contains("a word in quotes"), "{error}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_run_is_done_with_the_set_that_the_desk_chose_and_log_replay_and_review_know_it() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path().join("quay");
    production(&dir, SCORE);
    let house = House::of_folder(&dir).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let lotte = house.join(Role::Performer, "Lotte", Some("ALDER")).await;
    let seen = desk.until("knows the fights", |seen| seen.known.fights.is_some()).await;
    let fights = seen.known.fights.as_ref().unwrap();
    let sets: Vec<(&str, bool)> =
        fights[0].sets.iter().map(|it| (it.weapons.as_str(), it.warnings + it.errors > 0)).collect();
    assert_eq!(sets, [("poles", true), ("wood", false)]);
    let setup = |weapons: Option<&str>| holdfast::wire::Setup {
        fight: "The Stair".into(),
        weapons: weapons.map(str::to_owned),
        from: 0,
        from_move: None,
        to: 0,
        percent: 150,
        count_in: 0,
        drive: DriveKind::Clock,
    };
    let state = desk.until("has the state", |seen| seen.state.is_some()).await;
    let last = state.state.as_ref().unwrap().last_event;
    desk.say(ToServer::Places { setup: setup(Some("paper")), seen: last });
    desk.say(ToServer::Places { setup: setup(Some("wood")), seen: last });
    let places = lotte.until_stage(Stage::Places).await;
    assert_eq!(places.state.as_ref().unwrap().setup.as_ref().unwrap().weapons.as_deref(), Some("wood"));
    desk.start_anyway().await;
    let over = desk.until_stage(Stage::Complete).await;
    // And once as the score says: what was clean with wood says nothing of that.
    desk.say(ToServer::Places { setup: setup(None), seen: over.state.as_ref().unwrap().last_event });
    lotte.until_stage(Stage::Places).await;
    desk.start_anyway().await;
    desk.until_stage(Stage::Running).await;
    desk.until_stage(Stage::Complete).await;
    house.stop().await;

    let reader = Reader::open(&dir.join("data")).unwrap();
    assert_eq!(reader.runs().unwrap()[0].begun.weapons.as_deref(), Some("wood"));
    let events = reader.events(EventFilter::default()).unwrap();
    let places = events.iter().find_map(|row| match &row.event.what {
        What::Places { set_up } => set_up.clone(),
        _ => None,
    });
    assert_eq!(places.as_deref(), Some("The Stair, One to One, 150 %, with the weapons “wood”"));
    let review = |weapons: Option<&str>| {
        let filter = Filter { weapons: weapons.map(str::to_owned), ..Filter::default() };
        Review::of(&reader, &ReviewHouse::default(), &filter)
    };
    let whole = review(None).unwrap();
    assert_eq!(whole.weapons, ["as the score says", "wood"]);
    let splits: Vec<&str> = whole.fights[0].splits.weapons.iter().map(|it| it.of.as_str()).collect();
    assert_eq!(splits, ["as the score says", "wood"]);
    let ladder = &whole.fights[0].phrases[0].ladder;
    assert_eq!((ladder.weapons.as_deref(), ladder.in_a_row), (None, 1), "the run with wood does not count");
    assert_eq!(whole.totals.runs, 2);
    let with_wood = review(Some("woo")).unwrap();
    let ladder = &with_wood.fights[0].phrases[0].ladder;
    assert_eq!((ladder.weapons.as_deref(), ladder.in_a_row), (Some("wood"), 1));
    assert_eq!(with_wood.totals.runs, 1);
    assert_eq!(review(Some("as the score")).unwrap().totals.runs, 1);
    assert!(review(Some("steel")).unwrap_err().to_string().contains("steel"));
    // The words with the set are kept with the call: it is played again though the production has no sets any more.
    let config = fs::read_to_string(dir.join("production.toml")).unwrap();
    fs::write(dir.join("production.toml"), config.replace(SETS, "")).unwrap();
    for start in replay(&dir.join("data"), None).unwrap() {
        assert_eq!((&start.differs, &start.failed), (&None, &None));
    }
}

#[test]
fn a_pattern_by_itself_has_its_stages_as_phrases_and_is_what_the_score_does() {
    let (_folder, production) = opened(SCORE);
    let reading = &production.fights[0].reading;
    let drills = drills(reading, 8);
    let names: Vec<&str> = drills.iter().map(|it| it.name.as_str()).collect();
    assert_eq!(names, ["Round by ALDER and BIRCH"], "the same use twice is one");
    let words = Vocabulary::built_in();
    let drill = read(&drills[0].text, "a.fight", &words);
    let score = drill.score.as_ref().unwrap_or_else(|| panic!("{}", drill.render(false)));
    assert_eq!(score.phrases.iter().map(|it| it.name.as_str()).collect::<Vec<_>>(), ["in place", "both"]);
    assert_eq!(
        holdfast::score::format::format(&drills[0].text).unwrap(),
        drills[0].text,
        "it is written as fmt writes"
    );
    let by_hand = "fight \"Hand\"\ntempo 60\nfighters\n  ALDER rapier right\n  BIRCH dagger right\nphrase \"in place\"\n  repeat 8 every 4 at 1\n    1 ALDER cut flank right / BIRCH parry 3\n  end\nphrase \"both\"\n  repeat 8 every 4 at 1\n    1 ALDER cut flank right / BIRCH parry 3\n    3 BIRCH thrust belly / ALDER parry 4\n  end\n";
    let by_hand = read(by_hand, "b.fight", &words).score.unwrap();
    assert_eq!(score.tempo, by_hand.tempo);
    let rows = |score: &holdfast::score::model::Score| {
        let range = holdfast::timeline::PhraseRange::whole(score).unwrap();
        let plan = holdfast::timeline::Plan::new(score, range, holdfast::units::Speed::FULL, 0);
        let moves = plan.moves().iter().map(|it| (it.at, it.time, it.who, it.action.clone(), it.to, it.reply.clone()));
        (moves.collect::<Vec<_>>(), plan.length())
    };
    assert_eq!(rows(score), rows(&by_hand));
}

#[test]
fn the_desk_can_choose_a_pattern_by_itself_with_the_sets_that_concern_it() {
    let sheathed = SCORE
        .replace("ALDER rapier right", "ALDER rapier right sheathed")
        .replace("phrase \"One\"\n", "phrase \"One\"\n  1 ALDER draw\n  rest 4\nphrase \"Then\"\n");
    for (score, fights) in [(SCORE, 1), (sheathed.as_str(), 1)] {
        let (_folder, production) = opened(score);
        assert_eq!(
            production.fights[0].count(Severity::Error),
            production.fights[0].with_sets[0].findings.iter().filter(|it| it.severity == Severity::Error).count(),
            "{:?}",
            production.fights[0].findings()
        );
        let playable = production.playable();
        let (drills, plain): (Vec<_>, Vec<_>) = playable.iter().partition(|fight| fight.drill);
        assert_eq!((plain.len(), drills.len()), (fights, 1));
        assert_eq!(drills[0].score.name, "Round by ALDER and BIRCH");
        assert_eq!(drills[0].errors, 0, "weapons are in hand where they have to be");
        assert_eq!(
            drills[0].sets.iter().map(|it| it.weapons.as_deref()).collect::<Vec<_>>(),
            [Some("poles"), Some("wood")]
        );
        assert!(drills[0].sets.iter().all(|it| it.drill));
    }
}
