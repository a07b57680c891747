//! Sight lines: how wide a gap is seen from a seat, past bodies and whatever stands on the stage. In closed form: a gap is
//! level, so that a line of sight to any point of it is as high at the same part of its way, and what hides it hides one
//! stretch of it, whose ends are tangents, corners or the places where the lines come as low as the top. It is held
//! against shapely in `tests/it/space_vectors.rs`.

use super::nearest::{crossing, part_nearest};
use super::outline::Outline;
use super::plan::{Layout, Seats};
use super::vec2::Vec2;

/// How wide a seat is, metres: 0.5 m at the least, VStättVO of Rhineland-Palatinate, section 14 (1).
pub const SEAT: f64 = 0.5;
/// From row to row, metres: a free passage of 0.45 m at the least (the same), and a seat as deep as that (assumption).
pub const ROW: f64 = 0.9;
/// A block of more places than this is looked at from every second place of every second row, and so on.
const MOST_SEATS: usize = 1_000;
/// What hides less of a gap than this, a hair, hides nothing.
const HAIR: f64 = 1e-9;

/// A gap that is to be hidden, all of it as high above the stage floor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Gap {
    /// The end at the body.
    pub body: Vec2,
    /// The end at the blade, the hand or the foot.
    pub blade: Vec2,
    /// How high, metres.
    pub high: f64,
}

/// Somebody's eyes.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Eye {
    /// Where.
    pub at: Vec2,
    /// How high above the stage floor, metres.
    pub high: f64,
}

/// Something upright that is not seen through, from one height above the stage floor to another.
#[derive(Clone, Copy, Debug)]
pub struct Screen<'s> {
    /// Its shape on the floor.
    pub shape: Shape<'s>,
    /// Where it begins, metres.
    pub low: f64,
    /// Where it ends, metres.
    pub high: f64,
}

/// The shape of a screen on the floor.
#[derive(Clone, Copy, Debug)]
pub enum Shape<'s> {
    /// A body.
    Round {
        /// Its middle.
        middle: Vec2,
        /// Its radius, metres.
        radius: f64,
    },
    /// A wall, furniture, a platform, the stage.
    Outline(&'s Outline),
}

impl Gap {
    /// How long it is, metres.
    pub fn length(&self) -> f64 {
        self.body.distance(self.blade)
    }

    /// Its middle.
    pub fn middle(&self) -> Vec2 {
        self.body.toward(self.blade, 0.5)
    }

    /// How long the part of it is to which nothing stands in the way, metres.
    pub fn shown(&self, eye: Eye, screens: &[Screen<'_>]) -> f64 {
        self.open(eye, screens) * self.length()
    }

    /// How wide that part looks, metres: nothing for who looks along it. The angle is that of the line of sight to its middle.
    pub fn seen(&self, eye: Eye, screens: &[Screen<'_>]) -> f64 {
        let way = self.blade - self.body;
        let Some(unit) = way.unit() else { return 0.0 };
        let look = self.middle() - eye.at;
        let far = look.length().hypot(self.high - eye.high);
        let along = if far > HAIR { unit.dot(look) / far } else { 1.0 };
        let across = (1.0 - along * along).max(0.0).sqrt();
        self.shown(eye, screens) * across
    }

    /// The part of it, 0 to 1, to which nothing stands in the way.
    fn open(&self, eye: Eye, screens: &[Screen<'_>]) -> f64 {
        let lines = Lines { eye: eye.at, gap: *self, middle: self.middle(), half: self.length() / 2.0 };
        let near: Vec<Hiding<'_>> = screens.iter().filter_map(|screen| lines.past(eye, screen)).collect();
        if near.is_empty() {
            return 1.0;
        }
        let mut cuts = vec![0.0, 1.0];
        near.iter().for_each(|hiding| lines.cuts(hiding, &mut cuts));
        cuts.retain(|cut| (0.0..=1.0).contains(cut));
        cuts.sort_by(f64::total_cmp);
        let pieces = cuts.iter().zip(cuts.iter().skip(1)).filter(|(one, other)| *other - *one > HAIR);
        let open = pieces.filter(|(one, other)| !near.iter().any(|it| lines.hides(it, (*one + *other) / 2.0)));
        open.map(|(one, other)| other - one).sum()
    }
}

/// The lines of sight to a gap, on the floor.
struct Lines {
    eye: Vec2,
    gap: Gap,
    /// The gap's middle, and half its length.
    middle: Vec2,
    half: f64,
}

/// True for a point that is nearer to a segment than that. Asked for every body from every seat, so without a root.
fn is_within(p: Vec2, far: f64, (a, b): (Vec2, Vec2)) -> bool {
    let way = p - a.toward(b, part_nearest(p, a, b));
    way.dot(way) < far * far
}

/// A shape, and the part of the way of a line of sight on which it is as high as the line.
struct Hiding<'s> {
    shape: Shape<'s>,
    part: (f64, f64),
}

impl Lines {
    /// What is in the way for no line is nothing.
    fn past<'s>(&self, eye: Eye, screen: &Screen<'s>) -> Option<Hiding<'s>> {
        let rise = self.gap.high - eye.high;
        let at = |high: f64| (high - eye.high) / rise;
        let (from, to) = match () {
            () if rise.abs() > HAIR => (at(screen.low).min(at(screen.high)), at(screen.low).max(at(screen.high))),
            () if screen.low < eye.high && eye.high < screen.high => (0.0, 1.0),
            () => return None,
        };
        let part = (from.max(0.0), to.min(1.0));
        if part.1 - part.0 <= HAIR {
            return None;
        }
        if let Shape::Round { middle, radius } = screen.shape {
            is_within(middle, radius + self.half, (self.eye, self.middle)).then_some(())?;
        }
        Some(Hiding { shape: screen.shape, part })
    }

