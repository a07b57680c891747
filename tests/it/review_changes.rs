//! What a review says when texts, phrases and journals change: holds that move with their phrase, two revisions compared
//! with an honest test, breaks split by speed, revision and cast, journals of other versions, and what is never said.

use holdfast::event::What;
use holdfast::journal::{FILE_NAME, Reader};
use holdfast::review::statistics::Difference;
use holdfast::review::{House, Reason, Review, html, text};
use rusqlite::Connection;

use crate::report::season;
use crate::review::{Hall, TEXT, review, spot};

/// The page of whatever is in a folder.
fn page(folder: &std::path::Path) -> String {
    html::page(&review(folder), &House::default().ladder)
}

#[test]
fn holds_move_with_a_phrase_that_a_revision_moves() {
    let folder = tempfile::tempdir().unwrap();
    let mut hall = Hall::open(folder.path());
    hall.run(TEXT, 80, Some((0, 2)));
    let (head, phrases) = TEXT.split_once("phrase \"one\"").unwrap();
    let (one, two) = phrases.split_once("phrase \"two\"").unwrap();
    let swapped = format!("{head}phrase \"two\"{two}phrase \"one\"{one}");
    hall.run(&swapped, 80, Some((1, 2)));
    hall.close();
    let review = review(folder.path());
    let fight = &review.fights[0];
    let names: Vec<&str> = fight.phrases.iter().map(|it| it.phrase.as_str()).collect();
    assert_eq!(names, ["two", "one"], "in the order of the newest text");
    let one = &fight.phrases[1];
    assert_eq!((one.reached, one.broke, one.moves[1].broke), (2, 2, 2));
    assert!(fight.breaks.iter().all(|it| it.move_now == Some(2) && !it.move_gone && it.beat.as_deref() == Some("2")));
    assert!(fight.phrases_gone.is_empty() && fight.notes.is_empty());
}

#[test]
fn a_move_that_is_gone_is_said_on_the_page() {
    let folder = tempfile::tempdir().unwrap();
    let mut hall = Hall::open(folder.path());
    hall.run(TEXT, 80, Some((0, 3)));
    hall.run(&TEXT.replace("  3 A thrust belly / B parry 4\n", ""), 80, None);
    hall.close();
    let page = page(folder.path());
    assert!(page.contains("This move is no longer in the score."));
    assert!(page.contains("A thrust belly / B parry 4 (no longer in the score; last in "));
}

#[test]
fn two_revisions_are_compared_with_a_test_and_an_effect_size() {
    let folder = tempfile::tempdir().unwrap();
    let mut hall = Hall::open(folder.path());
    for _ in 0..8 {
        hall.run(TEXT, 80, Some((0, 2)));
    }
    let newer = TEXT.replace("  3 A thrust belly / B parry 4\n", "  3 A thrust chest / B parry 4\n");
    for _ in 0..8 {
        hall.run(&newer, 80, None);
    }
    hall.close();
    let review = review(folder.path());
    let change = review.fights[0].phrases[0].revisions.as_ref().unwrap();
    assert_eq!((change.clean.verdict, change.clean.difference), (Difference::Better, Some(1.0)));
    // Fisher's exact test of 0 of 8 against 8 of 8: both tables of C(16, 8) = 12,870 that are as extreme.
    assert!((change.clean.p - 2.0 / 12_870.0).abs() < 1e-9, "{}", change.clean.p);
    // R. G. Newcombe, Stat. Med. 17 (1998) 873-890, method 10: 1 - sqrt(2) (1 - l), l = 1 / (1 + z^2 / 8), Wilson's low
    // end of 8 of 8, z = 1.959964.
    let low = 1.0 - 2.0_f64.sqrt() * (1.0 - 1.0 / (1.0 + 1.959_964_f64.powi(2) / 8.0));
    assert!((change.clean.interval.low - low).abs() < 1e-6, "{} is not {low}", change.clean.interval.low);
    assert!(page(folder.path()).contains("new text: <span class=\"better\">better</span>"));
    assert!(review.fights[0].phrases[1].revisions.is_none(), "the second phrase reads as it did");
}

#[test]
fn too_few_runs_to_say_is_an_answer() {
    let folder = tempfile::tempdir().unwrap();
    let mut hall = Hall::open(folder.path());
    hall.run(TEXT, 80, Some((0, 2)));
    hall.pass(8 * 86_400);
    hall.run(TEXT, 80, None);
    hall.close();
    let weeks = review(folder.path()).fights[0].phrases[0].weeks.clone().unwrap();
    assert_eq!((weeks.clean.verdict, weeks.breaks.verdict), (Difference::TooFew, Difference::TooFew));
    assert!(page(folder.path()).contains("too few runs to say"));
}

