//! The estimate of the server's clock from the exchanges of the last half minute. Two things are kept apart: the *bound*
//! rests only on what cannot be otherwise, the *offset* within it on what is most likely.
//!
//! The rules, so that every twin of this agrees to the microsecond. All values are whole microseconds; doubles are used
//! for the line alone.
//!
//! 1. *Refused*: an exchange that is not [`Exchange::is_sane`], or whose question went out before everything was
//!    forgotten (rule 8), changes nothing.
//! 2. *Window*: an exchange counts while `now − T4 ≤ 30 s`. When none counts there is no estimate. When an exchange is
//!    added, what is out of its window is dropped, and also what has a later T4 than it: the member's clock went back.
//! 3. *Limits*: at T1 the offset was no more than `T2 − T1 + 1`, at T4 no less than `−(T4 − T3) − 1`; the ones are the
//!    fractions that the readings leave out.
//! 4. *Enclosure*: each limit is widened by `ceil(|now − its moment| × 500 / 1 000 000)`, the drift there may have been
//!    since. `most` = the smallest upper limit, `least` = the greatest lower one.
//! 5. *Contradiction*: when an exchange is added and at its T4 `most < least` over it and everything kept, no offset
//!    explains both: a clock was stepped or slept. Then everything older is dropped.
//! 6. *Offset*: the line of `src/clock/line.rs` through the limits, with T4 of the last exchange as its moment and
//!    `floor((T2 − T1 − (T4 − T3)) / 2)` of it as its base: `floor(base + offset + skew × (now − T4) + 0.5)`, put into
//!    the enclosure. `bound = max(most − offset, offset − least)`; `round trip = max(0, smallest of one exchange)`.
//! 7. *Asking*: every 50 ms until 32 exchanges have been kept since the beginning (or since everything was dropped, by
//!    rule 2, 5 or 8), then every second while no run goes; in a run every 125 ms, and every 60 ms where the network is
//!    uneven: where the line's excess is above 20 ms.
//! 8. *Forgetting*: when the member knows that a clock stood still or was set, everything is dropped, and no question
//!    that went out before that moment counts.
//!
//! The bound holds whatever the network does and however the drift between the clocks changes, as long as it is never
//! more than 500 ppm, from the first exchange after a step on. What remains: a step of the member's clock that is
//! shorter than the round trip contradicts nothing, so whoever owns the clock must say when it stood still (rule 8):
//! the member of its own, and the server of its own in every pulse. Half
//! of a constant asymmetry of the network stays in the offset whatever is done, and is inside the bound.

use std::collections::VecDeque;

use super::line::{Limits, Line};
use super::{Exchange, MemberTime};
use crate::rules::{
    ASK_AT_FIRST, ASK_IN_A_RUN, ASK_ON_UNEVEN, ASK_OTHERWISE, CLOCK_WINDOW, DRIFT_PPM, FIRST_EXCHANGES, UNEVEN,
};
use crate::units::{Micros, ServerTime};

/// A member whose bound is larger than this cannot be cued by the clock: above 30 ms of delay an ensemble slows down
/// (Chafe, Gurevich, Leslie and Tyan, ISMA 2004). The desk says so, and so does the review.
pub const GOOD_ENOUGH: Micros = Micros::millis(30);

/// What is known about the server's clock at one moment.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Estimate {
    /// Server time = member time + this.
    pub offset: Micros,
    /// The offset is off by no more than this; grows with the age of what it rests on.
    pub bound: Micros,
    /// The best round trip in the window.
    pub round_trip: Micros,
}

/// How fast the two clocks part, as long as they part at one rate.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Skew {
    /// How much faster the server's clock runs, parts in a thousand million.
    pub ppb: i64,
    /// The skew is off by no more than this, parts in a thousand million.
    pub within_ppb: i64,
}

/// Keeps the exchanges of the last half minute and tells the server's time from them. See the head of this file for the
/// rules.
#[derive(Clone, Debug)]
pub struct ClockEstimator {
    kept: VecDeque<Sample>,
    line: Option<Anchored>,
    /// How many exchanges were kept since everything was dropped.
    gathered: u32,
    /// Questions that went out before this do not count.
    not_before: MemberTime,
}

