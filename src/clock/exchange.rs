//! One four-timestamp exchange: asked by the member, answered by the server.

use std::ops::{Add, Sub};

use crate::rules::READING;
use crate::units::{Micros, ServerTime};

/// A moment on a member's own monotonic clock, microseconds since whatever it counts from.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct MemberTime(pub i64);

impl MemberTime {
    /// How long after `earlier` this moment is; negative when it is before it.
    pub const fn since(self, earlier: MemberTime) -> Micros {
        Micros(self.0.saturating_sub(earlier.0))
    }
}

impl Add<Micros> for MemberTime {
    type Output = MemberTime;
    fn add(self, length: Micros) -> MemberTime {
        MemberTime(self.0.saturating_add(length.0))
    }
}

impl Sub<Micros> for MemberTime {
    type Output = MemberTime;
    fn sub(self, length: Micros) -> MemberTime {
        MemberTime(self.0.saturating_sub(length.0))
    }
}

/// The four timestamps of an exchange, in the order of RFC 5905 section 8: T1, T2, T3 and T4.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Exchange {
    /// T1: the member asked.
    pub sent: MemberTime,
    /// T2: the server received the question.
    pub received: ServerTime,
    /// T3: the server answered.
    pub answered: ServerTime,
    /// T4: the member received the answer.
    pub returned: MemberTime,
}

impl Exchange {
    /// The furthest from zero that a timestamp may be: 2^53 − 1 µs (285 years), what a page's numbers hold exactly.
    pub const FURTHEST: i64 = (1 << 53) - 1;

    /// T2 − T1: the way out plus how far the server's clock is ahead.
    pub const fn forward(&self) -> Micros {
        Micros(self.received.0.saturating_sub(self.sent.0))
    }

    /// T4 − T3: the way back less how far the server's clock is ahead.
    pub const fn backward(&self) -> Micros {
        Micros(self.returned.0.saturating_sub(self.answered.0))
    }

    /// RFC 5905 section 8, theta = ((T2 − T1) + (T3 − T4)) / 2: how far the server is ahead of the member, if both ways
    /// took equally long. Halves are rounded down.
    pub const fn offset(&self) -> Micros {
        Micros(self.forward().0.saturating_sub(self.backward().0).div_euclid(2))
    }

    /// RFC 5905 section 8, delta = (T4 − T1) − (T3 − T2): the time on the way, there and back.
    pub const fn delay(&self) -> Micros {
        Micros(self.forward().0.saturating_add(self.backward().0))
    }

    /// False for what no honest exchange can be: an answer before its question (T4 < T1 or T3 < T2), less time
    /// outside than the server held it (T4 − T1 < T3 − T2 by more than [`READING`]), or a timestamp beyond
    /// ±[`Exchange::FURTHEST`].
    pub fn is_sane(&self) -> bool {
        let times = [self.sent.0, self.received.0, self.answered.0, self.returned.0];
        times.iter().all(|time| (-Exchange::FURTHEST..=Exchange::FURTHEST).contains(time))
            && self.returned >= self.sent
            && self.answered >= self.received
            && self.delay().0 >= -READING
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn exchange(times: [i64; 4]) -> Exchange {
        let [t1, t2, t3, t4] = times;
        Exchange { sent: MemberTime(t1), received: ServerTime(t2), answered: ServerTime(t3), returned: MemberTime(t4) }
    }

    /// RFC 5905 section 8 formulas on the worked numbers of network vendors' manuals: T1 10:00:00, T2 11:00:01,
    /// T3 11:00:02, T4 10:00:03 give a delay of 2 s and an offset of 1 h.
    #[test]
    fn the_worked_example_gives_one_hour_and_two_seconds() {
        let at = |hours: i64, seconds: i64| (hours * 3600 + seconds) * 1_000_000;
        let example = exchange([at(10, 0), at(11, 1), at(11, 2), at(10, 3)]);
        assert_eq!(example.offset(), Micros::seconds(3600));
        assert_eq!(example.delay(), Micros::seconds(2));
    }

    /// Derived from the same formulas: true offset 0.5 s, legs of 10 and 30 ms, 2 ms at the server. Half the
    /// asymmetry is the error, and half the delay bounds it.
    #[test]
    fn an_uneven_way_costs_half_its_unevenness() {
        let uneven = exchange([0, 510_000, 512_000, 42_000]);
        assert_eq!(uneven.offset(), Micros(490_000));
        assert_eq!(uneven.delay(), Micros(40_000));
    }

    #[test]
    fn halves_are_rounded_down() {
        assert_eq!(exchange([0, 3, 3, 0]).offset(), Micros(3));
        assert_eq!(exchange([0, 3, 3, 4]).offset(), Micros(1));
        assert_eq!(exchange([0, -3, -3, 10]).offset(), Micros(-8));
    }

    #[test]
    fn what_cannot_have_happened_is_not_sane() {
        assert!(exchange([0, 5, 6, 1]).is_sane());
        assert!(!exchange([10, 5, 6, 9]).is_sane(), "answered before it was asked");
        assert!(!exchange([0, 7, 6, 9]).is_sane(), "the server answered before it received");
        assert!(exchange([0, 0, 6, 4]).is_sane(), "two microseconds are the reading of the clocks");
        assert!(!exchange([0, 0, 6, 3]).is_sane(), "held longer than it was away");
        for far in [i64::MIN, i64::MAX, Exchange::FURTHEST + 1] {
            for place in 0..4 {
                let mut times = [0, 0, 0, 0];
                times[place] = far;
                assert!(!exchange(times).is_sane());
            }
        }
    }
}
