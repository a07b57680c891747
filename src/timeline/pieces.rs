//! From the tempo lines of a score to pieces of tempo: what is in force where, phrase by phrase.
//!
//! The rules: the tempo goes on from phrase to phrase until it is changed. A phrase's own tempo is a step on its first
//! beat, before its lines. A ramp starts at the tempo it states, even when another was in force (the tempo jumps
//! there), and its end tempo stays. Any change inside a ramp ends the ramp where the change begins. Of two changes on
//! one tick the one written later wins. A change inside a repeat is made again in every round.

use crate::score::model::{Phrase, Score, TempoChange};
use crate::units::{Bpm, Ticks};

use super::layout::{Line, Unrolled, phrase_length, unroll};

/// A length with one tempo, or with a tempo that is linear in beats. At performance tempo.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Piece {
    /// How long.
    pub length: Ticks,
    /// The tempo at its beginning.
    pub from: Bpm,
    /// The tempo at its end.
    pub to: Bpm,
}

/// The pieces of every phrase of the fight. Those of one phrase add up to its length exactly.
pub fn tempo_pieces(score: &Score) -> Vec<Vec<Piece>> {
    let mut in_force = score.tempo;
    score
        .phrases
        .iter()
        .map(|phrase| {
            let pieces = pieces_of(phrase, in_force);
            in_force = pieces.last().map_or(in_force, |piece| piece.to);
            pieces
        })
        .collect()
}

/// What is left of the pieces of a phrase behind a tick of it.
pub(super) fn pieces_after(pieces: &[Piece], skipped: Ticks) -> Vec<Piece> {
    let mut at = Ticks::ZERO;
    let mut left = Vec::with_capacity(pieces.len());
    for piece in pieces {
        let gone = (skipped - at).max(Ticks::ZERO);
        at = at + piece.length;
        if gone < piece.length {
            let from = between(piece.from, piece.to, gone.as_beats() / piece.length.as_beats());
            left.push(Piece { length: piece.length - gone, from, to: piece.to });
        }
    }
    left
}

/// The pieces of one phrase that is entered at `in_force`.
fn pieces_of(phrase: &Phrase, in_force: Bpm) -> Vec<Piece> {
    let length = phrase_length(phrase);
    let mut writer = Writer { pieces: Vec::new(), at: Ticks::ZERO, going: Going::Steady };
    let mut bpm = phrase.tempo.unwrap_or(in_force);
    for Unrolled { at, offset, line, .. } in unroll(phrase) {
        let Line::Tempo(change) = line else { continue };
        writer.advance(at.min(length), bpm);
        match *change {
            TempoChange::Step { to, .. } => {
                writer.going = Going::Steady;
                bpm = to;
            }
            TempoChange::Ramp { to, start, end, .. } => {
                writer.going = Going::Towards { end, until: offset + to };
                bpm = start;
            }
        }
    }
    writer.advance(length, bpm);
    writer.pieces
}

/// What the tempo does from here on.
enum Going {
    Steady,
    Towards { end: Bpm, until: Ticks },
}

struct Writer {
    pieces: Vec<Piece>,
    at: Ticks,
    going: Going,
}

impl Writer {
    /// Writes what happens up to a tick, and returns the tempo that is reached there.
    fn advance(&mut self, to: Ticks, bpm: Bpm) -> Bpm {
        let Going::Towards { end, until } = self.going else {
            self.write(to, bpm, bpm);
            return bpm;
        };
        if to < until {
            let reached = between(bpm, end, (to - self.at).as_beats() / (until - self.at).as_beats());
            self.write(to, bpm, reached);
            return reached;
        }
        self.write(until, bpm, end);
        self.going = Going::Steady;
        self.write(to, end, end);
        end
    }

    fn write(&mut self, to: Ticks, from_bpm: Bpm, to_bpm: Bpm) {
        if to > self.at {
            self.pieces.push(Piece { length: to - self.at, from: from_bpm, to: to_bpm });
            self.at = to;
        }
    }
}

/// The tempo a share of the way from one to another. Between two tempos in range there are only tempos in range.
fn between(from: Bpm, to: Bpm, share: f64) -> Bpm {
    let value = from.get() + (to.get() - from.get()) * share.clamp(0.0, 1.0);
    Bpm::new(value.clamp(Bpm::SLOWEST, Bpm::FASTEST)).unwrap_or(to)
}
