//! A production's own patterns: every score of it may use them, and what is kept of a run needs nothing besides.

use std::fs;
use std::path::Path;

use holdfast::call::Role;
use holdfast::check::{HouseRules, check};
use holdfast::journal::Reader;
use holdfast::production::Production;
use holdfast::score::library::Library;
use holdfast::score::model::Score;
use holdfast::score::vocabulary::Vocabulary;
use holdfast::score::{Reading, read};
use holdfast::server::replay::replay;
use holdfast::timeline::{PhraseRange, Plan, listing};
use holdfast::units::Speed;
use holdfast::wire::Stage;

use crate::support::house::House;
use crate::timeline_command::holdfast;

const SQUARES: &str = "# Squares are taught on the first day.\npattern \"Square\" for A, B with GUARD\n  1 A cut head / B parry GUARD ! steel\n  2 B thrust flank right / A parry 3 ! steel\n\npattern \"Two squares\" for A, B\n  use \"Square\" at 1 by A, B with 5\n  use \"Square\" at 5 by B, A with 5\n";
const SCORE: &str = "fight \"Borrowed\"\ntempo 60\nfighters\n  ALDER rapier right\n  BIRCH rapier right\nphrase \"One\"\n  use \"Two squares\" at 1 by ALDER, BIRCH\n";

fn words() -> Vocabulary {
    let (library, unread) = Library::of([("patterns/squares.fight".to_owned(), SQUARES.to_owned())]);
    assert_eq!(unread, Vec::<String>::new());
    Vocabulary { patterns: library.into(), ..Vocabulary::built_in() }
}

fn timeline(score: &Score) -> String {
    let plan = Plan::new(score, PhraseRange::whole(score).unwrap(), Speed::FULL, 0);
    serde_json::to_string_pretty(&listing::rows(score, &plan)).unwrap()
}

fn borrowed(score: &str) -> Reading {
    read(score, "scores/borrowed.fight", &words())
}

#[test]
fn a_score_with_a_pattern_of_the_production_is_the_score_with_the_pattern_in_it() {
    let reading = borrowed(SCORE);
    let score = reading.score.as_ref().unwrap_or_else(|| panic!("{}", reading.render(false)));
    let alone = |text: &str| read(text, "a.fight", &Vocabulary::built_in()).score.unwrap();
    let written = alone(&format!("{SCORE}{SQUARES}"));
    assert_eq!(timeline(score), timeline(&written));
    assert_eq!(
        timeline(&alone(reading.whole.as_ref().unwrap())),
        timeline(&written),
        "the whole needs nothing besides"
    );
    assert_eq!(reading.text, SCORE);
    // A pattern of the score's own goes before one of the production's.
    let own = format!("{SCORE}pattern \"Two squares\" for A, B\n  1 A guard\n");
    assert_eq!(borrowed(&own).whole, None);
    assert_eq!(borrowed("fight \"A\"\n").whole, None);
}

#[test]
fn what_is_found_in_a_pattern_is_said_at_the_line_that_uses_it() {
    let score = SCORE.replace("\"Two squares\" at 1 by ALDER, BIRCH", "\"Square\" at 1 by ALDER, BIRCH with 8");
    let used = score.find("use").unwrap()..score.len() - 1;
    let reading = borrowed(&score);
    let findings = check(reading.score.as_ref().unwrap(), &words(), &HouseRules::default()).findings;
    let said: Vec<_> = findings.iter().map(|it| (it.code, it.span.clone(), it.related.len())).collect();
    assert_eq!(said, [("A104", used.clone(), 0)], "{findings:?}");
    let wrong = borrowed(&score.replace("with 8", "with 9"));
    let said: Vec<_> = wrong.problems.iter().map(|it| (it.span.clone(), it.message.clone())).collect();
    assert_eq!(said, [(used, "there is no parry `9` (patterns/squares.fight, line 3)".to_owned())]);
    let near = borrowed(&SCORE.replace("Two squares", "Two squarse"));
    assert!(
        near.problems[0].help.as_ref().unwrap().contains("\"Two squares\"")
            || near.render(false).contains("Two squares")
    );
}

