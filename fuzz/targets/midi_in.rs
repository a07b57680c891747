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
    let (hold, step) = (learned(first), learned(second));
    let mut listener = Listener::new(hold, step);
    let (mut now, mut held) = (ServerTime(0), Press::default());
    let mut stepped: Option<ServerTime> = None;
    // The head of a message: its length in two bits, and the time before it in the other six, 10 ms each.
    while let Some((head, after)) = rest.split_first() {
        let (message, after) = after.split_at(after.len().min(usize::from(head & 3) + 1));
        rest = after;
        now = now + Micros::millis(i64::from(head >> 2) * 10);
        let meaning = listener.hear(now, message);
        let pressed = Trigger::learn(message);
        if let Some(trigger) = pressed.filter(|trigger| Some(*trigger) == hold) {
            let lone = matches!(trigger, Trigger::Program(..));
            let must = lone || !held.down || held.since.is_some_and(|since| now.since(since) >= Micros::millis(300));
            assert_eq!(meaning, must.then_some(Meaning::Hold), "{message:?} at {now:?}");
            held = Press { down: true, since: Some(now) };
            continue;
        }
        if lets_go(message, hold) {
            held.down = false;
        }
        match meaning {
            Some(Meaning::Hold) => panic!("{message:?} is not the switch for HOLD"),
            Some(Meaning::Step) => {
                assert!(
                    pressed.is_some() && pressed == step && step != hold,
                    "{message:?} is not the switch for a step"
                );
                let apart = stepped.is_none_or(|before| now.since(before) >= Micros::millis(80));
                assert!(apart, "a contact that bounces steps twice");
                stepped = Some(now);
            }
            Some(Meaning::Unknown(trigger)) => {
                assert!(pressed == Some(trigger) && pressed != hold && pressed != step);
            }
            None => assert!(pressed.is_none() || pressed == step, "{message:?} was not heard"),
        }
    }
}

/// A switch as it was last heard.
#[derive(Default)]
struct Press {
    down: bool,
    since: Option<ServerTime>,
}

/// The switch that a message teaches; it is written and read as itself, and heard.
fn learned(message: &[u8]) -> Option<Trigger> {
    let trigger = Trigger::learn(message)?;
    assert_eq!(Trigger::parse(&trigger.to_string()), Ok(trigger));
    assert_eq!(Listener::new(Some(trigger), None).hear(ServerTime(0), message), Some(Meaning::Hold));
    Some(trigger)
}

/// Whether a message says that the switch was let go (MIDI 1.0: note off, a note of velocity 0, a controller below 64).
fn lets_go(message: &[u8], switch: Option<Trigger>) -> bool {
    let value = message.get(2).copied().unwrap_or(0);
    let pressed = match (message, switch) {
        ([status, number, ..], Some(Trigger::Note(..)))
            if status & 0xf0 == 0x80 || status & 0xf0 == 0x90 && value == 0 =>
        {
            [0x90 | status & 0x0f, *number, 127]
        }
        ([status, number, ..], Some(Trigger::Control(..))) if status & 0xf0 == 0xb0 && value < 64 => {
            [*status, *number, 127]
        }
        _ => return false,
    };
    Trigger::learn(&pressed) == switch
}
