//! So many of so many: the Wilson interval, and two such proportions compared.

use serde::Serialize;
use statrs::distribution::{Beta, ContinuousCDF};
use statrs::function::factorial::ln_binomial;

use super::verdict::{Difference, judge};
use super::{CONFIDENCE, Interval, as_unlikely_as, deviations, tail};

/// `count` of `of`.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Proportion {
    count: u64,
    of: u64,
}

/// The difference between two proportions.
#[derive(Clone, Copy, Debug, PartialEq, Serialize)]
pub struct ProportionChange {
    /// Before.
    pub before: Proportion,
    /// After.
    pub after: Proportion,
    /// After less before, -1 … 1; nothing when one of them is of nothing.
    pub difference: Option<f64>,
    /// The 95 % interval of the difference.
    pub interval: Interval,
    /// How likely a difference at least as unlikely would be without any change: Fisher's exact test, two-sided.
    pub p: f64,
    /// What may be said.
    pub verdict: Difference,
}

impl Proportion {
    /// `count` of `of`. More than all is all.
    pub fn new(count: u64, of: u64) -> Proportion {
        Proportion { count: count.min(of), of }
    }

    /// How many.
    pub const fn count(self) -> u64 {
        self.count
    }

    /// Of how many.
    pub const fn of(self) -> u64 {
        self.of
    }

    /// All the others.
    pub const fn others(self) -> Proportion {
        Proportion { count: self.of - self.count, of: self.of }
    }

    /// The fraction, 0 … 1; nothing of nothing.
    pub fn estimate(self) -> Option<f64> {
        (self.of > 0).then(|| self.count as f64 / self.of as f64)
    }

    /// The Wilson score interval; 0 … 1 for nothing of nothing. E. B. Wilson, J. Am. Stat. Assoc. 22 (1927) 209–212;
    /// recommended by Brown, Cai, DasGupta, Statistical Science 16 (2001) 101–133 for few trials.
    pub fn wilson(self, confidence: f64) -> Interval {
        let Some(p) = self.estimate() else { return Interval::new(0.0, 1.0) };
        let (n, z) = (self.of as f64, deviations(confidence));
        let z2 = z * z;
        let centre = p + z2 / (2.0 * n);
        let half = z * (p * (1.0 - p) / n + z2 / (4.0 * n * n)).sqrt();
        let scale = 1.0 + z2 / n;
        // At the ends the formula gives 0 or 1 but for rounding.
        let low = if self.count == 0 { 0.0 } else { (centre - half) / scale };
        let high = if self.count == self.of { 1.0 } else { (centre + half) / scale };
        Interval::new(low.clamp(0.0, 1.0), high.clamp(0.0, 1.0))
    }

    /// The exact interval of Clopper and Pearson, Biometrika 26 (1934) 404–413, by the beta distribution.
    pub fn clopper_pearson(self, confidence: f64) -> Interval {
        let (k, n, tail) = (self.count as f64, self.of as f64, tail(confidence));
        let low = if self.count == 0 { 0.0 } else { beta_quantile(k, n - k + 1.0, tail).unwrap_or(0.0) };
        let high = if self.count == self.of { 1.0 } else { beta_quantile(k + 1.0, n - k, 1.0 - tail).unwrap_or(1.0) };
        Interval::new(low, high)
    }

    /// What changed from `self` to `after`, where more is better. The interval of the difference is Newcombe's hybrid of
    /// two Wilson intervals (Stat. Med. 17 (1998) 873–890, method 10); the test is Fisher's exact one.
    pub fn change_to(self, after: Proportion) -> ProportionChange {
        let difference = self.estimate().zip(after.estimate()).map(|(before, after)| after - before);
        let interval = difference.map_or(Interval::new(-1.0, 1.0), |by| hybrid(self, after, by));
        let p = fisher(self, after);
        let margins = (-SAME_POINTS, SAME_POINTS);
        let verdict = judge(self.of.min(after.of), &interval, 0.0, margins, p);
        ProportionChange { before: self, after, difference, interval, p, verdict }
    }
}

/// A difference that lies within this for certain is none that a rehearsal could see: 15 points. A planning value.
const SAME_POINTS: f64 = 0.15;

fn hybrid(before: Proportion, after: Proportion, difference: f64) -> Interval {
    let ends = |it: Proportion| {
        let interval = it.wilson(CONFIDENCE);
        (it.estimate().unwrap_or(0.0), interval.low, interval.high.unwrap_or(1.0))
    };
    let ((p1, low1, high1), (p2, low2, high2)) = (ends(before), ends(after));
    let down = ((p2 - low2).powi(2) + (high1 - p1).powi(2)).sqrt();
    let up = ((high2 - p2).powi(2) + (p1 - low1).powi(2)).sqrt();
    Interval::new((difference - down).max(-1.0), (difference + up).min(1.0))
}

/// Fisher's exact test, two-sided, of a table of two proportions. R. A. Fisher, The Design of Experiments (1935).
fn fisher(before: Proportion, after: Proportion) -> f64 {
    let (counted, all) = (before.count + after.count, before.of + after.of);
    let lowest = counted.saturating_sub(after.of);
    let highest = counted.min(before.of);
    let whole = ln_binomial(all, counted);
    let log = |count: u64| ln_binomial(before.of, count) + ln_binomial(after.of, counted - count) - whole;
    as_unlikely_as(before.count, lowest..=highest, log)
}

/// The quantile of a beta distribution; nothing when there is no such distribution.
pub(super) fn beta_quantile(a: f64, b: f64, p: f64) -> Option<f64> {
    Beta::new(a, b).ok().map(|beta| beta.inverse_cdf(p.clamp(0.0, 1.0)))
}
