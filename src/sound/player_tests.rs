//! The audio half's promises, driven by hand: exact onsets by server time, nothing dead ever begins, nothing late is
//! played late, and not one allocation in the callback.

use std::num::NonZero;
use std::sync::{LazyLock, mpsc};

use proptest::prelude::*;

use super::*;
use crate::sound::lease::Lease;
use crate::sound::recordings::{Clip, Recording};
use crate::sound::{Library, Sound, Voice, VoiceKind};
use crate::units::Decibels;

static BUILT_IN: LazyLock<Arc<Library>> = LazyLock::new(|| Arc::new(Library::built_in()));

fn voice(due: i64, generation: u64) -> Voice {
    let (due, generation) = (ServerTime(due), Generation(generation));
    Voice { due, kind: VoiceKind::Accent, level: Decibels(0.0), generation }
}

/// Fills block after block with steady time stamps: sample 0 is heard at server time 0.
fn fill(player: &mut Player, samples: usize) -> Vec<f32> {
    let mut out = vec![0.0; samples];
    let rate = i64::from(player.rate());
    for block in out.chunks_mut(256) {
        let heard = ServerTime(player.position().0 * 1_000_000 / rate);
        player.fill(block, heard);
    }
    out
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn a_voice_is_heard_at_the_sample_of_its_time(due in 2_100_000i64..2_900_000, rate in 8_000u32..100_000) {
        let (sound, mut player) = Sound::by_hand(rate);
        sound.plan(voice(due, 0));
        let out = fill(&mut player, rate as usize * 3);
        let onset = out.iter().position(|sample| *sample != 0.0).unwrap() as i64;
        let exact = due as f64 * f64::from(rate) / 1e6;
        // The stamps are cut to whole microseconds, which is less than a tenth of a sample at these rates.
        prop_assert!((onset as f64 - exact).abs() <= 0.6, "{onset} for {exact}");
        let sent = sound.take_sent();
        prop_assert_eq!(sent.len(), 1);
        prop_assert_eq!(sent[0].sample, onset);
        prop_assert!((sent[0].heard.0 - due).abs() as f64 <= 0.6e6 / f64::from(rate) + 1.0);
    }

    #[test]
    fn the_dead_never_begin_and_every_voice_is_accounted_for(
        steps in prop::collection::vec((0u8..4, -3_000i64..40_000, 0u64..6), 1..120),
    ) {
        let (sound, mut player) = Sound::by_hand(48_000);
        let mut lives = 0;
        for (what, ahead, number) in steps {
            match what {
                0 | 1 => sound.plan(voice(player.position().0 * 1_000_000 / 48_000 + ahead, number)),
                2 => { sound.silence(Generation(number)); lives = lives.max(number); }
                _ => { fill(&mut player, ahead.unsigned_abs() as usize / 20); }
            }
            prop_assert!(sound.take_sent().iter().all(|sent| what == 3 && sent.generation.0 >= lives));
        }
        sound.silence(Generation(7));
        sound.plan(voice(player.position().0 * 1_000_000 / 48_000, 6));
        fill(&mut player, 240 + BLOCK);
        prop_assert!(fill(&mut player, 10_000).iter().all(|sample| *sample == 0.0));
        prop_assert!(sound.take_sent().is_empty());
        let status = sound.status();
        prop_assert_eq!(status.planned, status.sounded + status.late + status.silenced + status.dropped);
    }

    #[test]
    fn a_late_voice_is_played_at_once_or_not_at_all(late in 0i64..20_000) {
        let (sound, mut player) = Sound::by_hand(48_000);
        fill(&mut player, 48_000);
        let now = player.position().0 * 1_000_000 / 48_000;
        sound.plan(voice(now - late, 0));
        let out = fill(&mut player, 4_800);
        if late < 4_900 {
            prop_assert_eq!(out.iter().position(|sample| *sample != 0.0), Some(0));
            prop_assert_eq!(sound.status().late, 0);
        } else if late > 5_100 {
            prop_assert!(out.iter().all(|sample| *sample == 0.0));
            prop_assert_eq!(sound.status().late, 1);
        }
    }
}

#[test]
fn a_silence_that_comes_late_does_not_bring_an_old_life_back() {
    let (sound, mut player) = Sound::by_hand(48_000);
    sound.silence(Generation(5));
    sound.clone().silence(Generation(3));
    sound.plan(voice(100_000, 4));
    assert!(fill(&mut player, 24_000).iter().all(|sample| *sample == 0.0));
    assert_eq!(sound.status().silenced, 1);
}

