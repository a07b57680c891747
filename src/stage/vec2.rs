//! A place or a way on the floor, in metres: `x` to audience right, `y` upstage from the setting line.

use std::ops::{Add, Mul, Neg, Sub};

use crate::score::model::Point;

/// A place or a way on the floor, metres.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Vec2 {
    /// To audience right.
    pub x: f64,
    /// Upstage.
    pub y: f64,
}

impl Vec2 {
    /// A place or a way by its two parts.
    pub const fn new(x: f64, y: f64) -> Vec2 {
        Vec2 { x, y }
    }

    /// One metre along a bearing in degrees: 0 is upstage, 90 audience right.
    pub fn along(bearing: f64) -> Vec2 {
        let (sin, cos) = bearing.to_radians().sin_cos();
        Vec2::new(sin, cos)
    }

    /// The bearing in degrees, from 0 to 360; 0 for no way at all.
    pub fn bearing(self) -> f64 {
        self.x.atan2(self.y).to_degrees().rem_euclid(360.0)
    }

    /// The inner product.
    pub fn dot(self, other: Vec2) -> f64 {
        self.x * other.x + self.y * other.y
    }

    /// The outer product: positive when `other` is turned against the clock from this.
    pub fn cross(self, other: Vec2) -> f64 {
        self.x * other.y - self.y * other.x
    }

    /// The length.
    pub fn length(self) -> f64 {
        self.x.hypot(self.y)
    }

    /// The distance to another place.
    pub fn distance(self, other: Vec2) -> f64 {
        (self - other).length()
    }

    /// The way of one metre in this direction; nothing for no way at all.
    pub fn unit(self) -> Option<Vec2> {
        let length = self.length();
        (length > 1e-9).then(|| self * (1.0 / length))
    }

    /// The place that is so much of the way to another one.
    pub fn toward(self, other: Vec2, part: f64) -> Vec2 {
        self + (other - self) * part
    }

    /// True when both parts are numbers.
    pub fn is_finite(self) -> bool {
        self.x.is_finite() && self.y.is_finite()
    }
}

impl From<Point> for Vec2 {
    fn from(point: Point) -> Vec2 {
        Vec2::new(point.x.0, point.y.0)
    }
}

impl Add for Vec2 {
    type Output = Vec2;
    fn add(self, other: Vec2) -> Vec2 {
        Vec2::new(self.x + other.x, self.y + other.y)
    }
}

impl Sub for Vec2 {
    type Output = Vec2;
    fn sub(self, other: Vec2) -> Vec2 {
        Vec2::new(self.x - other.x, self.y - other.y)
    }
}

impl Mul<f64> for Vec2 {
    type Output = Vec2;
    fn mul(self, by: f64) -> Vec2 {
        Vec2::new(self.x * by, self.y * by)
    }
}

impl Neg for Vec2 {
    type Output = Vec2;
    fn neg(self) -> Vec2 {
        Vec2::new(-self.x, -self.y)
    }
}
