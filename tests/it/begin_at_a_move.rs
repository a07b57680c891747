//! A run that begins at a move: it is the whole run from there on, everybody stands where the whole fight has brought them,
//! and where a fight cannot be begun it says who and what. On real sockets: places, the start states, a start, the log.

use std::sync::Arc;

use holdfast::call::{Drive, Fight, Role, Setup, SetupRequest};
use holdfast::check::{Posture, Stand, starts};
use holdfast::event::What;
use holdfast::journal::{EventFilter, Reader};
use holdfast::score::model::{Hand, Item, Score};
use holdfast::score::read;
use holdfast::score::vocabulary::Vocabulary;
use holdfast::server::replay::replay;
use holdfast::timeline::{Click, PhraseRange, Plan, Reader as Reads};
use holdfast::units::Speed;
use holdfast::wire::{self, DriveKind, PostureView, Stage, ToMember, ToServer};
use proptest::prelude::*;
use tempfile::TempDir;

use crate::strategies::score_text;
use crate::support::house::House;
use crate::support::raw::Raw;

const STAIR: &str = "fight \"The Cellar Stair\"\nbeats 4\ntempo 60\nfighters\n  ADA rapier right\n  BEN rapier left\n\
    phrase \"Down\"\n  place ADA -1,3 facing BEN\n  place BEN 1,3 facing ADA\n  tempo 60 -> 120 from 2 to 10\n\
    \x20 1 ADA cut head / BEN parry 5\n  2 BEN thrust belly / ADA parry 4\n  3 ADA walk 0,2 by 6\n  4 BEN kneel\n\
    \x20 7+1/2 ADA cut head / BEN parry 5\n  9 ADA grab arm left / BEN yield\n  11 ADA release-grip\n  13 BEN rise\n\
    \x20 13+1/2 BEN salute\n  16 ADA thrust belly / BEN parry 4\n\
    phrase \"Up\"\n  1 BEN cut head / ADA parry 5\n  2 ADA cut head / BEN parry 5\n";

fn score(text: &str) -> Score {
    let reading = read(text, "stair", &Vocabulary::built_in());
    reading.score.unwrap_or_else(|| panic!("{:?}", reading.problems))
}

fn request(from_move: Option<u32>) -> SetupRequest {
    SetupRequest {
        fight: "The Cellar Stair".into(),
        weapons: None,
        first: 0,
        from_move,
        last: 1,
        percent: 100,
        count_in: 4,
        drive: Drive::Clock,
    }
}

#[test]
fn everybody_is_told_how_they_stand_and_where_it_cannot_begin_who_and_what() {
    let fight = Arc::new(Fight::unchecked(score(STAIR), "0".repeat(64), STAIR.into()));
    let check = |number| Setup::check(&request(Some(number)), std::slice::from_ref(&fight));
    let stands = |number| {
        let stands = check(number).unwrap().begin.unwrap().stands;
        let how = |it: &Stand| (it.posture, it.on_mark, it.at.map(|at| (at.x.0, at.y.0)));
        stands.iter().map(how).collect::<Vec<_>>()
    };
    assert_eq!(check(1).unwrap().begin, None, "the first move is the beginning of the phrase");
    assert_eq!(stands(2), [(Posture::Standing, true, Some((-1.0, 3.0))), (Posture::Standing, true, Some((1.0, 3.0)))]);
    assert_eq!(stands(4), [(Posture::Standing, false, Some((0.0, 2.0))), (Posture::Kneeling, true, Some((1.0, 3.0)))]);
    let begin = check(4).unwrap().begin.unwrap();
    let hands = |stand: &Stand| stand.hands.iter().map(|it| (it.weapon.clone(), it.hand)).collect::<Vec<_>>();
    assert_eq!(hands(&begin.stands[0]), [("rapier".to_owned(), Some(Hand::Right))]);
    assert_eq!(hands(&begin.stands[1]), [("rapier".to_owned(), Some(Hand::Left))]);
    for (number, why) in [
        (3, "ADA is walking there. It can begin at move 2, or at move 4."),
        (6, "ADA holds BEN there. It can begin at move 5, or at move 7."),
        (8, "BEN is in the middle of rise there. It can begin at move 7, or at move 9."),
    ] {
        let refused = check(number).unwrap_err().to_string();
        assert_eq!(refused, format!("It cannot begin at move {number} of “Down”: {why}"));
    }
    assert_eq!(check(10).unwrap_err().to_string(), "“Down” has no move 10: it has 9. Choose again.");
    let nowhere = STAIR.replace("  place BEN 1,3 facing ADA\n", "");
    let fight = Arc::new(Fight::unchecked(score(&nowhere), "0".repeat(64), nowhere));
    let refused = Setup::check(&request(Some(2)), &[fight]).unwrap_err().to_string();
    assert!(refused.contains("does not say where BEN stands"), "{refused}");
    assert!(refused.ends_with("It can begin at the beginning of the phrase."), "{refused}");
}

