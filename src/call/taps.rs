//! The taps of late and what became of each, by the member and the name that their page gave the tap: one that is sent
//! again is known. Of each member the last few hundred are kept, more than any page ever keeps unanswered.

use std::collections::{HashMap, VecDeque};
use std::sync::Arc;

use super::MemberId;

/// How many taps of one member are kept.
const KEPT: usize = 256;

/// Taps with something known of each.
#[derive(Clone, Debug)]
pub struct Taps<T> {
    known: HashMap<MemberId, Known<T>>,
}

/// One member's taps, and their names in order, oldest first.
#[derive(Clone, Debug)]
struct Known<T> {
    taps: HashMap<Arc<str>, T>,
    order: VecDeque<Arc<str>>,
}

impl<T> Default for Taps<T> {
    fn default() -> Taps<T> {
        Taps { known: HashMap::new() }
    }
}

impl<T> Default for Known<T> {
    fn default() -> Known<T> {
        Known { taps: HashMap::new(), order: VecDeque::new() }
    }
}

impl<T> Taps<T> {
    /// What is known of that tap.
    pub fn get(&self, member: MemberId, tap: &str) -> Option<&T> {
        self.known.get(&member)?.taps.get(tap)
    }

    /// Keeps what is known of a tap, in place of what was, which is given back.
    pub fn put(&mut self, member: MemberId, tap: &str, known: T) -> Option<T> {
        let Known { taps, order } = self.known.entry(member).or_default();
        if let Some(kept) = taps.get_mut(tap) {
            return Some(std::mem::replace(kept, known));
        }
        if order.len() >= KEPT
            && let Some(oldest) = order.pop_front()
        {
            taps.remove(&oldest);
        }
        let name: Arc<str> = Arc::from(tap);
        order.push_back(Arc::clone(&name));
        taps.insert(name, known);
        None
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_flood_of_one_member_forgets_only_that_members_oldest() {
        let mut taps = Taps::default();
        taps.put(MemberId(1), "first", 0);
        for number in 0..KEPT {
            taps.put(MemberId(2), &number.to_string(), number);
        }
        taps.put(MemberId(2), "one more", 7);
        taps.put(MemberId(2), "one more", 8);
        assert_eq!(taps.get(MemberId(1), "first"), Some(&0));
        assert_eq!((taps.get(MemberId(2), "0"), taps.get(MemberId(2), "1")), (None, Some(&1)));
        assert_eq!(taps.get(MemberId(2), "one more"), Some(&8), "put again it is the same tap");
    }
}