    /// Where a line of sight is after a part of its way; `on` is the part of the gap that it goes to.
    fn at(&self, on: f64, part: f64) -> Vec2 {
        self.eye.toward(self.gap.body.toward(self.gap.blade, on), part)
    }

    fn hides(&self, hiding: &Hiding<'_>, on: f64) -> bool {
        let (from, to) = (self.at(on, hiding.part.0), self.at(on, hiding.part.1));
        match hiding.shape {
            Shape::Round { middle, radius } => is_within(middle, radius - HAIR, (from, to)),
            Shape::Outline(outline) => {
                outline.contains(from) || outline.contains(to) || outline.crossings(from, to).next().is_some()
            }
        }
    }

    /// Every part of the gap at which it may begin or end to be hidden.
    fn cuts(&self, hiding: &Hiding<'_>, cuts: &mut Vec<f64>) {
        let (first, way) = (self.gap.body - self.eye, self.gap.blade - self.gap.body);
        let parts = [hiding.part.0, hiding.part.1];
        match hiding.shape {
            Shape::Round { middle, radius } => {
                let (to, r2) = (middle - self.eye, radius * radius);
                // Tangents: the distance of the middle from the line is the radius.
                let (a, b) = (first.cross(to), way.cross(to));
                let tangents = (b * b - r2 * way.dot(way), a * b - r2 * first.dot(way), a * a - r2 * first.dot(first));
                roots(tangents, cuts);
                for part in parts.into_iter().filter(|part| *part > HAIR) {
                    let (from, along) = (first * part - to, way * part);
                    roots((along.dot(along), from.dot(along), from.dot(from) - r2), cuts);
                }
            }
            Shape::Outline(outline) => {
                for corner in outline.corners() {
                    let to = *corner - self.eye;
                    let across = way.cross(to);
                    cuts.extend((across.abs() > HAIR).then(|| -first.cross(to) / across));
                }
                for part in parts.into_iter().filter(|part| *part > HAIR) {
                    let line = (self.at(0.0, part), self.at(1.0, part));
                    cuts.extend(outline.sides().filter_map(|side| Some(crossing(line, side)?.0)));
                }
            }
        }
    }
}

/// The roots of a x² + 2 b x + c.
fn roots((a, b, c): (f64, f64, f64), found: &mut Vec<f64>) {
    if a.abs() < 1e-15 {
        found.extend((b.abs() > 1e-15).then(|| -c / (2.0 * b)));
        return;
    }
    let under = b * b - a * c;
    if under >= 0.0 {
        let root = under.sqrt();
        found.extend([(-b - root) / a, (-b + root) / a]);
    }
}

/// Whatever of a stage is not seen through: walls, furniture, platforms, and the stage itself from below.
pub fn things(layout: &Layout) -> impl Iterator<Item = Screen<'_>> {
    let raised = layout.pieces.iter().chain(&layout.levels);
    let raised = raised.map(|it| Screen { shape: Shape::Outline(&it.outline), low: 0.0, high: it.height });
    let floor = Screen { shape: Shape::Outline(&layout.area), low: f64::from(f32::MIN), high: 0.0 };
    raised.chain([floor])
}

