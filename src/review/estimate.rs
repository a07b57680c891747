//! Figures as the review shows them: a count, what it estimates, and the interval of that estimate.

use serde::Serialize;

use super::statistics::{CONFIDENCE, Interval, Proportion, Rate};

/// So many of so many.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct Share {
    /// How many.
    pub count: u64,
    /// Of how many.
    pub of: u64,
    /// The fraction, 0 … 1; nothing of nothing.
    pub estimate: Option<f64>,
    /// The 95 % Wilson interval.
    pub interval: Interval,
}

/// So many a minute.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct PerMinute {
    /// How many.
    pub events: u64,
    /// In so many minutes of running.
    pub minutes: f64,
    /// Events a minute; nothing in no time.
    pub estimate: Option<f64>,
    /// The 95 % interval, exact for a Poisson count.
    pub interval: Interval,
}

impl From<Proportion> for Share {
    fn from(it: Proportion) -> Share {
        Share { count: it.count(), of: it.of(), estimate: it.estimate(), interval: it.wilson(CONFIDENCE) }
    }
}

impl From<Rate> for PerMinute {
    fn from(it: Rate) -> PerMinute {
        PerMinute {
            events: it.events(),
            minutes: it.exposure(),
            estimate: it.estimate(),
            interval: it.garwood(CONFIDENCE),
        }
    }
}

/// The middle of some values; nothing of none. Of an even number, the mean of the two in the middle.
pub(super) fn median(values: &mut [f64]) -> Option<f64> {
    values.sort_by(f64::total_cmp);
    let upper = values.get(values.len() / 2).copied()?;
    let lower = values.get((values.len() - 1) / 2).copied()?;
    Some((lower + upper) / 2.0)
}

/// The value that this fraction of sorted values does not exceed (the nearest rank); nothing of none.
pub(super) fn quantile(sorted: &[f64], fraction: f64) -> Option<f64> {
    let rank = (fraction * sorted.len() as f64).ceil().max(1.0) as usize;
    sorted.get(rank.min(sorted.len()).checked_sub(1)?).copied()
}
