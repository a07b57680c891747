//! Sound: one second of 64 voices through the mixer, and the worst callback: a full buffer in which 64 voices begin and
//! are silenced. The deadline of a callback is the time its own frames last: 1,024 frames are 21.3 ms at 48 kHz.
#![allow(missing_docs, clippy::unwrap_used, reason = "a bench")]

use std::hint::black_box;
use std::sync::Arc;

use criterion::{BatchSize, Criterion, criterion_group, criterion_main};
use holdfast::sound::mixer::{Mixer, Start, VOICES};
use holdfast::sound::shelf::Shelf;
use holdfast::sound::{SampleNumber, Sound, Voice, VoiceKind};
use holdfast::units::{Decibels, Generation, ServerTime};

const RATE: u32 = 48_000;

fn start(at: i64, generation: u32) -> Start {
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

/// Everything at once: 1,000 voices arrive, 64 begin in one buffer and choke each other, and a hold kills the rest.
fn the_worst_callback(criterion: &mut Criterion) {
    criterion.bench_function("the worst callback of 1,024 frames", |bencher| {
        bencher.iter_batched(
            || {
                let (sound, mut player) = Sound::by_hand(RATE);
                player.fill(&mut [0.0; 1_024], ServerTime(0));
                for n in 0..1_000i64 {
                    let (due, generation) = (ServerTime(21_400 + 300 * n), Generation(1 + n as u32 % 2));
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

criterion_group!(benches, a_second_of_64_voices, the_worst_callback);
criterion_main!(benches);
