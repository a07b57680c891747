//! The engine with effects: takes, choke groups, trims, levels, cues on one sample, and a run that cues its sounds.

use std::collections::BTreeMap;
use std::sync::Arc;

use holdfast::score;
use holdfast::score::vocabulary::Vocabulary;
use holdfast::sound::recordings::{Clip, Recording};
use holdfast::sound::{Adjustment, InRun, Library, Sound, Voice, VoiceKind, cued, render_on, take};
use holdfast::timeline::{PhraseRange, Plan};
use holdfast::units::{Decibels, Generation, Micros, ServerTime, Speed};

const RATE: u32 = 48_000;

const FIGHT: &str = r#"fight "The Quay"
beats 4
tempo 60
fighters
  MARET rapier right
  OSK   rapier right
phrase "One"
  1  MARET thrust belly / OSK parry 4 ! steel -2000ms -3dB
  2  OSK cut head / MARET parry 5 ! steel+bell
  3  ! wood +250ms
"#;

fn plan(count_in: u32) -> Plan {
    let reading = score::read(FIGHT, "quay.fight", &Vocabulary::built_in());
    let score = reading.score.unwrap();
    Plan::new(&score, PhraseRange::whole(&score).unwrap(), Speed::FULL, count_in)
}

fn in_run(number: u32, begins: i64) -> InRun {
    let begins = ServerTime(begins);
    InRun { number, start: begins + Micros::millis(1_500), begins, generation: Generation(4) }
}

#[test]
fn a_sound_of_the_plan_is_heard_at_its_time_with_its_trim_and_level() {
    let chosen = Adjustment { gain: Decibels(-4.0), trim: Micros::millis(30), choke: Some(7) };
    let library = Library::new(Vec::new(), &BTreeMap::from([("wood".to_owned(), chosen)]));
    let plan = plan(2);
    let steel = cued(&library, &plan, 1, in_run(9, 1_000_000)).unwrap();
    assert_eq!((steel.voice.due, steel.clamped), (ServerTime(3_500_000), None));
    let wood = cued(&library, &plan, 3, in_run(9, 1_000_000)).unwrap().voice;
    assert_eq!(wood.due, ServerTime(2_500_000 + 2_000_000 + 250_000 + 30_000));
    assert_eq!((wood.level, wood.kind.choke_group(), wood.generation), (Decibels(-4.0), Some(7), Generation(4)));
    assert!(cued(&library, &plan, 99, in_run(9, 0)).is_none());
}

#[test]
fn a_trim_before_the_run_began_is_heard_as_it_begins_and_said() {
    let found = cued(&Library::built_in(), &plan(2), 0, in_run(1, 5_000_000)).unwrap();
    assert_eq!(found.voice.due, ServerTime(5_000_000));
    assert_eq!(found.clamped, Some(Micros::millis(500)));
    assert_eq!(found.voice.level, Decibels(-3.0));
}

/// The take of the nth time in a run is that of the rule, so the same run sounds the same and another does not.
#[test]
fn takes_follow_the_rule_of_the_run() {
    let (library, plan) = (Library::built_in(), plan(0));
    for run in 0..30 {
        let taken = |index| match cued(&library, &plan, index, in_run(run, 0)).unwrap().voice.kind {
            VoiceKind::Effect(id) => id.take,
            other => panic!("{other:?}"),
        };
        assert_eq!([taken(0), taken(1)], [0, 1].map(|nth| take(run, "steel", nth, 5)));
        assert_ne!(taken(0), taken(1));
        assert_eq!(taken(2), take(run, "bell", 0, 5));
    }
}

/// Two cues on one sample are both heard: the mix is their sum.
#[test]
fn two_cues_on_one_sample_are_both_heard() {
    let library = Library::built_in();
    let shelf = library.shelf(RATE);
    let voice = |name| {
        let kind = library.effect(name, 1, 0).unwrap().kind;
        Voice { due: ServerTime(250_000), kind, level: Decibels(0.0), generation: Generation(0) }
    };
    let (steel, wood) = (voice("steel"), voice("wood"));
    let both = render_on(Arc::clone(&shelf), &[steel, wood], Micros::seconds(1));
    let (first, second) = (shelf.sound(steel.kind), shelf.sound(wood.kind));
    assert_eq!(both.iter().position(|sample| *sample != 0.0), Some(12_000));
    for n in 0..second.len() {
        assert_eq!(both[12_000 + n], first[n] + second[n]);
    }
}

