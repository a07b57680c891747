//! The points between samples, four times as fine: where the peaks of a sound may lie that no sample shows (ITU-R BS.1770,
//! annex 2). Each is a sum of the samples around it, weighed by a sine cardinal in a Hann window.

use std::f64::consts::PI;

/// Points for each sample, the sample itself among them.
pub(super) const FINE: usize = 4;
/// Samples on either side that a point between is made of.
pub(super) const REACH: usize = 12;

/// The weights of the samples around for each of the points between two samples.
#[derive(Clone, Debug)]
pub(super) struct Between([[f32; 2 * REACH]; FINE - 1]);

impl Between {
    /// Computes the weights.
    pub(super) fn new() -> Between {
        let weight = |distance: f64| {
            let window = 0.5 + 0.5 * (PI * distance / (REACH as f64)).cos();
            if distance.abs() < 1e-12 { 1.0 } else { window * (PI * distance).sin() / (PI * distance) }
        };
        let into = |point: usize| (point + 1) as f64 / FINE as f64;
        let nth = |point: usize, step: usize| weight(step as f64 + 1.0 - REACH as f64 - into(point)) as f32;
        Between(std::array::from_fn(|point| std::array::from_fn(|step| nth(point, step))))
    }

    /// The points between the middle two of these [`REACH`] samples on either side.
    pub(super) fn points(&self, around: &[f32]) -> [f32; FINE - 1] {
        self.0.map(|weights| weights.iter().zip(around).map(|(weight, sample)| weight * sample).sum())
    }

    /// No point is higher than the highest sample around it times this.
    pub(super) fn most(&self) -> f32 {
        let sums = self.0.map(|weights| weights.iter().map(|weight| weight.abs()).sum());
        sums.into_iter().fold(1.0, f32::max)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A sine below half of what the rate can carry is known everywhere by its samples (the sampling theorem): at a quarter of
    /// the rate, 45° off, the samples are 3 dB below the peak (EBU Tech 3341, case 16).
    #[test]
    fn the_points_of_a_sine_are_the_sine() {
        let between = Between::new();
        for (hertz, phase) in [(0.25, PI / 4.0), (0.1, 0.3), (1.0 / 6.0, PI / 3.0)] {
            let sine = |at: f64| (2.0 * PI * hertz * at + phase).sin();
            let around: Vec<f32> = (0..2 * REACH).map(|n| sine(n as f64) as f32).collect();
            for (point, found) in (1..).zip(between.points(&around)) {
                let expected = sine(REACH as f64 - 1.0 + f64::from(point) / FINE as f64);
                assert!((f64::from(found) - expected).abs() < 0.01, "{hertz}: {found}, not {expected}");
            }
        }
        assert!((1.5..3.0).contains(&between.most()), "{}", between.most());
    }
}
