//! The plan of a run: phrases laid end to end, repeats unrolled, moments counted, cues read, speed changed on the way.

use holdfast::score::model::{BystanderId, FighterId, Person, Score};
use holdfast::score::read;
use holdfast::score::vocabulary::Vocabulary;
use holdfast::timeline::{Click, Part, PhraseRange, Plan, PlannedWalk, Reader, phrase_length};
use holdfast::units::{Micros, Speed, Ticks};
use proptest::prelude::*;

use crate::timeline_scores::*;

const BEAT: i64 = 960;

#[test]
fn a_phrase_ends_on_the_whole_beat_after_its_last_event_then_rests() {
    let rows = [
        ("nothing at all", vec![], BEAT),
        ("a short rest", vec![rest(100)], BEAT),
        ("a rest", vec![rest(3 * BEAT)], 3 * BEAT),
        ("a move on beat 1", vec![cut(0, 0, 1)], BEAT),
        ("a move on beat 15", vec![cut(14 * BEAT, 0, 1)], 15 * BEAT),
        ("a move on 15+1/2", vec![cut(14 * BEAT + 480, 0, 1)], 15 * BEAT),
        ("and a rest", vec![cut(14 * BEAT, 0, 1), rest(2 * BEAT)], 17 * BEAT),
        ("a rest of half a beat", vec![cut(0, 0, 1), rest(480)], BEAT + 480),
        ("a sound", vec![sound(2 * BEAT)], 3 * BEAT),
        ("a step of tempo", vec![step(4 * BEAT, 90.0)], 5 * BEAT),
        ("a ramp that ends on a beat", vec![ramp(0, 8 * BEAT, 60.0, 90.0)], 8 * BEAT),
        ("a ramp that ends between", vec![ramp(0, 8 * BEAT + 1, 60.0, 90.0)], 9 * BEAT),
        ("a walk", vec![walk(4 * BEAT, 0, 6 * BEAT)], 6 * BEAT),
        ("a repeat", vec![repeat(3, 2 * BEAT, 8 * BEAT, vec![cut(0, 0, 1)])], 14 * BEAT),
        ("a repeat of odd rounds", vec![repeat(3, 500, 0, vec![])], 2 * BEAT),
        ("a walk out of a repeat", vec![repeat(2, BEAT, 0, vec![walk(0, 0, 3 * BEAT)])], 4 * BEAT),
    ];
    for (what, items, length) in rows {
        assert_eq!(phrase_length(&phrase("one", None, items)), Ticks(length), "{what}");
    }
}

#[test]
fn tempo_goes_on_from_phrase_to_phrase_and_into_a_range() {
    let score = score(
        60.0,
        vec![
            phrase("one", None, vec![cut(0, 0, 1), ramp(0, 4 * BEAT, 60.0, 120.0)]),
            phrase("two", None, vec![cut(3 * BEAT, 0, 1)]),
            phrase("three", Some(30.0), vec![cut(0, 0, 1)]),
            phrase("four", None, vec![cut(0, 0, 1)]),
        ],
    );
    let whole = plan(&score, 0, 3, 100, 0);
    assert_eq!(whole.tempo().bpm_at(Ticks::beats(4)), 120.0);
    assert_eq!(whole.tempo().bpm_at(Ticks::beats(8)), 30.0);
    assert_eq!(whole.tempo().bpm_at(Ticks::beats(9)), 30.0);
    let from_two = plan(&score, 1, 1, 50, 4);
    assert_eq!(from_two.tempo().bpm_at(Ticks::ZERO), 60.0);
    assert_eq!(from_two.moments()[0].time, Micros::seconds(-4));
    assert_eq!(from_two.duration(), Micros::seconds(4));
}

#[test]
fn a_ramp_jumps_to_its_own_start_and_a_change_inside_it_ends_it() {
    let items = vec![ramp(0, 4 * BEAT, 60.0, 100.0), step(2 * BEAT, 40.0), ramp(6 * BEAT, 8 * BEAT, 90.0, 50.0)];
    let score = score(200.0, vec![phrase("one", None, items)]);
    let plan = plan(&score, 0, 0, 100, 0);
    let found: Vec<_> = plan
        .tempo()
        .stretches()
        .iter()
        .map(|it| (it.at.0 / BEAT, it.length.0 / BEAT, it.from_bpm, it.to_bpm))
        .collect();
    assert_eq!(found, [(0, 2, 60.0, 80.0), (2, 4, 40.0, 40.0), (6, 2, 90.0, 50.0)]);
}

