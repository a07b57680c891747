//! MIDI clock: 24 to the beat, one every 40 ticks, each at the time that the tempo map gives its tick, so that ramps
//! are followed exactly and no rounding ever adds up. Pure.

use crate::timeline::TempoMap;
use crate::units::{Micros, TICKS_PER_BEAT, Ticks};

/// Clocks in a beat (MIDI 1.0 Detailed Specification, System Real Time).
pub const CLOCKS_PER_BEAT: i64 = 24;
/// Ticks between two clocks.
pub const TICKS_PER_CLOCK: i64 = TICKS_PER_BEAT / CLOCKS_PER_BEAT;
/// Clocks in a sixteenth, the unit of song position.
pub const CLOCKS_PER_SIXTEENTH: i64 = 6;

/// The clocks of a run, from the first beat of the count-in up to its end; the one that falls on the end belongs to
/// the silence after it. Clock 0 is the first beat of the range, those before are the count-in's.
#[derive(Clone, Debug)]
pub struct Clocks {
    next: i64,
    end: i64,
}

impl Clocks {
    /// The clocks of a run with this count-in (whole beats, as a length) and this length.
    pub fn new(count_in: Ticks, length: Ticks) -> Clocks {
        Clocks { next: -(count_in.0.max(0) / TICKS_PER_CLOCK), end: last(length) }
    }

    /// The next clock's number and time from the first beat, without taking it.
    pub fn peek(&self, tempo: &TempoMap) -> Option<(i64, Micros)> {
        (self.next < self.end).then(|| (self.next, time_of(self.next, tempo)))
    }

    /// The first clock from the next on at which a receiver can be told where it is: song position counts in sixteenths
    /// from clock 0. Nothing when the run ends before it.
    pub fn next_sixteenth(&self) -> Option<i64> {
        let sixteenth = self.next.max(0).div_euclid(CLOCKS_PER_SIXTEENTH) * CLOCKS_PER_SIXTEENTH;
        let clock = if sixteenth < self.next { sixteenth + CLOCKS_PER_SIXTEENTH } else { sixteenth };
        (clock < self.end).then_some(clock)
    }

    /// The run is so long now.
    pub fn ends_at(&mut self, length: Ticks) {
        self.end = last(length);
    }

    /// Takes the next clock.
    pub fn advance(&mut self) {
        self.next += 1;
    }
}

/// When a clock is due, from the first beat.
pub fn time_of(clock: i64, tempo: &TempoMap) -> Micros {
    tempo.time_of(Ticks(clock * TICKS_PER_CLOCK))
}

/// When start or continue is due for a clock: half a clock before it, because it takes effect at the next clock.
pub fn start_time(clock: i64, tempo: &TempoMap) -> Micros {
    tempo.time_of(Ticks(clock * TICKS_PER_CLOCK - TICKS_PER_CLOCK / 2))
}

/// A place in the score in sixteenths, rounded down.
pub fn sixteenths(at: Ticks) -> i64 {
    at.0.div_euclid(TICKS_PER_CLOCK * CLOCKS_PER_SIXTEENTH)
}

/// The clock after the last of a length.
fn last(length: Ticks) -> i64 {
    (length.0 + TICKS_PER_CLOCK - 1).div_euclid(TICKS_PER_CLOCK)
}
