//! Points and ways in the square of a figure: 120 units wide and high, x to the right, y down.

use std::ops::{Add, Mul, Sub};

/// The side of the square.
pub(super) const SIDE: f64 = 120.0;

/// A point, or the way from one to another.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Pt {
    pub(super) x: f64,
    pub(super) y: f64,
}

/// A point by its two numbers.
pub(super) const fn pt(x: f64, y: f64) -> Pt {
    Pt { x, y }
}

impl Add for Pt {
    type Output = Pt;
    fn add(self, other: Pt) -> Pt {
        pt(self.x + other.x, self.y + other.y)
    }
}

impl Sub for Pt {
    type Output = Pt;
    fn sub(self, other: Pt) -> Pt {
        pt(self.x - other.x, self.y - other.y)
    }
}

impl Mul<f64> for Pt {
    type Output = Pt;
    fn mul(self, by: f64) -> Pt {
        pt(self.x * by, self.y * by)
    }
}

impl Pt {
    /// How long the way is.
    pub(super) fn length(self) -> f64 {
        self.x.hypot(self.y)
    }

    /// The same way, one unit long; straight down when it has no length.
    pub(super) fn unit(self) -> Pt {
        let length = self.length();
        if length < 1e-9 { pt(0.0, 1.0) } else { self * (1.0 / length) }
    }

    /// A quarter turn.
    pub(super) fn across(self) -> Pt {
        pt(-self.y, self.x)
    }

    /// The point a share `t` of the way to another.
    pub(super) fn towards(self, other: Pt, t: f64) -> Pt {
        self + (other - self) * t
    }

    /// Turned about a point, in degrees, with the clock as it is seen.
    pub(super) fn turned(self, about: Pt, degrees: f64) -> Pt {
        let (sin, cos) = degrees.to_radians().sin_cos();
        let way = self - about;
        about + pt(way.x * cos - way.y * sin, way.x * sin + way.y * cos)
    }

    /// In the mirror of the square's upright middle.
    pub(super) fn mirrored(self) -> Pt {
        pt(SIDE - self.x, self.y)
    }

    /// The nearest point of the square, so far from its edge.
    pub(super) fn within(self, margin: f64) -> Pt {
        pt(self.x.clamp(margin, SIDE - margin), self.y.clamp(margin, SIDE - margin))
    }

    /// How far one can go this way, a unit, from a point, before the square ends so far from its edge.
    pub(super) fn room(self, from: Pt, margin: f64) -> f64 {
        let along = |at: f64, way: f64| match way {
            _ if way > 1e-9 => (SIDE - margin - at) / way,
            _ if way < -1e-9 => (margin - at) / way,
            _ => f64::INFINITY,
        };
        along(from.x, self.x).min(along(from.y, self.y)).max(0.0)
    }
}
