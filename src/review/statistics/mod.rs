//! Honest arithmetic about few runs: how often something happened with the interval of that estimate, how often a
//! minute, whether two such figures differ, and what several things together do to how often. Distribution functions are statrs's; the methods and their sources
//! stand with each function. Pure, and total: no counts and no time are answers too, not faults.

mod logistic;
mod proportion;
mod rate;
mod verdict;

pub use logistic::{Alike, Logistic, OddsRatio};
pub use proportion::{Proportion, ProportionChange};
pub use rate::{Rate, RateChange};
pub(in crate::review) use verdict::judge;
pub use verdict::{Difference, FEWEST};

use serde::Serialize;
use statrs::distribution::{ContinuousCDF, Normal};

/// The confidence of every interval that the review shows, unless it says otherwise.
pub const CONFIDENCE: f64 = 0.95;

/// From where to where the true value may well lie.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Interval {
    /// The low end.
    pub low: f64,
    /// The high end; not below the low one. Nothing when there is no upper bound.
    pub high: Option<f64>,
}

impl Interval {
    /// From `low` to `high`. A high end that is no finite number is no bound.
    pub fn new(low: f64, high: f64) -> Interval {
        Interval { low, high: high.is_finite().then_some(high.max(low)) }
    }

    /// True when `value` lies in it, ends included.
    pub fn contains(&self, value: f64) -> bool {
        self.low <= value && self.high.is_none_or(|high| value <= high)
    }
}

/// The probability left on each side of an interval of that confidence; confidences are kept inside 0.5 … 0.9999.
fn tail(confidence: f64) -> f64 {
    (1.0 - confidence.clamp(0.5, 0.9999)) / 2.0
}

/// How many standard deviations such an interval of a normal distribution reaches to each side.
fn deviations(confidence: f64) -> f64 {
    Normal::standard().inverse_cdf(1.0 - tail(confidence))
}

/// The two-sided p-value of an exact test: the probability of everything that is no likelier than what was seen.
/// `log_probability` of each outcome; the tolerance keeps an equally likely outcome from being missed by rounding, and
/// is the one that R's `binom.test` and `fisher.test` use.
fn as_unlikely_as(seen: u64, outcomes: std::ops::RangeInclusive<u64>, log_probability: impl Fn(u64) -> f64) -> f64 {
    let limit = log_probability(seen) + 1e-7_f64.ln_1p();
    let sum: f64 = outcomes.map(&log_probability).filter(|log| *log <= limit).map(f64::exp).sum();
    sum.min(1.0)
}
