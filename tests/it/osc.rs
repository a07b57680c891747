//! OSC: the encoder's bytes against the specification's own examples, and every message of ours over a real socket,
//! read by a decoder that was written here from the specification.

use std::net::UdpSocket;
use std::time::Duration;

use holdfast::osc::messages::Message;
use holdfast::osc::queue::Queue;
use holdfast::osc::{OscOut, OscTarget};
use holdfast::time::ServerClock;
use holdfast::units::{Decibels, Generation, Micros, ServerTime};
use proptest::prelude::*;
use rosc::{OscBundle, OscMessage, OscPacket, OscTime, OscType};

fn hex(text: &str) -> Vec<u8> {
    let digits: String = text.split_whitespace().collect();
    (0..digits.len()).step_by(2).map(|at| u8::from_str_radix(&digits[at..at + 2], 16).unwrap()).collect()
}

#[test]
fn the_encoder_makes_the_bytes_of_the_specification() {
    // OSC 1.0 specification, examples (opensoundcontrol.stanford.edu), and shared/checks.md §3.
    let message = |addr: &str, args| OscPacket::Message(OscMessage { addr: addr.into(), args });
    let (one, two) = (OscType::Float(1.234), OscType::Float(5.678));
    let many = vec![OscType::Int(1000), OscType::Int(-1), OscType::String("hello".into()), one, two];
    let immediately = OscTime { seconds: 0, fractional: 1 };
    let rows = [
        (
            message("/oscillator/4/frequency", vec![OscType::Float(440.0)]),
            "2f6f7363 696c6c61 746f722f 342f6672 65717565 6e637900 2c660000 43dc0000",
        ),
        (
            message("/foo", many),
            "2f666f6f 00000000 2c696973 66660000 000003e8 ffffffff 68656c6c 6f000000 3f9df3b6 40b5b22d",
        ),
        (
            OscPacket::Bundle(OscBundle { timetag: immediately, content: vec![message("/a", Vec::new())] }),
            "2362756e 646c6500 00000000 00000001 00000008 2f610000 2c000000",
        ),
    ];
    for (packet, bytes) in rows {
        assert_eq!(rosc::encoder::encode(&packet).unwrap(), hex(bytes));
    }
}

/// A message as it is on the wire.
#[derive(Debug, PartialEq)]
struct Read {
    address: String,
    tags: String,
    args: Vec<Arg>,
}

#[derive(Debug, PartialEq)]
enum Arg {
    I(i32),
    F(f32),
    S(String),
}

/// The specification: an address, a type tag string that begins with a comma, the arguments; strings end with one to
/// four zeros, everything is a multiple of four bytes, numbers are big-endian.
fn decode(packet: &[u8]) -> Read {
    assert_eq!(packet.len() % 4, 0);
    let mut rest = packet;
    let address = string(&mut rest);
    let tags = string(&mut rest);
    assert!(address.starts_with('/') && tags.starts_with(','), "{address} {tags}");
    let args = tags.chars().skip(1).map(|tag| match tag {
        'i' => Arg::I(i32::from_be_bytes(four(&mut rest))),
        'f' => Arg::F(f32::from_be_bytes(four(&mut rest))),
        's' => Arg::S(string(&mut rest)),
        other => panic!("there is no type {other}"),
    });
    let args = args.collect();
    assert!(rest.is_empty());
    Read { address, tags, args }
}

fn string(rest: &mut &[u8]) -> String {
    let end = rest.iter().position(|byte| *byte == 0).unwrap();
    let whole = (end / 4 + 1) * 4;
    let (text, after) = rest.split_at(whole);
    assert!(text[end..].iter().all(|byte| *byte == 0));
    *rest = after;
    String::from_utf8(text[..end].to_vec()).unwrap()
}

fn four(rest: &mut &[u8]) -> [u8; 4] {
    let (number, after) = rest.split_at(4);
    *rest = after;
    number.try_into().unwrap()
}

fn listener() -> (UdpSocket, OscTarget) {
    let socket = UdpSocket::bind("127.0.0.1:0").unwrap();
    socket.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
    let target = OscTarget::parse(&socket.local_addr().unwrap().to_string()).unwrap();
    (socket, target)
}

fn receive(socket: &UdpSocket) -> Read {
    let mut buffer = [0; 2_048];
    let length = socket.recv(&mut buffer).unwrap();
    decode(&buffer[..length])
}

