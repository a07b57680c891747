//! How many messages one link may send, and how much a member may ask for: a bucket that fills with time. A phone in a fast fight sends about 25 a second
//! (pulses, clock, reports); the bucket lets four times that pass for ever and a burst of 300. Holds have a bucket of
//! their own behind it, so that nothing else can use up a hold's turn.

use std::collections::HashMap;
use std::sync::{Mutex, PoisonError};

use crate::call::MemberId;
use crate::units::ServerTime;

const A_SECOND: f64 = 100.0;
const BURST: f64 = 300.0;
const HOLDS_A_SECOND: f64 = 20.0;
const HOLDS_BURST: f64 = 60.0;
/// An honest page checks three times a second while somebody types, and asks for news every other second.
const ASKED_A_SECOND: f64 = 10.0;
const ASKED_BURST: f64 = 40.0;

/// The bucket of one link.
#[derive(Debug)]
pub(super) struct Pace {
    any: Bucket,
    holds: Bucket,
}

impl Default for Pace {
    fn default() -> Pace {
        Pace { any: Bucket::full(A_SECOND, BURST), holds: Bucket::full(HOLDS_A_SECOND, HOLDS_BURST) }
    }
}

impl Pace {
    /// True when one more message may come now.
    pub(super) fn allows(&mut self, now: ServerTime) -> bool {
        self.any.take(now)
    }

    /// True when one more hold may come now, whatever else came.
    pub(super) fn allows_hold(&mut self, now: ServerTime) -> bool {
        self.holds.take(now)
    }
}

/// How much each member may ask for over HTTP.
#[derive(Debug, Default)]
pub(super) struct Paces(Mutex<HashMap<MemberId, Bucket>>);

impl Paces {
    /// True when a member may ask for one more thing now.
    pub(super) fn allows(&self, member: MemberId, now: ServerTime) -> bool {
        let mut paces = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        paces.entry(member).or_insert_with(|| Bucket::full(ASKED_A_SECOND, ASKED_BURST)).take(now)
    }
}

/// A bucket that fills with time and is emptied by what passes.
#[derive(Debug)]
struct Bucket {
    rate: f64,
    most: f64,
    left: f64,
    filled: ServerTime,
}

impl Bucket {
    /// A full one: `rate` a second for ever, `most` at once.
    fn full(rate: f64, most: f64) -> Bucket {
        Bucket { rate, most, left: most, filled: ServerTime::default() }
    }

    /// True when one more may pass now.
    fn take(&mut self, now: ServerTime) -> bool {
        let since = now.since(self.filled).as_seconds().max(0.0);
        self.left = (self.left + since * self.rate).min(self.most);
        self.filled = self.filled.max(now);
        if self.left < 1.0 {
            return false;
        }
        self.left -= 1.0;
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Micros;

    #[test]
    fn an_honest_phone_is_never_refused_and_a_flood_is() {
        let mut pace = Pace::default();
        let mut now = ServerTime::default();
        for _ in 0..10_000 {
            now = now + Micros::millis(20);
            assert!(pace.allows(now), "fifty a second for ever");
        }
        let passed = (0..10_000).filter(|_| pace.allows(now)).count();
        assert!((200..=300).contains(&passed), "a burst, then no more: {passed}");
        assert!(pace.allows_hold(now), "a hold still has its turn");
    }
}
