//! What a blow sweeps: an outer volume, a part of a disc around the one who strikes, from one height to another. All that
//! the blade or the limb does from its beginning until it is back is in it; the vocabulary says how wide it is.

use super::vec2::Vec2;

/// For how long after its beat a blow still sweeps, and somebody is under or over it, seconds. Assumption.
pub(super) const FOLLOWS: f64 = 0.3;

/// The part of a disc that a blow sweeps. The way to the partner is 0 degrees; with the clock is positive.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Sweep {
    /// The move of the plan that it belongs to.
    pub of_move: usize,
    /// From when to when, seconds from the first beat.
    pub span: (f64, f64),
    /// When it is where it goes.
    pub beat: f64,
    /// How far from the middle of the body, metres.
    pub radius: f64,
    /// How far against the clock and with it, degrees, each 180 at most.
    pub angles: (f64, f64),
    /// From this height above the floor of the one who strikes to that, metres.
    pub heights: (f64, f64),
    /// True when what sweeps is a weapon.
    pub armed: bool,
}

impl Sweep {
    /// How far a point is from what is swept over the floor, metres, when the one who strikes is at `from` and looks along
    /// `bearing`: 0 in it. Closed form: inside the angle by the radius, outside of it by the two straight sides.
    pub fn distance(&self, from: Vec2, bearing: f64, point: Vec2) -> f64 {
        let way = point - from;
        let length = way.length();
        if length < 1e-9 || self.turned(bearing, way.bearing()) {
            return (length - self.radius).max(0.0);
        }
        let side = |angle: f64| {
            let end = from + Vec2::along(bearing + angle) * self.radius;
            super::nearest::point_to_segment(point, from, end)
        };
        side(-self.angles.0).min(side(self.angles.1))
    }

    /// The point of what is swept over the floor that is nearest to a point.
    pub fn nearest(&self, from: Vec2, bearing: f64, point: Vec2) -> Vec2 {
        let way = point - from;
        let length = way.length();
        if length < 1e-9 || self.turned(bearing, way.bearing()) {
            return if length <= self.radius { point } else { from + way * (self.radius / length) };
        }
        let side = |angle: f64| {
            let end = from + Vec2::along(bearing + angle) * self.radius;
            from.toward(end, super::nearest::part_nearest(point, from, end))
        };
        let (one, other) = (side(-self.angles.0), side(self.angles.1));
        if one.distance(point) <= other.distance(point) { one } else { other }
    }

    /// True when a bearing lies within its angle.
    fn turned(&self, bearing: f64, other: f64) -> bool {
        let turn = (other - bearing + 180.0).rem_euclid(360.0) - 180.0;
        -self.angles.0 <= turn && turn <= self.angles.1
    }

    /// Corners of a polygon around what is swept: the arc in pieces of 10 degrees or less, with corners so far out that their
    /// chords leave none of it out.
    pub fn corners(&self, from: Vec2, bearing: f64) -> Vec<Vec2> {
        let wide = self.angles.0 + self.angles.1;
        let pieces = (wide / 10.0).ceil().max(1.0);
        let out = self.radius / (wide / pieces / 2.0).to_radians().cos();
        let rim = (0..=pieces as usize).map(|piece| {
            let angle = -self.angles.0 + wide * piece as f64 / pieces;
            from + Vec2::along(bearing + angle) * out
        });
        std::iter::once(from).chain(rim).collect()
    }

    /// True when what is swept and what is from one height to another overlap, both above the same floor.
    pub fn is_as_high_as(&self, low: f64, high: f64) -> bool {
        self.heights.0 < high && low < self.heights.1
    }
}
