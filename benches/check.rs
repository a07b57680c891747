//! How long it takes to read, check and plan a fight of 5,000 moves.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

use std::fmt::Write;
use std::hint::black_box;

use criterion::{Criterion, criterion_group, criterion_main};
use holdfast::check::{HouseRules, check};
use holdfast::score::model::Score;
use holdfast::score::read;
use holdfast::score::vocabulary::Vocabulary;
use holdfast::timeline::{PhraseRange, Plan, Reader};
use holdfast::units::Speed;

fn benches(criterion: &mut Criterion) {
    let vocabulary = Vocabulary::built_in();
    let rules = HouseRules::default();
    let text = fight(100, 50);
    let score = read(&text, "long.fight", &vocabulary).score.expect("the fight is sound");
    criterion.bench_function("read 5,000 moves", |bench| {
        bench.iter(|| read(black_box(&text), "long.fight", &vocabulary));
    });
    criterion.bench_function("check 5,000 moves", |bench| bench.iter(|| check(black_box(&score), &vocabulary, &rules)));
    criterion.bench_function("plan 5,000 moves", |bench| bench.iter(|| plan(black_box(&score))));
    let short = read(fight(10, 40), "short.fight", &vocabulary).score.expect("the fight is sound");
    criterion.bench_function("plan 400 moves", |bench| bench.iter(|| plan(black_box(&short))));
    let long_plan = plan(&score);
    criterion.bench_function("a cue of 5,000 moves", |bench| {
        bench.iter(|| long_plan.cue(black_box(2_500), Reader::Everything));
    });
}

fn plan(score: &Score) -> Plan {
    Plan::new(score, PhraseRange::whole(score).expect("it has phrases"), Speed::FULL, 4)
}

/// A fight of so many phrases with so many moves each: blows to and fro, a ramp in every phrase.
fn fight(phrases: usize, moves: usize) -> String {
    let mut text = String::from("fight \"Long\"\ntempo 84\nfighters\n  MARET rapier right\n  OSK rapier left\n");
    for phrase in 0..phrases {
        let _ = writeln!(text, "phrase \"Phrase {phrase}\" tempo 84\n  tempo 84 -> 100 from 5 to 21");
        for beat in (1..=moves).step_by(2) {
            let _ = writeln!(text, "  {beat} MARET cut head / OSK parry 5 ! steel");
            let _ = writeln!(text, "  {} OSK thrust belly / MARET parry 4 ! steel", beat + 1);
        }
    }
    text
}

criterion_group!(all, benches);
criterion_main!(all);
