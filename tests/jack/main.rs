//! MIDI out on a real MIDI system: JACK with its dummy driver, in a folder of the test's own, heard by a second client.
//! Built with the feature `jack` only; `make test-jack` runs it. JACK hands a message on at the beginning of its next
//! period (128 frames at 48 kHz: 2.7 ms), so what arrives is looked at with that in mind; the sending thread's own
//! lateness is exact.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

use std::process::{Child, Command, Stdio};
use std::sync::mpsc::{self, Receiver};
use std::thread;
use std::time::{Duration, Instant};

use holdfast::midi::schedule::PlannedWhat;
use holdfast::midi::{
    Channel, MidiEvent, MidiIn, MidiOut, MidiSettings, Note, Planned, PortChoice, RunTiming, SevenBits,
};
use holdfast::midi::{Sent, What, trigger::Trigger};
use holdfast::time::ServerClock;
use holdfast::timeline::{Piece, TempoMap};
use holdfast::units::{Bpm, Generation, Micros, ServerTime, Speed, Ticks};
use midir::{MidiInput, MidiInputConnection, MidiOutput};

const PATIENCE: Duration = Duration::from_secs(20);
/// How long a test may take altogether: JACK's library can wait for a daemon that is gone for ever.
const LONGEST_TEST: Duration = Duration::from_secs(120);
/// Set in the child that plays: the variables that JACK is found by can only be given to a child safely.
const CHILD: &str = "HOLDFAST_TEST_JACK_CHILD";

fn bpm(value: f64) -> Bpm {
    Bpm::new(value).unwrap()
}

/// JACK's daemon, ended by its own number.
struct Jack(Child);

impl Jack {
    /// It ends with this process, however that ends.
    fn start(name: &str) -> Jack {
        let daemon = Command::new("setpriv")
            .args(["--pdeathsig", "TERM", "jackd", "-n", name, "-R", "-S", "-d", "dummy", "-r", "48000", "-p", "128"])
            .env("JACK_NO_AUDIO_RESERVATION", "1")
            .stdout(Stdio::null())
            .spawn()
            .expect("setpriv of util-linux is not installed");
        Jack(daemon)
    }

    /// Ends it now.
    fn end(self) {}
}

impl Drop for Jack {
    /// Asks it to end, so that it tidies up: JACK counts its servers, and one that is killed is counted for ever.
    fn drop(&mut self) {
        let asked = Command::new("kill").args(["-TERM", &self.0.id().to_string()]).status();
        if !asked.is_ok_and(|status| status.success()) {
            let _ = self.0.kill();
        }
        let _ = self.0.wait();
    }
}

/// Runs the named test of this file as a child that finds its own JACK, and no other, and starts none. The name of the
/// JACK is the test's: a place in JACK's register that was left behind is used again by a daemon of the same name only,
/// and there are eight.
fn in_a_child(test: &str) -> bool {
    if std::env::var_os(CHILD).is_some() {
        return false;
    }
    let name = format!("holdfast-{test}");
    let mut child = Command::new(std::env::current_exe().unwrap())
        .args([test, "--exact", "--nocapture"])
        .env(CHILD, &name)
        .env("JACK_DEFAULT_SERVER", &name)
        .env("JACK_NO_START_SERVER", "1")
        .spawn()
        .unwrap();
    let begun = Instant::now();
    let ended = loop {
        if let Some(status) = child.try_wait().unwrap() {
            break status;
        }
        if begun.elapsed() > LONGEST_TEST {
            child.kill().unwrap();
            child.wait().unwrap();
            panic!("{test} was not done in {LONGEST_TEST:?}; what JACK said stands above");
        }
        thread::sleep(Duration::from_millis(20));
    };
    assert!(ended.success());
    true
}

/// Looks again and again until there is something to see; fails when there is not in time.
fn soon<T>(what: &str, mut look: impl FnMut() -> Option<T>) -> T {
    let begun = Instant::now();
    loop {
        if let Some(seen) = look() {
            return seen;
        }
        assert!(begun.elapsed() < PATIENCE, "not in {PATIENCE:?}: {what}");
        thread::sleep(Duration::from_millis(1));
    }
}

fn server() -> String {
    std::env::var(CHILD).unwrap()
}

/// A second client that listens to what comes out of our port.
struct Heard {
    messages: Receiver<(ServerTime, Vec<u8>)>,
    _connection: MidiInputConnection<()>,
}

fn listen_to(clock: ServerClock) -> Heard {
    let (sender, messages) = mpsc::channel();
    let (input, port) = soon("our port is there", || {
        let input = MidiInput::new("listener").ok()?;
        let port =
            input.ports().into_iter().find(|port| input.port_name(port).is_ok_and(|name| name.ends_with("out")))?;
        Some((input, port))
    });
    let hear = move |_: u64, bytes: &[u8], (): &mut ()| {
        let _ = sender.send((clock.now(), bytes.to_vec()));
    };
    let connection = input.connect(&port, "in", hear, ()).map_err(|error| error.to_string()).unwrap();
    Heard { messages, _connection: connection }
}

