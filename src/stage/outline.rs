//! An outline on the floor: a polygon that does not cross itself, with the questions that are asked of it.

use super::nearest::{crossing, part_nearest, point_to_segment, segment_to_segment};
use super::vec2::Vec2;

/// A polygon on the floor. It has three corners at least and does not cross itself.
#[derive(Clone, Debug, PartialEq)]
pub struct Outline {
    corners: Vec<Vec2>,
    middle: Vec2,
    radius: f64,
}

/// Why corners are no outline, as a sentence goes on: `has …`.
type Unsound = String;

impl Outline {
    /// The outline with these corners, in order round it either way.
    ///
    /// # Errors
    /// Fewer than three corners, one twice in a row, no area, or two sides that cross.
    pub fn new(corners: Vec<Vec2>) -> Result<Outline, Unsound> {
        if corners.len() < 3 {
            return Err(format!("has {} corners; an outline needs three at least", corners.len()));
        }
        let sides: Vec<(Vec2, Vec2)> = sides(&corners).collect();
        if let Some(at) = sides.iter().position(|(a, b)| a.distance(*b) < 1e-6) {
            return Err(format!("has corner {} twice in a row", at + 1));
        }
        let Some((first, second)) = sides.first().copied() else { return Err("has no corners".to_owned()) };
        if corners.iter().all(|corner| (second - first).cross(*corner - first).abs() < 1e-6) {
            return Err("has no area: all its corners lie on one line".to_owned());
        }
        if let Some((one, other)) = crossed(&sides) {
            return Err(format!(
                "crosses itself: the side from corner {} and the side from corner {} meet; write the corners in order, going round",
                one + 1,
                other + 1
            ));
        }
        let count = corners.len() as f64;
        let middle = corners.iter().fold(Vec2::default(), |sum, corner| sum + *corner) * (1.0 / count);
        let radius = corners.iter().map(|corner| corner.distance(middle)).fold(0.0, f64::max);
        Ok(Outline { corners, middle, radius })
    }

    /// A rectangle between two corners; nothing without an area.
    pub fn rectangle(one: Vec2, other: Vec2) -> Option<Outline> {
        Outline::new(vec![one, Vec2::new(other.x, one.y), other, Vec2::new(one.x, other.y)]).ok()
    }

    /// Its corners, in order round it.
    pub fn corners(&self) -> &[Vec2] {
        &self.corners
    }

    /// Its sides, in order round it.
    pub fn sides(&self) -> impl Iterator<Item = (Vec2, Vec2)> {
        sides(&self.corners)
    }

    /// True for a point inside or on a side.
    pub fn contains(&self, p: Vec2) -> bool {
        if p.distance(self.middle) > self.radius + 1e-9 {
            return false;
        }
        let odd = self.sides().filter(|(a, b)| {
            let between = (a.y > p.y) != (b.y > p.y);
            between && p.x < a.x + (p.y - a.y) / (b.y - a.y) * (b.x - a.x)
        });
        odd.count() % 2 == 1 || self.rim(p) < 1e-9
    }

    /// The distance of a point to the nearest side, metres.
    pub fn rim(&self, p: Vec2) -> f64 {
        self.sides().map(|(a, b)| point_to_segment(p, a, b)).fold(f64::INFINITY, f64::min)
    }

    /// The distance of a point to the outline, metres: 0 inside.
    pub fn distance(&self, p: Vec2) -> f64 {
        if self.contains(p) { 0.0 } else { self.rim(p) }
    }

    /// At most the distance of a point to the outline: that to the circle around it. Quick.
    pub fn distance_at_least(&self, p: Vec2) -> f64 {
        p.distance(self.middle) - self.radius
    }

    /// The distance of another polygon, of which any corners are given, to this one: 0 where they overlap.
    pub fn distance_of(&self, corners: &[Vec2]) -> f64 {
        let within = corners.iter().any(|corner| self.contains(*corner));
        let around = || self.corners.first().is_some_and(|own| is_inside(corners, *own));
        if within || around() {
            return 0.0;
        }
        let pairs = self.sides().flat_map(|own| sides(corners).map(move |other| segment_to_segment(own, other)));
        pairs.fold(f64::INFINITY, f64::min)
    }

    /// The point on its sides that is nearest to a point.
    pub fn nearest_on_rim(&self, p: Vec2) -> Vec2 {
        let on = self.sides().map(|(a, b)| a.toward(b, part_nearest(p, a, b)));
        on.min_by(|one, other| one.distance(p).total_cmp(&other.distance(p))).unwrap_or(p)
    }

    /// Where a straight way crosses its sides, as parts of the way.
    pub fn crossings(&self, from: Vec2, to: Vec2) -> impl Iterator<Item = f64> {
        self.sides().filter_map(move |side| crossing((from, to), side).map(|(part, _)| part))
    }
}

fn sides(corners: &[Vec2]) -> impl Iterator<Item = (Vec2, Vec2)> {
    corners.iter().copied().zip(corners.iter().copied().cycle().skip(1))
}

fn is_inside(corners: &[Vec2], p: Vec2) -> bool {
    let crosses =
        |(a, b): &(Vec2, Vec2)| (a.y > p.y) != (b.y > p.y) && p.x < a.x + (p.y - a.y) / (b.y - a.y) * (b.x - a.x);
    sides(corners).filter(crosses).count() % 2 == 1
}

/// Two sides that meet and are not neighbours, or neighbours that lie on each other.
fn crossed(sides: &[(Vec2, Vec2)]) -> Option<(usize, usize)> {
    let count = sides.len();
    for (at, one) in sides.iter().enumerate() {
        for (other_at, other) in sides.iter().enumerate().skip(at + 1) {
            let next = other_at == at + 1 || (at == 0 && other_at + 1 == count);
            let folds = || {
                let (before, after) = if other_at == at + 1 { (one, other) } else { (other, one) };
                let (back, on) = (before.0 - before.1, after.1 - after.0);
                back.cross(on).abs() < 1e-12 && back.dot(on) > 0.0
            };
            if (next && folds()) || (!next && segment_to_segment(*one, *other) < 1e-9) {
                return Some((at, other_at));
            }
        }
    }
    None
}
