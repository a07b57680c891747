//! How near two things come: closed forms for points and segments, and, where there is none, a bound that cannot miss a
//! minimum. The forms are those of any textbook of computational geometry: a squared distance is a quadratic, least where its
//! derivative is nothing or at an end (segments in space: Ericson, Real-Time Collision Detection, section 5.1.9, from
//! memory). They are held against shapely and scipy in `tests/it/space_vectors.rs`.

use super::vec2::Vec2;

/// The part of the way from `a` to `b`, from 0 to 1, that is nearest to `p`.
pub fn part_nearest(p: Vec2, a: Vec2, b: Vec2) -> f64 {
    let way = b - a;
    let squared = way.dot(way);
    if squared <= 0.0 { 0.0 } else { ((p - a).dot(way) / squared).clamp(0.0, 1.0) }
}

/// The distance from a point to a segment, metres.
pub fn point_to_segment(p: Vec2, a: Vec2, b: Vec2) -> f64 {
    p.distance(a.toward(b, part_nearest(p, a, b)))
}

/// Where two segments cross, as parts of the one and the other; nothing for those that do not, and for parallel ones.
pub fn crossing((a, b): (Vec2, Vec2), (c, d): (Vec2, Vec2)) -> Option<(f64, f64)> {
    let (one, other, between) = (b - a, d - c, c - a);
    let across = one.cross(other);
    if across.abs() < 1e-12 {
        return None;
    }
    let (part, other_part) = (between.cross(other) / across, between.cross(one) / across);
    let inside = |part: f64| (0.0..=1.0).contains(&part);
    (inside(part) && inside(other_part)).then_some((part, other_part))
}

/// The distance between two segments on the floor, metres.
pub fn segment_to_segment(one: (Vec2, Vec2), other: (Vec2, Vec2)) -> f64 {
    if crossing(one, other).is_some() {
        return 0.0;
    }
    let ends = [
        point_to_segment(one.0, other.0, other.1),
        point_to_segment(one.1, other.0, other.1),
        point_to_segment(other.0, one.0, one.1),
        point_to_segment(other.1, one.0, one.1),
    ];
    ends.into_iter().fold(f64::INFINITY, f64::min)
}

/// A place in space, metres: to audience right, upstage, up.
pub type Vec3 = [f64; 3];

/// The distance between two segments in space, metres.
pub fn segments_in_space((a, b): (Vec3, Vec3), (c, d): (Vec3, Vec3)) -> f64 {
    let (one, other, between) = (less(b, a), less(d, c), less(a, c));
    let (e, f) = (dot(one, one), dot(other, other));
    let (g, h, k) = (dot(one, other), dot(one, between), dot(other, between));
    // Along the first: where the two lines are nearest; along the second: nearest to that; then the first again.
    let across = e * f - g * g;
    let first = if across > 1e-12 { ((g * k - h * f) / across).clamp(0.0, 1.0) } else { 0.0 };
    let second = if f > 1e-12 { ((g * first + k) / f).clamp(0.0, 1.0) } else { 0.0 };
    let first = if e > 1e-12 { ((g * second - h) / e).clamp(0.0, 1.0) } else { 0.0 };
    let apart = less(on(a, one, first), on(c, other, second));
    dot(apart, apart).sqrt()
}

fn less(a: Vec3, b: Vec3) -> Vec3 {
    [a[0] - b[0], a[1] - b[1], a[2] - b[2]]
}

fn dot(a: Vec3, b: Vec3) -> f64 {
    a[0] * b[0] + a[1] * b[1] + a[2] * b[2]
}

fn on(from: Vec3, way: Vec3, part: f64) -> Vec3 {
    [from[0] + way[0] * part, from[1] + way[1] * part, from[2] + way[2] * part]
}

/// Something that is least at a time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Least {
    /// How little.
    pub value: f64,
    /// When, seconds.
    pub at: f64,
}

/// How near a point comes to the origin that is at `from` at time `begin` and goes straight to `to` until `end`: the squared
/// distance is a quadratic in time, least where (from + v t) · v = 0.
pub fn passing(from: Vec2, to: Vec2, begin: f64, end: f64) -> Least {
    let part = part_nearest(Vec2::default(), from, to);
    Least { value: from.toward(to, part).length(), at: begin + (end - begin) * part }
}

/// After so many looks a least distance is bounded, not found: people who walk, and blades, never need a tenth of them.
const MOST_LOOKS: u32 = 20_000;

/// Where a quantity that is never below nothing falls below `limit` between two times: a bound on its least value, at most `tolerance` below it and never
/// above, and when. Nothing when it stays at `limit` or above throughout. `rate` bounds how fast it changes, in its unit
/// per second: between two looks a time w apart it is at least half of their sum less rate · w / 2, so that no moment between
/// them is missed, however short (after Piyavskii 1972 and Shubert 1972, from memory; with a distance and a speed it is
/// conservative advancement, Mirtich 1996). What changes so fast that this would take too long is bounded, not found: less
/// exactly, and still by nothing that is too much.
pub fn least_below(
    (begin, end): (f64, f64),
    rate: f64,
    limit: f64,
    tolerance: f64,
    value: impl Fn(f64) -> f64,
) -> Option<Least> {
    let look = |at: f64| Least { value: value(at), at };
    let better = |one: Least, other: Least| if other.value < one.value { other } else { one };
    let (first, last) = (look(begin), look(end));
    let mut best = better(first, last);
    let mut open = vec![(first, last)];
    let mut looks = 0;
    while let Some((one, other)) = open.pop() {
        let wide = other.at - one.at;
        let bound = (one.value + other.value - rate * wide) / 2.0;
        if bound >= limit || bound >= best.value - tolerance || wide <= 0.0 {
            continue;
        }
        looks += 1;
        if looks > MOST_LOOKS {
            best = better(best, Least { value: bound.max(0.0) + tolerance, at: one.at + wide / 2.0 });
            continue;
        }
        let middle = look(one.at + wide / 2.0);
        best = better(best, middle);
        open.extend([(one, middle), (middle, other)]);
    }
    let bound = Least { value: best.value - tolerance, ..best };
    (bound.value < limit).then_some(bound)
}
