//! Bars that bend: the frequencies and the shapes of their modes, by the beam theory of Euler and Bernoulli.
//!
//! Source: W. T. Thomson, *Theory of Vibration with Applications*, appendix D and table 9.5-1. With free ends the modes
//! are where cos βL · cosh βL = +1, held at one end where it is -1; a mode's frequency is (βL)² κ c / (2π L²), with κ
//! the radius of gyration of the section and c = √(E/ρ) the speed of sound along the bar. Taper, shear and the inertia
//! of rotation are left out: they would bend the highest modes down by some percent.

use std::f64::consts::{PI, TAU};

use super::material::Material;

/// How a bar is held.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Ends {
    /// Both ends are free.
    Free,
    /// The end at 0 is clamped, the other is free.
    Held,
}

/// A bar of one section from end to end.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Bar {
    /// How it is held.
    pub ends: Ends,
    /// Its length, metres.
    pub length: f64,
    /// The radius of gyration of its section in the direction in which it bends, metres: thickness / √12 for a
    /// rectangle, diameter / 4 for a rod.
    pub gyration: f64,
    /// What it is made of.
    pub material: Material,
}

impl Bar {
    /// The frequency of the mode with this root βL, hertz.
    pub fn hertz(&self, root: f64) -> f64 {
        root.powi(2) * self.gyration * self.material.speed() / (TAU * self.length.powi(2))
    }

    /// The roots and frequencies of every mode between two frequencies, from the lowest.
    pub fn modes(&self, from: f64, to: f64) -> Vec<(f64, f64)> {
        let all = (1..).map(|number| root(self.ends, number)).map(|root| (root, self.hertz(root)));
        all.skip_while(|(_, hertz)| *hertz < from).take_while(|(_, hertz)| *hertz <= to).collect()
    }
}

/// The root βL of mode `number`, counted from 1. Solved by halving an interval, to the last bit.
pub fn root(ends: Ends, number: u32) -> f64 {
    // Divided by cosh, so that nothing overflows: cos x = ±1/cosh x.
    let (sign, middle) = match ends {
        Ends::Free => (1.0, (f64::from(number) + 0.5) * PI),
        Ends::Held => (-1.0, (f64::from(number) - 0.5) * PI),
    };
    let off = |x: f64| x.cos() - sign / x.cosh();
    // The asymptote is never farther from the root than that of the first held mode: 1.571 from 1.875.
    let (mut low, mut high) = (middle - 0.5, middle + 0.5);
    let rising = off(high) > 0.0;
    for _ in 0..64 {
        let half = 0.5 * (low + high);
        if (off(half) > 0.0) == rising {
            high = half;
        } else {
            low = half;
        }
    }
    0.5 * (low + high)
}

/// How far the bar moves at `place` (0 … 1 of its length) in the mode with this root. The mean square along the bar
/// is 1, so a free end moves by 2.
pub fn shape(ends: Ends, root: f64, place: f64) -> f64 {
    let z = root * place.clamp(0.0, 1.0);
    // Written with falling exponentials only: the cosh and sinh of the books lose every digit at high modes.
    let fade = (-root).exp();
    let (sine, cosine) = root.sin_cos();
    let far = match ends {
        Ends::Free => (cosine - sine - fade) / (1.0 - fade * fade - 2.0 * fade * sine),
        Ends::Held => (cosine + sine + fade) / (1.0 + fade * fade + 2.0 * fade * cosine),
    };
    let alpha = 1.0 - 2.0 * fade * far;
    let bending = (z - root).exp() * far + 0.5 * (1.0 + alpha) * (-z).exp();
    match ends {
        Ends::Free => bending + z.cos() - alpha * z.sin(),
        Ends::Held => bending - z.cos() + alpha * z.sin(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sound::effects::material::STEEL;

    /// Source: Thomson, appendix D and table 9.5-1; ten decimals recomputed with scipy's brentq.
    #[test]
    fn the_roots_are_those_of_the_textbook() {
        let free = [4.7300407449, 7.8532046241, 10.9956078380, 14.1371654913, 17.2787596574];
        let held = [1.8751040687, 4.6940911330, 7.8547574382, 10.9955407349, 14.1371683910];
        for (ends, table) in [(Ends::Free, free), (Ends::Held, held)] {
            for (number, expected) in (1..).zip(table) {
                let found = root(ends, number);
                assert!((found - expected).abs() < 6e-11, "{ends:?} {number}: {found}");
            }
        }
        assert!((root(Ends::Free, 40) - 40.5 * PI).abs() < 1e-12, "the asymptote");
    }

    /// Source: the same tables, worked for a steel bar of 0.9 m by 5 mm.
    #[test]
    fn a_worked_bar_has_the_frequencies_of_the_tables() {
        let material = Material { youngs: 200e9, density: 7_850.0, ..STEEL };
        let bar = |ends| Bar { ends, length: 0.9, gyration: 0.005 / 12f64.sqrt(), material };
        assert!((material.speed() - 5_047.54).abs() < 0.01);
        let free = [32.0276, 88.2853, 173.0745, 286.1010];
        let held = [5.0332, 31.5426, 88.3202, 173.0724];
        for (ends, table) in [(Ends::Free, free), (Ends::Held, held)] {
            for ((_, found), expected) in bar(ends).modes(0.0, 300.0).into_iter().zip(table) {
                assert!((found - expected).abs() < 1e-4, "{found} for {expected}");
            }
        }
    }

    /// Scaling laws of the same formula: f ~ 1/L² and f ~ thickness.
    #[test]
    fn half_the_length_is_four_times_the_frequency() {
        let bar = Bar { ends: Ends::Free, length: 1.0, gyration: 0.001, material: STEEL };
        let root = root(Ends::Free, 3);
        assert!((Bar { length: 0.5, ..bar }.hertz(root) / bar.hertz(root) - 4.0).abs() < 1e-12);
        assert!((Bar { gyration: 0.003, ..bar }.hertz(root) / bar.hertz(root) - 3.0).abs() < 1e-12);
    }

    /// Source: Thomson, section on orthogonality of the modes; the nodes of the first free mode at 0.2241575 L and
    /// 0.7758425 L are recomputed.
    #[test]
    fn shapes_are_orthogonal_of_mean_square_one_and_stay_finite() {
        let steps = 20_000;
        for ends in [Ends::Free, Ends::Held] {
            for (a, b) in [(1, 1), (2, 2), (7, 7), (30, 30), (1, 2), (1, 3), (4, 9), (29, 30)] {
                let product = |n: u32| {
                    let place = (f64::from(n) + 0.5) / f64::from(steps);
                    shape(ends, root(ends, a), place) * shape(ends, root(ends, b), place)
                };
                let mean = (0..steps).map(product).sum::<f64>() / f64::from(steps);
                let expected = if a == b { 1.0 } else { 0.0 };
                assert!((mean - expected).abs() < 1e-4, "{ends:?} {a} {b}: {mean}");
            }
        }
        for node in [0.224_157_5, 0.775_842_5] {
            assert!(shape(Ends::Free, root(Ends::Free, 1), node).abs() < 1e-6);
        }
        assert!((shape(Ends::Free, root(Ends::Free, 60), 1.0).abs() - 2.0).abs() < 1e-9);
        assert!(shape(Ends::Held, root(Ends::Held, 60), 0.0).abs() < 1e-9);
    }
}
