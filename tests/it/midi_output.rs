//! The sending thread with a port that writes down what it gets: what was planned comes out when it is due, and after
//! a silence only the bytes that stop everything.

use std::sync::mpsc::{self, Receiver, Sender};
use std::time::Duration;

use holdfast::midi::port::{NotSent, Port};
use holdfast::midi::schedule::PlannedWhat;
use holdfast::midi::{Channel, MidiOut, MidiSettings, Note, Planned, PortChoice, SevenBits, What};
use holdfast::time::ServerClock;
use holdfast::units::{Generation, Micros, ServerTime};

/// A port that hands on what it is sent.
struct Paper(Sender<Vec<u8>>);

impl Port for Paper {
    fn send(&mut self, message: &[u8]) -> Result<(), NotSent> {
        self.0.send(message.to_vec()).map_err(|_| NotSent)
    }
}

const PATIENCE: Duration = Duration::from_secs(20);

fn midi(clock: ServerClock) -> (MidiOut, Receiver<Vec<u8>>) {
    let (sender, paper) = mpsc::channel();
    let settings = MidiSettings { clock: true, ..MidiSettings::default() };
    (MidiOut::to_port(settings, clock, Box::new(Paper(sender))), paper)
}

fn note(due: ServerTime, generation: u64, key: u8) -> Planned {
    let note = Note { channel: Channel::number(10).unwrap(), key: SevenBits::new(key).unwrap() };
    let velocity = SevenBits::new(100).unwrap();
    let what = PlannedWhat::Note { note, velocity, length: Micros::seconds(60) };
    Planned { due, generation: Generation(generation), what }
}

#[test]
fn notes_come_out_in_order_and_never_before_their_time() {
    let clock = ServerClock::new();
    let (midi, paper) = midi(clock);
    midi.silence(Generation(1));
    assert_eq!(paper.recv_timeout(PATIENCE).unwrap(), [0xFC]);
    let now = clock.now();
    for (ms, key) in [(30, 3), (10, 1), (20, 2)] {
        midi.plan(note(now + Micros::millis(ms), 1, key));
    }
    let keys: Vec<u8> = (0..3).map(|_| paper.recv_timeout(PATIENCE).unwrap()[1]).collect();
    assert_eq!(keys, [1, 2, 3]);
    let status = midi.status();
    drop(midi);
    assert!(status.well);
    // The thread's last act: everything stops.
    let last: Vec<Vec<u8>> = (0..3).map(|_| paper.recv_timeout(PATIENCE).unwrap()).collect();
    assert_eq!(last, [vec![0xFC], vec![0xB9, 120, 0], vec![0xB9, 123, 0]]);
}

#[test]
fn what_was_sent_can_be_asked_for_with_its_lateness() {
    let clock = ServerClock::new();
    let (midi, paper) = midi(clock);
    let due = clock.now() + Micros::millis(5);
    midi.plan(note(due, 1, 64));
    while paper.recv_timeout(PATIENCE).unwrap() != [0x99, 64, 100] {}
    midi.silence(Generation(2));
    while paper.recv_timeout(PATIENCE).unwrap() != [0xB9, 123, 0] {}
    let sent: Vec<_> = midi.take_sent().into_iter().filter(|sent| sent.what == What::NoteOn).collect();
    assert_eq!(sent.len(), 1);
    assert_eq!((sent[0].due, sent[0].message.as_bytes()), (due, &[0x99, 64, 100][..]));
    assert!(sent[0].lateness() >= Micros::ZERO);
    assert!(midi.take_sent().iter().all(|sent| sent.what == What::Stop));
}

#[test]
fn after_a_silence_only_what_stops_everything_comes_out() {
    let clock = ServerClock::new();
    let (midi, paper) = midi(clock);
    let now = clock.now();
    // A note that sounds, and a flood that is due just now and just after.
    midi.plan(note(now, 1, 1));
    while paper.recv_timeout(PATIENCE).unwrap() != [0x99, 1, 100] {}
    for index in 0..500 {
        midi.plan(note(now + Micros(index * 200), 1, 2));
    }
    midi.silence(Generation(2));
    // A late-comer of the old generation, as another thread might send it.
    midi.plan(note(clock.now(), 1, 3));
    midi.plan(note(clock.now(), 2, 4));
    let mut heard = Vec::new();
    loop {
        let message = paper.recv_timeout(PATIENCE).unwrap();
        let done = message == [0x99, 4, 100];
        heard.push(message);
        if done {
            break;
        }
    }
    let stop = heard.iter().position(|message| message == &[0xFC]).unwrap();
    let after = &heard[stop..];
    assert_eq!(after, [vec![0xFC], vec![0xB9, 120, 0], vec![0xB9, 123, 0], vec![0x99, 4, 100]]);
    assert!(heard[..stop].iter().all(|message| message[..2] == [0x99, 2]));
}

/// Without ALSA's sequencer or with no port of that name the program runs on and says so; with neither, it is told
/// which.
#[test]
fn without_its_port_midi_runs_on_and_says_so() {
    let clock = ServerClock::new();
    let name = "a port that nobody has plugged in";
    let settings = MidiSettings { out: Some(PortChoice::Named(name.into())), ..MidiSettings::default() };
    let midi = MidiOut::open(settings, clock);
    midi.plan(note(clock.now(), 1, 60));
    while midi.status().lost == 0 || midi.status().says.starts_with("Looking") {
        std::thread::yield_now();
    }
    let status = midi.status();
    assert!(!status.well && status.says.starts_with("No MIDI out: "), "{status:?}");
    assert!(status.says.contains(name) || status.says.contains("cannot be reached"), "{status:?}");
}

/// A port whose driver panics at its third message.
struct Failing(Sender<Vec<u8>>, u32);

impl Port for Failing {
    fn send(&mut self, message: &[u8]) -> Result<(), NotSent> {
        self.1 += 1;
        assert!(self.1 != 3, "the driver failed");
        self.0.send(message.to_vec()).map_err(|_| NotSent)
    }
}

#[test]
fn a_sending_thread_that_panics_ends_what_sounds_is_told_and_goes_on() {
    let clock = ServerClock::new();
    let (sender, paper) = mpsc::channel();
    let settings = MidiSettings { clock: true, ..MidiSettings::default() };
    let midi = MidiOut::to_port(settings, clock, Box::new(Failing(sender, 0)));
    midi.silence(Generation(1));
    let now = clock.now();
    midi.plan(note(now, 1, 1));
    midi.plan(note(now + Micros::millis(10), 1, 2));
    let next = || paper.recv_timeout(PATIENCE).unwrap();
    assert_eq!((next(), next()[1]), (vec![0xFC], 1));
    // The second note met the panic; everything that may sound is ended before anything else.
    assert_eq!([next(), next(), next()], [vec![0xFC], vec![0xB9, 120, 0], vec![0xB9, 123, 0]]);
    midi.plan(note(clock.now(), 1, 3));
    assert_eq!(next()[1], 3);
    let faults = midi.faults();
    assert!(
        faults.len() == 1 && faults[0].starts_with("MIDI out failed and has begun again (the driver failed)."),
        "{faults:?}"
    );
    assert_eq!(midi.lives(), Generation(1));
}
