//! Sound: a second of 64 clicks and of 64 ringing blades through the mixer, and the worst callback: a full buffer in which 64 voices begin and
//! are silenced. The deadline of a callback is the time its own frames last: 1,024 frames are 21.3 ms at 48 kHz.
#![allow(missing_docs, clippy::unwrap_used, reason = "a bench")]

use std::hint::black_box;
use std::sync::Arc;

use criterion::{BatchSize, Criterion, criterion_group, criterion_main};
use holdfast::sound::effects::Effect;
use holdfast::sound::mixer::{Mixer, Start, VOICES};
use holdfast::sound::shelf::Shelf;
use holdfast::sound::{Library, SampleNumber, Sound, Voice, VoiceKind, render_on};
use holdfast::units::{Decibels, Generation, Micros, ServerTime};

const RATE: u32 = 48_000;

fn start(at: i64, generation: u64) -> Start {
    let (at, generation) = (SampleNumber(at), Generation(generation));
    Start { at, kind: VoiceKind::Accent, gain: 0.1, generation, choke: None }
}

/// 64 voices sound at every moment: each ends as another begins.
fn a_second_of_64_voices(criterion: &mut Criterion) {
    let shelf = Arc::new(Shelf::new(RATE));
    let length = shelf.sound(VoiceKind::Accent).len() as i64;
    criterion.bench_function("a second of 64 voices", |bencher| {
        bencher.iter(|| {
            let mut mixer = Mixer::new(Arc::clone(&shelf), SampleNumber(0));
            let mut next = 0;
            let mut block = [0.0f32; 64];
            for _ in 0..RATE / 64 {
                while next < mixer.position().0 + 64 {
                    mixer.start(start(next, 0));
                    next += length / VOICES as i64;
                }
                mixer.render(&mut block, Generation(0));
                black_box(&block);
            }
        });
    });
}

/// A whole effect takes longer than a click: 64 that all sound from beginning to end.
fn a_second_of_64_blades(criterion: &mut Criterion) {
    let library = Library::built_in();
    let shelf = library.shelf(RATE);
    criterion.bench_function("a second of 64 heavy blades", |bencher| {
        bencher.iter(|| {
            let mut mixer = Mixer::new(Arc::clone(&shelf), SampleNumber(0));
            for nth in 0..VOICES as u32 {
                let kind = library.effect("heavy-steel", 1, nth).unwrap().kind;
                mixer.start(Start { kind, ..start(0, 0) });
            }
            let mut block = [0.0f32; 64];
            for _ in 0..RATE / 64 {
                mixer.render(&mut block, Generation(0));
                black_box(&block);
            }
        });
    });
}

/// What a start of the server, or another device, has to prepare.
fn every_effect_computed(criterion: &mut Criterion) {
    let mut group = criterion.benchmark_group("effects");
    group.sample_size(10);
    group.bench_function("every take of every effect, equally loud", |bencher| {
        bencher.iter(|| Library::built_in().shelf(RATE));
    });
    group.finish();
}

/// A minute of a practice track: a click every half second and an effect on every one. Its real-time factor is this
/// time over 60 s.
fn a_minute_of_practice(criterion: &mut Criterion) {
    let library = Library::built_in();
    let shelf = library.shelf(RATE);
    let voice = |n: u32, kind| {
        let due = ServerTime(i64::from(n) * 500_000);
        Voice { due, kind, level: Decibels(-3.0), generation: Generation(0) }
    };
    let effect = |n: u32| library.effect(Effect::ALL[n as usize % 12].name(), 1, n).unwrap().kind;
    let voices: Vec<Voice> = (0..120).flat_map(|n| [voice(n, VoiceKind::Click), voice(n, effect(n))]).collect();
    criterion.bench_function("a minute of a practice track", |bencher| {
        bencher.iter(|| render_on(Arc::clone(&shelf), &voices, Micros::seconds(60)));
    });
}

/// Everything at once: 1,000 voices arrive, 64 begin in one buffer and choke each other, and a hold kills the rest.
fn the_worst_callback(criterion: &mut Criterion) {
    criterion.bench_function("the worst callback of 1,024 frames", |bencher| {
        bencher.iter_batched(
            || {
                let (sound, mut player) = Sound::by_hand(RATE);
                player.fill(&mut [0.0; 1_024], ServerTime(0));
                for n in 0..1_000i64 {
                    let (due, generation) = (ServerTime(21_400 + 300 * n), Generation(1 + n as u64 % 2));
                    sound.plan(Voice { due, kind: VoiceKind::Click, level: Decibels(-20.0), generation });
                }
                player.fill(&mut [0.0; 64], ServerTime(21_333));
                sound.silence(Generation(2));
                (sound, player, [0.0f32; 1_024])
            },
            |(sound, mut player, mut out)| {
                player.fill(&mut out, ServerTime(22_667));
                (sound, player, out)
            },
            BatchSize::SmallInput,
        );
    });
}

criterion_group!(
    benches,
    a_second_of_64_voices,
    a_second_of_64_blades,
    every_effect_computed,
    a_minute_of_practice,
    the_worst_callback
);
criterion_main!(benches);
