//! The schedule: order, exact clocks, and what may never happen, over random plans and silences. Time is a number here.

use std::collections::BTreeMap;

use holdfast::midi::bytes::{self, Channel, Note, SevenBits};
use holdfast::midi::pace::Pace;
use holdfast::midi::schedule::{Outgoing, PlannedWhat, Schedule};
use holdfast::midi::settings::ShowControl;
use holdfast::midi::show_control::{Device, Format};
use holdfast::midi::timecode::{Rate, Timecode};
use holdfast::midi::{MidiSettings, Planned, RunTiming, TimecodeSettings, What};
use holdfast::timeline::{Piece, TempoMap};
use holdfast::units::{Generation, Micros, ServerTime, Speed, Ticks};
use proptest::prelude::*;

use crate::timeline_scores::bpm;

fn everything() -> MidiSettings {
    MidiSettings {
        clock: true,
        timecode: Some(TimecodeSettings { start: Timecode::parse("01:00:00:00", Rate::Pal25).unwrap() }),
        show_control: Some(ShowControl { device: Device::ALL, format: Format::Sound, resumes: false }),
        ..MidiSettings::default()
    }
}

fn clock_only() -> MidiSettings {
    MidiSettings { clock: true, ..MidiSettings::default() }
}

/// A run of one piece that begins at a second.
fn run(beats: i64, from: f64, to: f64, percent: u16, count_in: i64, generation: u64) -> RunTiming {
    let piece = Piece { length: Ticks::beats(beats), from: bpm(from), to: bpm(to) };
    let speed = Speed::percent(percent).unwrap();
    RunTiming {
        start: ServerTime(60_000_000),
        tempo: TempoMap::new([(piece, speed)], (piece, speed)),
        count_in: Ticks::beats(count_in),
        length: Ticks::beats(beats),
        place: Ticks::ZERO,
        place_time: Micros::ZERO,
        generation: Generation(generation),
    }
}

fn planned_note(due: ServerTime, generation: u64, channel: u8, key: u8, length: Micros) -> Planned {
    let note = Note { channel: Channel::number(channel).unwrap(), key: SevenBits::new(key).unwrap() };
    let velocity = SevenBits::new(100).unwrap();
    Planned { due, generation: Generation(generation), what: PlannedWhat::Note { note, velocity, length } }
}

/// Everything that comes out, each at its own time, as by a thread that is never late.
fn play(schedule: &mut Schedule, until: ServerTime) -> Vec<Outgoing> {
    let mut out = Vec::new();
    while let Some(due) = schedule.deadline().filter(|due| *due <= until) {
        out.extend(schedule.pop(due));
    }
    out
}

fn at(outgoing: &[Outgoing], what: What) -> Vec<ServerTime> {
    outgoing.iter().filter(|it| it.what == what).map(|it| it.due).collect()
}

#[test]
fn clocks_are_as_far_apart_as_the_tables_say() {
    // MIDI 1.0: 24 to the quarter, 60000/bpm/24 ms: 60 → 41.6667, 90 → 27.7778, 120 → 20.8333, 137 → 18.248175.
    for (tempo, interval_us) in [(60.0, 41_666.667), (90.0, 27_777.778), (120.0, 20_833.333), (137.0, 18_248.175)] {
        let mut schedule = Schedule::new(clock_only());
        schedule.run(ServerTime(0), run(100, tempo, tempo, 100, 0, 1));
        let clocks = at(&play(&mut schedule, ServerTime(i64::MAX)), What::Clock);
        assert_eq!(clocks.len(), 2_400);
        for (index, due) in clocks.iter().enumerate() {
            let wanted = 60_000_000.0 + interval_us * index as f64;
            assert!((due.0 as f64 - wanted).abs() <= 0.5 + 0.001 * index as f64, "clock {index} at {tempo}");
        }
    }
}

