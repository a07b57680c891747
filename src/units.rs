//! The quantities of the house, each its own type, so that a tick is never added to a microsecond and a speed is
//! never mistaken for a tempo. Every value that has a range is checked where it is made, and only there.

use std::fmt;
use std::ops::{Add, Neg, Sub};

use serde::{Deserialize, Serialize};

/// Ticks in one beat. 960 divides by 2 … 6, 8, 10, 12, 15 and 16, so the fractions that fights use are exact.
pub const TICKS_PER_BEAT: i64 = 960;

/// A place or a length in the score, in ticks: 960 to the beat. Tick 0 is the first beat (written `1`) of whatever
/// it is counted from: a phrase, a repeat or a run. A count-in has negative ticks.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Ticks(pub i64);

impl Ticks {
    /// The first beat.
    pub const ZERO: Ticks = Ticks(0);

    /// A length of `n` whole beats.
    pub const fn beats(n: i64) -> Ticks {
        Ticks(n * TICKS_PER_BEAT)
    }

    /// This length in beats, fractions included.
    pub fn as_beats(self) -> f64 {
        self.0 as f64 / TICKS_PER_BEAT as f64
    }

    /// True on a whole beat.
    pub const fn is_whole_beat(self) -> bool {
        self.0 % TICKS_PER_BEAT == 0
    }

    /// The next whole beat at or after this place.
    pub const fn ceil_beat(self) -> Ticks {
        Ticks(
            self.0.div_euclid(TICKS_PER_BEAT) * TICKS_PER_BEAT + if self.is_whole_beat() { 0 } else { TICKS_PER_BEAT },
        )
    }

    /// How a score writes this *length*: `2`, `1/2`, `3+1/4`.
    pub fn length_label(self) -> String {
        let whole = self.0.div_euclid(TICKS_PER_BEAT);
        let rest = self.0.rem_euclid(TICKS_PER_BEAT);
        if rest == 0 {
            return whole.to_string();
        }
        let common = greatest_common_divisor(rest, TICKS_PER_BEAT);
        let (top, bottom) = (rest / common, TICKS_PER_BEAT / common);
        if whole == 0 { format!("0+{top}/{bottom}") } else { format!("{whole}+{top}/{bottom}") }
    }

    /// How a score writes this *place*, where beat 1 is the first: tick 0 is `1`, tick 3360 is `4+1/2`.
    pub fn beat_label(self) -> String {
        Ticks(self.0 + TICKS_PER_BEAT).length_label()
    }
}

pub(crate) const fn greatest_common_divisor(a: i64, b: i64) -> i64 {
    if b == 0 { a } else { greatest_common_divisor(b, a % b) }
}

impl Add for Ticks {
    type Output = Ticks;
    fn add(self, other: Ticks) -> Ticks {
        Ticks(self.0 + other.0)
    }
}

impl Sub for Ticks {
    type Output = Ticks;
    fn sub(self, other: Ticks) -> Ticks {
        Ticks(self.0 - other.0)
    }
}

/// A length of time in microseconds. Negative before the moment it is counted from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Micros(pub i64);

impl Micros {
    /// The same for the standard library; nothing less than none.
    pub fn as_duration(self) -> std::time::Duration {
        std::time::Duration::from_micros(u64::try_from(self.0).unwrap_or(0))
    }

    /// No time at all.
    pub const ZERO: Micros = Micros(0);

    /// `n` milliseconds.
    pub const fn millis(n: i64) -> Micros {
        Micros(n * 1_000)
    }

    /// `n` seconds.
    pub const fn seconds(n: i64) -> Micros {
        Micros(n * 1_000_000)
    }

    /// This length in seconds, exact to the microsecond.
    pub fn as_seconds(self) -> f64 {
        self.0 as f64 / 1e6
    }

    /// This length in milliseconds.
    pub fn as_millis(self) -> f64 {
        self.0 as f64 / 1e3
    }
}

impl Add for Micros {
    type Output = Micros;
    fn add(self, other: Micros) -> Micros {
        Micros(self.0 + other.0)
    }
}

impl Sub for Micros {
    type Output = Micros;
    fn sub(self, other: Micros) -> Micros {
        Micros(self.0 - other.0)
    }
}

impl Neg for Micros {
    type Output = Micros;
    fn neg(self) -> Micros {
        Micros(-self.0)
    }
}

/// A moment on the server's monotonic clock: microseconds since the server started.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct ServerTime(pub i64);

impl ServerTime {
    /// How long after `earlier` this moment is; negative when it is before it.
    pub const fn since(self, earlier: ServerTime) -> Micros {
        Micros(self.0 - earlier.0)
    }
}