/// The places of a block: rows along its longest side, as near as seats may stand, laid from its middle. Every seat that there
/// can be is within half a seat of one; of a block of more than 1,000 places every second, third and so on is taken. The
/// corners stand for a block in which no seat has room.
pub fn places(block: &Seats) -> Vec<Vec2> {
    let corners = block.outline.corners();
    let longest = block.outline.sides().fold((Vec2::default(), 0.0), |best: (Vec2, f64), (a, b)| {
        // As good as as long is not longer: turned seats are the same seats.
        if a.distance(b) > best.1 + 1e-6 { (b - a, a.distance(b)) } else { best }
    });
    let along = longest.0.unit().unwrap_or(Vec2::along(90.0));
    let back = Vec2::new(-along.y, along.x);
    let reach = |way: Vec2| {
        let all = || corners.iter().map(|corner| corner.dot(way));
        (all().fold(f64::INFINITY, f64::min), all().fold(f64::NEG_INFINITY, f64::max))
    };
    let (across, deep) = (reach(along), reach(back));
    let count = |(from, to): (f64, f64), far: f64| ((to - from) / far + 1e-6).floor().max(1.0);
    let many = count(across, SEAT) * count(deep, ROW);
    let every = (many / MOST_SEATS as f64).sqrt().ceil().max(1.0);
    let line = |span: (f64, f64), far: f64| {
        let count = count(span, far);
        let first = (span.0 + span.1 - (count - 1.0) * far) / 2.0;
        (0..count as usize).map(move |at| first + at as f64 * far)
    };
    let places = line(deep, ROW * every).flat_map(|y| line(across, SEAT * every).map(move |x| along * x + back * y));
    let places: Vec<Vec2> = places.filter(|at| block.outline.contains(*at)).collect();
    if places.is_empty() { corners.to_vec() } else { places }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn eye(x: f64, y: f64, high: f64) -> Eye {
        Eye { at: Vec2::new(x, y), high }
    }

    fn body(x: f64, y: f64, high: f64) -> Screen<'static> {
        Screen { shape: Shape::Round { middle: Vec2::new(x, y), radius: 0.25 }, low: 0.0, high }
    }

    /// Closed forms: an open gap across the line of sight, one along it, and one half of which a body hides.
    #[test]
    fn a_gap_is_as_wide_as_it_looks() {
        let across = Gap { body: Vec2::new(-0.1, 5.0), blade: Vec2::new(0.1, 5.0), high: 1.2 };
        assert!((across.seen(eye(0.0, 0.0, 1.2), &[]) - 0.2).abs() < 1e-12);
        // Seen at 45 degrees.
        assert!((across.seen(eye(5.0, 0.0, 1.2), &[]) - 0.2 / 2f64.sqrt()).abs() < 1e-12);
        let along = Gap { body: Vec2::new(0.0, 5.0), blade: Vec2::new(0.0, 5.2), high: 1.2 };
        assert!(along.seen(eye(0.0, 0.0, 1.2), &[]) < 1e-7);
        // The edge of a wall stands before its middle: half of it is left.
        let wall = Outline::rectangle(Vec2::new(0.0, 2.0), Vec2::new(3.0, 2.1)).unwrap();
        let wall = |high: f64| Screen { shape: Shape::Outline(&wall), low: 0.0, high };
        assert!((across.seen(eye(0.0, 0.0, 1.2), &[wall(2.0)]) - 0.1).abs() < 1e-9);
        // From the gallery one looks over it: at its back the line is 4 · (1 - 2.1/5) + 1.2 · 2.1/5 = 2.824 m high.
        assert_eq!(across.seen(eye(0.0, 0.0, 4.0), &[wall(2.8)]), across.seen(eye(0.0, 0.0, 4.0), &[]));
        assert!(across.seen(eye(0.0, 0.0, 4.0), &[wall(2.9)]) < across.seen(eye(0.0, 0.0, 4.0), &[]));
        // A body of 0.5 m at 2.5 m hides all of it; a knee-high one nothing.
        assert!(across.seen(eye(0.0, 0.0, 1.2), &[body(0.0, 2.5, 1.7)]) < 1e-9);
        assert!((across.seen(eye(0.0, 0.0, 1.2), &[body(0.0, 2.5, 0.5)]) - 0.2).abs() < 1e-12);
    }

    /// A tangent, worked out: from far away the shadow of a body is as wide as the body.
    #[test]
    fn a_body_hides_what_lies_behind_it() {
        let gap = Gap { body: Vec2::new(0.0, 5.25), blade: Vec2::new(0.5, 5.25), high: 1.2 };
        let seen = gap.seen(eye(0.0, -1e6, 1.2), &[body(0.0, 5.0, 1.7)]);
        assert!((seen - 0.25).abs() < 1e-5, "{seen}");
    }

    #[test]
    fn seats_stand_in_rows_along_the_longest_side() {
        let block = |corners: &[(f64, f64)]| Seats {
            name: "house".into(),
            outline: Outline::new(corners.iter().map(|(x, y)| Vec2::new(*x, *y)).collect()).unwrap(),
            floor: -1.0,
            eyes: 1.2,
        };
        let house = places(&block(&[(-3.0, -4.0), (3.0, -4.0), (3.0, -1.3), (-3.0, -1.3)]));
        assert_eq!(house.len(), 12 * 3);
        assert!(house.iter().any(|at| at.distance(Vec2::new(-2.75, -3.55)) < 1e-9), "{house:?}");
        let large = places(&block(&[(-100.0, -100.0), (100.0, -100.0), (100.0, -1.0), (-100.0, -1.0)]));
        assert!(large.len() <= 1_100 && large.len() > 500, "{}", large.len());
        // One chair has a place; where none has room the corners are looked from.
        assert_eq!(places(&block(&[(0.0, 0.0), (0.4, 0.0), (0.4, 0.4), (0.0, 0.4)])).len(), 1);
        let bent = [(0.0, 0.0), (0.3, 0.0), (0.3, 0.02), (0.02, 0.02), (0.02, 0.3), (0.0, 0.3)];
        assert_eq!(places(&block(&bent)).len(), bent.len());
    }
}