#[test]
fn a_start_comes_before_the_clock_at_which_it_takes_effect() {
    // MIDI 1.0: start and continue take effect at the next clock. So the first beat is that clock.
    for (place, byte) in [(0, bytes::START), (8, bytes::CONTINUE)] {
        let mut schedule = Schedule::new(clock_only());
        let timing = RunTiming { place: Ticks::beats(place), ..run(2, 120.0, 120.0, 100, 2, 1) };
        schedule.run(ServerTime(0), timing);
        let out: Vec<Outgoing> =
            play(&mut schedule, ServerTime(i64::MAX)).into_iter().skip_while(|it| it.what == What::Stop).collect();
        // Song position counts sixteenths: 4 to the beat.
        assert_eq!((out[0].what, out[0].message), (What::Locate, bytes::song_position(place * 4)));
        let start = out.iter().position(|it| it.what == What::Start).unwrap();
        assert_eq!(out[start].message, bytes::real_time(byte));
        assert_eq!(out[1..start].iter().filter(|it| it.what == What::Clock).count(), 48, "two beats of count-in");
        assert_eq!((out[start + 1].what, out[start + 1].due), (What::Clock, ServerTime(60_000_000)));
        assert!(out[start].due < out[start + 1].due && out[start].due > out[start - 1].due);
        assert_eq!(out.len(), 1 + 48 + 1 + 48);
    }
}

#[test]
fn a_hold_lets_out_what_stops_everything_and_nothing_else() {
    let mut schedule = Schedule::new(everything());
    schedule.run(ServerTime(0), run(8, 120.0, 120.0, 100, 0, 1));
    let go = PlannedWhat::Cue("3".to_owned());
    schedule.plan(ServerTime(0), Planned { due: ServerTime(60_000_000), generation: Generation(1), what: go });
    for channel in [1, 10] {
        schedule.plan(ServerTime(0), planned_note(ServerTime(60_100_000), 1, channel, 40, Micros::seconds(9)));
    }
    play(&mut schedule, ServerTime(61_000_000));
    let held = ServerTime(61_000_001);
    schedule.silence(held, Generation(2));
    assert!(schedule.is_urgent());
    let out = play(&mut schedule, ServerTime(i64::MAX));
    let bytes: Vec<Vec<u8>> = out.iter().map(|it| it.message.as_bytes().to_vec()).collect();
    // FC; CC 120 and CC 123 on both channels (MIDI 1.0, channel mode messages); show control's STOP (RP-002/014).
    let wanted: [&[u8]; 6] = [
        &[0xFC],
        &[0xB0, 120, 0],
        &[0xB0, 123, 0],
        &[0xB9, 120, 0],
        &[0xB9, 123, 0],
        &[0xF0, 0x7F, 0x7F, 0x02, 0x10, 0x02, 0xF7],
    ];
    assert_eq!(bytes, wanted);
    assert!(out.iter().all(|it| it.what == What::Stop && it.due == held));
}

#[test]
fn two_silences_before_anybody_sends_lose_no_stop() {
    let mut schedule = Schedule::new(everything());
    let go = PlannedWhat::Cue("1".to_owned());
    schedule.plan(ServerTime(0), Planned { due: ServerTime(0), generation: Generation(1), what: go });
    play(&mut schedule, ServerTime(1));
    schedule.silence(ServerTime(2), Generation(2));
    schedule.silence(ServerTime(3), Generation(3));
    let out = play(&mut schedule, ServerTime(9));
    let stops = out.iter().filter(|it| it.message.as_bytes().first() == Some(&0xF0)).count();
    assert_eq!((stops, out.len()), (1, 2));
}

#[test]
fn after_a_stop_a_cue_goes_anew_or_resumes_as_the_house_wants() {
    for (resumes, command) in [(false, 0x01), (true, 0x03)] {
        let mut settings = everything();
        settings.show_control = Some(ShowControl { device: Device::ALL, format: Format::Sound, resumes });
        let mut schedule = Schedule::new(settings);
        let mut commands = Vec::new();
        for generation in 1..=2 {
            let what = PlannedWhat::Cue("2".to_owned());
            let now = ServerTime(generation as i64 * 1_000);
            schedule.plan(now, Planned { due: now, generation: Generation(generation), what });
            commands.extend(play(&mut schedule, now).iter().map(|it| it.message).filter(|it| it.as_bytes().len() > 5));
        }
        let commands: Vec<u8> = commands.iter().map(|message| message.as_bytes()[5]).collect();
        assert_eq!(commands, [0x01, 0x02, command]);
    }
}

