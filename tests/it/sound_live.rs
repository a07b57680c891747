//! Sound through a real sound daemon, recorded and measured: beats keep their distance to the sample, the moment that is
//! foretold is the moment that is heard, a hold is silent at once, a lost device comes back, no device does no harm.

use std::fs;
use std::path::Path;
use std::process::Child;

use holdfast::sound::{Sent, Sound, SoundSettings, Voice, VoiceKind};
use holdfast::time::ServerClock;
use holdfast::units::{Decibels, Generation, Micros, ServerTime};
use serde_json::{Value, json};

use audio::{House, RATE, Running, shared_folder, wait_for};

#[path = "support/audio.rs"]
pub(crate) mod audio;

/// Beats that are measured.
const BEATS: i64 = 12;
/// Their distance: 300 beats a minute.
const BEAT: Micros = Micros::millis(200);
/// Strokes of the roll that the hold cuts off.
const ROLL: i64 = 40;

/// A machine that is too busy breaks the sound off; then there is nothing to measure, and the recording is made again, at
/// most five times.
#[test]
fn beats_are_exact_and_a_hold_is_silent() {
    let mut broken_off = Vec::new();
    for _ in 0..6 {
        let house = House::new();
        let _daemon = house.start_daemon();
        let recording = house.record("out.raw");
        succeed(&house, house.child("sound_live::child_beats_and_holds"));
        let told = read(&house.path().join("told.json"));
        match measure(&told, &recording.finish()) {
            Ok(()) => return,
            Err(reason) => {
                println!("recorded once more: {reason}");
                broken_off.push(reason);
            }
        }
    }
    panic!("nothing could be measured: {broken_off:?}");
}

/// Compares what the child says that it sent with what arrived at the sink; an error when the sound broke off.
fn measure(told: &Value, recorded: &[i16]) -> Result<(), String> {
    let sent = |field: &str| -> Vec<i64> {
        told["sent"].as_array().unwrap().iter().map(|sent| sent[field].as_i64().unwrap()).collect()
    };
    let (due, heard, sample) = (sent("due"), sent("heard"), sent("sample"));
    let beats = BEATS as usize;
    let onsets = onsets(recorded);
    assert!(due.len() < (BEATS + ROLL) as usize - 10, "the hold came in the middle of the roll");
    if told["underruns"] != 0 {
        return Err(format!("the device ran dry {} times", told["underruns"]));
    }
    if told["late"] != 0 {
        return Err(format!("{} voices came too late to the device", told["late"]));
    }
    if onsets.len() != beats + 1 {
        return Err(format!("{} onsets instead of {}: the sound has gaps", onsets.len(), beats + 1));
    }
    let steps = |places: &[i64]| -> Vec<i64> { places.windows(2).map(|pair| pair[1] - pair[0]).collect() };
    let (recorded_steps, sample_steps) = (steps(&onsets[..beats]), steps(&sample[..beats]));
    if recorded_steps != sample_steps {
        // The daemon does not tell libasound when it runs dry itself.
        return Err(format!("sent {sample_steps:?} samples apart, recorded {recorded_steps:?}"));
    }

    let asked = BEAT.0 * i64::from(RATE) / 1_000_000;
    let worst = recorded_steps.iter().map(|step| (step - asked).abs()).max().unwrap();
    let offsets: Vec<f64> = (0..beats).map(|n| heard[n] as f64 - onsets[n] as f64 * 1e6 / f64::from(RATE)).collect();
    let mean = offsets.iter().sum::<f64>() / beats as f64;
    let deviation = (offsets.iter().map(|o| (o - mean).powi(2)).sum::<f64>() / (beats - 1) as f64).sqrt();
    let last = recorded.iter().rposition(|sample| *sample != 0).unwrap() as f64;
    let silent = last * 1e6 / f64::from(RATE) + mean - told["held_at"].as_f64().unwrap();
    let latency = told["latency_us"].as_f64().unwrap();
    println!(
        "spacing error: 0 samples against the sample clock, {worst} against server time; foretold against recorded: \
         standard deviation {deviation:.0} µs; silent {:.1} ms after the hold, with a latency of {:.1} ms",
        silent / 1e3,
        latency / 1e3
    );
    assert!(worst <= 2, "beats are {worst} samples off their distance in server time");
    assert!(deviation < 1_000.0, "the foretold moments scatter by {deviation:.0} µs");
    let buffers = 2.0 * told["buffer"].as_f64().unwrap() * 1e6 / f64::from(RATE);
    assert!(silent < latency + buffers + 10_000.0, "silent only {silent:.0} µs after the hold");
    Ok(())
}

