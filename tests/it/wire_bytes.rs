//! The encoding against MessagePack's published examples, and against any bytes at all.

use holdfast::call::Way;
use holdfast::wire::{MAX_FRAME, ToMember, ToServer, decode, encode};
use proptest::prelude::*;
use serde::{Deserialize, Serialize};

use crate::wire_messages::{to_member, to_server};

#[derive(Debug, PartialEq, Serialize, Deserialize)]
struct FrontPage {
    compact: bool,
    schema: i32,
}

/// The example of msgpack.org's front page (the values from memory, the bytes recomputed).
#[test]
fn the_front_page_example_is_what_we_write_and_read() {
    let bytes = b"\x82\xa7compact\xc3\xa6schema\x00";
    let value = FrontPage { compact: true, schema: 0 };
    assert_eq!(encode(&value).unwrap(), bytes);
    assert_eq!(decode::<FrontPage>(bytes).unwrap(), value);
}

/// Every legal encoding of an integer is taken for it, as in the data set `msgpack-test-suite` 1.0.0 (npm) lists them.
#[test]
fn integers_are_read_in_every_legal_encoding() {
    let rows: &[(i64, &[&str])] = &[
        (
            0,
            &[
                "00",
                "cc00",
                "cd0000",
                "ce00000000",
                "cf0000000000000000",
                "d000",
                "d10000",
                "d200000000",
                "d30000000000000000",
            ],
        ),
        (
            127,
            &[
                "7f",
                "cc7f",
                "cd007f",
                "ce0000007f",
                "cf000000000000007f",
                "d07f",
                "d1007f",
                "d20000007f",
                "d3000000000000007f",
            ],
        ),
        (128, &["cc80", "cd0080", "ce00000080", "cf0000000000000080", "d10080", "d200000080", "d30000000000000080"]),
        (65_536, &["ce00010000", "cf0000000000010000", "d200010000", "d30000000000010000"]),
        (-1, &["ff", "d0ff", "d1ffff", "d2ffffffff", "d3ffffffffffffffff"]),
        (-33, &["d0df", "d1ffdf", "d2ffffffdf", "d3ffffffffffffffdf"]),
        (1 << 40, &["cf0000010000000000", "d30000010000000000"]),
    ];
    for (value, encodings) in rows {
        for hex in *encodings {
            let mut bytes = b"\x82\xa4kind\xa5clock\xa7sent_us".to_vec();
            bytes.extend((0..hex.len()).step_by(2).map(|at| u8::from_str_radix(&hex[at..at + 2], 16).unwrap()));
            assert_eq!(decode::<ToServer>(&bytes).unwrap(), ToServer::Clock { sent_us: *value }, "{hex}");
        }
    }
}

#[test]
fn what_is_not_exactly_one_message_is_refused() {
    let good = encode(&ToServer::Step { generation: 3, from: 0, way: Way::On }).unwrap();
    assert!(decode::<ToServer>(&good).is_ok());
    assert!(decode::<ToServer>(&[]).is_err());
    for end in 0..good.len() {
        assert!(decode::<ToServer>(&good[..end]).is_err(), "cut off at {end}");
    }
    assert!(decode::<ToServer>(&[good.clone(), vec![0xc0]].concat()).is_err(), "something after it");
    for unknown in ["\u{82}", "null"] {
        assert!(decode::<ToServer>(unknown.as_bytes()).is_err());
    }
    // A field that the message does not have; a message that does not exist; a number that does not fit.
    assert!(decode::<ToServer>(b"\x83\xa4kind\xa4step\xaageneration\x03\xa5extra\x01").is_err());
    assert!(decode::<ToServer>(b"\x81\xa4kind\xa5dance").is_err());
    assert!(decode::<ToServer>(b"\x82\xa4kind\xa4step\xaageneration\xff").is_err());
}

/// Nesting as deep as a frame allows is refused and does not run out of stack, on a thread as small as the server's.
#[test]
fn deep_nesting_is_refused() {
    for byte in [0x91, 0x81, 0xc7, 0xdd, 0xdf] {
        let deep = vec![byte; MAX_FRAME];
        let inside = [b"\x82\xa4kind".to_vec(), deep.clone()].concat();
        assert!(decode::<ToServer>(&deep).is_err());
        assert!(decode::<ToServer>(&inside).is_err());
        assert!(decode::<ToMember>(&inside).is_err());
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2_000))]

    #[test]
    fn no_bytes_upset_it(bytes in prop::collection::vec(any::<u8>(), 0..200)) {
        let _ = decode::<ToServer>(&bytes);
        let _ = decode::<ToMember>(&bytes);
    }

    /// Bytes that are nearly a message reach further into the reader than bytes at random.
    #[test]
    fn no_damaged_message_upsets_it(
        which in any::<prop::sample::Index>(),
        damage in prop::collection::vec((any::<prop::sample::Index>(), any::<u8>()), 1..6),
        end in any::<prop::sample::Index>(),
    ) {
        let mut all: Vec<Vec<u8>> = to_server().iter().map(|message| encode(message).unwrap()).collect();
        all.extend(to_member().iter().map(|message| encode(message).unwrap()));
        let bytes = which.get(&all).clone();
        let mut damaged = bytes;
        for (place, byte) in damage {
            *place.get_mut(&mut damaged) = byte;
        }
        let end = end.index(damaged.len() + 1);
        let _ = decode::<ToServer>(&damaged[..end]);
        let _ = decode::<ToMember>(&damaged);
    }

    #[test]
    fn any_words_and_numbers_come_back(tap in ".*", reason in prop::option::of(".*"), generation in any::<u64>(), tapped_us in any::<Option<i64>>()) {
        let tap = holdfast::wire::HoldTap { tap, generation, queued: true, tapped_us, screen_cue: None, reason };
        let message = ToServer::Hold(tap);
        prop_assert_eq!(decode::<ToServer>(&encode(&message).unwrap()).unwrap(), message);
    }
}
