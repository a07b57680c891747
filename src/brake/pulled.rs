//! What has pulled the brake: which taps, since when, and what is dead by it. Two of them are joined by the maximum of
//! what is dead, the union of the taps and the earlier of the instants; so repeats, loss and any order of arrival give
//! the same, which is what two servers of one call would need.

use std::collections::BTreeSet;

use crate::call::{MemberId, Tap};
use crate::units::{Generation, ServerTime};

/// The name of a tap: one sent again, over another link or after a restart, is the same tap.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct TapName {
    /// Whose it is.
    pub member: MemberId,
    /// The name that the member's page gave it.
    pub tap: String,
}

/// Who or what pulled.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum By {
    /// A member's tap.
    Tap(TapName),
    /// The foot switch at the desk, pressed at that time.
    FootSwitch(ServerTime),
    /// The lost link of a member whose lost link holds, lost at that time.
    LostLink(MemberId, ServerTime),
    /// The machine that the server runs on, at that time: it woke from sleep during a run, say.
    Machine(ServerTime),
}

/// Everything that has pulled the brake.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Pulled {
    dead: Generation,
    by: BTreeSet<By>,
    since: Option<ServerTime>,
}

impl Pulled {
    /// What one pull is.
    pub fn one(by: By, dead: Generation, at: ServerTime) -> Pulled {
        Pulled { dead, by: BTreeSet::from([by]), since: Some(at) }
    }

    /// Both.
    pub fn join(mut self, other: Pulled) -> Pulled {
        self.dead = self.dead.max(other.dead);
        self.by.extend(other.by);
        self.since = match (self.since, other.since) {
            (Some(mine), Some(theirs)) => Some(mine.min(theirs)),
            (mine, theirs) => mine.or(theirs),
        };
        self
    }

    /// Everything up to this generation is dead.
    pub fn dead(&self) -> Generation {
        self.dead
    }

    /// Who and what pulled.
    pub fn by(&self) -> impl Iterator<Item = &By> {
        self.by.iter()
    }

    /// True when that has pulled already.
    pub fn has(&self, by: &By) -> bool {
        self.by.contains(by)
    }

    /// The instant of the first pull; nothing when nobody has pulled.
    pub fn since(&self) -> Option<ServerTime> {
        self.since
    }
}

/// True when a tap pulls: a fresh one always does, whatever generation stood on its screen; one that was kept without a
/// link does not when its generation has died since, because the run that it was meant for has ended.
pub fn pulls(tap: &Tap, dead: Generation) -> bool {
    !tap.queued || tap.generation > dead
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    fn by() -> impl Strategy<Value = By> {
        prop_oneof![
            (0u32..4, "[ab]").prop_map(|(member, tap)| By::Tap(TapName { member: MemberId(member), tap })),
            (0i64..3).prop_map(|at| By::FootSwitch(ServerTime(at))),
            (0u32..3, 0i64..3).prop_map(|(member, at)| By::LostLink(MemberId(member), ServerTime(at))),
            (0i64..3).prop_map(|at| By::Machine(ServerTime(at))),
        ]
    }

    fn one() -> impl Strategy<Value = Pulled> {
        (by(), 0u64..5, 0i64..9).prop_map(|(by, dead, at)| Pulled::one(by, Generation(dead), ServerTime(at)))
    }

    fn pulled() -> impl Strategy<Value = Pulled> {
        prop::collection::vec(one(), 0..6).prop_map(|all| all.into_iter().fold(Pulled::default(), Pulled::join))
    }

    proptest! {
        #[test]
        fn joining_commutes_associates_and_repeats_change_nothing(a in pulled(), b in pulled(), c in pulled()) {
            let join = |a: &Pulled, b: &Pulled| a.clone().join(b.clone());
            prop_assert_eq!(join(&a, &b), join(&b, &a));
            prop_assert_eq!(join(&join(&a, &b), &c), join(&a, &join(&b, &c)));
            prop_assert_eq!(join(&a, &a), a.clone());
            prop_assert_eq!(join(&a, &Pulled::default()), a.clone());
            let both = join(&a, &b);
            prop_assert!(both.dead() >= a.dead() && a.by().all(|by| both.has(by)), "nothing is lost by joining");
            prop_assert_eq!(both.since(), [a.since(), b.since()].into_iter().flatten().min());
        }

        /// Any order of arrival, with any of them repeated, gives the same.
        #[test]
        fn every_order_of_arrival_gives_the_same(
            pulls in prop::collection::vec(one(), 1..8),
            order in prop::collection::vec(any::<prop::sample::Index>(), 0..20),
        ) {
            let whole = pulls.iter().cloned().fold(Pulled::default(), Pulled::join);
            let jumbled = order.iter().map(|index| index.get(&pulls)).chain(pulls.iter().rev());
            prop_assert_eq!(jumbled.cloned().fold(Pulled::default(), Pulled::join), whole);
        }

        #[test]
        fn a_fresh_tap_always_pulls(generation in 0u64..9, dead in 0u64..9) {
            let tap = |queued| Tap {
                id: "t".into(), generation: Generation(generation), queued, screen_cue: None, reason: None,
            };
            prop_assert!(super::pulls(&tap(false), Generation(dead)));
            prop_assert_eq!(super::pulls(&tap(true), Generation(dead)), generation > dead);
        }
    }
}