/// The first sample of every beat: the first that is not zero after 50 ms of silence.
fn onsets(recorded: &[i16]) -> Vec<i64> {
    let mut quiet = RATE;
    let mut onsets = Vec::new();
    for (n, sample) in recorded.iter().enumerate() {
        if *sample == 0 {
            quiet += 1;
        } else {
            if quiet >= RATE / 20 {
                onsets.push(n as i64);
            }
            quiet = 0;
        }
    }
    onsets
}

#[test]
#[ignore = "a child of beats_are_exact_and_a_hold_is_silent"]
fn child_beats_and_holds() {
    let clock = ServerClock::new();
    let settings = SoundSettings { buffer_frames: Some(4096), rate: Some(RATE), ..SoundSettings::default() };
    let sound = Sound::open(settings, clock);
    wait_for("the sound goes to the daemon", || sound.status().well);
    // The time stamps settle in some three seconds without a gap; beats meanwhile are right to a millisecond, not to a
    // sample.
    let (mut since, mut gaps) = (clock.now(), 0);
    wait_for("the time stamps have settled", || {
        if sound.status().underruns != gaps {
            (since, gaps) = (clock.now(), sound.status().underruns);
        }
        clock.now().since(since) > Micros::millis(3_200)
    });
    let first = clock.now() + Micros::millis(500);
    for n in 0..BEATS {
        plan(&sound, first + Micros(BEAT.0 * n), VoiceKind::Click, 1);
    }
    // A roll without a gap, which is held in the middle.
    let roll = first + Micros(BEAT.0 * BEATS);
    for n in 0..ROLL {
        plan(&sound, roll + Micros::millis(40 * n), VoiceKind::Accent, 1);
    }
    let mut sent: Vec<Sent> = Vec::new();
    wait_for("half of the roll is mixed", || {
        sent.extend(sound.take_sent());
        sent.len() as i64 >= BEATS + ROLL / 2
    });
    let held_at = clock.now();
    sound.silence(Generation(2));
    let status = sound.status();
    // What would have sounded after the hold, had it lived.
    wait_for("the roll would be over", || clock.now() > roll + Micros::millis(40 * ROLL + 300));
    sent.extend(sound.take_sent());
    let end = sound.status();
    assert_eq!(end.sounded, sent.len() as u64);
    assert_eq!(end.planned, end.sounded + end.silenced + end.late, "every voice is accounted for: {end:?}");
    let told = json!({
        "sent": sent, "held_at": held_at, "underruns": end.underruns - gaps, "late": end.late, "latency_us": status.latency_us,
        "buffer": status.buffer,
    });
    fs::write(shared_folder().join("told.json"), told.to_string()).unwrap();
}

#[test]
fn a_lost_device_is_said_and_comes_back_by_itself() {
    lose_device(|house, mut daemon| {
        daemon.end();
        wait_for("the child has missed its device", || house.path().join("missing").exists());
        house.start_daemon()
    });
}

#[test]
fn a_device_that_hangs_is_said_and_comes_back_by_itself() {
    lose_device(|house, daemon| {
        daemon.freeze();
        wait_for("the child has missed its device", || house.path().join("missing").exists());
        daemon.thaw();
        daemon
    });
}

/// `trouble` takes the daemon away from a child that sounds, and gives it back once it is missed.
fn lose_device(trouble: impl FnOnce(&House, Running) -> Running) {
    let house = House::new();
    let daemon = house.start_daemon();
    let child = house.child("sound_live::child_loses_its_device");
    wait_for("the child sounds", || house.path().join("sounding").exists());
    let _daemon = trouble(&house, daemon);
    succeed(&house, child);
    let log = house.child_log();
    // A busy machine may lose it more than once.
    let (lost, found) = (log.matches("No sound: ").count(), log.matches("Sound goes to ").count());
    assert!(lost >= 1 && found == lost + 1, "one warning for one loss:\n{log}");
    assert!(!log.contains("ALSA lib"), "libasound is not quiet:\n{log}");
}

