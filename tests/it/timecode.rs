//! Timecode against the published counting, and MIDI Time Code against its worked example; the quarter frames are put
//! together by a decoder of this file's own, from pieces that midly read.

use holdfast::midi::timecode::{Quarters, Rate, Timecode, TimecodeError};
use holdfast::units::Micros;
use midly::live::{LiveEvent, MtcQuarterFrameMessage as Piece, SystemCommon};
use proptest::prelude::*;

fn label(text: &str, rate: Rate) -> Timecode {
    Timecode::parse(text, rate).unwrap()
}

#[test]
fn drop_frame_counts_as_published() {
    // SMPTE ST 12-1's rule; frame, label and time n·1001/30000 worked out two ways in shared/checks.md §2. The rows at
    // 12:39 are the example of Heidelberger (2010).
    let rows = [
        (1_799, "00:00:59;29", 60_026_633),
        (1_800, "00:01:00;02", 60_060_000),
        (3_597, "00:01:59;29", 120_019_900),
        (3_598, "00:02:00;02", 120_053_267),
        (17_981, "00:09:59;29", 599_966_033),
        (17_982, "00:10:00;00", 599_999_400),
        (35_964, "00:20:00;00", 1_199_998_800),
        (107_892, "01:00:00;00", 3_599_996_400),
        (1_364_833, "12:38:59;29", 45_539_927_767),
        (1_364_834, "12:39:00;02", 45_539_961_133),
        (2_589_407, "23:59:59;29", 86_399_880_233),
    ];
    for (frame, text, micros) in rows {
        let timecode = Timecode::of_frame(Rate::Drop2997, frame);
        assert_eq!((timecode.to_string().as_str(), timecode.frame()), (text, frame));
        assert_eq!(label(text, Rate::Drop2997), timecode);
        assert_eq!(Rate::Drop2997.time_of_quarters(frame * 4), Micros(micros), "{text}");
        assert_eq!(Rate::Drop2997.nearest_frame(Micros(micros)), frame);
    }
    // 2,589,408 frames a day; then it begins anew.
    assert_eq!(Timecode::of_frame(Rate::Drop2997, 2_589_408).to_string(), "00:00:00;00");
}

#[test]
fn labels_that_do_not_exist_are_refused() {
    for text in ["00:01:00;00", "00:01:00;01", "00:59:00;00"] {
        assert_eq!(Timecode::parse(text, Rate::Drop2997), Err(TimecodeError::Dropped), "{text}");
        assert!(Timecode::parse(text, Rate::Whole30).is_ok());
    }
    assert!(Timecode::parse("00:10:00;00", Rate::Drop2997).is_ok());
    assert_eq!(Timecode::parse("00:00:00:24", Rate::Film24), Err(TimecodeError::Frame));
    assert_eq!(Timecode::parse("00:00:00:25", Rate::Pal25), Err(TimecodeError::Frame));
    for text in ["24:00:00:00", "00:60:00:00", "00:00:60:00", "99:99:99:99"] {
        assert_eq!(Timecode::parse(text, Rate::Whole30), Err(TimecodeError::Clock), "{text}");
    }
    for text in
        ["", "1:2:3:4", "00:00:00", "00:00:00:00:00", "aa:bb:cc:dd", "00-00-00-00", "+1:00:00:00", "٠٠:00:00:00"]
    {
        assert_eq!(Timecode::parse(text, Rate::Whole30), Err(TimecodeError::Form), "{text}");
    }
}

#[test]
fn quarter_frames_are_those_of_the_worked_example() {
    // MIDI Time Code specification (MMA RP-004/008): 01:37:52:16, 30 non-drop.
    let timecode = label("01:37:52:16", Rate::Whole30);
    let bytes: Vec<u8> = (0..8).flat_map(|piece| timecode.quarter_frame(piece).as_bytes().to_vec()).collect();
    let example = [0xF1, 0x00, 0xF1, 0x11, 0xF1, 0x24, 0xF1, 0x33, 0xF1, 0x45, 0xF1, 0x52, 0xF1, 0x61, 0xF1, 0x76];
    assert_eq!(bytes, example);
    let full = timecode.full_frame();
    assert_eq!(full.as_bytes(), [0xF0, 0x7F, 0x7F, 0x01, 0x01, 0x61, 0x25, 0x34, 0x10, 0xF7]);
    let last = label("23:59:59;29", Rate::Drop2997).full_frame();
    assert_eq!(last.as_bytes()[5..9], [0x57, 0x3B, 0x3B, 0x1D]);
}