fn until_well(midi: &MidiOut) {
    soon("MIDI out is well", || midi.status().well.then_some(()));
}

fn settings() -> MidiSettings {
    MidiSettings { out: Some(PortChoice::Virtual), clock: true, ..MidiSettings::default() }
}

fn note(due: ServerTime, generation: u64, key: u8) -> Planned {
    let note = Note { channel: Channel::number(10).unwrap(), key: SevenBits::new(key).unwrap() };
    let what = PlannedWhat::Note { note, velocity: SevenBits::new(100).unwrap(), length: Micros::seconds(60) };
    Planned { due, generation: Generation(generation), what }
}

fn show(what: &str, mut micros: Vec<i64>) {
    micros.sort_unstable();
    let at = |share: f64| micros[((micros.len() - 1) as f64 * share).round() as usize];
    println!("{what}: {} times, µs p50 {} p99 {} max {}", micros.len(), at(0.5), at(0.99), at(1.0));
}

#[test]
fn every_clock_arrives_and_in_order() {
    if in_a_child("every_clock_arrives_and_in_order") {
        return;
    }
    let jack = Jack::start(&server());
    let clock = ServerClock::new();
    let midi = MidiOut::open(settings(), clock);
    until_well(&midi);
    let heard = listen_to(clock);
    // Twenty beats from 120 to 180: a ramp.
    let piece = Piece { length: Ticks::beats(20), from: bpm(120.0), to: bpm(180.0) };
    let tempo = TempoMap::new([(piece, Speed::FULL)], (piece, Speed::FULL));
    let start = clock.now() + Micros::seconds(1);
    let length = Ticks::beats(20);
    let (count_in, place, place_time, generation) = (Ticks::beats(1), Ticks::ZERO, Micros::ZERO, Generation(1));
    midi.run(RunTiming { start, tempo: tempo.clone(), count_in, length, place, place_time, generation });
    let mut arrived = Vec::new();
    let mut started_after = None;
    while arrived.len() < 21 * 24 {
        let (at, bytes) = heard.messages.recv_timeout(PATIENCE).unwrap();
        match bytes[0] {
            0xF8 => arrived.push(at),
            0xFA => started_after = Some(arrived.len()),
            _ => {}
        }
    }
    assert_eq!(started_after, Some(24), "start stands between the count-in's last clock and the first beat's");
    let due = |clock: usize| start + tempo.time_of(Ticks((clock as i64 - 24) * 40));
    let sent: Vec<Sent> = midi.take_sent().into_iter().filter(|sent| sent.what == What::Clock).collect();
    for (index, sent) in sent.iter().enumerate() {
        assert_eq!(sent.due, due(index));
    }
    assert!(arrived.iter().enumerate().all(|(index, at)| *at >= due(index)), "a clock arrived before it was due");
    show("clock, due to handed to JACK", sent.iter().map(|sent| sent.lateness().0).collect());
    show(
        "clock, due to heard by another client",
        arrived.iter().enumerate().map(|(i, at)| at.since(due(i)).0).collect(),
    );
    drop((heard, midi));
    jack.end();
}

#[test]
fn a_hold_is_heard_at_once_and_nothing_after_it() {
    if in_a_child("a_hold_is_heard_at_once_and_nothing_after_it") {
        return;
    }
    let jack = Jack::start(&server());
    let clock = ServerClock::new();
    let midi = MidiOut::open(settings(), clock);
    until_well(&midi);
    let heard = listen_to(clock);
    let (mut handed, mut arrived) = (Vec::new(), Vec::new());
    for generation in 1..=40 {
        let now = clock.now();
        midi.plan(note(now, generation, 40));
        for ms in 1..30 {
            midi.plan(note(now + Micros::millis(10 + ms), generation, 41));
        }
        while heard.messages.recv_timeout(PATIENCE).unwrap().1 != [0x99, 40, 100] {}
        midi.take_sent();
        let held = clock.now();
        midi.silence(Generation(generation + 1));
        let (last, mut stops) = loop {
            let (at, bytes) = heard.messages.recv_timeout(PATIENCE).unwrap();
            if bytes == [0xFC] {
                let stops: Vec<Vec<u8>> = (0..2).map(|_| heard.messages.recv_timeout(PATIENCE).unwrap().1).collect();
                break (at, stops);
            }
        };
        stops.sort();
        assert_eq!(stops, [vec![0xB9, 120, 0], vec![0xB9, 123, 0]]);
        let panic: Vec<Sent> = midi.take_sent().into_iter().filter(|sent| sent.what == What::Stop).collect();
        handed.push(panic.last().unwrap().at.since(held).0);
        arrived.push(last.since(held).0);
        // The notes that were planned for now would arrive here.
        assert!(heard.messages.recv_timeout(Duration::from_millis(45)).is_err(), "something came out after the hold");
    }
    show("hold to the last panic byte handed to JACK", handed);
    show("hold to the stop heard by another client", arrived);
    drop((heard, midi));
    jack.end();
}

