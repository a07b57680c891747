//! MIDI in: which message means HOLD and which means the next step. Pure; it is given the time.
//!
//! A foot switch sends a note or a controller. A note counts when it goes down. A controller counts when it comes to
//! 64 or above, the middle from which the specification calls a switch on. Anything else (a program change, say) is
//! known by its bytes.

use std::fmt;

use super::bytes::{Channel, SevenBits};
use crate::units::{Micros, ServerTime};

/// The least time between two steps: shorter is a contact that bounces.
const BOUNCE: Micros = Micros::millis(80);
/// After so long a switch that never said that it was let go calls HOLD again all the same.
const FORGET_PRESSED: Micros = Micros::millis(300);

/// A message that was learned.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Trigger {
    /// This note goes down.
    Note(Channel, SevenBits),
    /// This controller is switched on.
    Control(Channel, SevenBits),
    /// This program is chosen.
    Program(Channel, SevenBits),
}

impl Trigger {
    /// Reads `note 10 36`, `control 1 64` or `program 1 5`: the channel from 1, then the number from 0.
    ///
    /// # Errors
    /// What it has to be, for a sentence that begins with the value.
    pub fn parse(text: &str) -> Result<Trigger, &'static str> {
        const WANTED: &str = "it has to be note, control or program, then the channel (1 to 16) and the number (0 to 127), such as \"note 10 36\"";
        let mut words = text.split_whitespace();
        let (kind, channel, number) = (words.next(), words.next(), words.next());
        let channel = channel.and_then(|word| word.parse().ok()).and_then(Channel::number).ok_or(WANTED)?;
        let number = number.and_then(|word| word.parse().ok()).and_then(SevenBits::new).ok_or(WANTED)?;
        match (kind, words.next()) {
            (Some("note"), None) => Ok(Trigger::Note(channel, number)),
            (Some("control"), None) => Ok(Trigger::Control(channel, number)),
            (Some("program"), None) => Ok(Trigger::Program(channel, number)),
            _ => Err(WANTED),
        }
    }

    /// The trigger that a message would be, if it is a press of something.
    pub fn learn(bytes: &[u8]) -> Option<Trigger> {
        match press(bytes)? {
            (trigger, true) => Some(trigger),
            (_, false) => None,
        }
    }
}

impl fmt::Display for Trigger {
    /// As `production.toml` writes it.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let (word, channel, number) = match self {
            Trigger::Note(channel, number) => ("note", channel, number),
            Trigger::Control(channel, number) => ("control", channel, number),
            Trigger::Program(channel, number) => ("program", channel, number),
        };
        write!(f, "{word} {} {}", channel.as_number(), number.get())
    }
}

/// What a message means.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Meaning {
    /// Everything stands.
    Hold,
    /// The next step of a walk-through.
    Step,
    /// A press that nothing was learned for.
    Unknown(Trigger),
}

/// Listens for the two switches.
#[derive(Clone, Debug)]
pub struct Listener {
    hold: Switch,
    step: Switch,
}

impl Listener {
    /// Listens for these; one that is for both is HOLD.
    pub fn new(hold: Option<Trigger>, step: Option<Trigger>) -> Listener {
        let switch = |trigger| Switch { trigger, pressed: false, since: None };
        Listener { hold: switch(hold), step: switch(step) }
    }

    /// What a message means that came now; nothing for a release, a bounce or a message of another kind. Never panics,
    /// whatever the bytes.
    pub fn hear(&mut self, now: ServerTime, bytes: &[u8]) -> Option<Meaning> {
        let (trigger, down) = press(bytes)?;
        if self.hold.trigger == Some(trigger) {
            // A hold that came twice is one hold; a hold that was lost is an accident. So doubt calls it.
            let again = self.hold.quiet_for(now, FORGET_PRESSED);
            return (self.hold.goes(now, down, trigger) || down && again).then_some(Meaning::Hold);
        }
        if self.step.trigger == Some(trigger) {
            let settled = self.step.quiet_for(now, BOUNCE);
            return (self.step.goes(now, down, trigger) && settled).then_some(Meaning::Step);
        }
        down.then_some(Meaning::Unknown(trigger))
    }
}

#[derive(Clone, Debug)]
struct Switch {
    trigger: Option<Trigger>,
    pressed: bool,
    /// When it last went down.
    since: Option<ServerTime>,
}

impl Switch {
    /// Takes its new state, and says whether it went down just now.
    fn goes(&mut self, now: ServerTime, down: bool, trigger: Trigger) -> bool {
        // A program change has no release.
        let went_down = down && (!self.pressed || matches!(trigger, Trigger::Program(..)));
        self.pressed = down;
        if down {
            self.since = Some(now);
        }
        went_down
    }

    fn quiet_for(&self, now: ServerTime, length: Micros) -> bool {
        self.since.is_none_or(|since| now.since(since) >= length)
    }
}

/// What a message is about, and whether it goes down (or is let go).
fn press(bytes: &[u8]) -> Option<(Trigger, bool)> {
    let (&status, data) = bytes.split_first()?;
    let channel = Channel::of_status(status);
    let number = data.first().copied().and_then(SevenBits::new)?;
    let value = data.get(1).copied().unwrap_or(0);
    match status & 0xF0 {
        0x80 => Some((Trigger::Note(channel, number), false)),
        0x90 => Some((Trigger::Note(channel, number), value > 0)),
        0xB0 => Some((Trigger::Control(channel, number), value >= 64)),
        0xC0 => Some((Trigger::Program(channel, number), true)),
        _ => None,
    }
}
