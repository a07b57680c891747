//! Scores made in Rust for the tests of the timeline and the checks: small builders, and a strategy for any sound score.

use holdfast::score::model::*;
use holdfast::units::{Bpm, Decibels, Metres, Micros, Ticks};
use proptest::prelude::*;

pub(crate) fn bpm(value: f64) -> Bpm {
    Bpm::new(value).unwrap()
}

pub(crate) fn score(tempo: f64, phrases: Vec<Phrase>) -> Score {
    let fighter = |name: &str, hand| Fighter {
        name: name.into(),
        weapon: "rapier".into(),
        hand,
        sheathed: false,
        second: None,
        span: 0..0,
    };
    Score {
        name: "The Salt Stair".into(),
        beats_per_bar: 4,
        tempo: bpm(tempo),
        fighters: vec![fighter("MARET", Hand::Right), fighter("OSK", Hand::Left), fighter("TAM", Hand::Right)],
        bystanders: vec![Bystander { name: "PELL".into(), span: 0..0 }],
        phrases,
    }
}

pub(crate) fn phrase(name: &str, tempo: Option<f64>, items: Vec<Item>) -> Phrase {
    Phrase { name: name.into(), tempo: tempo.map(bpm), items, span: 0..0 }
}

/// A move at a tick: `who` cuts, `to` parries.
pub(crate) fn cut(at: i64, who: usize, to: usize) -> Item {
    Item::Move(Move {
        at: Ticks(at),
        who: FighterId(who),
        action: "cut".into(),
        target: Some("flank".into()),
        side: Some(Side::Right),
        manner: Manner::default(),
        answer: Some(Answer {
            who: FighterId(to),
            reply: "parry".into(),
            arg: Some("3".into()),
            side: None,
            with: None,
            span: 0..0,
        }),
        sounds: None,
        text: None,
        span: 0..0,
    })
}

pub(crate) fn walk(at: i64, who: usize, until: i64) -> Item {
    let to = Point { x: Metres(1.0), y: Metres(2.0) };
    let course = Course { to, further: false, around: None };
    Item::Walk(Walk { at: Ticks(at), who: Person::Fighter(FighterId(who)), course, until: Ticks(until), span: 0..0 })
}

pub(crate) fn sound(at: i64) -> Item {
    let sounds = SoundCue { names: vec!["drum".into()], trim: Micros(0), level: Decibels(0.0), span: 0..0 };
    Item::Sound(LoneSound { at: Ticks(at), sounds, text: None, span: 0..0 })
}

pub(crate) fn step(at: i64, to: f64) -> Item {
    Item::Tempo(TempoChange::Step { at: Ticks(at), to: bpm(to), span: 0..0 })
}

pub(crate) fn ramp(from: i64, to: i64, start: f64, end: f64) -> Item {
    let (from, to) = (Ticks(from), Ticks(to));
    Item::Tempo(TempoChange::Ramp { from, to, start: bpm(start), end: bpm(end), span: 0..0 })
}

pub(crate) fn rest(length: i64) -> Item {
    Item::Rest(Rest { length: Ticks(length), span: 0..0 })
}

pub(crate) fn repeat(times: u32, every: i64, at: i64, items: Vec<Item>) -> Item {
    Item::Repeat(Repeat { at: Ticks(at), times, every: Ticks(every), items, used: None, span: 0..0 })
}

/// Any sound score of one to four phrases.
pub(crate) fn any_score() -> impl Strategy<Value = Score> {
    (20.0..300.0f64, 1u32..7, prop::collection::vec(any_phrase(), 1..5)).prop_map(|(tempo, beats_per_bar, phrases)| {
        let mut score = score(tempo, phrases);
        score.beats_per_bar = beats_per_bar;
        score.phrases.iter_mut().enumerate().for_each(|(index, phrase)| phrase.name = format!("Phrase {index}"));
        score
    })
}

fn any_phrase() -> impl Strategy<Value = Phrase> {
    let items = prop::collection::vec(any_item(), 0..8);
    (prop::option::of(20.0..300.0f64), items, prop::option::of(1i64..4000)).prop_map(|(tempo, mut items, length)| {
        items.extend(length.map(rest));
        phrase("", tempo, items)
    })
}

fn any_item() -> impl Strategy<Value = Item> {
    let line = prop_oneof![any_line(20_000), any_line(20_000), any_repeat(any_line(2_000).boxed(), 2_000)];
    prop_oneof![line.boxed(), any_repeat(any_repeat(any_line(500).boxed(), 500).boxed(), 2_000)]
}

/// A line that begins before `within`, on any tick or on a beat.
fn any_line(within: i64) -> BoxedStrategy<Item> {
    let at = prop_oneof![0..within, (0..=(within - 1) / 960).prop_map(|beat| beat * 960)].boxed();
    let tempo = 20.0..300.0f64;
    prop_oneof![
        4 => (at.clone(), 0usize..3, 1usize..3).prop_map(|(at, who, by)| cut(at, who, (who + by) % 3)),
        1 => (at.clone(), 0usize..3, 1i64..4000).prop_map(|(at, who, length)| walk(at, who, at + length)),
        1 => at.clone().prop_map(sound),
        1 => (at.clone(), tempo.clone()).prop_map(|(at, to)| step(at, to)),
        2 => (at, 1i64..8000, tempo.clone(), tempo).prop_map(|(at, length, a, b)| ramp(at, at + length, a, b)),
    ]
    .boxed()
}

fn any_repeat(line: BoxedStrategy<Item>, every: i64) -> BoxedStrategy<Item> {
    (1u32..5, every..every + 2_000, 0i64..5_000, prop::collection::vec(line, 0..4))
        .prop_map(|(times, every, at, items)| repeat(times, every, at, items))
        .boxed()
}
