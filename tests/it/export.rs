//! Standard MIDI Files: the format against the specification's own tables, and exported scores against the timeline,
//! read back by two libraries that know nothing of each other or of us (midly and midi_file).

use std::collections::BTreeMap;
use std::process::Command;

use holdfast::midi::bytes;
use holdfast::midi::export::{ExportError, Exported, export};
use holdfast::midi::file::{Track, file, quantity};
use holdfast::midi::{Channel, Note, SevenBits, SoundNote};
use holdfast::score::model::Score;
use holdfast::timeline::{PhraseRange, Plan};
use holdfast::units::{Micros, Speed, Ticks};
use midly::{MetaMessage, MidiMessage, Smf, TrackEventKind};
use proptest::prelude::*;

use crate::timeline_scores::{any_score, cut, phrase, ramp, rest, score, sound};

#[test]
fn variable_lengths_are_those_of_the_table() {
    // Standard MIDI Files 1.0, §1.1 "Conventions": its twelve examples.
    let rows: [(u32, &[u8]); 12] = [
        (0x0, &[0x00]),
        (0x40, &[0x40]),
        (0x7F, &[0x7F]),
        (0x80, &[0x81, 0x00]),
        (0x2000, &[0xC0, 0x00]),
        (0x3FFF, &[0xFF, 0x7F]),
        (0x4000, &[0x81, 0x80, 0x00]),
        (0x10_0000, &[0xC0, 0x80, 0x00]),
        (0x1F_FFFF, &[0xFF, 0xFF, 0x7F]),
        (0x20_0000, &[0x81, 0x80, 0x80, 0x00]),
        (0x800_0000, &[0xC0, 0x80, 0x80, 0x00]),
        (0xFFF_FFFF, &[0xFF, 0xFF, 0xFF, 0x7F]),
    ];
    for (value, written) in rows {
        assert_eq!(quantity(value), written, "{value:X}");
    }
    assert_eq!(quantity(u32::MAX), quantity(0x0FFF_FFFF), "five bytes are an error");
}

#[test]
fn the_specifications_example_is_made_byte_for_byte() {
    // Standard MIDI Files 1.0, the example of format 1: its tempo track is a chunk of 14h bytes, 384 ticks long.
    let mut track = Track::default();
    track.time_signature(Ticks::ZERO, 4);
    track.tempo(Ticks::ZERO, 500_000);
    let bytes = file(96, vec![track], Ticks(384));
    let wanted = [
        0x4D, 0x54, 0x68, 0x64, 0, 0, 0, 6, 0, 1, 0, 1, 0, 0x60, 0x4D, 0x54, 0x72, 0x6B, 0, 0, 0, 0x14, 0x00, 0xFF,
        0x58, 0x04, 0x04, 0x02, 0x18, 0x08, 0x00, 0xFF, 0x51, 0x03, 0x07, 0xA1, 0x20, 0x83, 0x00, 0xFF, 0x2F, 0x00,
    ];
    assert_eq!(bytes, wanted);
}

#[test]
fn tempos_are_those_of_the_tables() {
    // Standard MIDI Files 1.0, set tempo: microseconds a quarter. 60, 90, 100, 120, 140, 174 beats a minute.
    let rows: [(f64, [u8; 3]); 6] = [
        (60.0, [0x0F, 0x42, 0x40]),
        (90.0, [0x0A, 0x2C, 0x2B]),
        (100.0, [0x09, 0x27, 0xC0]),
        (120.0, [0x07, 0xA1, 0x20]),
        (140.0, [0x06, 0x8A, 0x1B]),
        (174.0, [0x05, 0x42, 0xFC]),
    ];
    for (bpm, tempo) in rows {
        let exported = whole(&score(bpm, vec![phrase("Door", None, vec![rest(960)])]), Speed::FULL, 0);
        let event = [&[0xFF, 0x51, 0x03][..], &tempo].concat();
        assert!(exported.bytes.windows(6).any(|window| window == event), "{bpm}");
    }
}