#[test]
fn a_tempo_inside_a_repeat_is_set_in_every_round() {
    let score =
        score(60.0, vec![phrase("one", None, vec![repeat(2, 2 * BEAT, 0, vec![step(0, 60.0), step(BEAT, 120.0)])])]);
    assert_eq!(plan(&score, 0, 0, 100, 0).duration(), Micros::seconds(3));
}

#[test]
fn repeats_unroll_in_order_and_moves_are_numbered_in_each_phrase() {
    let round = vec![cut(480, 1, 0), repeat(2, 240, 0, vec![cut(0, 0, 1)])];
    let items = vec![cut(BEAT, 2, 0), repeat(2, BEAT, 0, round), cut(BEAT, 2, 1)];
    let score = score(60.0, vec![phrase("one", None, items), phrase("two", None, vec![cut(0, 0, 1)])]);
    let plan = plan(&score, 0, 1, 100, 0);
    let moves: Vec<_> = plan.moves().iter().map(|it| (it.at.0, it.number, it.who.0)).collect();
    let expected = [
        (0, 1, 0),
        (240, 2, 0),
        (480, 3, 1),
        (960, 4, 2),
        (960, 5, 0),
        (960, 6, 2),
        (1200, 7, 0),
        (1440, 8, 1),
        (1920, 1, 0),
    ];
    assert_eq!(moves, expected);
}

#[test]
fn a_count_in_leads_into_one() {
    let score = score(60.0, vec![phrase("one", None, vec![cut(0, 0, 1)])]);
    let counts = |count_in| {
        let plan = plan(&score, 0, 0, 100, count_in);
        let beats = plan.moments().iter().filter(|it| it.count_in.is_some());
        beats.map(|it| (it.count, it.count_in.unwrap(), it.bar, it.click == Click::Accent)).collect::<Vec<_>>()
    };
    assert_eq!(counts(0), []);
    assert_eq!(counts(2), [(3, 2, 0, false), (4, 1, 0, false)]);
    assert_eq!(counts(4), [(1, 4, 0, true), (2, 3, 0, false), (3, 2, 0, false), (4, 1, 0, false)]);
    assert_eq!(counts(5)[0], (4, 5, 0, false));
}

#[test]
fn bars_count_anew_in_each_phrase_and_off_beats_do_not_click() {
    let items = vec![cut(4 * BEAT + 480, 0, 1), walk(300, 0, BEAT)];
    let score = score(60.0, vec![phrase("one", None, items), phrase("two", None, vec![])]);
    let plan = plan(&score, 0, 1, 100, 0);
    let found: Vec<_> = plan.moments().iter().map(|it| (it.at.0, it.bar, it.count, it.click)).collect();
    use Click::{Accent, Beat, None as Silent};
    let expected = [
        (0, 1, 1, Accent),
        (300, 1, 1, Silent),
        (960, 1, 2, Beat),
        (1920, 1, 3, Beat),
        (2880, 1, 4, Beat),
        (3840, 2, 1, Accent),
        (4320, 2, 1, Silent),
        (4800, 1, 1, Accent),
    ];
    assert_eq!(found, expected);
}

#[test]
fn each_reader_is_told_their_own_part() {
    let items = vec![cut(0, 0, 1), cut(BEAT, 1, 2), cut(BEAT, 0, 2), cut(3 * BEAT, 2, 0)];
    let score = score(60.0, vec![phrase("one", None, items)]);
    let plan = plan(&score, 0, 0, 100, 1);
    let fighter = |id| Reader::Fighter(FighterId(id));
    let counting = plan.cue(0, fighter(2));
    assert_eq!(
        (counting.now, counting.next, counting.next_in),
        (vec![], vec![(Part::Answer, 1), (Part::Answer, 2)], Some(Ticks::beats(2)))
    );
    let first = plan.cue(1, fighter(0));
    assert_eq!(
        (first.now, first.next, first.next_in),
        (vec![(Part::Act, 0)], vec![(Part::Act, 2)], Some(Ticks::beats(1)))
    );
    let all = plan.cue(2, Reader::Everything);
    assert_eq!((all.now, all.next), (vec![(Part::Watch, 1), (Part::Watch, 2)], vec![(Part::Watch, 3)]));
    assert_eq!(plan.cue(4, fighter(1)), Default::default());
    assert_eq!(plan.cue(99, fighter(1)), Default::default());
}

