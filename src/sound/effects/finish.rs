//! The last touch of every effect: it begins at once, ends in exact silence, and its highest sample is 1.

/// What is quieter than this part of the highest sample is not missed: -66 dB.
const UNHEARD: f64 = 5e-4;
/// The end is drawn to zero over so many seconds.
const CLOSE: f64 = 0.008;

/// The sound without silence at either end.
pub(super) fn finish(raw: &[f64], rate: u32) -> Vec<f32> {
    let highest = raw.iter().fold(0.0f64, |high, sample| high.max(sample.abs()));
    let heard = |sample: &f64| sample.abs() > UNHEARD * highest;
    let first = raw.iter().position(heard).unwrap_or(0);
    let last = raw.iter().rposition(heard).unwrap_or(0);
    let kept = raw.get(first..=last).unwrap_or_default();
    let close = (CLOSE * f64::from(rate)).ceil();
    let shaped = kept.iter().enumerate().map(|(n, sample)| {
        let left = (kept.len() - 1 - n) as f64;
        (sample / highest * (left / close).min(1.0)) as f32
    });
    shaped.collect()
}