#[derive(Clone, Copy, Debug)]
struct Sample {
    sent: MemberTime,
    returned: MemberTime,
    forward: i64,
    backward: i64,
}

/// A line, with the moment and the offset that it is relative to.
#[derive(Clone, Copy, Debug)]
struct Anchored {
    at: MemberTime,
    base: i64,
    line: Line,
}

/// Rule 4, and the smallest round trip.
#[derive(Clone, Copy)]
struct Enclosure {
    most: i64,
    least: i64,
    round_trip: i64,
}

impl Default for ClockEstimator {
    fn default() -> ClockEstimator {
        ClockEstimator::new()
    }
}

impl ClockEstimator {
    /// Knows nothing yet.
    pub fn new() -> ClockEstimator {
        ClockEstimator { kept: VecDeque::new(), line: None, gathered: 0, not_before: MemberTime(i64::MIN) }
    }

    /// Takes an exchange in, at the moment of its T4. False when it was refused (rule 1).
    pub fn add(&mut self, exchange: Exchange) -> bool {
        if exchange.returned < self.not_before {
            // The member's clock went back: what was ahead of it says nothing any more.
            self.not_before = MemberTime(i64::MIN);
        }
        if !exchange.is_sane() || exchange.sent < self.not_before {
            return false;
        }
        let sample = Sample::of(&exchange);
        self.kept.retain(|kept| kept.returned <= sample.returned && kept.counts(sample.returned));
        let alone = sample.enclosure(sample.returned);
        if self.enclosure(sample.returned).is_some_and(|kept| kept.and(alone).is_empty()) {
            self.kept.clear();
        }
        if self.kept.is_empty() {
            self.gathered = 0;
        }
        self.kept.push_back(sample);
        self.gathered = self.gathered.saturating_add(1);
        self.line = self.anchored(&sample);
        true
    }

    /// What is known at `now`; nothing before the first exchange, or half a minute after the last.
    pub fn estimate(&self, now: MemberTime) -> Option<Estimate> {
        let Enclosure { most, least, round_trip } = self.enclosure(now)?;
        // At the age of half a minute the line may be all that is left of a limit: the middle is then as good.
        let likely = self.line.map_or((most + least).div_euclid(2), |line| line.offset(now));
        let offset = likely.min(most).max(least);
        Some(Estimate {
            offset: Micros(offset),
            bound: Micros((most - offset).max(offset - least)),
            round_trip: Micros(round_trip.max(0)),
        })
    }

    /// How fast the two clocks part; nothing before the first exchange.
    pub fn skew(&self) -> Option<Skew> {
        let Line { skew, least_skew, most_skew, .. } = self.line?.line;
        let ppb = |skew: f64| (skew * 1e9 + 0.5).floor() as i64;
        Some(Skew { ppb: ppb(skew), within_ppb: ppb((most_skew - skew).max(skew - least_skew)) })
    }

    /// The server's time when the member's clock reads `now`.
    pub fn to_server(&self, now: MemberTime) -> Option<ServerTime> {
        self.estimate(now).map(|estimate| ServerTime(now.0) + estimate.offset)
    }

    /// When the member's clock will read that server time, as far as is known at `now`.
    pub fn to_member(&self, time: ServerTime, now: MemberTime) -> Option<MemberTime> {
        self.estimate(now).map(|estimate| MemberTime(time.0) - estimate.offset)
    }

    /// True unless what is known rules out that the server read its clock as `time` between these two moments of the
    /// member's. A message that was sent "in the future" gives away a clock that slept.
    pub fn could_be(&self, time: ServerTime, earliest: MemberTime, latest: MemberTime) -> bool {
        let Some(Estimate { offset, bound, .. }) = self.estimate(latest) else { return true };
        let (from, to) = (ServerTime(earliest.0) + offset - bound, ServerTime(latest.0) + offset + bound);
        (from..=to).contains(&time)
    }