#[test]
fn files_that_are_not_patterns_are_told_and_the_others_are_in_use() {
    let files = [
        ("patterns/a.fight", "pattern \"P\" for A, B\n  1 A guard\n"),
        ("patterns/b.fight", "pattern \"P\" for A, B\n  1 B guard\npattern \"Q\" for A, B\n  1 A guaaard ,\n"),
        ("patterns/c.fight", SCORE),
    ];
    let (library, unread) = Library::of(files.map(|(file, text)| (file.to_owned(), text.to_owned())));
    assert_eq!(library.names().collect::<Vec<_>>(), ["P", "Q"]);
    assert!(unread.iter().any(|it| it.contains("patterns/b.fight, line 1: the pattern \"P\" is in patterns/a.fight")));
    assert!(unread.iter().any(|it| it.starts_with("patterns/b.fight, line 4")), "{unread:?}");
    assert!(unread.iter().any(|it| it.contains("patterns/c.fight, line 1: only patterns stand in this folder")));
}

/// The first steps of a new production, with a fight that borrows.
fn production(folder: &Path) {
    holdfast::production::start(folder).unwrap();
    fs::remove_file(folder.join("scores/first-steps.fight")).unwrap();
    fs::create_dir_all(folder.join("patterns")).unwrap();
    fs::write(folder.join("patterns/squares.fight"), SQUARES).unwrap();
    fs::write(folder.join("scores/borrowed.fight"), SCORE).unwrap();
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_run_keeps_the_pattern_that_it_was_run_with() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path().join("quay");
    production(&dir);
    let house = House::of_folder(&dir).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let lotte = house.join(Role::Performer, "Lotte", Some("ALDER")).await;
    desk.call_places(100).await;
    desk.start_anyway().await;
    lotte.until_stage(Stage::Running).await;
    let seen = desk.until("knows the fights", |seen| seen.known.fights.is_some()).await;
    let before = seen.known.fights.as_ref().unwrap()[0].revision.clone();
    // The pattern is changed while the server goes: what is run next is another revision, of a score that is the same.
    fs::write(
        dir.join("patterns/squares.fight"),
        SQUARES.replace("flank right", "flank left").replace("parry 3", "parry 4"),
    )
    .unwrap();
    let read_anew = |seen: &holdfast::member::Seen| {
        let fights = seen.known.fights.as_ref();
        fights.is_some_and(|fights| fights.iter().all(|fight| fight.revision != before))
    };
    desk.until("reads the changed pattern", read_anew).await;
    house.stop().await;
    let kept = Reader::open(&dir.join("data")).unwrap().revisions().unwrap();
    assert_eq!(kept.len(), 1);
    let score = read(&kept[0].text, "the journal", &Vocabulary::built_in()).score.expect("a whole text");
    assert_eq!(timeline(&score), timeline(borrowed(SCORE).score.as_ref().unwrap()));
    for start in replay(&dir.join("data"), None).unwrap() {
        assert_eq!((&start.differs, &start.failed), (&None, &None));
    }
    assert!(Production::open(&dir).unwrap().unread.is_empty());
}

#[test]
fn the_command_reads_patterns_and_the_scores_that_use_them() {
    let folder = tempfile::tempdir().unwrap();
    let dir = folder.path().join("quay");
    production(&dir);
    let check = |path: &str| {
        let output = holdfast(&["check", dir.join(path).to_str().unwrap()]);
        (output.status.code(), String::from_utf8(output.stdout).unwrap() + &String::from_utf8(output.stderr).unwrap())
    };
    let (code, said) = check("scores/borrowed.fight");
    assert!(code == Some(0) && said.contains("Borrowed: 0 errors"), "{said}");
    let (code, said) = check("patterns/squares.fight");
    assert!(code == Some(0) && said.contains("patterns \"Square\", \"Two squares\""), "{said}");
    fs::write(dir.join("patterns/more.fight"), "pattern P for A\n  1 A ,\n").unwrap();
    let (code, said) = check("patterns/more.fight");
    assert!(code == Some(2) && said.contains("line 2"), "{said}");
    let (_, said) = check("scores/borrowed.fight");
    assert!(said.contains("patterns/more.fight, line 2"), "{said}");
}
