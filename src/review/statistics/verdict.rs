//! What may be said of a difference. "Too few runs to say" is one of the answers, and the usual one in the first week; "no
//! difference can be told" is another, of runs enough that do not tell one.

use serde::Serialize;

use super::{CONFIDENCE, Interval};

/// Below so many runs on either side (or breaks on both together) nothing is said. A planning value.
pub const FEWEST: u64 = 5;

/// What may be said of a difference.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Difference {
    /// It got better, and chance alone seldom does that.
    Better,
    /// It got worse, and chance alone seldom does that.
    Worse,
    /// If it changed, then by less than matters.
    Same,
    /// There are runs enough to look, and they tell no difference: it may be there and be small, or not.
    Unclear,
    /// There are too few runs to say.
    TooFew,
}

impl Difference {
    /// The answer in words.
    pub const fn words(self) -> &'static str {
        match self {
            Difference::Better => "better",
            Difference::Worse => "worse",
            Difference::Same => "about the same",
            Difference::Unclear => "no difference can be told",
            Difference::TooFew => "too few runs to say",
        }
    }

    /// The same difference of something of which less is better.
    pub(in crate::review) const fn turned(self) -> Difference {
        match self {
            Difference::Better => Difference::Worse,
            Difference::Worse => Difference::Better,
            other => other,
        }
    }
}

/// The rule. More or less: the interval leaves out `neutral` and the exact test agrees. The same: the whole interval
/// lies within `margins`. Whatever rests on fewer than [`FEWEST`] is too few to say; of anything else no difference can be
/// told.
pub(in crate::review) fn judge(
    fewest: u64,
    interval: &Interval,
    neutral: f64,
    margins: (f64, f64),
    p: f64,
) -> Difference {
    let high = interval.high.unwrap_or(f64::INFINITY);
    let sure = p < 1.0 - CONFIDENCE;
    if fewest < FEWEST {
        Difference::TooFew
    } else if sure && interval.low > neutral {
        Difference::Better
    } else if sure && high < neutral {
        Difference::Worse
    } else if interval.low >= margins.0 && high <= margins.1 {
        Difference::Same
    } else {
        Difference::Unclear
    }
}
