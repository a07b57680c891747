//! Two bars meet: both ring, each with its own modes, from the place where it was touched; and they bounce.

use super::beam::{Bar, shape};
use super::modal::{Mode, Push, heard_from, ring, touch_spectrum};

/// A blade or a staff in somebody's hands.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Blade {
    /// The bar that it is.
    pub(super) bar: Bar,
    /// Its width across the air that it moves, metres.
    pub(super) width: f64,
    /// Its mass, kilograms: the same blow moves a heavy one less.
    pub(super) mass: f64,
    /// What hilt and hand take of every mode, as a rate, 1/s.
    pub(super) grip: f64,
    /// Where it is touched, 0 at the hilt … 1 at the tip.
    pub(super) touched: f64,
}

/// A meeting of two.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Meeting {
    pub(super) blades: [Blade; 2],
    /// How long one touch lasts, seconds.
    pub(super) touch: f64,
    /// The touches: when, in seconds, and how hard. The first is at 0.
    pub(super) touches: Vec<(f64, f64)>,
    /// How long it may ring, seconds.
    pub(super) length: f64,
}

/// Modes below are moved but not heard.
const LOWEST: f64 = 60.0;
/// Nobody hears higher.
const HIGHEST: f64 = 18_000.0;

impl Blade {
    /// The modes with their roots.
    pub(super) fn modes(&self) -> Vec<(f64, Mode)> {
        let modes = self.bar.modes(LOWEST, HIGHEST).into_iter();
        modes.map(|(root, hertz)| (root, Mode { hertz, fall: self.bar.material.fall(hertz) + self.grip })).collect()
    }

    /// How hard a touch of strength 1 at `place` pushes a mode, as it is heard.
    pub(super) fn push(&self, root: f64, hertz: f64, place: f64, touch: f64) -> f64 {
        let felt = shape(self.bar.ends, root, place) * touch_spectrum(hertz, touch);
        felt * heard_from(hertz, self.width) / self.mass
    }
}

impl Meeting {
    /// Every mode that rings, those of the first blade first.
    pub(super) fn modes(&self) -> Vec<Mode> {
        self.blades.iter().flat_map(Blade::modes).map(|(_, mode)| mode).collect()
    }

    /// The sound.
    pub(super) fn render(&self, rate: u32) -> Vec<f64> {
        let pushes: Vec<Push> = self.touches.iter().map(|&(at, strength)| self.push(at, strength)).collect();
        ring(&self.modes(), &pushes, self.length, rate)
    }

    fn push(&self, at: f64, strength: f64) -> Push {
        let of_blade = |blade: &Blade| {
            let pushed = |(root, mode): (f64, Mode)| strength * blade.push(root, mode.hertz, blade.touched, self.touch);
            blade.modes().into_iter().map(pushed).collect::<Vec<f64>>()
        };
        Push { at, amounts: self.blades.iter().flat_map(of_blade).collect() }
    }
}