#[test]
fn a_port_that_goes_comes_back_by_itself() {
    if in_a_child("a_port_that_goes_comes_back_by_itself") {
        return;
    }
    let clock = ServerClock::new();
    let midi = MidiOut::open(settings(), clock);
    soon("it has looked", || (!midi.status().says.starts_with("Looking")).then_some(()));
    assert!(!midi.status().well && midi.status().says.contains("cannot be reached"), "{:?}", midi.status());
    let jack = Jack::start(&server());
    until_well(&midi);
    jack.end();
    soon("the loss is noticed", || (!midi.status().well).then_some(()));
    assert!(midi.status().says.contains("is gone"), "{:?}", midi.status());
    let jack = Jack::start(&server());
    until_well(&midi);
    let heard = listen_to(clock);
    midi.plan(note(clock.now(), 1, 50));
    while heard.messages.recv_timeout(PATIENCE).unwrap().1 != [0x99, 50, 100] {}
    assert_eq!(midi.status().opened, 2);
    drop((heard, midi));
    jack.end();
}

/// A receiver that other programs can send to, called by its name.
fn receiver() -> (MidiInputConnection<()>, Receiver<Vec<u8>>) {
    use midir::os::unix::VirtualInput;
    let (sender, messages) = mpsc::channel();
    let hear = move |_: u64, bytes: &[u8], (): &mut ()| {
        let _ = sender.send(bytes.to_vec());
    };
    let input = MidiInput::new("receiver").unwrap().create_virtual("in", hear, ()).map_err(|error| error.to_string());
    (input.unwrap(), messages)
}

/// Unplugged and plugged in again in mid-run: it is told where the run is before anything else, and continues there.
#[test]
fn a_receiver_that_comes_back_in_mid_run_is_right_again() {
    if in_a_child("a_receiver_that_comes_back_in_mid_run_is_right_again") {
        return;
    }
    let jack = Jack::start(&server());
    let clock = ServerClock::new();
    let (first, heard) = soon("JACK answers", || MidiInput::new("looks for JACK").ok().map(|_| receiver()));
    let named = MidiSettings { out: Some(PortChoice::Named("receiver:in".into())), ..settings() };
    let midi = MidiOut::open(named, clock);
    until_well(&midi);
    let (piece, length) = (Piece { length: Ticks::beats(80), from: bpm(120.0), to: bpm(120.0) }, Ticks::beats(80));
    let tempo = TempoMap::new([(piece, Speed::FULL)], (piece, Speed::FULL));
    let start = clock.now() + Micros::millis(300);
    let (count_in, place, place_time, generation) = (Ticks::ZERO, Ticks::ZERO, Micros::ZERO, Generation(1));
    midi.run(RunTiming { start, tempo: tempo.clone(), count_in, length, place, place_time, generation });
    while heard.recv_timeout(PATIENCE).unwrap() != [0xFA] {}
    drop((first, heard));
    soon("the loss is noticed", || (!midi.status().well).then_some(()));
    let (again, heard) = receiver();
    until_well(&midi);
    let position = loop {
        if let [0xF2, low, high] = heard.recv_timeout(PATIENCE).unwrap()[..] {
            break i64::from(high) << 7 | i64::from(low);
        }
    };
    while heard.recv_timeout(PATIENCE).unwrap() != [0xFB] {}
    assert_eq!(heard.recv_timeout(PATIENCE).unwrap(), [0xF8]);
    let due = start + tempo.time_of(Ticks(position * 240));
    let late = clock.now().since(due);
    println!("continued at sixteenth {position}, {} µs after its time", late.0);
    assert!(late >= Micros::ZERO && late < Micros::millis(120), "a sixteenth at 120 lasts 125 ms; it is {late:?} off");
    drop((again, heard, midi));
    jack.end();
}

#[test]
fn a_foot_switch_is_heard() {
    if in_a_child("a_foot_switch_is_heard") {
        return;
    }
    let jack = Jack::start(&server());
    let (sender, mut events) = tokio::sync::mpsc::unbounded_channel();
    let hold = Some(Trigger::parse("control 1 64").unwrap());
    let settings = MidiSettings { input: Some(PortChoice::Virtual), hold, ..MidiSettings::default() };
    let input = MidiIn::open(&settings, ServerClock::new(), sender);
    soon("MIDI in is well", || input.status().well.then_some(()));
    let pedal = MidiOutput::new("pedal").unwrap();
    let ours = pedal.ports().into_iter().find(|port| pedal.port_name(port).is_ok_and(|name| name.ends_with("in")));
    let mut pedal = pedal.connect(&ours.unwrap(), "out").map_err(|error| error.to_string()).unwrap();
    pedal.send(&[0xB0, 64, 127]).unwrap();
    assert_eq!(soon("the pedal's hold", || events.try_recv().ok()), MidiEvent::Hold);
    pedal.send(&[0x99, 36, 90]).unwrap();
    let learned = MidiEvent::Learned(Trigger::parse("note 10 36").unwrap());
    assert_eq!(soon("the pad's note", || events.try_recv().ok()), learned);
    drop((pedal, input));
    jack.end();
}