#[test]
fn a_note_that_is_struck_again_is_let_go_once() {
    let mut schedule = Schedule::new(MidiSettings::default());
    for (due, length) in [(0, 100), (50, 100), (50, 20)] {
        schedule.plan(ServerTime(0), planned_note(ServerTime(due), 1, 1, 60, Micros(length)));
    }
    let out = play(&mut schedule, ServerTime(i64::MAX));
    assert_eq!(at(&out, What::NoteOn), [ServerTime(0), ServerTime(50), ServerTime(50)]);
    assert_eq!(at(&out, What::NoteOff), [ServerTime(150)]);
}

#[test]
fn a_note_whose_time_is_long_over_is_dropped_and_counted() {
    let mut schedule = Schedule::new(MidiSettings::default());
    schedule.plan(ServerTime(126_000), planned_note(ServerTime(0), 1, 1, 60, Micros(1)));
    schedule.plan(ServerTime(0), planned_note(ServerTime(1_000_000), 1, 1, 61, Micros(1)));
    assert_eq!(schedule.pop(ServerTime(5_000_000)), None);
    assert_eq!(schedule.counts().0, 2);
}

#[test]
fn everything_is_sent_early_by_the_latency() {
    let settings = MidiSettings { latency: Micros::millis(20), ..clock_only() };
    let mut schedule = Schedule::new(settings);
    schedule.run(ServerTime(0), run(1, 60.0, 60.0, 100, 0, 1));
    schedule.plan(ServerTime(0), planned_note(ServerTime(60_000_000), 1, 1, 60, Micros(1)));
    let out = play(&mut schedule, ServerTime(i64::MAX));
    assert_eq!(at(&out, What::NoteOn), [ServerTime(59_980_000)]);
    assert_eq!(at(&out, What::Clock)[0], ServerTime(59_980_000));
}

#[test]
fn a_flood_is_spread_out() {
    let mut pace = Pace::new(ServerTime(0));
    let mut now = ServerTime(0);
    let mut sent = Vec::new();
    for _ in 0..1_064 {
        now = pace.free_at(now);
        pace.spend(now);
        sent.push(now);
    }
    assert_eq!(sent[63], ServerTime(0), "a burst goes out as it is");
    // 31,250 baud carry 1,041 messages of three bytes a second (MIDI 1.0, hardware); twice as many go out here.
    let rate = 1_000.0 / sent[1_063].since(sent[63]).as_seconds();
    assert!((2_000.0..2_100.0).contains(&rate), "{rate}");
}

#[derive(Clone, Debug)]
enum Doing {
    Plan { generation: u64, in_ms: i64, channel: u8, key: u8, length_ms: i64 },
    Cue { generation: u64, in_ms: i64 },
    Run { generation: u64, beats: i64, to: f64, count_in: i64 },
    Silence(u64),
    Wait(i64),
    Drain(usize),
}