/// What a file says, by tick.
#[derive(Debug, Default, PartialEq)]
struct Said {
    tempos: Vec<(u64, u32)>,
    markers: Vec<(u64, String)>,
    ons: Vec<(u64, u8, u8)>,
    offs: usize,
    end: u64,
}

fn by_midly(bytes: &[u8]) -> Said {
    let smf = Smf::parse(bytes).unwrap();
    assert_eq!(smf.header.timing, midly::Timing::Metrical(960.into()));
    let mut said = Said::default();
    for track in &smf.tracks {
        let mut at = 0;
        for event in track {
            at += u64::from(event.delta.as_int());
            match event.kind {
                TrackEventKind::Meta(MetaMessage::Tempo(tempo)) => said.tempos.push((at, tempo.as_int())),
                TrackEventKind::Meta(MetaMessage::Marker(text)) => {
                    said.markers.push((at, String::from_utf8(text.to_vec()).unwrap()));
                }
                TrackEventKind::Midi { channel, message: MidiMessage::NoteOn { key, .. } } => {
                    said.ons.push((at, channel.as_int(), key.as_int()));
                }
                TrackEventKind::Midi { message: MidiMessage::NoteOff { .. }, .. } => said.offs += 1,
                _ => {}
            }
        }
        said.end = said.end.max(at);
    }
    said
}

fn by_midi_file(bytes: &[u8]) -> Said {
    use midi_file::core::Message;
    use midi_file::file::{Event, MetaEvent};
    let read = midi_file::MidiFile::read(bytes).unwrap();
    let mut said = Said::default();
    for track in read.tracks() {
        let mut at = 0;
        for event in track.events() {
            at += u64::from(event.delta_time());
            match event.event() {
                Event::Meta(MetaEvent::SetTempo(tempo)) => said.tempos.push((at, tempo.get())),
                Event::Meta(MetaEvent::Marker(text)) => said.markers.push((at, text.as_str().into_owned())),
                Event::Midi(Message::NoteOn(note)) => {
                    said.ons.push((at, note.channel().get(), note.note_number().get()));
                }
                Event::Midi(Message::NoteOff(_)) => said.offs += 1,
                _ => {}
            }
        }
        said.end = said.end.max(at);
    }
    said
}

fn whole(score: &Score, speed: Speed, count_in: u32) -> Exported {
    export(&score.name, &plan(score, speed, count_in), &BTreeMap::new()).unwrap()
}

fn plan(score: &Score, speed: Speed, count_in: u32) -> Plan {
    Plan::new(score, PhraseRange { first: 0, last: score.phrases.len() - 1 }, speed, count_in)
}

/// The time of a tick by the tempos of a file, microseconds from its beginning.
fn time_of(tick: u64, tempos: &[(u64, u32)]) -> f64 {
    let mut time = 0.0;
    for (index, (from, tempo)) in tempos.iter().enumerate().take_while(|(_, (from, _))| *from < tick) {
        let to = tempos.get(index + 1).map_or(tick, |(next, _)| (*next).min(tick));
        time += (to - from) as f64 * f64::from(*tempo) / 960.0;
    }
    time
}

#[test]
fn a_ramp_is_as_long_in_the_file_as_its_integral() {
    // 60 to 120 over 8 beats, linear in beats: 8·ln 2 = 5.545177444 s.
    let score = score(60.0, vec![phrase("Door", None, vec![ramp(0, 8 * 960, 60.0, 120.0), rest(8 * 960)])]);
    let said = by_midly(&whole(&score, Speed::FULL, 0).bytes);
    assert!((time_of(8 * 960, &said.tempos) - 5_545_177.444).abs() < 1.0, "{said:?}");
    // The same on the way: 1.785148 s at beat 2, 4.476926 s at beat 6 (by scipy's quad).
    assert!((time_of(2 * 960, &said.tempos) - 1_785_148.0).abs() < 1.0);
    assert!((time_of(6 * 960, &said.tempos) - 4_476_926.0).abs() < 1.0);
}

