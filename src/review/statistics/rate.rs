//! So many in so much time: the exact Poisson interval, and two such rates compared.

use serde::Serialize;
use statrs::distribution::{ContinuousCDF, Gamma};
use statrs::function::factorial::ln_binomial;

use super::verdict::{Difference, judge};
use super::{CONFIDENCE, Interval, Proportion, as_unlikely_as, tail};

/// `events` in `exposure`, which is a length of time in the unit that the rate is wanted in: minutes.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Rate {
    events: u64,
    exposure: f64,
}

/// The ratio of two rates.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct RateChange {
    /// Before.
    pub before: Rate,
    /// After.
    pub after: Rate,
    /// After divided by before; nothing when nothing happened before, or no time passed.
    pub ratio: Option<f64>,
    /// The 95 % interval of the ratio.
    pub interval: Interval,
    /// How likely a difference at least as unlikely would be without any change: the exact conditional test, two-sided.
    pub p: f64,
    /// What may be said.
    pub verdict: Difference,
}

impl Rate {
    /// `events` in `exposure`. A time that is negative or no number is none.
    pub fn new(events: u64, exposure: f64) -> Rate {
        Rate { events, exposure: if exposure.is_finite() { exposure.max(0.0) } else { 0.0 } }
    }

    /// How many.
    pub const fn events(self) -> u64 {
        self.events
    }

    /// In how much time.
    pub const fn exposure(self) -> f64 {
        self.exposure
    }

    /// Events in a unit of time; nothing in no time.
    pub fn estimate(self) -> Option<f64> {
        (self.exposure > 0.0).then(|| self.events as f64 / self.exposure)
    }

    /// The exact interval of Garwood, Biometrika 28 (1936) 437–442: the quantiles of gamma distributions of shape
    /// `events` and `events + 1`. Without any time there is no upper bound.
    pub fn garwood(self, confidence: f64) -> Interval {
        if self.exposure <= 0.0 {
            return Interval::new(0.0, f64::INFINITY);
        }
        let (events, tail) = (self.events as f64, tail(confidence));
        let low = if self.events == 0 { 0.0 } else { gamma_quantile(events, tail) };
        Interval::new(low / self.exposure, gamma_quantile(events + 1.0, 1.0 - tail) / self.exposure)
    }

    /// What changed from `self` to `after`, where less is better. Given how many events there were in all, those of
    /// one side are binomial: Przyborowski and Wilenski, Biometrika 31 (1940) 313–323. The interval of the ratio is
    /// Clopper and Pearson's of that binomial, turned into a ratio.
    pub fn change_to(self, after: Rate) -> RateChange {
        let ratio = self.estimate().zip(after.estimate()).filter(|(before, _)| *before > 0.0).map(|(b, a)| a / b);
        let (interval, p) = conditional(self, after);
        let verdict = judge(self.events + after.events, &interval, 1.0, SAME_RATIO, p).turned();
        RateChange { before: self, after, ratio, interval, p, verdict }
    }
}

/// A ratio that lies within these for certain is no change that a rehearsal could feel. A planning value.
const SAME_RATIO: (f64, f64) = (1.0 / 1.5, 1.5);

fn conditional(before: Rate, after: Rate) -> (Interval, f64) {
    let (all, time) = (before.events + after.events, before.exposure + after.exposure);
    if all == 0 || before.exposure <= 0.0 || after.exposure <= 0.0 {
        return (Interval::new(0.0, f64::INFINITY), 1.0);
    }
    let share = after.exposure / time;
    let log = |count: u64| {
        let (hits, misses) = (count as f64, (all - count) as f64);
        ln_binomial(all, count) + hits * share.ln() + misses * (1.0 - share).ln()
    };
    let p = as_unlikely_as(after.events, 0..=all, log);
    let of_all = Proportion::new(after.events, all).clopper_pearson(CONFIDENCE);
    let as_ratio = |share: f64| share / (1.0 - share) * before.exposure / after.exposure;
    (Interval::new(as_ratio(of_all.low), as_ratio(of_all.high.unwrap_or(1.0))), p)
}

fn gamma_quantile(shape: f64, p: f64) -> f64 {
    Gamma::new(shape, 1.0).map_or(f64::INFINITY, |gamma| gamma.inverse_cdf(p.clamp(0.0, 1.0)))
}
