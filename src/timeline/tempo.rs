//! The tempo map: ticks ⇄ microseconds. Between two changes the tempo is constant or linear in beats, and both
//! directions have a closed form.
//!
//! Over a stretch of N beats from b₀ to b₁ beats a minute, with k = (b₁ − b₀)/N, the time of beat x is
//! ∫₀ˣ 60/(b₀ + kξ) dξ = (60/k)·ln(1 + kx/b₀), and the beat at time t is (b₀/k)·(e^(kt/60) − 1). Both are written with
//! `ln_1p` and `exp_m1` so that a ramp between nearly equal tempos loses no digits on its way to the constant case.

use crate::units::{Micros, Speed, TICKS_PER_BEAT, Ticks};

use super::pieces::Piece;

const MICROS_PER_MINUTE: f64 = 60e6;

/// Ticks ⇄ microseconds for one run, at the speed of the run. Time 0 is tick 0, the first beat of the range.
#[derive(Clone, Debug, PartialEq)]
pub struct TempoMap {
    /// Never empty, without gaps, the first at tick 0.
    stretches: Vec<Stretch>,
}

/// A part of the map in which the tempo is linear in beats (or constant, when both ends are equal).
#[derive(Clone, Debug, PartialEq)]
pub struct Stretch {
    /// Where it begins, from the first beat of the range.
    pub at: Ticks,
    /// Its length. After the last stretch its end tempo goes on for ever.
    pub length: Ticks,
    /// When it begins, rounded to the microsecond.
    pub time: Micros,
    /// The tempo at its beginning, at the speed of the run, beats per minute.
    pub from_bpm: f64,
    /// The tempo at its end, at the speed of the run, beats per minute.
    pub to_bpm: f64,
    /// When it begins, unrounded, so that rounding never adds up.
    start_us: f64,
}

impl TempoMap {
    /// The map of pieces laid end to end, each at its own speed. `before` is the piece that stands in when there are
    /// none: its first tempo then goes on for ever.
    pub fn new(pieces: impl IntoIterator<Item = (Piece, Speed)>, before: (Piece, Speed)) -> TempoMap {
        let mut stretches: Vec<Stretch> = Vec::new();
        let (mut at, mut start_us) = (Ticks::ZERO, 0.0);
        for (piece, speed) in pieces {
            let stretch = Stretch::begin(at, start_us, piece, speed);
            at = at + piece.length;
            start_us = stretch.start_us + stretch.duration();
            stretches.push(stretch);
        }
        if stretches.is_empty() {
            let (piece, speed) = before;
            stretches.push(Stretch::begin(at, start_us, Piece { length: Ticks::ZERO, ..piece }, speed));
        }
        TempoMap { stretches }
    }

    /// When a tick is reached, from the first beat of the range, rounded to the microsecond. Ticks before the first
    /// beat go at the first tempo.
    pub fn time_of(&self, at: Ticks) -> Micros {
        round(self.exact_time_of(at.0 as f64))
    }

    /// Where the run is at a time, in ticks with their fraction: the inverse of [`TempoMap::time_of`].
    pub fn ticks_at(&self, time: Micros) -> f64 {
        self.exact_ticks_at(time.0 as f64)
    }

    /// [`TempoMap::time_of`] before rounding, for any fraction of a tick. Microseconds.
    pub fn exact_time_of(&self, ticks: f64) -> f64 {
        if ticks < 0.0 {
            return ticks * micros_per_tick(self.first_bpm());
        }
        let index = self.stretches.partition_point(|stretch| stretch.at.0 as f64 <= ticks).saturating_sub(1);
        self.stretches.get(index).map_or(0.0, |stretch| stretch.time_of(ticks))
    }

    /// [`TempoMap::ticks_at`] for any fraction of a microsecond.
    pub fn exact_ticks_at(&self, micros: f64) -> f64 {
        if micros < 0.0 {
            return micros / micros_per_tick(self.first_bpm());
        }
        let index = self.stretches.partition_point(|stretch| stretch.start_us <= micros).saturating_sub(1);
        self.stretches.get(index).map_or(0.0, |stretch| stretch.ticks_at(micros))
    }

    /// The tempo at a tick, at the speed of the run, beats per minute; at a step, the tempo after it.
    pub fn bpm_at(&self, at: Ticks) -> f64 {
        let index = self.stretches.partition_point(|stretch| stretch.at <= at).saturating_sub(1);
        self.stretches.get(index).map_or(0.0, |stretch| stretch.bpm_at(at))
    }

    /// The stretches, in order: at least one, the first at tick 0.
    pub fn stretches(&self) -> &[Stretch] {
        &self.stretches
    }

    fn first_bpm(&self) -> f64 {
        self.stretches.first().map_or(60.0, |stretch| stretch.from_bpm)
    }
}

impl Stretch {
    /// Where it ends.
    pub fn end(&self) -> Ticks {
        self.at + self.length
    }

    /// True when the tempo changes on the way.
    pub fn is_ramp(&self) -> bool {
        self.from_bpm != self.to_bpm
    }

    fn begin(at: Ticks, start_us: f64, piece: Piece, speed: Speed) -> Stretch {
        Stretch {
            at,
            length: piece.length,
            time: round(start_us),
            from_bpm: piece.from.get() * speed.factor(),
            to_bpm: piece.to.get() * speed.factor(),
            start_us,
        }
    }

    fn duration(&self) -> f64 {
        self.time_within(self.length.0 as f64)
    }

    /// The share of its first tempo that the tempo gains with every tick.
    fn gain_per_tick(&self) -> f64 {
        if self.length.0 > 0 { (self.to_bpm - self.from_bpm) / self.from_bpm / self.length.0 as f64 } else { 0.0 }
    }

    /// Microseconds from its beginning to `x` ticks after it, for x inside it.
    fn time_within(&self, x: f64) -> f64 {
        let gain = self.gain_per_tick() * x;
        let stretched = if gain == 0.0 { 1.0 } else { gain.ln_1p() / gain };
        x * micros_per_tick(self.from_bpm) * stretched
    }

    fn time_of(&self, ticks: f64) -> f64 {
        let x = ticks - self.at.0 as f64;
        let length = self.length.0 as f64;
        if x <= length {
            return self.start_us + self.time_within(x);
        }
        self.start_us + self.duration() + (x - length) * micros_per_tick(self.to_bpm)
    }

    fn ticks_at(&self, micros: f64) -> f64 {
        let elapsed = micros - self.start_us;
        let duration = self.duration();
        if elapsed > duration {
            return self.end().0 as f64 + (elapsed - duration) / micros_per_tick(self.to_bpm);
        }
        let flat = elapsed / micros_per_tick(self.from_bpm);
        let growth = self.gain_per_tick() * flat;
        let stretched = if growth == 0.0 { 1.0 } else { growth.exp_m1() / growth };
        self.at.0 as f64 + flat * stretched
    }

    fn bpm_at(&self, at: Ticks) -> f64 {
        if at <= self.at {
            return self.from_bpm;
        }
        if at >= self.end() {
            return self.to_bpm;
        }
        let share = (at - self.at).0 as f64 / self.length.0 as f64;
        self.from_bpm + (self.to_bpm - self.from_bpm) * share
    }
}

fn micros_per_tick(bpm: f64) -> f64 {
    MICROS_PER_MINUTE / (bpm * TICKS_PER_BEAT as f64)
}

fn round(micros: f64) -> Micros {
    Micros(micros.round() as i64)
}
