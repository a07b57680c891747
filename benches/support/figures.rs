//! Medians, percentiles and ratios of few samples.

use holdfast::units::Micros;

/// The nearest-rank percentile: the least sample that so great a part of all do not exceed.
pub(crate) fn percentile(samples: &[i64], part: f64) -> i64 {
    let mut sorted = samples.to_vec();
    sorted.sort_unstable();
    let rank = (sorted.len() as f64 * part).ceil() as usize;
    sorted.get(rank.saturating_sub(1)).copied().unwrap_or(0)
}

/// The median of times, microseconds.
pub(crate) fn median(samples: impl IntoIterator<Item = Micros>) -> i64 {
    percentile(&samples.into_iter().map(|micros| micros.0).collect::<Vec<_>>(), 0.5)
}

/// The median of the ratios, round by round.
pub(crate) fn ratio(rounds: &[i64], floor: &[i64]) -> Option<f64> {
    let mut ratios: Vec<f64> =
        rounds.iter().zip(floor).map(|(round, floor)| *round as f64 / (*floor).max(1) as f64).collect();
    ratios.sort_by(f64::total_cmp);
    ratios.get(ratios.len() / 2).copied()
}
