//! One filter for what is air and not metal: a state-variable band-pass whose frequency may move from sample to sample
//! (the trapezoidal form; V. Zavalishin, *The Art of VA Filter Design*).

use std::f64::consts::PI;

/// A band-pass; 1 at its middle.
#[derive(Clone, Debug, Default)]
pub(super) struct BandPass {
    first: f64,
    second: f64,
}

impl BandPass {
    /// The next sample, with the middle at `hertz` and the quality `q`.
    pub(super) fn next(&mut self, input: f64, hertz: f64, q: f64, rate: f64) -> f64 {
        let g = (PI * hertz.clamp(1.0, 0.45 * rate) / rate).tan();
        let k = 1.0 / q;
        let band = (self.first + g * (input - self.second)) / (1.0 + g * (g + k));
        let low = self.second + g * band;
        self.first = 2.0 * band - self.first;
        self.second = 2.0 * low - self.second;
        k * band
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use std::f64::consts::TAU;

    /// Source: the transfer function of a second-order band-pass, |H| = 1 in the middle and 1/√2 where f is such that
    /// Q (f/f0 - f0/f) = 1.
    #[test]
    fn it_passes_its_band() {
        let size = |hertz: f64| {
            let mut filter = BandPass::default();
            let tone = |n: i32| (TAU * hertz * f64::from(n) / 48_000.0).sin();
            let outs = (0..48_000).map(|n| filter.next(tone(n), 1_000.0, 2.0, 48_000.0));
            outs.skip(24_000).fold(0.0f64, |high, s| high.max(s.abs()))
        };
        let edge = 1_000.0 * (0.25 + (1.0 + 0.0625f64).sqrt());
        for (hertz, expected) in [(1_000.0, 1.0), (edge, 0.5f64.sqrt())] {
            assert!((size(hertz) - expected).abs() < 0.01, "{hertz} Hz: {}", size(hertz));
        }
    }
}