impl Add<Micros> for ServerTime {
    type Output = ServerTime;
    fn add(self, length: Micros) -> ServerTime {
        ServerTime(self.0.saturating_add(length.0))
    }
}

impl Sub<Micros> for ServerTime {
    type Output = ServerTime;
    fn sub(self, length: Micros) -> ServerTime {
        ServerTime(self.0.saturating_sub(length.0))
    }
}

/// A tempo in beats per minute, from 10 to 400: slower is not felt as a beat, faster is not danced by a body.
#[derive(Clone, Copy, Debug, PartialEq, PartialOrd, Serialize)]
#[serde(transparent)]
pub struct Bpm(f64);

impl Bpm {
    /// The slowest tempo that can be written.
    pub const SLOWEST: f64 = 10.0;
    /// The fastest tempo that can be written.
    pub const FASTEST: f64 = 400.0;

    /// A tempo, or nothing when `value` is outside 10 … 400 or not a number.
    pub fn new(value: f64) -> Option<Bpm> {
        (Bpm::SLOWEST..=Bpm::FASTEST).contains(&value).then_some(Bpm(value))
    }

    /// Beats per minute.
    pub const fn get(self) -> f64 {
        self.0
    }
}

impl fmt::Display for Bpm {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}", self.0)
    }
}

/// The fraction of performance tempo at which a run is driven, in whole percent from 10 to 150.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(transparent)]
pub struct Speed(u16);

impl Speed {
    /// Performance tempo.
    pub const FULL: Speed = Speed(100);

    /// A speed, or nothing when `percent` is outside 10 … 150.
    pub fn percent(percent: u16) -> Option<Speed> {
        (10..=150).contains(&percent).then_some(Speed(percent))
    }

    /// Whole percent of performance tempo.
    pub const fn as_percent(self) -> u16 {
        self.0
    }

    /// The factor that a tempo is multiplied by.
    pub fn factor(self) -> f64 {
        f64::from(self.0) / 100.0
    }
}

impl fmt::Display for Speed {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{} %", self.0)
    }
}

/// Which life of the run a cue belongs to. Whatever ends or pauses a run raises it; a cue of an older generation is
/// dead wherever it is found. It is an epoch (this start of the server) in the upper 32 bits and a number in the lower
/// 32, so that a later server's generations are all newer. Below 2^21 epochs it fits a number of JavaScript.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Generation(pub u64);

impl Generation {
    /// This many belong to one epoch.
    pub const OF_AN_EPOCH: u64 = 1 << 32;

    /// The generation of that epoch and number.
    pub fn of(epoch: u32, number: u32) -> Generation {
        Generation(u64::from(epoch) << 32 | u64::from(number))
    }

    /// Its epoch: which start of the server it belongs to.
    pub fn epoch(self) -> u32 {
        u32::try_from(self.0 / Generation::OF_AN_EPOCH).unwrap_or(u32::MAX)
    }

    /// Its number in its epoch.
    pub fn number(self) -> u32 {
        (self.0 & u64::from(u32::MAX)) as u32
    }

    /// The one after it.
    pub fn next(self) -> Generation {
        Generation(self.0.saturating_add(1))
    }

    /// The one before it; the first has none before it and gives itself.
    pub fn before(self) -> Generation {
        Generation(self.0.saturating_sub(1))
    }
}

/// A level relative to full scale or to a sound's own level, in decibels.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Decibels(pub f64);

impl Decibels {
    /// The factor on the amplitude: 10^(dB/20).
    pub fn amplitude(self) -> f64 {
        10f64.powf(self.0 / 20.0)
    }
}

/// A distance in metres.
#[derive(Clone, Copy, Debug, Default, PartialEq, PartialOrd, Serialize, Deserialize)]
#[serde(transparent)]
pub struct Metres(pub f64);

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn beats_are_written_as_a_score_writes_them() {
        let rows =
            [(0, "1"), (960, "2"), (3360, "4+1/2"), (320, "1+1/3"), (1, "1+1/960"), (-960, "0"), (-480, "0+1/2")];
        for (ticks, label) in rows {
            assert_eq!(Ticks(ticks).beat_label(), label);
        }
    }

    #[test]
    fn whole_beats_are_rounded_up() {
        for (ticks, up) in [(0, 0), (1, 960), (959, 960), (960, 960), (961, 1920), (-1, 0), (-960, -960)] {
            assert_eq!(Ticks(ticks).ceil_beat(), Ticks(up));
        }
    }

    #[test]
    fn values_out_of_range_cannot_be_made() {
        for bpm in [0.0, -1.0, 9.99, 400.1, f64::NAN, f64::INFINITY] {
            assert_eq!(Bpm::new(bpm), None);
        }
        assert_eq!(Speed::percent(9), None);
        assert_eq!(Speed::percent(151), None);
    }
}
