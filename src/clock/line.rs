//! The straight line that the offset most likely follows: how far the server is ahead, and how fast that changes.
//!
//! Each exchange says at its T1 "no more than this" and at its T4 "no less than this". For a skew, the least of the upper
//! limits and the greatest of the lower ones, all brought to one moment, enclose the offset there; the *height* is what
//! they leave. No skew with a negative height is possible, so what is left is the confidence in the skew.
//!
//! Which of the possible skews is likely follows from the jitter. If both legs are a constant and an exponential tail,
//! the likelihood of a skew, over all constants and scales, goes with the mean excess of a round trip over the height,
//! to the power of minus twice the number of exchanges: the skew at which the limits stand furthest apart is the most
//! likely one. (The same reasoning makes the minimum the best estimate of a shift under such a tail: David and Nagaraja,
//! Order Statistics, from memory.) The line is the mean over that likelihood; the offset for each skew is the middle.
//!
//! Everything here is additions, subtractions, multiplications, divisions and comparisons of doubles in a given order,
//! so that the pages' twin (`clients/core/line.ts`) agrees to the last bit.

use crate::rules::{MOST_SKEW, SKEW_STEPS, SKEWS_LEFT_OUT, USUAL_SKEW};

/// What one exchange says of the offset, relative to the moment and the base that the caller has chosen; all µs.
#[derive(Clone, Copy, Debug)]
pub(super) struct Limits {
    /// How long before that moment the question went out.
    pub(super) asked: f64,
    /// The offset was no more than this then.
    pub(super) most: f64,
    /// How long before that moment the answer came.
    pub(super) returned: f64,
    /// The offset was no less than this then.
    pub(super) least: f64,
}

/// Where the offset is at the caller's moment, and how it moves.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Line {
    /// The offset, µs above the base.
    pub(super) offset: f64,
    /// Its change, µs per µs.
    pub(super) skew: f64,
    /// The smallest skew that fits.
    pub(super) least_skew: f64,
    /// The greatest skew that fits.
    pub(super) most_skew: f64,
    /// How much longer a round trip takes in the middle than the fastest ways together, µs.
    pub(super) excess: f64,
}

impl Line {
    /// The line through limits in the order of their answers. When no line fits all of them, the rate has changed, and
    /// the older half is left out until one does.
    pub(super) fn through(limits: &[Limits]) -> Option<Line> {
        let mut newest = limits;
        while !newest.is_empty() {
            if let Some(line) = Corridor::of(newest).line() {
                return Some(line);
            }
            newest = newest.get(newest.len().div_ceil(2)..).unwrap_or_default();
        }
        None
    }
}

/// A straight line over the skew: `value + slope × skew`.
#[derive(Clone, Copy, Debug)]
struct Straight {
    slope: f64,
    value: f64,
}

impl Straight {
    fn at(self, skew: f64) -> f64 {
        self.value + self.slope * skew
    }
}

/// The least of many straight lines: only those that are the least somewhere, steepest first, with the skews at which
/// one gives way to the next.
struct Least {
    lines: Vec<Straight>,
    cuts: Vec<f64>,
}

impl Least {
    fn of(mut all: Vec<Straight>) -> Least {
        all.sort_by(|one, other| other.slope.total_cmp(&one.slope).then(one.value.total_cmp(&other.value)));
        let mut lines: Vec<Straight> = Vec::new();
        for line in all {
            if lines.last().is_some_and(|last| last.slope == line.slope) {
                continue;
            }
            while let [.., before, last] = lines.as_slice()
                && (line.value - before.value) * (before.slope - last.slope)
                    <= (last.value - before.value) * (before.slope - line.slope)
            {
                lines.pop();
            }
            lines.push(line);
        }
        let cut = |pair: &[Straight]| match pair {
            [one, other] => (other.value - one.value) / (one.slope - other.slope),
            _ => 0.0,
        };
        let cuts = lines.windows(2).map(cut).collect();
        Least { lines, cuts }
    }

    fn at(&self, skew: f64) -> f64 {
        self.lines.iter().map(|line| line.at(skew)).fold(f64::INFINITY, f64::min)
    }
}

/// What the limits leave, skew by skew.
struct Corridor {
    /// The most that the offset can be.
    most: Least,
    /// The least that it can be, negated.
    least: Least,
    /// The mean of upper less lower limits over all exchanges: the mean round trip.
    mean: Straight,
    exchanges: u32,
}

/// The corridor at one skew.
#[derive(Clone, Copy)]
struct Edge {
    skew: f64,
    /// Upper less lower limit, µs.
    height: f64,
    /// Between the two, µs.
    middle: f64,
    /// The mean round trip less the height, and a little, µs: the less, the likelier.
    excess: f64,
}

impl Corridor {
    fn of(limits: &[Limits]) -> Corridor {
        let most = limits.iter().map(|each| Straight { slope: each.asked, value: each.most });
        let least = limits.iter().map(|each| Straight { slope: -each.returned, value: -each.least });
        let mut sum = Straight { slope: 0.0, value: 0.0 };
        for each in limits {
            sum.value += each.most - each.least;
            sum.slope += each.asked - each.returned;
        }
        let exchanges = u32::try_from(limits.len()).unwrap_or(u32::MAX);
        let count = f64::from(exchanges);
        Corridor {
            most: Least::of(most.collect()),
            least: Least::of(least.collect()),
            mean: Straight { slope: sum.slope / count, value: sum.value / count },
            exchanges,
        }
    }

    fn at(&self, skew: f64) -> Edge {
        let (most, least) = (self.most.at(skew), -self.least.at(skew));
        let height = most - least;
        // Readings are whole microseconds: no excess is known better than that.
        let excess = self.mean.at(skew) - height + 1.0;
        Edge { skew, height, middle: (most + least) / 2.0, excess }
    }