/// Moving to a device of another rate keeps what waits, and its time.
#[test]
fn what_waits_survives_the_loss_of_a_device() {
    let (sound, mut player) = Sound::by_hand(48_000);
    sound.plan(voice(1_500_000, 0));
    fill(&mut player, 48_000);
    let mut player = player.for_people();
    player.move_to(44_100);
    let mut out = vec![0.0; 44_100];
    for (n, block) in out.chunks_mut(441).enumerate() {
        player.fill(block, ServerTime(1_000_000 + 10_000 * n as i64));
    }
    let onset = out.iter().position(|sample| *sample != 0.0).unwrap() as i64;
    assert!((onset - 22_050).abs() <= 1, "{onset}");
    assert!(sound.take_sent()[0].audible);
}

/// Fills like the null device: silence is passed over, wherever that can be.
fn take_unheard(player: &mut Player, chunks: usize) -> usize {
    let mut passed = 0;
    for _ in 0..chunks {
        let heard = ServerTime(player.position().0 * 1_000_000 / 48_000);
        match player.pass_over(960, heard) {
            true => passed += 1,
            false => player.fill(&mut [0.0; 960], heard),
        }
    }
    passed
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    /// Whoever passes over the silence misses nothing of what is not: the same voices begin at the same samples, the same
    /// are dropped and for the same reason, and every hold is called out as often.
    #[test]
    fn nothing_is_missed_by_passing_over_silence(
        steps in prop::collection::vec((0u8..6, -3_000i64..90_000, 0u64..6), 1..80),
    ) {
        let (heard, mut by_people) = Sound::by_hand(48_000);
        let (unheard, by_nobody) = Sound::by_hand(48_000);
        let mut by_nobody = by_nobody.for_nobody();
        let mut pulls = 0;
        for (what, ahead, number) in steps {
            let chunks = ahead.unsigned_abs() as usize / 1_500;
            for sound in [&heard, &unheard] {
                match what {
                    0 | 1 => sound.plan(voice(by_people.position().0 * 1_000_000 / 48_000 + ahead, number)),
                    2 => sound.silence(Generation(number)),
                    3 => sound.hold(Generation(number), pulls + 1),
                    _ => {}
                }
            }
            pulls += u64::from(what == 3);
            if what > 3 {
                for _ in 0..chunks {
                    let at = ServerTime(by_people.position().0 * 1_000_000 / 48_000);
                    by_people.fill(&mut [0.0; 960], at);
                }
                take_unheard(&mut by_nobody, chunks);
            }
            prop_assert_eq!(by_people.position(), by_nobody.position());
            prop_assert_eq!(heard.take_sent(), unheard.take_sent());
        }
        prop_assert_eq!(heard.status(), unheard.status());
    }
}

/// Silence costs the null device nothing, and a new shelf is taken up all the same, so that the old one can be freed.
#[test]
fn silence_is_passed_over_once_nothing_is_asked() {
    let (sound, player) = Sound::by_hand(48_000);
    let mut player = player.for_nobody();
    assert_eq!(take_unheard(&mut player, 50), 50);
    let library = Arc::new(recorded(48_000, 100));
    let old = library.shelf(48_000).watch();
    sound.stock(library);
    assert!(take_unheard(&mut player, 50) >= 45, "all but where the shelf is taken up");
    sound.stock(Arc::new(recorded(48_000, 100)));
    assert!(take_unheard(&mut player, 50) >= 45);
    sound.stock(Arc::new(recorded(48_000, 100)));
    assert!(old.upgrade().is_none());
}

/// Without a device the samples wait until an effect is planned, and what is planned before they are there begins to
/// nobody and is counted as what it is.
#[test]
fn without_a_device_samples_are_prepared_once_they_are_wanted() {
    let clock = crate::time::ServerClock::new();
    let sound = Sound::null(clock);
    let library = Arc::new(recorded(48_000, 100));
    sound.stock(Arc::clone(&library));
    let wait_for = |what: &str, met: &dyn Fn() -> bool| {
        let until = clock.now() + Micros::seconds(20);
        while !met() {
            assert!(clock.now() < until, "{what}");
            std::thread::yield_now();
        }
    };
    let measured = || library.listing().all(|listed| listed.attack.is_some());
    wait_for("the attacks are measured", &measured);
    assert!(sound.is_prepared() && library.ready(48_000).is_none());
    sound.plan(Voice { kind: VoiceKind::Click, ..voice(clock.now().0 + 100_000, 0) });
    wait_for("the click began", &|| sound.status().sounded == 1);
    assert!(library.ready(48_000).is_none(), "a click needs no samples of the library");
    let kind = library.effect("drone", 1, 0).unwrap().kind;
    sound.plan(Voice { kind, ..voice(clock.now().0 + 50_000, 0) });
    wait_for("the effect began", &|| sound.status().sounded == 2);
    wait_for("the samples are there", &|| library.ready(48_000).is_some());
    let meter = || {
        sound.plan(Voice { kind, ..voice(clock.now().0 + 50_000, 0) });
        sound.take_level().peak.0 > -60.0
    };
    wait_for("it is mixed", &meter);
    assert!(sound.take_sent().iter().all(|sent| !sent.audible));
    assert_eq!(sound.status().late + sound.status().dropped, 0, "{:?}", sound.status());
}