    /// Drops everything: at `now` it is known that a clock stood still or is another one than before (rule 8).
    pub fn forget(&mut self, now: MemberTime) {
        *self = ClockEstimator { not_before: now, ..ClockEstimator::new() };
    }

    /// How long to wait between two questions, in a run or outside of one (rule 7).
    pub fn ask_every(&self, in_a_run: bool) -> Micros {
        let uneven = self.line.is_some_and(|known| known.line.excess > UNEVEN);
        match (self.gathered < FIRST_EXCHANGES, in_a_run, uneven) {
            (true, ..) => ASK_AT_FIRST,
            (false, true, true) => ASK_ON_UNEVEN,
            (false, true, false) => ASK_IN_A_RUN,
            (false, false, _) => ASK_OTHERWISE,
        }
    }

    /// Rule 4 in one pass: this is done for every cue.
    fn enclosure(&self, now: MemberTime) -> Option<Enclosure> {
        let counted = self.kept.iter().filter(|sample| sample.counts(now));
        counted.map(|sample| sample.enclosure(now)).reduce(Enclosure::and)
    }

    fn anchored(&self, last: &Sample) -> Option<Anchored> {
        let (at, base) = (last.returned, last.forward.saturating_sub(last.backward).div_euclid(2));
        let limits: Vec<Limits> = self.kept.iter().map(|sample| sample.limits(at, base)).collect();
        Some(Anchored { at, base, line: Line::through(&limits)? })
    }
}

impl Anchored {
    fn offset(&self, now: MemberTime) -> i64 {
        let since = now.since(self.at).0 as f64;
        self.base.saturating_add((self.line.offset + self.line.skew * since + 0.5).floor() as i64)
    }
}

impl Sample {
    fn of(exchange: &Exchange) -> Sample {
        Sample {
            sent: exchange.sent,
            returned: exchange.returned,
            forward: exchange.forward().0,
            backward: exchange.backward().0,
        }
    }

    fn counts(&self, now: MemberTime) -> bool {
        now.since(self.returned) <= CLOCK_WINDOW
    }

    fn enclosure(&self, now: MemberTime) -> Enclosure {
        Enclosure {
            most: self.forward.saturating_add(1 + drift(now, self.sent)),
            least: (-self.backward).saturating_sub(1 + drift(now, self.returned)),
            round_trip: self.forward.saturating_add(self.backward),
        }
    }

    fn limits(&self, at: MemberTime, base: i64) -> Limits {
        Limits {
            asked: at.since(self.sent).0 as f64,
            most: (self.forward.saturating_add(1).saturating_sub(base)) as f64,
            returned: at.since(self.returned).0 as f64,
            least: ((-self.backward).saturating_sub(1).saturating_sub(base)) as f64,
        }
    }
}

/// What the clocks may have parted by between two moments, µs, rounded up.
fn drift(one: MemberTime, other: MemberTime) -> i64 {
    let apart = one.0.abs_diff(other.0);
    let drift = apart / 1_000_000 * DRIFT_PPM.unsigned_abs()
        + (apart % 1_000_000 * DRIFT_PPM.unsigned_abs()).div_ceil(1_000_000);
    i64::try_from(drift).unwrap_or(i64::MAX - 1)
}

impl Enclosure {
    fn and(self, other: Enclosure) -> Enclosure {
        Enclosure {
            most: self.most.min(other.most),
            least: self.least.max(other.least),
            round_trip: self.round_trip.min(other.round_trip),
        }
    }