#[test]
fn a_company_has_its_own_notes_and_other_sounds_get_free_ones() {
    let mut score =
        score(120.0, vec![phrase("Door", None, vec![sound(0), sound(960), cut(1920, 0, 1), rest(4 * 960)])]);
    let holdfast::score::model::Item::Sound(second) = &mut score.phrases[0].items[1] else { panic!() };
    second.sounds.names = vec!["bell".into()];
    let note = Note { channel: Channel::number(10).unwrap(), key: SevenBits::new(36).unwrap() };
    let own = SoundNote { note, velocity: SevenBits::new(80).unwrap(), length: Micros::millis(100) };
    let exported = export("x", &plan(&score, Speed::FULL, 2), &BTreeMap::from([("bell".to_owned(), own)])).unwrap();
    let keys: Vec<(&str, u8)> = exported.notes.iter().map(|(name, note)| (name.as_str(), note.key.get())).collect();
    assert_eq!(keys, [("drum", 37), ("bell", 36)]);
    assert_eq!(by_midly(&exported.bytes).ons, [(1920, 9, 37), (2880, 9, 36)]);
}

#[test]
fn a_sound_that_is_trimmed_to_before_the_file_is_told() {
    let mut score = score(60.0, vec![phrase("Door", None, vec![sound(0), rest(960)])]);
    let holdfast::score::model::Item::Sound(early) = &mut score.phrases[0].items[0] else { panic!() };
    early.sounds.trim = Micros::millis(-500);
    assert_eq!(whole(&score, Speed::FULL, 0).early, 1);
    let counted = whole(&score, Speed::FULL, 1);
    assert_eq!((counted.early, by_midly(&counted.bytes).ons[0].0), (0, 480));
}

#[test]
fn what_a_file_cannot_say_is_refused() {
    let slow = score(10.0, vec![phrase("Door", None, vec![rest(960)])]);
    let refused = export("x", &plan(&slow, Speed::percent(10).unwrap(), 0), &BTreeMap::new());
    assert!(matches!(refused, Err(ExportError::TooSlow(_))), "{refused:?}");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 96, ..ProptestConfig::default() })]

    #[test]
    fn two_readers_find_the_timeline_in_the_file(score in any_score(), percent in 20u16..=150, count_in in 0u32..9) {
        let plan = plan(&score, Speed::percent(percent).unwrap(), count_in);
        let exported = export(&score.name, &plan, &BTreeMap::new()).unwrap();
        let said = by_midly(&exported.bytes);
        prop_assert_eq!(&said, &by_midi_file(&exported.bytes));

        let lead = i64::from(count_in) * 960;
        prop_assert_eq!(said.end as i64, (plan.length().0 + lead).max(said.end as i64));
        let phrases: Vec<(u64, String)> =
            plan.phrases().iter().map(|phrase| ((phrase.at.0 + lead) as u64, phrase.name.clone())).collect();
        let markers: Vec<_> = said.markers.iter().filter(|(_, text)| text != "count-in").cloned().collect();
        prop_assert_eq!(markers, phrases);
        let mut sounds: Vec<u64> = plan.sounds().iter().map(|sound| (sound.at.0 + lead) as u64).collect();
        let mut ons: Vec<u64> = said.ons.iter().map(|on| on.0).collect();
        sounds.sort_unstable();
        ons.sort_unstable();
        prop_assert_eq!(ons, sounds, "every sound is on its tick");
        prop_assert_eq!(said.offs, said.ons.len());

        let first = plan.tempo().exact_time_of(-lead as f64);
        let mut worst = 0.0f64;
        for moment in plan.moments() {
            let in_file = time_of((moment.at.0 + lead) as u64, &said.tempos) + first;
            worst = worst.max((in_file - moment.time.0 as f64).abs());
        }
        // A whole microsecond a beat over sixteen beats is 8 at the most; the times of the plan are rounded, too.
        prop_assert!(worst <= 9.0 && worst <= exported.error.0 as f64, "{} µs, {:?} said", worst, exported.error);
    }

    #[test]
    fn any_channel_message_is_read_back(at in 0i64..1_000_000, channel in 1u8..=16, key in 0u8..128) {
        let note = Note { channel: Channel::number(channel).unwrap(), key: SevenBits::new(key).unwrap() };
        let mut track = Track::named("x");
        track.message(Ticks(at), bytes::note_on(note, SevenBits::new(1).unwrap()));
        track.message(Ticks(at + 1), bytes::note_off(note));
        let said = by_midly(&file(960, vec![track], Ticks::ZERO));
        prop_assert_eq!(said.ons, vec![(at as u64, channel - 1, key)]);
        prop_assert_eq!((said.offs, said.end), (1, at as u64 + 1));
    }
}