/// The whole chain that a device pulls (the lease, rodio's mixer, the player, the mixer), full of voices, with holds
/// in the middle that are called out and a ring that overflows: not one allocation and not one free. The counter is a library's, and is
/// first shown to count.
#[test]
fn the_callback_never_allocates_or_frees() {
    assert_eq!(allocation_counter::measure(|| drop(std::hint::black_box(Box::new(1)))).count_total, 1);

    let rate = NonZero::new(48_000).unwrap();
    let (sound, player) = Sound::by_hand(rate.get());
    let stamp = player.stamp();
    let (home, _at_home) = mpsc::channel();
    let (mixer, mut source) = rodio::mixer::mixer(NonZero::new(2).unwrap(), rate);
    mixer.add(Lease::new(player, rate, home));
    source.next();
    source.next();
    let mut pull = |from: i64, frames: i64| {
        allocation_counter::measure(|| {
            stamp.leave(SampleNumber(from), ServerTime(from * 1_000_000 / 48_000));
            for _ in 0..2 * frames {
                std::hint::black_box(source.next());
            }
        })
    };
    let mut found = pull(1, 4_800);
    for n in 0..1_500 {
        sound.plan(Voice { kind: VoiceKind::Click, ..voice(100_000 + 200 * n, 1 + n as u64 % 2) });
    }
    found += pull(4_801, 4_800);
    sound.hold(Generation(2), 1);
    found += pull(9_601, 24_000);
    // Once more while it sounds.
    sound.hold(Generation(3), 2);
    found += pull(33_601, 96_000);
    assert_eq!((found.count_total, found.count_current), (0, 0));
    let status = sound.status();
    assert_eq!(status.calls, 2);
    assert!(status.sounded > 64 && status.silenced > 64 && status.dropped > 64, "{status:?}");
}

/// The same with effects: 64 voices at a time, and shelves that are changed while they sound, again and again. The old
/// shelf goes back to the desk and is freed there; what sounds goes on to its end.
#[test]
fn shelves_are_changed_without_allocating_or_freeing() {
    let (sound, mut player) = Sound::by_hand(8_000);
    let libraries: Vec<Arc<Library>> = (0..3).map(|_| Arc::new(recorded(8_000, 4_000))).collect();
    let shelves: Vec<_> = libraries.iter().map(|it| it.shelf(8_000).watch()).collect();
    let mut out = vec![0.0; 2_000];
    for library in &libraries {
        // Until the last round's drones are over.
        fill(&mut player, 4_200);
        sound.stock(Arc::clone(library));
        player.fill(&mut out, ServerTime(player.position().0 * 125));
        let kind = library.effect("drone", 1, 0).unwrap().kind;
        let now = player.position().0 * 125;
        // What the block that is already mixed reaches is past.
        let due = now + 10_000;
        for n in 0..64 {
            sound.plan(Voice { kind, level: Decibels(-20.0), ..voice(due + 10 * n, 0) });
        }
        let found = allocation_counter::measure(|| player.fill(&mut out, ServerTime(now)));
        assert_eq!((found.count_total, found.count_current), (0, 0));
        assert!(out.iter().skip(200).all(|sample| *sample != 0.0), "64 drones sound");
    }
    // The last drones, and the call of a hold, sound on from a shelf that is the old one by now.
    sound.hold(Generation(0), 1);
    player.fill(&mut out[..100], ServerTime(player.position().0 * 125));
    let last = Arc::new(recorded(8_000, 10));
    sound.stock(Arc::clone(&last));
    let found = allocation_counter::measure(|| player.fill(&mut out, ServerTime(player.position().0 * 125)));
    assert_eq!((found.count_total, found.count_current), (0, 0));
    assert!(out.iter().take(1_000).all(|sample| *sample != 0.0), "they sound to their end");
    fill(&mut player, 10_000);
    drop(libraries);
    sound.stock(last);
    assert!(shelves.iter().all(|shelf| shelf.upgrade().is_none()), "all old shelves were freed by the desk");
    assert_eq!(sound.status().sounded, 192);
}