#[test]
#[ignore = "a child of the two tests above"]
fn child_loses_its_device() {
    log_to_standard_error();
    let clock = ServerClock::new();
    let sound = Sound::open(SoundSettings { buffer_frames: Some(2048), ..SoundSettings::default() }, clock);
    let heard = |audible: bool| {
        plan(&sound, clock.now() + Micros::millis(400), VoiceKind::Click, 0);
        sound.take_sent().iter().any(|sent| sent.audible == audible)
    };
    wait_for("a click is heard", || heard(true));
    fs::write(shared_folder().join("sounding"), "").unwrap();
    wait_for("the status says that the device is lost", || !sound.status().well);
    assert!(sound.status().says.starts_with("No sound: "), "{}", sound.status().says);
    wait_for("clicks go to the null device", || heard(false));
    fs::write(shared_folder().join("missing"), "").unwrap();
    wait_for("the device is back", || sound.status().well);
    wait_for("a click is heard again", || heard(true));
}

#[test]
fn without_a_device_everything_goes_on_and_it_is_said_once() {
    let house = House::new();
    succeed(&house, house.child("sound_live::child_without_a_device"));
    let log = house.child_log();
    let warnings: Vec<&str> = log.lines().filter(|line| line.contains(" WARN ")).collect();
    assert_eq!(warnings.len(), 2, "one warning for each handle, however often the device is looked for:\n{log}");
    assert!(warnings[0].contains("No sound: this machine has no sound device"), "{log}");
    assert!(warnings[1].contains("No sound: there is no sound device “Balcony speakers”"), "{log}");
    assert!(!log.contains("ALSA lib"), "libasound is not quiet:\n{log}");
}

#[test]
#[ignore = "a child of without_a_device_everything_goes_on_and_it_is_said_once"]
fn child_without_a_device() {
    log_to_standard_error();
    let clock = ServerClock::new();
    let sound = Sound::open(SoundSettings::default(), clock);
    plan(&sound, clock.now() + Micros::millis(500), VoiceKind::Click, 0);
    let mut sent = Vec::new();
    wait_for("the click has gone to the null device", || {
        sent.extend(sound.take_sent());
        !sent.is_empty()
    });
    assert!(!sent[0].audible);
    assert!((sent[0].heard.since(sent[0].due)).0.abs() < 100, "{sent:?}");
    wait_for("the device was looked for twice", || sound.status().tries >= 2);
    let status = sound.status();
    assert!(!status.well && status.device.is_empty() && status.says.starts_with("No sound: "), "{status:?}");

    let named = SoundSettings { device: Some("Balcony speakers".into()), ..SoundSettings::default() };
    let named = Sound::open(named, clock);
    wait_for("the named device was looked for", || named.status().says.contains("“Balcony speakers”"));
}

#[test]
fn the_null_device_keeps_the_servers_time() {
    let clock = ServerClock::new();
    let sound = Sound::null(clock);
    assert!(sound.status().well);
    let first = clock.now() + Micros::millis(100);
    for n in 0..10 {
        plan(&sound, first + Micros::millis(20 * n), VoiceKind::Click, 3);
    }
    let mut sent = Vec::new();
    wait_for("ten clicks are through", || {
        sent.extend(sound.take_sent());
        sent.len() >= 10
    });
    for sent in &sent {
        assert!(sent.heard.since(sent.due).0.abs() < 100 && !sent.audible, "{sent:?}");
    }
    plan(&sound, clock.now() + Micros::millis(100), VoiceKind::Click, 3);
    sound.silence(Generation(4));
    wait_for("the click that was planned is dead", || sound.status().silenced == 1);
}

fn plan(sound: &Sound, due: ServerTime, kind: VoiceKind, generation: u64) {
    sound.plan(Voice { due, kind, level: Decibels(0.0), generation: Generation(generation) });
}

fn succeed(house: &House, mut child: Child) {
    let status = child.wait().unwrap();
    assert!(status.success(), "the child failed:\n{}", house.child_log());
}

fn read(path: &Path) -> Value {
    serde_json::from_str(&fs::read_to_string(path).unwrap()).unwrap()
}

fn log_to_standard_error() {
    tracing_subscriber::fmt().with_ansi(false).with_writer(std::io::stderr).init();
}
