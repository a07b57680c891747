//! The address space: what each message says. Pure; the encoding is rosc's.

use rosc::{OscMessage, OscPacket, OscType};

use crate::units::{Decibels, Generation};

/// One message.
#[derive(Clone, Debug, PartialEq)]
pub enum Message {
    /// The state of the call.
    State {
        /// In a word.
        state: &'static str,
        /// The generation that lives; its number in this start of the server is sent.
        generation: Generation,
    },
    /// A run.
    Run {
        /// Its number.
        run: u32,
        /// The fight.
        fight: String,
        /// The first phrase.
        first: String,
        /// The last phrase.
        last: String,
        /// Percent of performance tempo; 0 for step by step.
        percent: u16,
    },
    /// A cue.
    Cue {
        /// The run.
        run: u32,
        /// Its number.
        cue: u32,
        /// The phrase.
        phrase: String,
        /// The beat as the score writes it.
        beat: String,
        /// The last move reached, 0 for none.
        number: u32,
        /// That move in words.
        words: String,
    },
    /// A sound.
    Sound {
        /// The run.
        run: u32,
        /// Its name in the score.
        name: String,
        /// Louder or softer than its own level.
        level: Decibels,
    },
    /// A hold, or one more caller of it.
    Hold {
        /// Who called.
        who: String,
        /// The phrase that it hit; empty when nothing was going.
        phrase: String,
        /// The beat.
        beat: String,
        /// The generation that it began.
        generation: Generation,
    },
}

impl Message {
    /// The bytes of one UDP packet; nothing when they cannot be made, which no message of these kinds gives reason for.
    pub fn encode(&self) -> Option<Vec<u8>> {
        let (address, args) = self.parts();
        rosc::encoder::encode(&OscPacket::Message(OscMessage { addr: address.to_owned(), args })).ok()
    }

    /// What it is, for a list of what went out: its address, and the name of a sound.
    pub fn label(&self) -> String {
        match self {
            Message::Sound { name, .. } => format!("{} {name}", self.parts().0),
            _ => self.parts().0.to_owned(),
        }
    }

    fn parts(&self) -> (&'static str, Vec<OscType>) {
        match self {
            Message::State { state, generation } => ("/holdfast/state", vec![text(state), number(generation.number())]),
            Message::Run { run, fight, first, last, percent } => {
                ("/holdfast/run", vec![number(*run), text(fight), text(first), text(last), number(u32::from(*percent))])
            }
            Message::Cue { run, cue, phrase, beat, number: place, words } => (
                "/holdfast/cue",
                vec![number(*run), number(*cue), text(phrase), text(beat), number(*place), text(words)],
            ),
            Message::Sound { run, name, level } => {
                ("/holdfast/sound", vec![number(*run), text(name), OscType::Float(level.0 as f32)])
            }
            Message::Hold { who, phrase, beat, generation } => {
                ("/holdfast/hold", vec![text(who), text(phrase), text(beat), number(generation.number())])
            }
        }
    }
}

/// An OSC string is printable ASCII without zeros (OSC 1.0, atomic data types).
fn text(text: &str) -> OscType {
    OscType::String(text.chars().map(|letter| if matches!(letter, ' '..='~') { letter } else { '?' }).collect())
}

fn number(number: u32) -> OscType {
    OscType::Int(i32::try_from(number).unwrap_or(i32::MAX))
}
