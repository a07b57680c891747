//! A hold over a real sound daemon, recorded: the clicks end, the loudspeakers call the hold once, promptly and whole,
//! and nothing else is heard.

use std::fs;

use holdfast::sound::loudness::{TARGET, measure};
use holdfast::sound::{HoldSettings, Sound, SoundSettings, Voice, VoiceKind};
use holdfast::time::ServerClock;
use holdfast::units::{Decibels, Generation, Micros};
use serde_json::{Value, json};

use crate::sound_live::audio::{House, RATE, shared_folder, wait_for};

/// Clicks before the hold, 200 ms apart, and as many that are planned for after it.
const CLICKS: i64 = 10;
/// From the last click before the hold to the first that it kills.
const GAP: i64 = 1_200;
/// The tone's length, seconds: two notes of 0.45 and 0.75 s.
const TONE: f64 = 1.2;

/// A machine that is too busy breaks the sound off; then the recording is made again, at most five times.
#[test]
fn the_loudspeakers_call_a_hold_once_and_are_silent() {
    let mut broken_off = Vec::new();
    for _ in 0..6 {
        let house = House::new();
        let _daemon = house.start_daemon();
        let recording = house.record("out.raw");
        let status = house.child("sound_live_hold::child_holds").wait().unwrap();
        assert!(status.success(), "the child failed:\n{}", house.child_log());
        let told = serde_json::from_str(&fs::read_to_string(house.path().join("told.json")).unwrap()).unwrap();
        match judge(&told, &recording.finish()) {
            Ok(()) => return,
            Err(reason) => {
                println!("recorded once more: {reason}");
                broken_off.push(reason);
            }
        }
    }
    panic!("nothing could be measured: {broken_off:?}");
}

/// An error when the sound broke off.
fn judge(told: &Value, recorded: &[i16]) -> Result<(), String> {
    if told["underruns"] != 0 {
        return Err(format!("the device ran dry {} times", told["underruns"]));
    }
    if told["late"] != 0 {
        return Err(format!("{} clicks came too late to the device", told["late"]));
    }
    assert_eq!(told["clicks"], CLICKS, "those before the hold, and no other");
    let sounds = sounds(recorded);
    if sounds.len() as i64 != CLICKS + 1 {
        return Err(format!("{} sounds instead of {CLICKS} clicks and the call", sounds.len()));
    }
    let (call, before) = sounds.split_last().unwrap();
    assert!(before.iter().all(|click| click.seconds() < 0.1), "before the call there are only clicks");
    assert!((call.seconds() - TONE).abs() < 0.03, "the call lasts {} s", call.seconds());
    let samples: Vec<f32> = recorded[call.begin..call.end].iter().map(|sample| f32::from(*sample) / 32_768.0).collect();
    let loudness = measure(&samples, RATE).unwrap().loudness;
    let meant = TARGET + HoldSettings::USUAL_LEVEL.0;
    assert!((loudness - meant).abs() < 1.0, "it is heard at {loudness} LUFS instead of {meant}");
    // When a sample is heard, by the first click: its own moment was told.
    let first_heard = told["first_heard"].as_f64().unwrap();
    let heard_at = |sample: usize| first_heard + (sample as f64 - before[0].begin as f64) * 1e6 / f64::from(RATE);
    let after = heard_at(call.begin) - told["held_at"].as_f64().unwrap();
    let latency = told["latency_us"].as_f64().unwrap();
    let buffers = 2.0 * told["buffer"].as_f64().unwrap() * 1e6 / f64::from(RATE);
    println!("called {:.1} ms after the hold, with a latency of {:.1} ms", after / 1e3, latency / 1e3);
    assert!((0.0..latency + buffers + 15_000.0).contains(&after), "called {after:.0} µs after the hold");
    Ok(())
}

struct Heard {
    begin: usize,
    end: usize,
}

impl Heard {
    fn seconds(&self) -> f64 {
        (self.end - self.begin) as f64 / f64::from(RATE)
    }
}

/// What was heard between silences of 20 ms.
fn sounds(recorded: &[i16]) -> Vec<Heard> {
    let mut sounds: Vec<Heard> = Vec::new();
    for (n, _) in recorded.iter().enumerate().filter(|(_, sample)| **sample != 0) {
        match sounds.last_mut() {
            Some(last) if n - last.end < RATE as usize / 50 => last.end = n,
            _ => sounds.push(Heard { begin: n, end: n }),
        }
    }
    sounds
}

#[test]
#[ignore = "a child of the_loudspeakers_call_a_hold_once_and_are_silent"]
fn child_holds() {
    let clock = ServerClock::new();
    let settings = SoundSettings { buffer_frames: Some(4096), rate: Some(RATE), ..SoundSettings::default() };
    let sound = Sound::open(settings, clock);
    wait_for("the sound goes to the daemon", || sound.status().well);
    assert!(sound.says_hold());
    let first = clock.now() + Micros::millis(1_000);
    let due = |n: i64| first + Micros::millis(200 * n + if n < CLICKS { 0 } else { GAP });
    for n in 0..2 * CLICKS {
        let due = due(n);
        let (kind, level, generation) = (VoiceKind::Click, Decibels(0.0), Generation(1));
        sound.plan(Voice { due, kind, level, generation });
    }
    wait_for("the clicks before the hold are heard", || clock.now() > due(CLICKS - 1) + Micros::millis(400));
    let held_at = clock.now();
    sound.hold(Generation(2), 1);
    sound.clone().hold(Generation(2), 1);
    let status = sound.status();
    wait_for("the clicks would be over", || clock.now() > due(2 * CLICKS) + Micros::millis(1_000));
    let sent = sound.take_sent();
    let end = sound.status();
    assert_eq!(end.calls, 1);
    let told = json!({
        "first_heard": sent.first().map(|sent| sent.heard), "clicks": sent.len(), "late": end.late, "held_at": held_at, "underruns": end.underruns,
        "latency_us": status.latency_us, "buffer": status.buffer,
    });
    fs::write(shared_folder().join("told.json"), told.to_string()).unwrap();
}
