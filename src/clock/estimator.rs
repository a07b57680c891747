//! The estimate of the server's clock from the exchanges of the last half minute: the fastest way out and the fastest
//! way back, wherever in the window each was, enclose the true offset between them.
//!
//! The rules, so that every twin of this agrees to the microsecond. All values are whole microseconds.
//!
//! 1. *Refused*: an exchange that is not [`Exchange::is_sane`] changes nothing.
//! 2. *Window*: an exchange counts while `now − T4 ≤ 30 s`. When none counts there is no estimate. When an exchange is
//!    added, what is out of its window is dropped, and also what has a later T4 than it: the member's clock went back.
//! 3. *Charge*: `charge = ceil(max(0, now − T4) × 30 / 1 000 000)`, the drift there may have been since.
//! 4. `F` = the smallest of `(T2 − T1) + charge`, `B` = the smallest of `(T4 − T3) + charge`.
//! 5. `offset = floor((F − B) / 2)`, towards minus infinity; `bound = max(0, ceil((F + B) / 2))`;
//!    `round trip = max(0, smallest (T2 − T1) + (T4 − T3) of one exchange)`, without charge.
//! 6. *Contradiction*: when an exchange is added, `F` and `B` are taken over it and everything kept, at `now` = its T4. If
//!    `F + B < −2` no offset can explain both: a clock was stepped or slept. Then everything older is dropped.
//! 7. *Asking*: every 125 ms until 16 exchanges have been kept since the beginning (or since everything was
//!    dropped, by rule 2 or 6), then every second.
//!
//! The bound holds when the clocks drift against each other by no more than 30 ppm, when no leg is shorter than 30
//! millionths of the other (a leg of 0.1 ms allows the other 3 s), and to within the one microsecond that a reading is
//! rounded by. A step smaller than the round trip cannot be told from a slow network until it leaves the window. Half
//! of a constant asymmetry of the network stays in the offset whatever is done, and is inside the bound.

use std::collections::VecDeque;

use super::{Exchange, MemberTime};
use crate::units::{Micros, ServerTime};

/// How long an exchange counts.
pub const WINDOW: Micros = Micros::seconds(30);

/// The drift between two clocks that is allowed for, parts in a million. Common quartz is specified within it.
pub const DRIFT_PPM: i64 = 30;

const FIRST_EXCHANGES: u32 = 16;
const ASK_AT_FIRST: Micros = Micros::millis(125);
const ASK_LATER: Micros = Micros::seconds(1);

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

/// Keeps the exchanges of the last half minute and tells the server's time from them. See the head of this file for the
/// rules.
#[derive(Clone, Debug, Default)]
pub struct ClockEstimator {
    kept: VecDeque<Sample>,
    since_anew: u32,
}

#[derive(Clone, Copy, Debug)]
struct Sample {
    forward: i64,
    backward: i64,
    returned: MemberTime,
}

/// F and B of rule 4, and the smallest round trip.
struct Smallest {
    forward: i64,
    backward: i64,
    round_trip: i64,
}

impl ClockEstimator {
    /// Knows nothing yet.
    pub fn new() -> ClockEstimator {
        ClockEstimator::default()
    }

    /// Takes an exchange in, at the moment of its T4. False when it was refused (rule 1).
    pub fn add(&mut self, exchange: Exchange) -> bool {
        if !exchange.is_sane() {
            return false;
        }
        let sample =
            Sample { forward: exchange.forward().0, backward: exchange.backward().0, returned: exchange.returned };
        self.kept.retain(|kept| kept.returned <= sample.returned && kept.charge(sample.returned).is_some());
        if self.contradicts(&sample) {
            self.kept.clear();
        }
        if self.kept.is_empty() {
            self.since_anew = 0;
        }
        self.kept.push_back(sample);
        self.since_anew = self.since_anew.saturating_add(1);
        true
    }