#[test]
fn a_decoder_that_adds_two_frames_is_where_the_sender_is() {
    // Eight quarter frames span two frames: 01:37:52:16 put together means 01:37:52:18 now (a library's own notes on
    // the specification).
    let start = label("01:37:52:16", Rate::Whole30);
    let mut quarters = Quarters::new(Rate::Whole30, start.frame(), Micros::ZERO);
    let mut pieces = [0; 8];
    for piece in &mut pieces {
        *piece = quarters.peek().0.as_bytes()[1];
        quarters.advance();
    }
    assert_eq!(assembled(&pieces), start);
    let (_, now) = quarters.peek();
    assert_eq!(
        Timecode::of_frame(Rate::Whole30, start.frame() + Rate::Whole30.nearest_frame(now)).to_string(),
        "01:37:52:18"
    );
}

/// What eight quarter frames say, by the specification's table of pieces.
fn assembled(pieces: &[u8; 8]) -> Timecode {
    let mut nibbles = [0; 8];
    for (index, piece) in pieces.iter().enumerate() {
        let Ok(LiveEvent::Common(SystemCommon::MidiTimeCodeQuarterFrame(kind, value))) =
            LiveEvent::parse(&[0xF1, *piece])
        else {
            panic!("{piece:02X} is no quarter frame");
        };
        let order = [
            Piece::FramesLow,
            Piece::FramesHigh,
            Piece::SecondsLow,
            Piece::SecondsHigh,
            Piece::MinutesLow,
            Piece::MinutesHigh,
            Piece::HoursLow,
            Piece::HoursHigh,
        ];
        assert_eq!(kind, order[index]);
        nibbles[index] = value.as_int();
    }
    let value = |piece: usize| nibbles[piece] | nibbles[piece + 1] << 4;
    let (frames, seconds, minutes, hours) = (value(0), value(2), value(4), value(6));
    let rate = [Rate::Film24, Rate::Pal25, Rate::Drop2997, Rate::Whole30][usize::from(hours >> 5)];
    Timecode::new(rate, hours & 0x1F, minutes, seconds, frames).unwrap()
}

fn any_rate() -> impl Strategy<Value = Rate> {
    (0..4usize).prop_map(|index| Rate::WORDS[index].1)
}

proptest! {
    #[test]
    fn labels_and_frames_are_one_to_one(rate in any_rate(), frame in 0i64..2_592_000) {
        let frame = frame % rate.frames_a_day();
        let timecode = Timecode::of_frame(rate, frame);
        prop_assert_eq!(timecode.frame(), frame);
        prop_assert_eq!(Timecode::parse(&timecode.to_string(), rate), Ok(timecode));
    }

    #[test]
    fn labels_only_go_forwards(rate in any_rate(), frame in 0i64..2_592_000) {
        let frame = frame % (rate.frames_a_day() - 1);
        // Two digits each, so that the order of the texts is the order of the labels.
        let (now, next) = (Timecode::of_frame(rate, frame), Timecode::of_frame(rate, frame + 1));
        prop_assert!(now.to_string() < next.to_string(), "{} then {}", now, next);
    }

    #[test]
    fn what_is_sent_in_quarters_is_what_is_read(rate in any_rate(), first in 0i64..2_592_000, lead_ms in -9_000i64..9_000) {
        let from = Micros::millis(lead_ms);
        let mut quarters = Quarters::new(rate, first, from);
        let mut before = None;
        for _ in 0..4 {
            let label = quarters.label();
            let mut pieces = [0; 8];
            let at = quarters.peek().1;
            prop_assert!(at >= from);
            // At piece 0 the label holds: the first beat has the frame `first`.
            let wanted = Timecode::of_frame(rate, first + rate.nearest_frame(at));
            prop_assert_eq!(label, wanted);
            for piece in &mut pieces {
                let (message, at) = quarters.peek();
                prop_assert!(before.is_none_or(|before| at > before));
                before = Some(at);
                *piece = message.as_bytes()[1];
                quarters.advance();
            }
            prop_assert_eq!(assembled(&pieces), label);
        }
    }

    #[test]
    fn no_text_makes_the_reader_panic(text in ".{0,20}", rate in any_rate()) {
        let _ = Timecode::parse(&text, rate);
    }
}