#[test]
fn moves_are_told_in_words() {
    let score = score(60.0, vec![phrase("one", None, vec![cut(0, 0, 1)])]);
    let plan = plan(&score, 0, 0, 100, 1);
    assert_eq!(
        (plan.moves()[0].action.as_str(), plan.moves()[0].reply.as_deref()),
        ("cut flank right", Some("parry 3"))
    );
}

#[test]
fn a_range_that_is_not_there_cannot_be_made() {
    let score = score(60.0, vec![phrase("one", None, vec![]), phrase("two", None, vec![])]);
    assert!(PhraseRange::new(&score, 0, 1).is_some());
    for (first, last) in [(1, 0), (0, 2), (2, 2)] {
        assert_eq!(PhraseRange::new(&score, first, last), None);
    }
}

#[test]
fn phrases_are_named_by_name_number_or_beginning() {
    let names = ["Across the quay", "Across the bridge", "The wound", "2nd wind"];
    let score = score(60.0, names.iter().map(|name| phrase(name, None, vec![])).collect());
    let first = |asked| PhraseRange::named(&score, Some(asked), None).map(|range| range.first);
    for (asked, index) in [("the wound", 2), ("THE", 2), ("across the q", 0), ("1", 0), ("4", 3), ("2", 1), ("2n", 3)] {
        assert_eq!(first(asked), Ok(index), "{asked}");
    }
    for (asked, told) in [
        ("0", "choose one"),
        ("5", "4 \"2nd wind\""),
        ("", "1 \"Across the quay\""),
        ("across", "1 \"Across the quay\", 2 \"Across the bridge\""),
    ] {
        let sentence = first(asked).unwrap_err().to_string();
        assert!(sentence.contains(told), "{sentence}");
    }
    let backwards = PhraseRange::named(&score, Some("3"), Some("1")).unwrap_err().to_string();
    assert!(backwards.starts_with("`Across the quay` comes before `The wound`"), "{backwards}");
    assert_eq!(PhraseRange::named(&score, None, Some("3")), Ok(PhraseRange { first: 0, last: 2 }));
}

