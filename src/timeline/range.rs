//! Which phrases of a fight are run.

use crate::score::model::Score;

/// A run of phrases, first and last included, by their place in [`Score::phrases`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PhraseRange {
    /// The first phrase, counted from 0.
    pub first: usize,
    /// The last phrase, counted from 0; not before the first.
    pub last: usize,
}

impl PhraseRange {
    /// These phrases, or nothing when the score has not got them or the last stands before the first.
    pub fn new(score: &Score, first: usize, last: usize) -> Option<PhraseRange> {
        (first <= last && last < score.phrases.len()).then_some(PhraseRange { first, last })
    }

    /// The whole fight, or nothing when it has no phrases.
    pub fn whole(score: &Score) -> Option<PhraseRange> {
        PhraseRange::new(score, 0, score.phrases.len().checked_sub(1)?)
    }
}
