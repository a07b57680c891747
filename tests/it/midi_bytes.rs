//! MIDI messages against the tables of the standard, and read back by midly, which shares no code with us.

use holdfast::midi::bytes::{self, Channel, Message, Note, SevenBits};
use holdfast::midi::show_control::{self, Command, Device, Format};
use holdfast::midi::trigger::{Listener, Meaning, Trigger};
use holdfast::units::{Micros, ServerTime};
use midly::MidiMessage;
use midly::live::{LiveEvent, SystemCommon, SystemRealtime};
use proptest::prelude::*;

fn note(channel: u8, key: u8) -> Note {
    Note { channel: Channel::number(channel).unwrap(), key: SevenBits::new(key).unwrap() }
}

#[test]
fn real_time_bytes_are_those_of_the_table() {
    // MIDI 1.0 Detailed Specification 4.2.1, System Real Time.
    let rows = [
        (bytes::CLOCK, 0xF8, SystemRealtime::TimingClock),
        (bytes::START, 0xFA, SystemRealtime::Start),
        (bytes::CONTINUE, 0xFB, SystemRealtime::Continue),
        (bytes::STOP, 0xFC, SystemRealtime::Stop),
    ];
    for (byte, in_the_table, meaning) in rows {
        let message = bytes::real_time(byte);
        assert_eq!(message.as_bytes(), [in_the_table]);
        assert_eq!(LiveEvent::parse(message.as_bytes()).unwrap(), LiveEvent::Realtime(meaning));
    }
}

#[test]
fn song_position_has_its_low_seven_bits_first() {
    // MIDI 1.0, reprinted by the IEEE Computer Society Press (Haus 1995), Table XIX: 10 is 60 clocks, F2 0A 00.
    assert_eq!(bytes::song_position(10).as_bytes(), [0xF2, 0x0A, 0x00]);
    assert_eq!(bytes::song_position(0).as_bytes(), [0xF2, 0, 0]);
    assert_eq!(bytes::song_position(-3), bytes::song_position(0));
    assert_eq!(bytes::song_position(1 << 20), bytes::song_position(0x3FFF));
}

#[test]
fn the_panic_is_all_sound_off_and_all_notes_off() {
    // MIDI 1.0, channel mode messages: Bn 78 00 and Bn 7B 00.
    for channel in 1..=16 {
        let [sound, notes] = bytes::panic(Channel::number(channel).unwrap());
        assert_eq!(sound.as_bytes(), [0xB0 + channel - 1, 0x78, 0]);
        assert_eq!(notes.as_bytes(), [0xB0 + channel - 1, 0x7B, 0]);
    }
}

#[test]
fn values_that_no_message_has_cannot_be_made() {
    assert_eq!((Channel::number(0), Channel::number(17), SevenBits::new(128)), (None, None, None));
    assert_eq!(Message::new(&[7; 99]).as_bytes().len(), Message::LONGEST);
}

proptest! {
    #[test]
    fn an_independent_parser_reads_what_was_meant(channel in 1u8..=16, key in 0u8..128, velocity in 0u8..128, place in 0i64..0x4000) {
        let on = bytes::note_on(note(channel, key), SevenBits::new(velocity).unwrap());
        let LiveEvent::Midi { channel: heard, message } = LiveEvent::parse(on.as_bytes()).unwrap() else { panic!("{on}") };
        prop_assert_eq!(heard.as_int() + 1, channel);
        // Velocity 0 would be a note off (MIDI 1.0, note on), so there is none.
        prop_assert_eq!(message, MidiMessage::NoteOn { key: key.into(), vel: velocity.max(1).into() });
        let off = bytes::note_off(note(channel, key));
        let LiveEvent::Midi { message, .. } = LiveEvent::parse(off.as_bytes()).unwrap() else { panic!("{off}") };
        prop_assert_eq!(message, MidiMessage::NoteOff { key: key.into(), vel: 64.into() });
        let position = bytes::song_position(place);
        let read = LiveEvent::parse(position.as_bytes()).unwrap();
        prop_assert_eq!(read, LiveEvent::Common(SystemCommon::SongPosition((place as u16).into())));
    }

    #[test]
    fn no_bytes_from_a_port_make_the_listener_panic(messages in prop::collection::vec(prop::collection::vec(any::<u8>(), 0..6), 0..20)) {
        let trigger = Trigger::parse("control 1 64").unwrap();
        let mut listener = Listener::new(Some(trigger), Some(trigger));
        for (index, bytes) in messages.iter().enumerate() {
            let meaning = listener.hear(ServerTime(index as i64), bytes);
            let is_press = bytes.len() >= 3 && bytes[..2] == [0xB0, 64] && bytes[2] >= 64;
            prop_assert!(meaning != Some(Meaning::Step), "what is for both is HOLD");
            prop_assert!(meaning != Some(Meaning::Hold) || is_press);
        }
    }

    #[test]
    fn a_trigger_is_read_as_it_is_written(kind in 0..3usize, channel in 1u8..=16, number in 0u8..128) {
        let (status, word) = [(0x90, "note"), (0xB0, "control"), (0xC0, "program")][kind];
        let learned = Trigger::learn(&[status | (channel - 1), number, 127]).unwrap();
        prop_assert_eq!(learned.to_string(), format!("{word} {channel} {number}"));
        prop_assert_eq!(Trigger::parse(&learned.to_string()), Ok(learned));
    }
}