#[test]
fn what_comes_after_a_move_says_nothing_of_how_people_stand_before_it() {
    let whole = score(STAIR);
    let words = Vocabulary::built_in();
    let all = starts(&whole, &words, 0);
    assert_eq!(all.len(), 9);
    for number in 1..=all.len() {
        let mut cut = whole.clone();
        let mut seen = 0;
        cut.phrases[0].items.retain(|item| {
            seen += usize::from(matches!(item, Item::Move(_)));
            seen <= number
        });
        assert_eq!(starts(&cut, &words, 0).last(), all.get(number - 1), "before move {number}");
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    /// Any score, any move: the run that begins there is the whole run from there on, as many microseconds earlier.
    #[test]
    fn a_run_from_a_move_is_the_whole_run_from_there_on(text in score_text(), percent in 10u16..=150, count_in in 0u32..5) {
        let Some(score) = read(&text, "any", &Vocabulary::built_in()).score else { return Ok(()) };
        let speed = Speed::percent(percent).unwrap();
        for first in 0..score.phrases.len() {
            let range = PhraseRange::new(&score, first, score.phrases.len() - 1).unwrap();
            let whole = Plan::new(&score, range, speed, count_in);
            for begun in whole.moves().iter().filter(|it| it.phrase_in_range == 0) {
                let part = Plan::from_move(&score, range, Some(begun.number), speed, count_in);
                let beat = whole.length() - part.length();
                let earlier = whole.tempo().time_of(beat);
                prop_assert!(beat <= begun.at && begun.at.0 - beat.0 < 960);
                let near = |one: i64, other: i64| (one - other - earlier.0).abs() <= 2;
                let rest: Vec<_> = whole.moves().iter().filter(|it| it.at >= begun.at).collect();
                prop_assert_eq!(rest.len(), part.moves().len());
                for (one, other) in rest.iter().zip(part.moves()) {
                    prop_assert_eq!((one.number, one.beat, &one.span, one.at - beat), (other.number, other.beat, &other.span, other.at));
                    prop_assert!(near(one.time.0, other.time.0), "{one:?} {other:?}");
                }
                let beats: Vec<_> = whole.moments().iter().filter(|it| it.count_in.is_none() && it.click != Click::None && it.at >= beat).collect();
                let part_beats: Vec<_> = part.moments().iter().filter(|it| it.count_in.is_none() && it.click != Click::None).collect();
                prop_assert_eq!(beats.len(), part_beats.len());
                for (one, other) in beats.iter().zip(&part_beats) {
                    prop_assert_eq!((one.beat, one.bar, one.count, one.click), (other.beat, other.bar, other.count, other.click));
                    prop_assert!(near(one.time.0, other.time.0));
                }
                // The count-in leads into the count of its first beat, at the tempo there.
                let counts: Vec<u32> = part.moments().iter().take(count_in as usize).map(|it| it.count).collect();
                let bar = whole.beats_per_bar();
                for (left, count) in (1..=count_in).rev().zip(&counts) {
                    prop_assert_eq!((count + left - 1) % bar + 1, part_beats[0].count);
                }
                for sound in part.sounds() {
                    prop_assert!(sound.by_move.is_none_or(|at| part.moves()[at].sounds.is_some()));
                }
                for moment in 0..part.moments().len() {
                    part.cue(moment, Reads::Fighter(begun.who));
                }
            }
        }
    }
}

/// On real sockets: refused with a sentence, then places with how everybody stands, a hold, and the record of it.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn everybody_reads_how_they_stand_at_places_and_the_record_says_where_it_began() {
    let folder = TempDir::new().unwrap();
    let fight = Arc::new(Fight::unchecked(score(STAIR), holdfast::hex::sha256(STAIR), STAIR.into()));
    let house = House::open(folder.path(), vec![fight]).await;
    let (mut desk, _) = Raw::join(&house.address(Role::Desk), "Ines").await;
    let ada = house.join(Role::Performer, "Lotte", Some("ADA")).await;
    let setup = |from_move| wire::Setup {
        fight: "The Cellar Stair".into(),
        weapons: None,
        from: 0,
        from_move: Some(from_move),
        to: 1,
        percent: 100,
        count_in: 0,
        drive: DriveKind::Clock,
    };
    desk.say(&ToServer::Places { setup: setup(6), seen: desk.seen() }).await;
    let refused = desk.hear_until(|message| matches!(message, ToMember::Refused { .. })).await;
    let Some(ToMember::Refused { reason, .. }) = refused else { panic!("{refused:?}") };
    assert!(reason.ends_with("ADA holds BEN there. It can begin at move 5, or at move 7."), "{reason}");
    desk.say(&ToServer::Places { setup: setup(4), seen: desk.seen() }).await;
    let told = desk.hear_until(|message| matches!(message, ToMember::Run(run) if run.begins.is_some())).await;
    let Some(ToMember::Run(run)) = told else { panic!("{told:?}") };
    let begins = run.begins.unwrap();
    assert_eq!((begins.number, begins.beat.as_str()), (4, "7+1/2"));
    let postures: Vec<_> = begins.stands.iter().map(|it| (it.fighter.as_str(), it.posture)).collect();
    assert_eq!(postures, [("ADA", PostureView::Standing), ("BEN", PostureView::Kneeling)]);
    let state = ada.until_stage(Stage::Places).await.state.unwrap();
    // Whoever has come since must have been seen.
    while desk.state().stage != Stage::Places || desk.seen() < state.last_event {
        desk.hear_until(|message| matches!(message, ToMember::State(_))).await;
    }
    let (generation, seen) = (state.generation, desk.seen());
    desk.say(&ToServer::Start { generation, anyway: true, seen }).await;
    ada.until("has seen a beat", |seen| seen.cue.is_some_and(|cue| cue >= 1)).await;
    ada.hand.hold(None);
    let written = |message: &ToMember| matches!(message, ToMember::State(state) if state.hold.as_ref().is_some_and(|hold| hold.written));
    desk.hear_until(written).await;
    house.stop().await;
    let runs = Reader::open(folder.path()).unwrap().runs().unwrap();
    assert_eq!(runs.iter().map(|row| row.begun.from_move).collect::<Vec<_>>(), [Some(4)]);
    let reader = Reader::open(folder.path()).unwrap();
    let events = reader.events(EventFilter { run: Some(1), kind: None }).unwrap();
    let held = events.iter().find(|row| matches!(row.event.what, What::Hold { .. })).unwrap();
    assert_eq!(held.event.spot.as_ref().and_then(|spot| spot.number), Some(4), "{held:?}");
    for start in replay(folder.path(), None).unwrap() {
        assert_eq!((&start.differs, &start.failed), (&None, &None), "{start:?}");
    }
}