#[test]
fn the_command_writes_a_whole_file_or_none() {
    let place = tempfile::tempdir().unwrap();
    let production = place.path().join("house");
    let run = |args: &[&str]| {
        Command::new(env!("CARGO_BIN_EXE_holdfast")).args(args).current_dir(place.path()).output().unwrap()
    };
    assert!(run(&["new", "house"]).status.success());
    let score = production.join("scores/first-steps.fight");
    let score = score.to_str().unwrap();
    let done =
        run(&["export", score, "--midi", "out.mid", "--speed", "50%", "--count-in", "4", "--production", "house"]);
    assert!(done.status.success(), "{done:?}");
    assert!(String::from_utf8_lossy(&done.stdout).starts_with("out.mid written: "), "{done:?}");
    let bytes = std::fs::read(place.path().join("out.mid")).unwrap();
    let said = by_midly(&bytes);
    assert_eq!(said.markers[0], (0, "count-in".to_owned()));
    // The same run as `timeline` tells it: the phrases at their beats.
    let listed = run(&["timeline", score, "--speed", "50%", "--count-in", "4", "--format", "json"]);
    let rows: serde_json::Value = serde_json::from_slice(&listed.stdout).unwrap();
    let rows = rows.as_array().unwrap();
    let phrases: Vec<&serde_json::Value> = rows.iter().filter(|row| row["kind"] == "phrase").collect();
    assert_eq!(phrases.len() + 1, said.markers.len());
    let lead = time_of(4 * 960, &said.tempos);
    for (row, (tick, name)) in phrases.iter().zip(&said.markers[1..]) {
        assert_eq!(row["phrase"], name.as_str());
        let seconds = (time_of(*tick, &said.tempos) - lead) / 1e6;
        assert!((row["seconds"].as_f64().unwrap() - seconds).abs() < 1e-5, "{row}");
    }
    let sounds = rows.iter().filter(|row| row["kind"] == "sound").count();
    assert!(sounds > 0 && said.ons.len() >= sounds);

    for (args, says) in [
        (vec!["export", "nowhere.fight", "--midi", "a.mid"], "there is no file nowhere.fight"),
        (vec!["export", score, "--midi", "no/such/place.mid"], "cannot be written"),
        (vec!["export", score, "--midi", "house"], "it is a folder"),
        (vec!["export", score, "--midi", "a.mid", "--from", "Zebra"], "there is no phrase `Zebra`"),
    ] {
        let refused = run(&args);
        assert_eq!(refused.status.code(), Some(2), "{refused:?}");
        assert!(String::from_utf8_lossy(&refused.stderr).contains(says), "{refused:?}");
    }
    let mut left: Vec<_> = std::fs::read_dir(place.path()).unwrap().map(|it| it.unwrap().file_name()).collect();
    left.sort();
    assert_eq!(left, ["house", "out.mid"]);
}