    /// What is known at `now`; nothing before the first exchange, or half a minute after the last.
    pub fn estimate(&self, now: MemberTime) -> Option<Estimate> {
        let Smallest { forward, backward, round_trip } = self.smallest(now)?;
        Some(Estimate {
            offset: Micros((forward - backward).div_euclid(2)),
            bound: Micros((forward + backward + 1).div_euclid(2).max(0)),
            round_trip: Micros(round_trip.max(0)),
        })
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
    /// member's, give or take `slack`. A message that was sent "in the future" gives away a clock that slept.
    pub fn could_be(&self, time: ServerTime, earliest: MemberTime, latest: MemberTime, slack: Micros) -> bool {
        let Some(Estimate { offset, bound, .. }) = self.estimate(latest) else { return true };
        let margin = bound + slack;
        let (from, to) = (ServerTime(earliest.0) + offset - margin, ServerTime(latest.0) + offset + margin);
        (from..=to).contains(&time)
    }

    /// Drops everything: the clock is known to be another one than before.
    pub fn forget(&mut self) {
        *self = ClockEstimator::new();
    }

    /// How long to wait between two questions (rule 7).
    pub fn ask_every(&self) -> Micros {
        if self.since_anew < FIRST_EXCHANGES { ASK_AT_FIRST } else { ASK_LATER }
    }

    fn contradicts(&self, sample: &Sample) -> bool {
        self.smallest(sample.returned).is_some_and(|kept| {
            kept.forward.min(sample.forward) + kept.backward.min(sample.backward) < -Exchange::READING
        })
    }

    /// What rules 4 and 5 are made of, in one pass: this is done for every cue.
    fn smallest(&self, now: MemberTime) -> Option<Smallest> {
        let mut smallest: Option<Smallest> = None;
        for sample in &self.kept {
            let Some(charge) = sample.charge(now) else { continue };
            let (forward, backward) = (sample.forward + charge, sample.backward + charge);
            let round_trip = sample.forward + sample.backward;
            smallest = Some(match smallest {
                None => Smallest { forward, backward, round_trip },
                Some(best) => Smallest {
                    forward: best.forward.min(forward),
                    backward: best.backward.min(backward),
                    round_trip: best.round_trip.min(round_trip),
                },
            });
        }
        smallest
    }
}

impl Sample {
    /// What its age costs at `now`, µs; nothing once it is out of the window.
    fn charge(&self, now: MemberTime) -> Option<i64> {
        let age = now.since(self.returned).0.max(0);
        (age <= WINDOW.0).then(|| (age * DRIFT_PPM + 999_999) / 1_000_000)
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
        assert!(clock.add(exchange(0, 500, 500, 10)));
        assert!(clock.estimate(MemberTime(10 + WINDOW.0)).is_some());
        assert_eq!(clock.estimate(MemberTime(11 + WINDOW.0)), None);
    }

    #[test]
    fn the_fastest_ways_of_two_exchanges_are_put_together() {
        let mut clock = ClockEstimator::new();
        clock.add(exchange(0, 1_000_100, 1_000_100, 9_000));
        clock.add(exchange(10_000, 1_018_000, 1_018_000, 18_300));
        let Estimate { offset, bound, round_trip } = clock.estimate(MemberTime(18_300)).unwrap();
        // F is 1,000,100 and one µs of age, B is -999,700: half their difference and half their sum.
        assert_eq!((offset, bound, round_trip), (Micros(999_900), Micros(201), Micros(8_300)));
    }

    #[test]
    fn a_slept_clock_begins_anew_and_asks_quickly_again() {
        let mut clock = ClockEstimator::new();
        for n in 0..20 {
            clock.add(exchange(n * 1_000_000, n * 1_000_000 + 5_000, n * 1_000_000 + 5_000, n * 1_000_000 + 10_000));
        }
        assert_eq!(clock.ask_every(), Micros::seconds(1));
        let slept = 3_600_000_000;
        clock.add(exchange(20_000_000, 20_005_000 + slept, 20_005_000 + slept, 20_010_000));
        assert_eq!(clock.estimate(MemberTime(20_010_000)).unwrap().offset, Micros(slept));
        assert_eq!(clock.ask_every(), Micros::millis(125));
    }

    #[test]
    fn a_message_from_the_future_gives_a_slept_clock_away() {
        let mut clock = ClockEstimator::new();
        clock.add(exchange(0, 5_000, 5_000, 10_000));
        let (then, now) = (MemberTime(10_000), MemberTime(20_000));
        assert!(clock.could_be(ServerTime(15_000), then, now, Micros::ZERO));
        assert!(!clock.could_be(ServerTime(60_000), then, now, Micros::ZERO));
        assert!(clock.could_be(ServerTime(60_000), then, now, Micros::millis(50)));
        assert!(!clock.could_be(ServerTime(-60_000), then, now, Micros::ZERO));
        clock.forget();
        assert!(clock.could_be(ServerTime(60_000_000), then, now, Micros::ZERO));
    }
}
