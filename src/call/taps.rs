//! The taps of late and what became of each, by the member and the name that their page gave the tap: one that is sent
//! again is known. Of each member the last few hundred are kept, more than any page ever keeps unanswered.

use std::collections::{HashMap, VecDeque};

use super::MemberId;

/// How many taps of one member are kept.
const KEPT: usize = 256;

/// Taps with something known of each.
#[derive(Clone, Debug)]
pub struct Taps<T> {
    known: HashMap<MemberId, VecDeque<(String, T)>>,
}

impl<T> Default for Taps<T> {
    fn default() -> Taps<T> {
        Taps { known: HashMap::new() }
    }
}

impl<T> Taps<T> {
    /// What is known of that tap.
    pub fn get(&self, member: MemberId, tap: &str) -> Option<&T> {
        self.known.get(&member)?.iter().find(|(name, _)| name == tap).map(|(_, known)| known)
    }

    /// Keeps what is known of a tap, in place of what was.
    pub fn put(&mut self, member: MemberId, tap: String, known: T) {
        let taps = self.known.entry(member).or_default();
        match taps.iter_mut().find(|(name, _)| *name == tap) {
            Some((_, kept)) => *kept = known,
            None => {
                if taps.len() >= KEPT {
                    taps.pop_front();
                }
                taps.push_back((tap, known));
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_flood_of_one_member_forgets_only_that_members_oldest() {
        let mut taps = Taps::default();
        taps.put(MemberId(1), "first".into(), 0);
        for number in 0..KEPT {
            taps.put(MemberId(2), format!("{number}"), number);
        }
        taps.put(MemberId(2), "one more".into(), 7);
        taps.put(MemberId(2), "one more".into(), 8);
        assert_eq!(taps.get(MemberId(1), "first"), Some(&0));
        assert_eq!((taps.get(MemberId(2), "0"), taps.get(MemberId(2), "1")), (None, Some(&1)));
        assert_eq!(taps.get(MemberId(2), "one more"), Some(&8), "put again it is the same tap");
    }
}
