//! What a foot switch sends. The first six bytes choose the two switches; the rest is a list of messages, each with the
//! time before it. A switch that goes down after it was let go is always heard; nothing else is ever taken for it.

use holdfast::midi::trigger::{Listener, Meaning, Trigger};
use holdfast::units::{Micros, ServerTime};

pub(crate) fn run(bytes: &[u8]) {
    if let Ok(text) = std::str::from_utf8(bytes) {
        match Trigger::parse(text) {
            Ok(trigger) => assert_eq!(Trigger::parse(&trigger.to_string()), Ok(trigger)),
            Err(wanted) => assert!(wanted.starts_with("it has to be ")),
        }
    }
    let (first, rest) = bytes.split_at(bytes.len().min(3));
    let (second, mut rest) = rest.split_at(rest.len().min(3));
    let ((hold, hold_trigger), (step, step_trigger)) = (learned(first), learned(second));
    let mut listener = Listener::new(hold_trigger, step_trigger);
    let (mut now, mut held) = (ServerTime(0), Heard::default());
    let mut stepped: Option<ServerTime> = None;
    // The head of a message: its length in two bits, and the time before it in the other six, 10 ms each.
    while let Some((head, after)) = rest.split_first() {
        let (message, after) = after.split_at(after.len().min(usize::from(head & 3) + 1));
        rest = after;
        now = now + Micros::millis(i64::from(head >> 2) * 10);
        let meaning = listener.hear(now, message);
        let press = Press::of(message);
        assert_eq!(Trigger::learn(message).is_some(), press.is_some_and(|press| press.down), "{message:?}");
        let is = |switch: Option<Press>| press.is_some_and(|press| switch.is_some_and(|switch| switch.of == press.of));
        match press {
            Some(press) if is(hold) => {
                let long_ago = held.since.is_some_and(|since| now.since(since) >= Micros::millis(300));
                let must = press.down && (press.never_let_go() || !held.down || long_ago);
                assert_eq!(meaning, must.then_some(Meaning::Hold), "{message:?} at {now:?}");
                held.down = press.down;
                held.since = if press.down { Some(now) } else { held.since };
            }
            Some(press) if is(step) => {
                assert!(matches!(meaning, None | Some(Meaning::Step)), "{message:?} is {meaning:?}");
                if meaning.is_some() {
                    assert!(press.down, "a switch that is let go steps");
                    let apart = stepped.is_none_or(|before| now.since(before) >= Micros::millis(80));
                    assert!(apart, "a contact that bounces steps twice");
                    stepped = Some(now);
                }
            }
            _ => assert_eq!(meaning, Trigger::learn(message).map(Meaning::Unknown), "{message:?}"),
        }
    }
}

/// A switch as it was last heard.
#[derive(Default)]
struct Heard {
    down: bool,
    since: Option<ServerTime>,
}

/// A message as the tables of MIDI 1.0 have it: of which switch it is, and whether that goes down.
#[derive(Clone, Copy)]
struct Press {
    /// The kind with its channel, and the number.
    of: (u8, u8),
    down: bool,
}

impl Press {
    fn of(message: &[u8]) -> Option<Press> {
        let (status, number) = (*message.first()?, *message.get(1).filter(|number| **number < 128)?);
        let value = message.get(2).copied().unwrap_or(0);
        let (kind, down) = match status {
            0x80..=0x8f => (status + 0x10, false),
            // A note on of velocity 0 is a note off.
            0x90..=0x9f => (status, value != 0),
            // A switch is on from 64.
            0xb0..=0xbf => (status, value > 63),
            0xc0..=0xcf => (status, true),
            _ => return None,
        };
        Some(Press { of: (kind, number), down })
    }

    /// A program that is chosen has no release.
    fn never_let_go(self) -> bool {
        self.of.0 >= 0xc0
    }
}

/// The switch that a message teaches, as the tables have it and as the listener does. It is written and read as itself,
/// and heard.
fn learned(message: &[u8]) -> (Option<Press>, Option<Trigger>) {
    let Some(trigger) = Trigger::learn(message) else { return (None, None) };
    assert_eq!(Trigger::parse(&trigger.to_string()), Ok(trigger));
    assert_eq!(Listener::new(Some(trigger), None).hear(ServerTime(0), message), Some(Meaning::Hold));
    (Press::of(message), Some(trigger))
}
