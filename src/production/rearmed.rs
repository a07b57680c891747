//! The production's words with each of its sets of weapons.

use std::sync::Arc;

use crate::score::vocabulary::{Vocabulary, WeaponSet};

/// A set of weapons, and the words with it.
#[derive(Clone, Debug)]
pub struct Rearmed {
    /// The set.
    pub set: WeaponSet,
    /// The words in which each weapon is what it stands for.
    pub vocabulary: Arc<Vocabulary>,
}

impl Rearmed {
    /// The words with each of these sets, and a sentence for whatever keeps one from use.
    pub(super) fn all(sets: &[WeaponSet], vocabulary: &Vocabulary) -> (Vec<Rearmed>, Vec<String>) {
        let (mut rearmed, mut unread) = (Vec::new(), Vec::new());
        for set in sets {
            match vocabulary.with_weapons(set) {
                Ok(vocabulary) => rearmed.push(Rearmed { set: set.clone(), vocabulary: Arc::new(vocabulary) }),
                Err(sentences) => unread.extend(sentences),
            }
        }
        (rearmed, unread)
    }
}