#[test]
fn breaks_are_split_by_speed_revision_cast_reason_and_caller() {
    let folder = tempfile::tempdir().unwrap();
    let mut hall = Hall::open(folder.path());
    hall.run(TEXT, 80, None);
    hall.run(TEXT, 80, Some((0, 2)));
    hall.run(&TEXT.replace("tempo 60", "tempo 66"), 80, Some((1, 1)));
    hall.run(TEXT, 50, Some((1, 0)));
    hall.begin(TEXT, Some(80));
    hall.close();
    let splits = &review(folder.path()).fights[0].splits;
    let rows = |splits: &[holdfast::review::Split]| -> Vec<(String, u64, u64)> {
        splits.iter().map(|it| (it.of.clone(), it.broke.count, it.broke.of)).collect()
    };
    let row = |of: &str, broke, all| (of.to_owned(), broke, all);
    assert_eq!(rows(&splits.speeds), [row("50 %", 1, 1), row("80 %", 2, 3)]);
    assert_eq!(rows(&splits.casts), [row("Bea as A, Cem as B", 3, 4)]);
    let revisions: Vec<(u64, u64)> = splits.revisions.iter().map(|it| (it.broke.count, it.broke.of)).collect();
    assert_eq!(revisions, [(2, 3), (1, 1)]);
    let kinds = |kinds: &[holdfast::review::Kind]| -> Vec<(String, u64)> {
        kinds.iter().map(|it| (it.what.clone(), it.count)).collect()
    };
    assert_eq!(kinds(&splits.reasons), [("grip".to_owned(), 3)]);
    assert_eq!(kinds(&splits.callers), [("Bea".to_owned(), 3)]);
    assert!(page(folder.path()).contains("<strong>Why: </strong>grip ×3."));
}

#[test]
fn a_journal_of_another_version_is_reviewed_as_far_as_it_tells_or_refused_in_a_sentence() {
    let folder = tempfile::tempdir().unwrap();
    let mut hall = Hall::open(folder.path());
    hall.run(TEXT, 80, Some((0, 2)));
    hall.run(TEXT, 80, None);
    hall.close();
    // A version that wrote no phrases, no screens and no details, and had a word that this one does not know.
    let db = Connection::open(folder.path().join(FILE_NAME)).unwrap();
    db.execute_batch(
        "DROP TRIGGER events_no_update;
         UPDATE events SET kind = 'passage' WHERE kind = 'phrase';
         UPDATE events SET screen = NULL, detail = NULL, percent = NULL;",
    )
    .unwrap();
    let review = review(folder.path());
    let one = &review.fights[0].phrases[0];
    assert_eq!((review.totals.runs, one.reached, one.moves[1].broke), (2, 2, 1), "the place of the hold is known");
    assert_eq!((one.clean.count, one.clean.of, one.breaks.estimate), (1, 2, None));
    assert!(page(folder.path()).contains("no running time known"));
    db.pragma_update(None, "user_version", 99).unwrap();
    let refused = Reader::open(folder.path()).err().unwrap().to_string();
    assert!(refused.contains("newer Holdfast (journal version 99; this one knows 2)"), "{refused}");
}

#[test]
fn nobody_is_told_that_they_are_safe_and_the_ranking_is_one_sentence() {
    let folder = tempfile::tempdir().unwrap();
    let review = season(folder.path());
    let ladder = House::default().ladder;
    let page = html::page(&review, &ladder);
    for said in [&page, &text::text(&review), &serde_json::to_string(&review).unwrap(), &ladder.rule()] {
        assert!(!said.to_lowercase().contains("safe"));
    }
    assert!(ladder.rule().ends_with("The fight director decides."));
    assert!(page.contains(review.order.rule.as_str()) && review.order.rule.ends_with("the fight captain decides."));
    let rule = &review.drill.rule;
    let ends = rule.char_indices().filter(|(_, letter)| ".!?".contains(*letter)).map(|(at, _)| at).collect::<Vec<_>>();
    assert_eq!(ends, [rule.len() - 1], "one sentence: {rule}");
    assert!(page.contains(rule.as_str()) && page.contains(&review.ladder_rule));
}

#[test]
fn near_misses_speak_for_their_phrase() {
    let folder = tempfile::tempdir().unwrap();
    let mut hall = Hall::open(folder.path());
    for _ in 0..4 {
        hall.run(TEXT, 80, None);
        hall.event(What::Note { hold: None, text: None }, Some(spot(TEXT, 1, 1)));
    }
    hall.close();
    let speaks = |review: &Review| review.order.rows.iter().any(|row| row.why.contains("near miss"));
    assert!(!speaks(&review(folder.path())), "a note is none");
    let db = Connection::open(folder.path().join(FILE_NAME)).unwrap();
    db.execute_batch("DROP TRIGGER events_no_update; UPDATE events SET kind = 'near-miss' WHERE kind = 'note'")
        .unwrap();
    let told = review(folder.path());
    let row = &told.order.rows[0];
    assert_eq!(row.reasons[0], Reason::NearMisses { count: 4 });
    assert!(row.first == "two" && row.why.starts_with("4 near misses were told lately"), "{row:?}");
    assert!(page(folder.path()).contains("4 near misses were told lately"));
}
