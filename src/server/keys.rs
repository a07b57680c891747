//! The personal keys, where connections come in: whoever shows one is known before the hub is asked, so that the taps
//! that a phone has kept pull the brake first. Only digests are kept. The lock is held for a look or a change.

use std::collections::HashMap;
use std::sync::{PoisonError, RwLock};

use super::digest::{Digested, digest};
use crate::call::MemberId;

/// What a key is good for.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Holder {
    /// It is the member's.
    Member(MemberId),
    /// It was the member's until they came by another way: it may still hold, and nothing else.
    Replaced(MemberId),
    /// It was the member's until the desk took them out of the call: it may do nothing, and what is tapped with it is
    /// written down as come too late.
    Removed(MemberId),
}

/// The keys.
#[derive(Debug, Default)]
pub(super) struct Keys(RwLock<HashMap<Digested, Holder>>);

impl Keys {
    /// Whose key that is.
    pub(super) fn holder(&self, key: &str) -> Option<Holder> {
        self.0.read().unwrap_or_else(PoisonError::into_inner).get(&digest(key)).copied()
    }

    /// The member with that key.
    pub(super) fn member(&self, key: &str) -> Option<MemberId> {
        match self.holder(key)? {
            Holder::Member(member) => Some(member),
            Holder::Replaced(_) | Holder::Removed(_) => None,
        }
    }

    /// A key becomes a member's.
    pub(super) fn give(&self, key: Digested, member: MemberId) {
        self.keep(key, Holder::Member(member));
    }

    /// A key is known, and what it is good for.
    pub(super) fn keep(&self, key: Digested, holder: Holder) {
        self.change(|keys| {
            keys.insert(key, holder);
        });
    }

    /// A member's keys may only hold from now on.
    pub(super) fn replace(&self, member: MemberId) {
        self.change(|keys| {
            for holder in keys.values_mut().filter(|holder| **holder == Holder::Member(member)) {
                *holder = Holder::Replaced(member);
            }
        });
    }

    /// A member's keys are worth nothing from now on.
    pub(super) fn forget(&self, member: MemberId) {
        self.change(|keys| keys.retain(|_, holder| *holder != Holder::Member(member)));
    }

    /// The desk has taken a member out of the call.
    pub(super) fn remove(&self, member: MemberId) {
        self.change(|keys| {
            let theirs =
                |holder: &&mut Holder| matches!(**holder, Holder::Member(of) | Holder::Replaced(of) if of == member);
            keys.values_mut().filter(theirs).for_each(|holder| *holder = Holder::Removed(member));
        });
    }

    fn change(&self, change: impl FnOnce(&mut HashMap<Digested, Holder>)) {
        change(&mut self.0.write().unwrap_or_else(PoisonError::into_inner));
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_replaced_key_may_hold_and_a_forgotten_one_may_nothing() {
        let keys = Keys::default();
        keys.give(digest("a"), MemberId(1));
        keys.give(digest("b"), MemberId(2));
        assert_eq!(keys.member("a"), Some(MemberId(1)));
        keys.replace(MemberId(1));
        assert_eq!((keys.member("a"), keys.holder("a")), (None, Some(Holder::Replaced(MemberId(1)))));
        keys.forget(MemberId(2));
        assert_eq!(keys.holder("b"), None);
        assert_eq!(keys.holder("nobody's"), None);
        keys.give(digest("c"), MemberId(1));
        keys.remove(MemberId(1));
        assert_eq!(["a", "c"].map(|key| keys.holder(key)), [Some(Holder::Removed(MemberId(1))); 2]);
        assert_eq!(keys.member("c"), None);
    }
}