fn doing() -> impl Strategy<Value = Doing> {
    prop_oneof![
        6 => (0u64..6, -300i64..2_000, 1u8..=16, 0u8..128, 0i64..2_000)
            .prop_map(|(generation, in_ms, channel, key, length_ms)| Doing::Plan { generation, in_ms, channel, key, length_ms }),
        1 => (0u64..6, -100i64..2_000).prop_map(|(generation, in_ms)| Doing::Cue { generation, in_ms }),
        2 => (0u64..6, 0i64..9, 20.0..300.0f64, 0i64..5)
            .prop_map(|(generation, beats, to, count_in)| Doing::Run { generation, beats, to, count_in }),
        2 => (0u64..7).prop_map(Doing::Silence),
        4 => (0i64..700).prop_map(Doing::Wait),
        4 => (0usize..40).prop_map(Doing::Drain),
    ]
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 500, ..ProptestConfig::default() })]

    /// Every note has a key and a channel of its generation, so that each byte that comes out tells whose it is.
    #[test]
    fn nothing_of_a_dead_generation_ever_comes_out(doings in prop::collection::vec(doing(), 1..60)) {
        let mut schedule = Schedule::new(everything());
        let (mut now, mut lives) = (ServerTime(10_000_000), 0);
        let mut used = BTreeMap::new();
        let mut owed: Vec<Vec<u8>> = Vec::new();
        for doing in doings {
            let risen = match doing {
                Doing::Plan { generation, .. } | Doing::Cue { generation, .. } | Doing::Run { generation, .. } => generation,
                Doing::Silence(generation) => generation,
                Doing::Wait(_) | Doing::Drain(_) => 0,
            };
            if risen > lives {
                // From here on the first things out are the bytes that stop every channel that was played on.
                lives = risen;
                owed = used.keys().map(|channel: &u8| vec![0xB0 | (channel - 1), 120, 0]).collect();
            }
            match doing {
                Doing::Plan { generation, in_ms, channel, key, length_ms } => {
                    // The key's residue is the generation.
                    let key = key / 8 * 8 + generation as u8;
                    let due = now + Micros::millis(in_ms);
                    schedule.plan(now, planned_note(due, generation, channel, key, Micros::millis(length_ms)));
                }
                Doing::Cue { generation, in_ms } => {
                    let (due, what) = (now + Micros::millis(in_ms), PlannedWhat::Cue(format!("{generation}")));
                    schedule.plan(now, Planned { due, generation: Generation(generation), what });
                }
                Doing::Run { generation, beats, to, count_in } => {
                    let timing = run(beats, 120.0, to, 100, count_in, generation);
                    schedule.run(now, RunTiming { start: now + Micros::millis(300), ..timing });
                }
                Doing::Silence(generation) => schedule.silence(now, Generation(generation)),
                Doing::Wait(ms) => now = now + Micros::millis(ms),
                Doing::Drain(most) => {
                    for _ in 0..most {
                        let Some(out) = schedule.pop(now) else { break };
                        let bytes = out.message.as_bytes();
                        prop_assert!(out.due <= now, "nothing comes out before its time");
                        if out.what != What::Stop {
                            prop_assert!(owed.is_empty(), "{out:?} came before {owed:?}");
                        }
                        owed.retain(|stop| stop != bytes);
                        match out.what {
                            What::NoteOn | What::NoteOff => {
                                prop_assert_eq!(u64::from(bytes[1] % 8), lives, "a dead note came out");
                                used.insert((bytes[0] & 0x0F) + 1, ());
                            }
                            What::Cue => prop_assert_eq!(u64::from(bytes[6] - b'0'), lives, "a dead cue came out"),
                            _ => {}
                        }
                    }
                }
            }
        }
    }

    #[test]
    fn there_are_24_clocks_to_every_beat_and_each_is_on_its_tick(
        beats in 0i64..40, from in 20.0..300.0f64, to in 20.0..300.0f64, percent in 10u16..=150, count_in in 0i64..9,
    ) {
        let timing = run(beats, from, to, percent, count_in, 1);
        let tempo = timing.tempo.clone();
        let mut schedule = Schedule::new(clock_only());
        let begins = timing.start + tempo.time_of(Ticks::beats(-count_in));
        schedule.run(begins, timing);
        let out = play(&mut schedule, ServerTime(i64::MAX));
        let clocks = at(&out, What::Clock);
        prop_assert_eq!(clocks.len() as i64, 24 * (beats + count_in));
        for (index, due) in clocks.iter().enumerate() {
            let tick = Ticks((index as i64 - 24 * count_in) * 40);
            prop_assert_eq!(*due, ServerTime(60_000_000) + tempo.time_of(tick));
        }
        prop_assert_eq!(at(&out, What::Start).len(), usize::from(beats > 0));
    }

    #[test]
    fn a_run_that_is_timed_anew_keeps_its_clocks(
        first in 1i64..20, second in 1i64..20, percent in 10u16..=150, at_beat in 0i64..20,
    ) {
        let piece = |beats| Piece { length: Ticks::beats(beats), from: bpm(120.0), to: bpm(120.0) };
        let full = Speed::FULL;
        let timing = |speed| RunTiming {
            tempo: TempoMap::new([(piece(first), full), (piece(second), speed)], (piece(1), full)),
            length: Ticks::beats(first + second),
            ..run(1, 120.0, 120.0, 100, 0, 1)
        };
        let mut schedule = Schedule::new(clock_only());
        schedule.run(ServerTime(59_000_000), timing(full));
        let change = ServerTime(60_000_000 + at_beat.min(first - 1) * 500_000);
        let mut out = play(&mut schedule, change);
        let slower = timing(Speed::percent(percent).unwrap());
        schedule.run(change, slower.clone());
        out.extend(play(&mut schedule, ServerTime(i64::MAX)));
        let wanted: Vec<ServerTime> =
            (0..24 * (first + second)).map(|clock| slower.start + slower.tempo.time_of(Ticks(clock * 40))).collect();
        prop_assert_eq!(at(&out, What::Clock), wanted);
        prop_assert_eq!(at(&out, What::Start).len(), 1);
    }

    #[test]
    fn everything_comes_out_in_order_of_time(notes in prop::collection::vec((0i64..3_000, 1u8..=16, 0u8..128, 1i64..900), 0..60)) {
        let mut schedule = Schedule::new(everything());
        let start = ServerTime(60_000_000);
        schedule.run(start - Micros::seconds(2), run(5, 120.0, 90.0, 100, 2, 1));
        for (ms, channel, key, length) in &notes {
            let due = start + Micros::millis(*ms);
            schedule.plan(start - Micros::seconds(2), planned_note(due, 1, *channel, *key, Micros::millis(*length)));
        }
        let out = play(&mut schedule, ServerTime(i64::MAX));
        prop_assert!(out.windows(2).all(|pair| pair[0].due <= pair[1].due));
        prop_assert_eq!(at(&out, What::NoteOn).len(), notes.len());
        // Whatever went down comes up.
        let mut down: BTreeMap<(u8, u8), bool> = BTreeMap::new();
        for message in out.iter().filter(|it| matches!(it.what, What::NoteOn | What::NoteOff)) {
            let bytes = message.message.as_bytes();
            down.insert((bytes[0] & 0x0F, bytes[1]), message.what == What::NoteOn);
        }
        prop_assert!(down.values().all(|down| !down));
    }
}