/// A sound of a library that is not on the shelf, and a shelf of another rate: nothing is heard, nothing is wrong.
#[test]
fn what_is_not_on_the_shelf_is_counted_and_not_heard() {
    let (sound, mut player) = Sound::by_hand(8_000);
    let (known, other) = (recorded(8_000, 100), recorded(8_000, 100));
    sound.stock(Arc::new(known));
    let kind = other.effect("drone", 1, 0).unwrap().kind;
    sound.plan(Voice { kind, ..voice(500_000, 0) });
    assert!(fill(&mut player, 8_000).iter().all(|sample| *sample == 0.0));
    assert_eq!((sound.status().sounded, sound.status().dropped), (0, 1));
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    /// Live, in blocks, whatever begins when and as loud as a level can ask, with mutes, holds and calls among it: no true peak
    /// over -1 dBTP (EBU R 128), as the crate `ebur128` measures it.
    #[test]
    fn no_true_peak_is_too_high_live(
        steps in prop::collection::vec((0u8..12, 0i64..60_000, 0u32..60, -6f64..24.0), 10..120),
        rate in prop::sample::select(vec![44_100u32, 48_000, 96_000]),
    ) {
        let library = &*BUILT_IN;
        let (sound, mut player) = Sound::by_hand(rate);
        sound.stock(Arc::clone(library));
        let now = |player: &Player| player.position().0 * 1_000_000 / i64::from(rate);
        let (mut out, mut lives, mut pulls) = (fill(&mut player, 4_800), 0, 0);
        for (what, ahead, number, level) in steps {
            match what {
                0 => { pulls += 1; lives += 1; sound.hold(Generation(lives), pulls); }
                1 => sound.mute(number % 2 == 0),
                2..=4 => out.extend(fill(&mut player, ahead as usize / 10)),
                _ => {
                    let name = crate::sound::effects::Effect::ALL[number as usize % 12].name();
                    let kind = if what == 5 { VoiceKind::Accent } else { library.effect(name, 1, number).unwrap().kind };
                    let due = now(&player) + ahead;
                    sound.plan(Voice { kind, level: Decibels(level), ..voice(due, lives) });
                }
            }
        }
        out.extend(fill(&mut player, 2 * rate as usize));
        let mut meter = ebur128::EbuR128::new(1, rate, ebur128::Mode::TRUE_PEAK).unwrap();
        meter.add_frames_f32(&out).unwrap();
        let peak = 20.0 * meter.true_peak(0).unwrap().log10();
        prop_assert!(peak <= crate::sound::loudness::HIGHEST, "{peak} dBTP");
    }
}

/// A library with a recording that never crosses zero.
fn recorded(rate: u32, samples: usize) -> Library {
    let clip = Clip { rate, samples: (0..samples).map(|n| 0.2 + 0.1 * (n % 2) as f32).collect() };
    Library::new(vec![Recording { name: "drone".into(), takes: vec![clip] }], &std::collections::BTreeMap::new())
}

#[test]
fn muting_fades_within_five_milliseconds_and_comes_back_as_softly() {
    let rate = 48_000;
    let (sound, mut player) = Sound::by_hand(rate);
    let tone = Recording { name: "tone".into(), takes: vec![Clip { rate, samples: vec![0.5; 96_000].into() }] };
    sound.stock(std::sync::Arc::new(Library::of(vec![tone], &Default::default(), |name| name == "tone")));
    let kind = sound.library().unwrap().effect("tone", 1, 0).unwrap().kind;
    sound.plan(Voice { due: ServerTime(100_000), kind, level: Decibels(0.0), generation: Generation(0) });
    let before = fill(&mut player, 9_600);
    let steady = before[9_599];
    assert!(steady > 0.0 && sound.take_level().peak.0 > -60.0);
    sound.mute(true);
    let out = fill(&mut player, 4_800);
    // A block that was mixed already is heard out: 64 samples; the fade takes 240.
    let silent = out.iter().position(|sample| *sample == 0.0).unwrap();
    assert!(silent <= 64 + 240, "silent only after {silent} samples");
    assert!(out[silent..].iter().all(|sample| *sample == 0.0));
    let step = steady / 240.0 * 1.001;
    assert!(out.windows(2).all(|pair| (pair[1] - pair[0]).abs() <= step), "it fades, it does not click");
    sound.take_level();
    fill(&mut player, 4_800);
    assert_eq!(sound.take_level().peak.0, -120.0, "the meter shows what is heard");
    sound.mute(false);
    let back = fill(&mut player, 4_800);
    assert!(back.windows(2).all(|pair| (pair[1] - pair[0]).abs() <= step));
    assert_eq!(back[4_799], steady);
}