#[test]
fn every_message_is_read_as_documented() {
    let (socket, target) = listener();
    let osc = OscOut::open(target, ServerClock::new());
    let i = Arg::I;
    let s = |text: &str| Arg::S(text.to_owned());
    let rows = [
        (
            Message::State { state: "count-in", generation: Generation(7) },
            ("/holdfast/state", ",si", vec![s("count-in"), i(7)]),
        ),
        (
            Message::Run {
                run: 3,
                fight: "The Salt Stair".into(),
                first: "Door".into(),
                last: "Fall".into(),
                percent: 75,
            },
            ("/holdfast/run", ",isssi", vec![i(3), s("The Salt Stair"), s("Door"), s("Fall"), i(75)]),
        ),
        (
            Message::Cue {
                run: 3,
                cue: 12,
                phrase: "Door".into(),
                beat: "4+1/2".into(),
                number: 5,
                words: "MARET cut flank / ØSK parry 3".into(),
            },
            (
                "/holdfast/cue",
                ",iissis",
                vec![i(3), i(12), s("Door"), s("4+1/2"), i(5), s("MARET cut flank / ?SK parry 3")],
            ),
        ),
        (
            Message::Sound { run: 3, name: "steel".into(), level: Decibels(-3.5) },
            ("/holdfast/sound", ",isf", vec![i(3), s("steel"), Arg::F(-3.5)]),
        ),
        (
            Message::Hold {
                who: "foot switch".into(),
                phrase: "Door".into(),
                beat: "4".into(),
                generation: Generation(8),
            },
            ("/holdfast/hold", ",sssi", vec![s("foot switch"), s("Door"), s("4"), i(8)]),
        ),
    ];
    for (message, (address, tags, args)) in rows {
        osc.send(message);
        assert_eq!(receive(&socket), Read { address: address.into(), tags: tags.into(), args });
    }
    while osc.status().sent < 5 {
        std::thread::yield_now();
    }
    assert!(osc.status().well);
}

#[test]
fn after_a_silence_nothing_older_is_sent() {
    let (socket, target) = listener();
    let clock = ServerClock::new();
    let osc = OscOut::open(target, clock);
    let sound = |run| Message::Sound { run, name: "steel".into(), level: Decibels(0.0) };
    for ms in 20..60 {
        osc.plan(clock.now() + Micros::millis(ms), Generation(1), sound(1));
    }
    osc.silence(Generation(2));
    osc.plan(clock.now() + Micros::millis(100), Generation(1), sound(1));
    osc.plan(clock.now() + Micros::millis(120), Generation(2), sound(2));
    assert_eq!(receive(&socket).args[0], Arg::I(2));
    assert_eq!(osc.status().silenced, 41);
}

#[test]
fn when_nobody_listens_it_is_counted_and_said() {
    let (socket, target) = listener();
    drop(socket);
    let osc = OscOut::open(target, ServerClock::new());
    // The kernel tells of a packet that nobody took when the next one is sent.
    while osc.status().lost == 0 {
        osc.send(Message::State { state: "idle", generation: Generation(1) });
        std::thread::yield_now();
    }
    assert!(osc.status().lost > 0);
}

#[test]
fn targets_are_read_and_refused() {
    for good in ["127.0.0.1:9000", "desk-2.local:1", "[::1]:65535"] {
        assert_eq!(OscTarget::parse(good).unwrap().to_string(), good);
    }
    for bad in
        ["", "9000", ":9000", "host:", "host:0", "host:65536", "::1:9000", "a b:9", "[::g]:9", "http://a:9/x", "hôst:9"]
    {
        assert!(OscTarget::parse(bad).is_err(), "{bad}");
    }
}

proptest! {
    #[test]
    fn any_text_makes_a_packet_that_can_be_read(who in ".{0,40}", phrase in ".{0,40}", generation in any::<u64>()) {
        let message = Message::Hold { who: who.clone(), phrase, beat: "1".into(), generation: Generation(generation) };
        let read = decode(&message.encode().unwrap());
        let Some(Arg::S(said)) = read.args.first() else { panic!("{read:?}") };
        prop_assert_eq!(said.chars().count(), who.chars().count());
        prop_assert!(said.bytes().all(|byte| (0x20..0x7F).contains(&byte)));
    }

    #[test]
    fn the_queue_gives_out_what_lives_in_order_of_time(plans in prop::collection::vec((0i64..1_000, 0u32..4), 0..60), lives in 0u32..5) {
        let mut queue = Queue::default();
        let mut highest = 0;
        for (index, (due, generation)) in plans.iter().enumerate() {
            let message = Message::Sound { run: *generation, name: index.to_string(), level: Decibels(0.0) };
            queue.plan(ServerTime(*due), Generation(u64::from(*generation)), message);
            highest = highest.max(*generation);
        }
        queue.silence(Generation(u64::from(lives)));
        let mut before = ServerTime(i64::MIN);
        while let Some(due) = queue.deadline() {
            prop_assert!(due >= before && queue.pop(due - Micros(1)).is_none());
            before = due;
            let Some(Message::Sound { run, .. }) = queue.pop(due) else { panic!("nothing was due") };
            prop_assert_eq!(run, lives.max(highest), "an older generation came out");
        }
    }
}
