//! How many messages one link may send, how much a member may ask for, how quickly people join and come back: buckets that
//! fill with time. Holds have a bucket of their own behind that of a link, so that nothing else can use up a hold's turn.

use std::collections::HashMap;
use std::hash::Hash;
use std::sync::{Mutex, PoisonError};

use crate::call::{MemberId, Role};
use crate::production::Limits;
use crate::units::ServerTime;

const HOLDS_A_SECOND: f64 = 20.0;
const HOLDS_BURST: f64 = 60.0;
/// An honest page checks three times a second while somebody types, and asks for news every other second.
const ASKED_A_SECOND: f64 = 10.0;
const ASKED_BURST: f64 = 40.0;
/// A question of so many bytes counts as one; the text of a usual fight is shorter.
const A_QUESTION: usize = 48 * 1024;

/// The bucket of one link.
#[derive(Debug)]
pub(super) struct Pace {
    any: Bucket,
    holds: Bucket,
}

impl Pace {
    /// That of a link which may say so much a second for ever, and three times as much at once.
    pub(super) fn of(messages_a_second: u32) -> Pace {
        let rate = f64::from(messages_a_second);
        Pace { any: Bucket::full(rate, 3.0 * rate), holds: Bucket::full(HOLDS_A_SECOND, HOLDS_BURST) }
    }

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

    /// True when what a member has just asked for may be as long as that: a long text counts as several questions, because
    /// it is as much work.
    pub(super) fn allows_length(&self, member: MemberId, bytes: usize, now: ServerTime) -> bool {
        let more = (bytes / A_QUESTION) as f64;
        let mut paces = self.0.lock().unwrap_or_else(PoisonError::into_inner);
        let bucket = paces.entry(member).or_insert_with(|| Bucket::full(ASKED_A_SECOND, ASKED_BURST));
        let may = bucket.has(now) >= more;
        if may {
            bucket.spend(more);
        }
        may
    }
}

/// How quickly people join, and come back.
#[derive(Debug)]
pub(super) struct Comings {
    joins_a_second: u32,
    returns_a_second: u32,
    joins: HashMap<Role, Bucket>,
    returns: HashMap<MemberId, Bucket>,
}

impl Comings {
    pub(super) fn of(limits: &Limits) -> Comings {
        let Limits { joins_a_second, returns_a_second, .. } = *limits;
        Comings { joins_a_second, returns_a_second, joins: HashMap::new(), returns: HashMap::new() }
    }

    /// True when one more may join with the invitation of that role now.
    pub(super) fn joins(&mut self, role: Role, now: ServerTime) -> bool {
        Bucket::of(&mut self.joins, role, self.joins_a_second).take(now)
    }

    /// True when a member may come back now.
    pub(super) fn returns(&mut self, member: MemberId, now: ServerTime) -> bool {
        Bucket::of(&mut self.returns, member, self.returns_a_second).take(now)
    }

    /// A member is gone.
    pub(super) fn forget(&mut self, member: MemberId) {
        self.returns.remove(&member);
    }
}

/// A bucket that fills with time and is emptied by what passes.
#[derive(Debug)]
pub(super) struct Bucket {
    rate: f64,
    most: f64,
    left: f64,
    filled: ServerTime,
}

impl Bucket {
    /// That of one of several, full at first: so much a second for ever, ten times as much at once.
    fn of<K: Eq + Hash>(buckets: &mut HashMap<K, Bucket>, of: K, a_second: u32) -> &mut Bucket {
        let rate = f64::from(a_second);
        buckets.entry(of).or_insert_with(|| Bucket::full(rate, 10.0 * rate))
    }

    /// A full one: `rate` a second for ever, `most` at once.
    pub(super) fn full(rate: f64, most: f64) -> Bucket {
        Bucket { rate, most, left: most, filled: ServerTime::default() }
    }

    /// True when one more may pass now.
    fn take(&mut self, now: ServerTime) -> bool {
        let may = self.has(now) >= 1.0;
        if may {
            self.left -= 1.0;
        }
        may
    }

    /// What is in it now; less than nothing when more was taken than there was.
    pub(super) fn has(&mut self, now: ServerTime) -> f64 {
        let since = now.since(self.filled).as_seconds().max(0.0);
        self.left = (self.left + since * self.rate).min(self.most);
        self.filled = self.filled.max(now);
        self.left
    }

    /// So much has passed, whether it was there or not.
    pub(super) fn spend(&mut self, amount: f64) {
        self.left -= amount;
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::units::Micros;

    #[test]
    fn long_drafts_are_answered_now_and_then_and_usual_ones_as_they_are_typed() {
        let (paces, mut now) = (Paces::default(), ServerTime::default());
        let mut asked = |bytes: usize, every: Micros, times: usize| {
            let ask = |_: &usize| {
                now = now + every;
                paces.allows(MemberId(1), now) && paces.allows_length(MemberId(1), bytes, now)
            };
            (0..times).filter(ask).count()
        };
        assert_eq!(asked(20 * 1024, Micros::millis(300), 1_000), 1_000);
        assert!(asked(540 * 1024, Micros::millis(80), 1_000) <= 100, "in eighty seconds");
        asked(0, Micros::seconds(4), 1);
        assert_eq!(asked(540 * 1024, Micros::seconds(2), 50), 50, "whoever waits a moment between two is answered");
    }

    #[test]
    fn an_honest_phone_is_never_refused_and_a_flood_is() {
        let mut pace = Pace::of(100);
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