proptest! {
    #[test]
    fn a_plan_is_whole_and_in_order(score in any_score(), percent in 10u16..=150, count_in in 0u32..9) {
        let plan = plan(&score, 0, score.phrases.len() - 1, percent, count_in);
        for pair in plan.moments().windows(2) {
            prop_assert!(pair[0].at < pair[1].at && pair[0].time < pair[1].time);
            prop_assert!(pair[0].moves.end == pair[1].moves.start);
            prop_assert!(pair[0].walks.end == pair[1].walks.start && pair[0].sounds.end == pair[1].sounds.start);
        }
        let last = plan.moments().last().unwrap();
        prop_assert!(last.at < plan.length());
        prop_assert_eq!((last.moves.end, last.walks.end, last.sounds.end), (plan.moves().len(), plan.walks().len(), plan.sounds().len()));
        for moment in plan.moments() {
            prop_assert!(plan.moves()[moment.moves.clone()].iter().all(|it| it.at == moment.at && it.time == moment.time));
            prop_assert_eq!(moment.time, plan.tempo().time_of(moment.at));
        }
        let stretched: i64 = plan.tempo().stretches().iter().map(|it| it.length.0).sum();
        prop_assert_eq!(Ticks(stretched), plan.length());
        for (index, phrase) in plan.phrases().iter().enumerate() {
            prop_assert_eq!(phrase.length, phrase_length(&score.phrases[index]));
            let clicks = plan.moments().iter().filter(|it| it.phrase_in_range == index && it.count_in.is_none() && it.click != Click::None);
            prop_assert_eq!(clicks.count() as i64, phrase.length.ceil_beat().0 / BEAT);
        }
    }

    #[test]
    fn a_range_is_what_it_is_in_the_whole_fight(score in any_score(), from in 0usize..4, percent in 10u16..=150) {
        let first = from.min(score.phrases.len() - 1);
        let (whole, part) = (plan(&score, 0, score.phrases.len() - 1, percent, 0), plan(&score, first, score.phrases.len() - 1, percent, 2));
        let begins = &whole.phrases()[first];
        let skipped = whole.moves().len() - part.moves().len();
        for (a, b) in whole.moves()[skipped..].iter().zip(part.moves()) {
            prop_assert_eq!((a.at - begins.at, a.number, &a.action), (b.at, b.number, &b.action));
            prop_assert!((a.time - begins.time - b.time).0.abs() <= 1);
        }
    }

    #[test]
    fn a_change_of_speed_moves_nothing_before_it(score in any_score(), from in 0usize..4, a in 10u16..=150, b in 10u16..=150) {
        let last = score.phrases.len() - 1;
        let from = from.min(last);
        let before = plan(&score, 0, last, a, 4);
        let mut after = before.clone();
        after.set_speed_from(from, Speed::percent(b).unwrap());
        let turn = before.phrases()[from].at;
        for (old, new) in before.moments().iter().zip(after.moments()) {
            if old.at <= turn && from > 0 {
                prop_assert_eq!(old.time, new.time);
            } else {
                let scaled = (old.time - before.phrases()[from].time).0 as f64 * f64::from(a) / f64::from(b);
                prop_assert!(((new.time - after.phrases()[from].time).0 as f64 - scaled).abs() <= 1.0 + f64::from(a) / f64::from(b));
            }
        }
        after.set_speed_from(from, Speed::percent(a).unwrap());
        prop_assert_eq!(before.moments(), after.moments());
        prop_assert_eq!(before.tempo(), after.tempo());
    }

    #[test]
    fn cues_tell_every_move_to_both_who_are_in_it(score in any_score()) {
        let plan = plan(&score, 0, score.phrases.len() - 1, 100, 3);
        let mut told = vec![0; plan.moves().len()];
        for fighter in 0..3 {
            for moment in 0..plan.moments().len() {
                let cue = plan.cue(moment, Reader::Fighter(FighterId(fighter)));
                for &(part, index) in &cue.now {
                    let it = &plan.moves()[index];
                    prop_assert_eq!(if part == Part::Act { Some(it.who) } else { it.to }, Some(FighterId(fighter)));
                    told[index] += 1;
                }
                // The next one is the first of theirs that comes later, found here by looking at all of them.
                let at = plan.moments()[moment].at;
                let next = plan.moves().iter().find(|it| it.at > at && it.involves(FighterId(fighter)));
                prop_assert_eq!(cue.next_in, next.map(|it| it.at - at));
            }
        }
        prop_assert!(told.iter().all(|&times| times == 2));
    }

    /// Whoever walks is told so when they set off, and before that when it comes; whoever sees all is told of everybody.
    #[test]
    fn cues_tell_every_walk_to_whoever_walks(text in crate::strategies::score_text()) {
        let Some(score) = read(&text, "any.fight", &Vocabulary::built_in()).score else { return Ok(()) };
        let Some(whole) = PhraseRange::whole(&score) else { return Ok(()) };
        let plan = Plan::new(&score, whole, Speed::FULL, 3);
        let fighters = (0..score.fighters.len()).map(FighterId);
        let mut told = vec![0; plan.walks().len()];
        let bystanders = (0..score.bystanders.len()).map(BystanderId);
        let own = fighters.map(Reader::Fighter).chain(bystanders.map(Reader::Bystander));
        for reader in own.chain([Reader::Everything]) {
            let theirs = |walk: &PlannedWalk| match reader {
                Reader::Fighter(fighter) => walk.who == Person::Fighter(fighter),
                Reader::Bystander(bystander) => walk.who == Person::Bystander(bystander),
                Reader::Everything => true,
            };
            for (number, moment) in plan.moments().iter().enumerate() {
                let cue = plan.cue(number, reader);
                prop_assert!(!matches!(reader, Reader::Bystander(_)) || (cue.now.is_empty() && cue.next.is_empty()));
                for &index in &cue.walks {
                    let walk = &plan.walks()[index];
                    prop_assert!(theirs(walk) && walk.at == moment.at);
                    told[index] += 1;
                }
                let later = plan.walks().iter().filter(|walk| theirs(walk) && walk.at > moment.at);
                let next = later.map(|walk| walk.at).min().filter(|_| reader != Reader::Everything);
                prop_assert_eq!(cue.next_walk_in, next.map(|at| at - moment.at));
                let named = cue.next_walks.iter().map(|&index| plan.walks()[index].at);
                prop_assert!(named.map(Some).all(|at| at == next) && cue.next_walks.is_empty() == next.is_none());
            }
        }
        for (walk, times) in plan.walks().iter().zip(told) {
            prop_assert_eq!(times, 2, "{:?}", walk);
        }
    }
}

fn plan(score: &Score, first: usize, last: usize, percent: u16, count_in: u32) -> Plan {
    Plan::new(score, PhraseRange::new(score, first, last).unwrap(), Speed::percent(percent).unwrap(), count_in)
}
