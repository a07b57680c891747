//! The boards of a stage: a sheet of plywood on a frame, 2.4 m by 1.2 m by 22 mm, supported at its edges.
//!
//! Its modes lie at f = π/2 · √(D/(ρh)) · (m²/a² + n²/b²) with D = E h³ / (12 (1 - ν²)) (the plate of Kirchhoff with
//! supported edges, as in any text on vibration). E = 9 GPa, ρ = 600 kg/m³ and a loss factor of 0.05 for boards on their
//! frame are from memory.

use std::f64::consts::PI;

use super::modal::{Mode, Push, touch_spectrum};

const LENGTH: f64 = 2.4;
const WIDTH: f64 = 1.2;
const THICKNESS: f64 = 0.022;
const YOUNGS: f64 = 9e9;
const POISSON: f64 = 0.3;
const DENSITY: f64 = 600.0;
const LOSS: f64 = 0.05;

/// The boards, with their modes up to some frequency.
pub(super) struct Deck {
    modes: Vec<(u32, u32, Mode)>,
}

impl Deck {
    /// The boards.
    pub(super) fn new(highest: f64) -> Deck {
        let mut modes = Vec::new();
        for m in 1..40 {
            for n in 1..20 {
                let hertz = frequency(m, n);
                if hertz <= highest {
                    modes.push((m, n, Mode { hertz, fall: PI * hertz * LOSS + 4.0 }));
                }
            }
        }
        Deck { modes }
    }

    /// The modes.
    pub(super) fn modes(&self) -> Vec<Mode> {
        self.modes.iter().map(|(.., mode)| *mode).collect()
    }

    /// A blow of `strength` that lasts `touch` seconds, at a place given by its parts of length and width.
    pub(super) fn push(&self, at: f64, place: (f64, f64), touch: f64, strength: f64) -> Push {
        let amount = |(m, n, mode): &(u32, u32, Mode)| {
            let shape = (PI * f64::from(*m) * place.0).sin() * (PI * f64::from(*n) * place.1).sin();
            // A sheet is heard by how fast it is moved; the lowest modes move air from one side to the other.
            strength * shape * touch_spectrum(mode.hertz, touch) * (mode.hertz / 120.0).min(1.0)
        };
        Push { at, amounts: self.modes.iter().map(amount).collect() }
    }
}

fn frequency(m: u32, n: u32) -> f64 {
    let stiffness = YOUNGS * THICKNESS.powi(3) / (12.0 * (1.0 - POISSON * POISSON));
    let (m, n) = (f64::from(m), f64::from(n));
    PI / 2.0 * (stiffness / (DENSITY * THICKNESS)).sqrt() * ((m / LENGTH).powi(2) + (n / WIDTH).powi(2))
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: the formula, worked by hand for these boards; and of a sheet twice as long as wide the modes (4, 1) and
    /// (2, 2) are one.
    #[test]
    fn the_boards_have_the_modes_of_a_plate() {
        assert!((frequency(1, 1) - 35.2).abs() < 0.2, "{}", frequency(1, 1));
        assert!((frequency(4, 1) - frequency(2, 2)).abs() < 1e-9);
        assert!((frequency(2, 1) / frequency(1, 1) - 8.0 / 5.0).abs() < 1e-12);
    }
}