    fn is_empty(self) -> bool {
        self.most < self.least
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn exchange(t1: i64, t2: i64, t3: i64, t4: i64) -> Exchange {
        Exchange { sent: MemberTime(t1), received: ServerTime(t2), answered: ServerTime(t3), returned: MemberTime(t4) }
    }

    #[test]
    fn nothing_is_known_before_the_first_exchange_and_long_after_the_last() {
        let mut clock = ClockEstimator::new();
        assert_eq!(clock.estimate(MemberTime(0)), None);
        assert_eq!(clock.skew(), None);
        assert!(clock.add(exchange(0, 500, 500, 10)));
        assert!(clock.estimate(MemberTime(10 + CLOCK_WINDOW.0)).is_some());
        assert_eq!(clock.estimate(MemberTime(11 + CLOCK_WINDOW.0)), None);
    }

    #[test]
    fn the_fastest_ways_of_two_exchanges_are_put_together() {
        let mut clock = ClockEstimator::new();
        clock.add(exchange(0, 1_000_100, 1_000_100, 9_000));
        clock.add(exchange(10_000, 1_018_000, 1_018_000, 18_300));
        let Estimate { offset, bound, round_trip } = clock.estimate(MemberTime(18_300)).unwrap();
        // No more than 1,000,100 and 10 µs of drift since the first was asked, no less than 999,700; a µs of reading each.
        assert!((999_699..=1_000_111).contains(&offset.0), "{offset:?}");
        assert!((206..=212).contains(&bound.0), "{bound:?}");
        assert_eq!(round_trip, Micros(8_300));
    }

    #[test]
    fn a_slept_clock_begins_again_and_asks_quickly() {
        let mut clock = ClockEstimator::new();
        for n in 0..i64::from(FIRST_EXCHANGES) {
            clock.add(exchange(n * 50_000, n * 50_000 + 5_000, n * 50_000 + 5_000, n * 50_000 + 10_000));
        }
        assert_eq!((clock.ask_every(true), clock.ask_every(false)), (ASK_IN_A_RUN, ASK_OTHERWISE));
        let slept = 3_600_000_000;
        clock.add(exchange(20_000_000, 20_005_000 + slept, 20_005_000 + slept, 20_010_000));
        assert_eq!(clock.estimate(MemberTime(20_010_000)).unwrap().offset, Micros(slept));
        assert_eq!(clock.ask_every(true), ASK_AT_FIRST);
    }

    #[test]
    fn a_question_from_before_a_known_stall_does_not_count() {
        let mut clock = ClockEstimator::new();
        clock.add(exchange(0, 5_000, 5_000, 10_000));
        clock.forget(MemberTime(25_000));
        assert_eq!(clock.estimate(MemberTime(25_000)), None);
        assert!(!clock.add(exchange(20_000, 25_000, 25_000, 30_000)), "asked before the stall");
        assert!(clock.add(exchange(25_000, 30_000, 30_000, 35_000)));
        clock.forget(MemberTime(50_000_000));
        assert!(clock.add(exchange(0, 5_000, 5_000, 10_000)), "a clock that went back begins again");
    }

    #[test]
    fn the_offset_follows_the_skew_between_two_exchanges() {
        let mut clock = ClockEstimator::new();
        let server = |time: i64| time + time * 50 / 1_000_000;
        for n in 0..200 {
            let time = n * 100_000;
            clock.add(exchange(time, server(time + 200), server(time + 200), time + 400));
        }
        let later = MemberTime(19_900_400 + 5_000_000);
        let Estimate { offset, bound, .. } = clock.estimate(later).unwrap();
        assert!((offset.0 - later.0 * 50 / 1_000_000).abs() < 60, "{offset:?}");
        // The drift that could have been, half the round trip, and how far the line has left the middle.
        assert!(bound.0 < 2_500 + 202 + 260, "{bound:?}");
        let Skew { ppb, within_ppb } = clock.skew().unwrap();
        assert!((ppb - 50_000).abs() <= within_ppb && within_ppb < 25_000, "{ppb} ± {within_ppb}");
    }

    #[test]
    fn a_message_from_the_future_gives_a_slept_clock_away() {
        let mut clock = ClockEstimator::new();
        clock.add(exchange(0, 5_000, 5_000, 10_000));
        let (then, now) = (MemberTime(10_000), MemberTime(20_000));
        assert!(clock.could_be(ServerTime(15_000), then, now));
        assert!(!clock.could_be(ServerTime(60_000), then, now));
        assert!(!clock.could_be(ServerTime(-60_000), then, now));
        clock.forget(now);
        assert!(clock.could_be(ServerTime(60_000_000), then, now));
    }
}