/// Muting ends what sounds and drops what is planned; the clock goes on, and what is planned afterwards is heard.
#[test]
fn muting_stops_the_notes_and_not_the_clock() {
    let mut schedule = Schedule::new(clock_only());
    let start = ServerTime(60_000_000);
    schedule.run(ServerTime(0), run(100, 120.0, 120.0, 100, 0, 1));
    let long = Micros::seconds(5);
    schedule.plan(start, planned_note(start + Micros::millis(10), 1, 3, 40, long));
    schedule.plan(start, planned_note(start + Micros::millis(900), 1, 3, 41, long));
    let before = play(&mut schedule, start + Micros::millis(500));
    assert_eq!(at(&before, What::NoteOn).len(), 1);
    let now = start + Micros::millis(501);
    schedule.hush(now);
    let after = play(&mut schedule, start + Micros::seconds(2));
    let stops: Vec<&[u8]> = after.iter().filter(|it| it.what == What::Stop).map(|it| it.message.as_bytes()).collect();
    // MIDI 1.0, channel mode messages: controllers 120 (all sound off) and 123 (all notes off), here on channel 3.
    assert_eq!(stops, [&[0xB2, 120, 0], &[0xB2, 123, 0]]);
    assert!(at(&after, What::NoteOn).is_empty() && at(&after, What::NoteOff).is_empty(), "{after:?}");
    assert_eq!(at(&after, What::Clock).len(), 72, "24 to the beat, three beats in a second and a half");
    schedule.plan(start, planned_note(start + Micros::millis(2_100), 1, 3, 42, long));
    assert_eq!(at(&play(&mut schedule, start + Micros::millis(2_200)), What::NoteOn).len(), 1);
}

