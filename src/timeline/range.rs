//! Which phrases of a fight are run, and how a person names them.

use thiserror::Error;

use crate::score::model::Score;

/// A run of phrases, first and last included, by their place in [`Score::phrases`].
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct PhraseRange {
    /// The first phrase, counted from 0.
    pub first: usize,
    /// The last phrase, counted from 0; not before the first.
    pub last: usize,
}

/// Why a range that somebody asked for is none. Each says what there is to choose from.
#[derive(Clone, Debug, PartialEq, Eq, Error)]
pub enum RangeError {
    /// The score has no phrase at all: write one.
    #[error("`{fight}` has no phrases yet; write one with `phrase \"its name\"` and its moves under it")]
    NoPhrases {
        /// The fight.
        fight: String,
    },
    /// No phrase has that name, number or beginning: choose one of the list.
    #[error("there is no phrase `{asked}`; choose one by number or name: {choices}")]
    Unknown {
        /// What was asked for.
        asked: String,
        /// The phrases.
        choices: String,
    },
    /// Several phrases begin so: write more of the name.
    #[error("more than one phrase begins with `{asked}`; write more of its name: {choices}")]
    Ambiguous {
        /// What was asked for.
        asked: String,
        /// The phrases that begin so.
        choices: String,
    },
    /// The last phrase stands before the first: swap them.
    #[error("`{last}` comes before `{first}`; swap them, or choose again: {choices}")]
    Backwards {
        /// The first phrase that was asked for.
        first: String,
        /// The last.
        last: String,
        /// The phrases.
        choices: String,
    },
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

    /// The range from one named phrase to another; from the first or to the last where none is named. A phrase is
    /// named by its name, by its number from 1, or by a beginning that no other phrase has; capitals do not matter.
    ///
    /// # Errors
    ///
    /// A sentence that lists the phrases.
    pub fn named(score: &Score, from: Option<&str>, to: Option<&str>) -> Result<PhraseRange, RangeError> {
        let whole = PhraseRange::whole(score).ok_or_else(|| RangeError::NoPhrases { fight: score.name.clone() })?;
        let first = from.map_or(Ok(whole.first), |asked| find(score, asked))?;
        let last = to.map_or(Ok(whole.last), |asked| find(score, asked))?;
        PhraseRange::new(score, first, last).ok_or_else(|| RangeError::Backwards {
            first: name(score, first),
            last: name(score, last),
            choices: choices(score, 0..score.phrases.len()),
        })
    }
}

fn find(score: &Score, asked: &str) -> Result<usize, RangeError> {
    let wanted = asked.trim().to_lowercase();
    let names: Vec<String> = score.phrases.iter().map(|phrase| phrase.name.to_lowercase()).collect();
    if let Some(index) = names.iter().position(|name| *name == wanted) {
        return Ok(index);
    }
    let number = wanted.parse().ok().and_then(|number: usize| number.checked_sub(1));
    if let Some(index) = number.filter(|&index| index < names.len()) {
        return Ok(index);
    }
    let begin_so = |index: &usize| names.get(*index).is_some_and(|name| name.starts_with(&wanted));
    let found: Vec<usize> = (0..names.len()).filter(begin_so).collect();
    let asked = asked.to_owned();
    match found.as_slice() {
        [index] => Ok(*index),
        _ if wanted.is_empty() || found.is_empty() => {
            Err(RangeError::Unknown { asked, choices: choices(score, 0..names.len()) })
        }
        _ => Err(RangeError::Ambiguous { asked, choices: choices(score, found) }),
    }
}

fn choices(score: &Score, indices: impl IntoIterator<Item = usize>) -> String {
    let words = indices.into_iter().map(|index| format!("{} \"{}\"", index + 1, name(score, index)));
    words.collect::<Vec<_>>().join(", ")
}

fn name(score: &Score, index: usize) -> String {
    score.phrases.get(index).map_or(String::new(), |phrase| phrase.name.clone())
}