    /// The mean line; nothing when no skew is possible.
    fn line(&self) -> Option<Line> {
        let edges = self.edges(MOST_SKEW);
        let peak = likeliest(&edges)?;
        let usual = self.edges(USUAL_SKEW);
        let cut = SKEWS_LEFT_OUT / 2.0 / f64::from(self.exchanges);
        let level = |peak: Edge| peak.excess + peak.excess * cut;
        let (edges, peak) = match likeliest(&usual) {
            Some(best) if best.excess <= level(peak) => (usual, best),
            _ => (edges, peak),
        };
        let likely = span(&edges, |edge| level(peak) - edge.excess)?;
        let possible = span(&edges, |edge| edge.height)?;
        Some(self.mean_line(likely, possible, peak))
    }

    fn mean_line(&self, (from, to): (f64, f64), (least_skew, most_skew): (f64, f64), peak: Edge) -> Line {
        let (mut weights, mut skews, mut offsets) = (0.0, 0.0, 0.0);
        for step in 0..=SKEW_STEPS {
            let edge = self.at(from + (to - from) * f64::from(step) / f64::from(SKEW_STEPS));
            let end = if step == 0 || step == SKEW_STEPS { 0.5 } else { 1.0 };
            let weight = end * power(peak.excess / edge.excess, 2 * self.exchanges);
            weights += weight;
            skews += weight * edge.skew;
            offsets += weight * edge.middle;
        }
        Line { offset: offsets / weights, skew: skews / weights, least_skew, most_skew, excess: peak.excess }
    }

    /// The corridor at both reaches and wherever a limit gives way to another between them, in order.
    fn edges(&self, reach: f64) -> Vec<Edge> {
        let both = self.most.cuts.iter().chain(&self.least.cuts).copied();
        let mut cuts: Vec<f64> = both.filter(|cut| -reach < *cut && *cut < reach).collect();
        cuts.extend([-reach, reach]);
        cuts.sort_by(f64::total_cmp);
        cuts.into_iter().map(|cut| self.at(cut)).collect()
    }
}

/// The possible edge with the least excess.
fn likeliest(edges: &[Edge]) -> Option<Edge> {
    edges.iter().copied().filter(|edge| edge.height >= 0.0).reduce(
        |best, edge| {
            if edge.excess < best.excess { edge } else { best }
        },
    )
}

/// The first and the last skew at which `over`, straight between edges and bulging upwards, is not negative.
fn span(edges: &[Edge], over: impl Fn(Edge) -> f64) -> Option<(f64, f64)> {
    let crossing =
        |out: Edge, inside: Edge| out.skew + (inside.skew - out.skew) * (over(out) / (over(out) - over(inside)));
    let (mut first, mut last) = (None, None);
    let mut before: Option<Edge> = None;
    for &edge in edges {
        if over(edge) >= 0.0 {
            first = first.or(Some(before.map_or(edge.skew, |before| crossing(before, edge))));
            last = Some(edge.skew);
        } else if let Some(inside) = before.filter(|before| over(*before) >= 0.0) {
            last = Some(crossing(edge, inside));
        }
        before = Some(edge);
    }
    first.zip(last)
}

/// `base` to the power of a whole number, by squaring.
fn power(base: f64, mut exponent: u32) -> f64 {
    let (mut result, mut square) = (1.0, base);
    while exponent > 0 {
        if exponent % 2 == 1 {
            result *= square;
        }
        square *= square;
        exponent /= 2;
    }
    result
}

#[cfg(test)]
mod tests {
    use super::*;

    fn limits(age: f64, least: f64, most: f64) -> Limits {
        Limits { asked: age, most, returned: age, least }
    }

    #[test]
    fn one_exchange_leaves_its_middle_and_no_skew() {
        let line = Line::through(&[limits(0.0, -300.0, 500.0)]).unwrap();
        assert!((line.offset - 100.0).abs() < 1e-9 && line.skew.abs() < 1e-12, "{line:?}");
        assert_eq!((line.least_skew, line.most_skew), (-USUAL_SKEW, USUAL_SKEW));
    }

    /// Three exact readings on a line of 40 ppm, each known to ±1 µs, 10 s apart: 20 s hold the skew to 0.1 ppm.
    #[test]
    fn exact_readings_give_the_skew_and_its_confidence() {
        let on = |age: f64| limits(age, 700.0 - 40e-6 * age - 1.0, 700.0 - 40e-6 * age + 1.0);
        let line = Line::through(&[on(20e6), on(10e6), on(0.0)]).unwrap();
        assert!((line.offset - 700.0).abs() < 1e-6, "{line:?}");
        assert!((line.skew - 40e-6).abs() < 1e-12, "{line:?}");
        assert!((line.most_skew - line.least_skew - 0.2e-6).abs() < 1e-12, "{line:?}");
    }

    #[test]
    fn an_unusual_skew_is_found_when_no_usual_one_fits() {
        let on = |age: f64| limits(age, -400e-6 * age - 10.0, -400e-6 * age + 10.0);
        let line = Line::through(&[on(10e6), on(5e6), on(0.0)]).unwrap();
        assert!((line.skew - 400e-6).abs() < 2e-6, "{line:?}");
    }

    #[test]
    fn what_no_line_explains_is_left_out_from_the_older_end() {
        let line =
            Line::through(&[limits(3e6, 90_000.0, 90_010.0), limits(1e6, 0.0, 10.0), limits(0.0, 0.0, 10.0)]).unwrap();
        assert!((line.offset - 5.0).abs() < 1e-6, "{line:?}");
    }
}