/// A receiver as the MIDI 1.0 Detailed Specification describes it (System Common: Song Position Pointer; System Real
/// Time): it counts clocks while it runs, start and continue take effect at the next clock, and song position is six
/// clocks a step.
#[derive(Default)]
struct Sequencer {
    runs: bool,
    /// The clock that comes next, counted from the beginning of the song.
    at: i64,
}

impl Sequencer {
    /// The number of a clock that it plays.
    fn hear(&mut self, message: &[u8]) -> Option<i64> {
        match message {
            [0xF2, low, high] => self.at = (i64::from(*high) << 7 | i64::from(*low)) * 6,
            [0xFA] => (self.runs, self.at) = (true, 0),
            [0xFB] => self.runs = true,
            [0xFC] => self.runs = false,
            [0xF8] if self.runs => {
                self.at += 1;
                return Some(self.at - 1);
            }
            _ => {}
        }
        None
    }
}

proptest! {
    /// Whoever comes back at any moment of a run plays every clock from the next sixteenth on at its place.
    #[test]
    fn a_receiver_that_comes_back_is_right_again(
        beats in 2i64..12, from in 60.0f64..180.0, to in 60.0f64..180.0, bars in 0i64..3, returns_at in -1_000i64..12_000,
    ) {
        let place = Ticks::beats(4 * bars);
        let timing = RunTiming { place, ..run(beats, from, to, 100, 1, 1) };
        let mut schedule = Schedule::new(everything());
        schedule.run(ServerTime(58_000_000), timing.clone());
        let returns = timing.start + Micros::millis(returns_at);
        let missed = play(&mut schedule, returns);
        schedule.returned(returns);
        let out = play(&mut schedule, ServerTime(i64::MAX));
        let mut sequencer = Sequencer::default();
        let mut played = Vec::new();
        for message in &out {
            if let Some(clock) = sequencer.hear(message.message.as_bytes()) {
                let own = clock - 24 * 4 * bars;
                prop_assert_eq!(message.due, timing.start + timing.tempo.time_of(Ticks(own * 40)));
                played.push(own);
            }
        }
        let gone = at(&missed, What::Clock).len() as i64 - 24;
        let first = if gone <= 0 { 0 } else { (gone + 5) / 6 * 6 };
        prop_assert_eq!(played, (first..24 * beats).collect::<Vec<_>>());
        prop_assert_eq!((at(&missed, What::Clock).len() + at(&out, What::Clock).len()) as i64, 24 * (beats + 1));
        // Timecode: the full frame, and then quarter frames from the first of a group on.
        let codes: Vec<u8> = out.iter().filter(|it| it.what == What::Timecode).map(|it| it.message.as_bytes()[1] >> 4).collect();
        prop_assert!(codes.iter().enumerate().all(|(n, piece)| usize::from(*piece) == n % 8));
        prop_assert!(out.iter().any(|it| it.what == What::Locate && it.message.as_bytes()[0] == 0xF0));
    }
}

/// A hold that went out while the port was away: whoever comes back still runs and sounds, and is told to stop.
#[test]
fn a_receiver_that_missed_a_hold_is_stopped_when_it_comes_back() {
    let mut schedule = Schedule::new(everything());
    let start = ServerTime(60_000_000);
    schedule.run(ServerTime(0), run(100, 120.0, 120.0, 100, 0, 1));
    schedule.plan(start, planned_note(start, 1, 3, 40, Micros::seconds(5)));
    let cue = PlannedWhat::Cue("1".to_owned());
    schedule.plan(start, Planned { due: start, generation: Generation(1), what: cue });
    play(&mut schedule, start + Micros::millis(500));
    schedule.silence(start + Micros::millis(501), Generation(2));
    let missed = play(&mut schedule, start + Micros::millis(600));
    assert!(missed.iter().all(|it| it.what == What::Stop) && !missed.is_empty());
    schedule.returned(start + Micros::seconds(3));
    assert_eq!(
        play(&mut schedule, ServerTime(i64::MAX)).iter().map(|it| it.message).collect::<Vec<_>>(),
        missed.iter().map(|it| it.message).collect::<Vec<_>>()
    );
}