#[test]
fn show_control_frames_are_those_of_the_practice() {
    // MMA RP-002/014, the frame as transcribed in a general-purpose MIDI library header: GO, cue 1.5, lighting, device 0.
    let go = show_control::message(Device::new(0).unwrap(), Format::Lighting, Command::Go, Some("1.5"));
    assert_eq!(go.as_bytes(), [0xF0, 0x7F, 0x00, 0x02, 0x01, 0x01, 0x31, 0x2E, 0x35, 0xF7]);
    // The commands: 01 GO, 02 STOP, 03 RESUME (the same header).
    for (command, byte) in [(Command::Go, 1), (Command::Stop, 2), (Command::Resume, 3)] {
        let message = show_control::message(Device::ALL, Format::All, command, None);
        assert_eq!(message.as_bytes(), [0xF0, 0x7F, 0x7F, 0x02, 0x7F, byte, 0xF7]);
    }
    // A trap: a table that is widely copied has SET 05, FIRE 06, STANDBY 07, RESET 08. By the standard (RP-002/014, the
    // same header) 05 loads, 06 sets and 0A resets; what is sent means the same by both, and nothing else is sent.
    let by_the_standard =
        [("GO", 0x01), ("STOP", 0x02), ("RESUME", 0x03), ("LOAD", 0x05), ("SET", 0x06), ("RESET", 0x0A)];
    for command in [Command::Go, Command::Stop, Command::Resume] {
        let byte = show_control::message(Device::ALL, Format::All, command, None).as_bytes()[5];
        let name = by_the_standard.iter().find(|(_, theirs)| *theirs == byte).unwrap().0;
        assert_eq!(name, format!("{command:?}").to_uppercase());
    }
    // The formats (the same header).
    let formats = [
        ("lighting", 0x01),
        ("strobes", 0x04),
        ("lasers", 0x05),
        ("sound", 0x10),
        ("music", 0x11),
        ("machinery", 0x20),
        ("flys", 0x22),
        ("video", 0x30),
        ("projection", 0x40),
        ("process", 0x50),
        ("fog", 0x56),
        ("pyro", 0x60),
        ("all", 0x7F),
    ];
    for ((word, format), (name, byte)) in Format::WORDS.into_iter().zip(formats) {
        let message = show_control::message(Device::ALL, format, Command::Go, None);
        assert_eq!((word, message.as_bytes()[4]), (name, byte));
    }
    assert_eq!(Device::new(128), None);
}

#[test]
fn a_cue_number_is_digits_and_points_and_no_longer_than_a_message() {
    let long = "1.".repeat(40) + "x\u{7f}é";
    let message = show_control::message(Device::ALL, Format::Sound, Command::Go, Some(&long));
    let (last, body) = message.as_bytes().split_last().unwrap();
    assert_eq!((*last, message.as_bytes().len()), (0xF7, Message::LONGEST));
    assert!(body[6..].iter().all(|byte| byte.is_ascii_digit() || *byte == b'.'), "{message}");
}

#[test]
fn a_foot_switch_holds_when_it_goes_down() {
    let hold = Trigger::parse("control 1 64").unwrap();
    let step = Trigger::parse("note 10 37").unwrap();
    let mut listener = Listener::new(Some(hold), Some(step));
    let mut hear = |at_ms: i64, bytes: &[u8]| listener.hear(ServerTime::default() + Micros::millis(at_ms), bytes);
    // MIDI 1.0, controllers 64 to 69: 0 to 63 is off, 64 to 127 on.
    assert_eq!(hear(0, &[0xB0, 64, 127]), Some(Meaning::Hold));
    assert_eq!(hear(10, &[0xB0, 64, 100]), None, "the same press goes on");
    assert_eq!(hear(50, &[0xB0, 64, 0]), None);
    assert_eq!(hear(60, &[0xB0, 64, 64]), Some(Meaning::Hold), "a second press, however soon");
    assert_eq!(hear(900, &[0xB0, 64, 127]), Some(Meaning::Hold), "a switch whose release was lost still holds");
    assert_eq!(hear(1_000, &[0x99, 37, 90]), Some(Meaning::Step));
    assert_eq!(hear(1_010, &[0x99, 37, 0]), None, "velocity 0 lets go");
    assert_eq!(hear(1_020, &[0x99, 37, 90]), None, "a contact that bounces is one step");
    assert_eq!(hear(1_030, &[0x89, 37, 64]), None);
    assert_eq!(hear(1_200, &[0x99, 37, 90]), Some(Meaning::Step));
    assert_eq!(hear(1_300, &[0x99, 38, 90]), Some(Meaning::Unknown(Trigger::parse("note 10 38").unwrap())));
    assert_eq!(hear(1_400, &[0xF8]), None);
}