/// A new scrape cuts off the one before in five milliseconds; steel rings on beside steel. Recordings choke by choice.
#[test]
fn choke_groups_choke_and_nothing_else_does() {
    let drone =
        Recording { name: "drone".into(), takes: vec![Clip { rate: RATE, samples: vec![0.25; 48_000].into() }] };
    let gong = Recording { name: "gong".into(), ..drone.clone() };
    let grouped = Adjustment { choke: Some(3), ..Adjustment::default() };
    let chosen = BTreeMap::from([("drone".to_owned(), grouped), ("gong".to_owned(), grouped)]);
    let by_ear = Library::new(vec![drone.clone(), gong.clone()], &chosen);
    // The same by the table [choke] of a production; what was chosen by ear goes before it.
    let by_table = BTreeMap::from([("drone".to_owned(), 3), ("gong".to_owned(), 3)]);
    let by_table = Library::new(vec![drone.clone(), gong.clone()], &BTreeMap::new()).in_groups(by_table);
    let apart = BTreeMap::from([("drone".to_owned(), 7), ("gong".to_owned(), 8)]);
    let by_both = Library::new(vec![drone, gong], &BTreeMap::new()).in_groups(apart).adjusted(&chosen);
    let after = |library: &Library, first: &str, second: &str| {
        let voice = |name: &str, due, level| {
            let kind = library.effect(name, 1, 0).unwrap().kind;
            Voice { due: ServerTime(due), kind, level: Decibels(level), generation: Generation(0) }
        };
        let length = Micros::millis(400);
        // The second is silent, so that what is left is the first.
        let with = render_on(library.shelf(RATE), &[voice(first, 0, 0.0), voice(second, 100_000, -1e9)], length);
        let alone = render_on(library.shelf(RATE), &[voice(first, 0, 0.0)], length);
        let left = |sound: &[f32]| sound[4_800 + 240..].iter().map(|sample| sample.abs()).sum::<f32>();
        left(&with) / left(&alone)
    };
    for (first, second, choked) in [
        ("scrape", "scrape", true),
        ("drone", "gong", true),
        ("gong", "drone", true),
        ("steel", "steel", false),
        ("bell", "steel", false),
        ("drone", "steel", false),
        ("scrape", "grunt", false),
    ] {
        for library in [&by_ear, &by_table, &by_both] {
            let left = after(library, first, second);
            assert!(if choked { left < 1e-3 } else { (left - 1.0).abs() < 1e-3 }, "{first}, {second}: {left}");
        }
    }
}

/// The desk's own handle, with its supervisor and the null device: the sounds are prepared in the background, heard as
/// soon as they are there, and a hold ends what is planned.
#[test]
fn a_desk_without_a_device_prepares_the_sounds_and_sounds_them_in_time() {
    let clock = holdfast::time::ServerClock::new();
    let sound = Sound::null(clock);
    let drone = Recording { name: "drone".into(), takes: vec![Clip { rate: RATE, samples: vec![0.25; 4_800].into() }] };
    let library = Arc::new(Library::new(vec![drone], &BTreeMap::new()));
    sound.stock(Arc::clone(&library));
    let kind = library.effect("drone", 1, 0).unwrap().kind;
    let plan = |after| {
        sound.plan(Voice {
            due: clock.now() + Micros::millis(after),
            kind,
            level: Decibels(0.0),
            generation: Generation(1),
        })
    };
    // Asked again until it is there: how long preparing takes is the machine's business.
    let mut sent = Vec::new();
    for _ in 0..600 {
        plan(40);
        std::thread::sleep(std::time::Duration::from_millis(50));
        sent.extend(sound.take_sent());
        if !sent.is_empty() {
            break;
        }
    }
    let sent = sent.first().expect("the sounds were prepared within half a minute");
    assert_eq!(sent.kind, kind);
    assert!(sent.heard.since(sent.due).0.abs() < 100);
    plan(60_000);
    sound.silence(Generation(2));
    plan(60_000);
    let mut status = sound.status();
    for _ in 0..600 {
        if status.planned == status.sounded + status.late + status.silenced + status.dropped {
            break;
        }
        std::thread::sleep(std::time::Duration::from_millis(20));
        status = sound.status();
    }
    assert_eq!(status.planned, status.sounded + status.late + status.silenced + status.dropped, "{status:?}");
    assert!(status.silenced >= 2);
}
