//! Newcomers who gave the name of somebody who has been in the call: until the one whose name it is or the desk has said
//! whether they are that person, they are somebody else.

use std::collections::BTreeMap;

use crate::call::MemberId;

/// So many newcomers of one name may wait at once.
pub(super) const MOST_NEWCOMERS: usize = 3;

/// Each newcomer, and the member whose name they gave.
#[derive(Debug, Default)]
pub(super) struct Claims(BTreeMap<MemberId, MemberId>);

impl Claims {
    /// A newcomer has given that member's name.
    pub(super) fn add(&mut self, newcomer: MemberId, of: MemberId) {
        self.0.insert(newcomer, of);
    }

    /// The member whose name a newcomer gave.
    pub(super) fn of(&self, newcomer: MemberId) -> Option<MemberId> {
        self.0.get(&newcomer).copied()
    }

    /// The newcomers who gave a member's name, in order of coming.
    pub(super) fn newcomers(&self, of: MemberId) -> Vec<MemberId> {
        self.0.iter().filter(|(_, claimed)| **claimed == of).map(|(newcomer, _)| *newcomer).collect()
    }

    /// Every newcomer, and whose name they gave.
    pub(super) fn all(&self) -> Vec<(MemberId, MemberId)> {
        self.0.iter().map(|(newcomer, of)| (*newcomer, *of)).collect()
    }

    /// It has been said who a newcomer is, or is not.
    pub(super) fn settle(&mut self, newcomer: MemberId) {
        self.0.remove(&newcomer);
    }

    /// A member is gone: nobody can be them any more.
    pub(super) fn forget(&mut self, member: MemberId) {
        self.0.retain(|newcomer, of| *newcomer != member && *of != member);
    }

    /// Who was one member is another from now on: whoever gave the name gave theirs.
    pub(super) fn pass_on(&mut self, from: MemberId, to: MemberId) {
        self.0.remove(&to);
        self.0.values_mut().filter(|of| **of == from).for_each(|of| *of = to);
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_claim_goes_over_to_whoever_the_member_is_now_and_ends_with_them() {
        let [lotte, second, third] = [1, 2, 3].map(MemberId);
        let mut claims = Claims::default();
        claims.add(second, lotte);
        claims.add(third, lotte);
        assert_eq!(claims.newcomers(lotte), [second, third]);
        claims.pass_on(lotte, second);
        assert_eq!((claims.of(second), claims.of(third)), (None, Some(second)));
        claims.forget(second);
        assert!(claims.all().is_empty());
    }
}
