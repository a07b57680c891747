//! The signs of a figure: the ring of a target, the gap, the meeting of blades, chevrons, arrows, the line that is closed.

use super::point::{Pt, pt};
use super::shape::{Shape, Whose, arc, area, bar, disc, dots, line, ring};

/// How wide the lines of signs are.
const STROKE: f64 = 3.4;
/// The ring of a target.
pub(super) const RING: f64 = 8.0;

/// What a ring tells.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Target {
    /// Here it goes.
    Here,
    /// Here it is laid on.
    Placed,
    /// Here nobody is any more.
    Gone,
}

/// The ring about a target.
pub(super) fn target(at: Pt, is: Target) -> Vec<Shape> {
    let at = at.within(RING + 2.0);
    match is {
        Target::Gone => vec![ring(Whose::Sign, at, RING + 1.5, 3.0, true)],
        Target::Here => vec![ring(Whose::Ground, at, RING, 7.4, false), ring(Whose::Sign, at, RING, STROKE, false)],
        Target::Placed => vec![
            ring(Whose::Ground, at, RING, 7.4, false),
            ring(Whose::Sign, at, RING, STROKE, false),
            disc(Whose::Sign, at, RING - 3.6),
        ],
    }
}

/// Two bars across the way, for what stops short. `at` is the one that is nearer to the target.
pub(super) fn gap(at: Pt, way: Pt) -> Vec<Shape> {
    let across = way.unit().across() * 10.0;
    let one = |at: Pt| bar(Whose::Sign, STROKE, &[(at - across).within(1.0), (at + across).within(1.0)]);
    vec![one(at), one(at - way.unit() * 6.6)]
}

/// Blades meet: a star of four points.
pub(super) fn star(at: Pt) -> Vec<Shape> {
    let corners = |long: f64, short: f64| -> Vec<Pt> {
        (0..8)
            .map(|corner| {
                let far = if corner % 2 == 0 { long } else { short };
                (at + pt(0.0, -far).turned(pt(0.0, 0.0), 45.0 * f64::from(corner))).within(0.5)
            })
            .collect()
    };
    vec![area(Whose::Ground, &corners(17.0, 7.4)), area(Whose::Sign, &corners(13.0, 4.6))]
}

/// Two chevrons, the way that somebody goes; `at` is the middle of the two.
pub(super) fn chevrons(whose: Whose, at: Pt, way: Pt) -> Vec<Shape> {
    let way = way.unit();
    let one = |tip: Pt| {
        let arm = |side: f64| (tip - way * 6.5 + way.across() * (9.0 * side)).within(2.0);
        [arm(1.0), tip.within(2.0), arm(-1.0)]
    };
    let both = [one(at - way * 1.6), one(at + way * 8.4)];
    let halo = both.iter().map(|points| bar(Whose::Ground, 9.6, points));
    halo.chain(both.iter().map(|points| bar(whose, 5.4, points))).collect()
}

/// The line that is closed, behind the blade.
pub(super) fn closed(from: Pt, to: Pt) -> Shape {
    dots(Whose::Sign, 3.2, &[from, to])
}

/// An arrow that bends: from a point over a second one to a third.
pub(super) fn bent_arrow(whose: Whose, from: Pt, over: Pt, to: Pt) -> Vec<Shape> {
    let way = (to - over).unit();
    let neck = to - way * 9.0;
    let curve = [from.towards(over, 0.67), neck.towards(over, 0.67), neck];
    let wide = way.across() * 7.5;
    vec![arc(whose, 4.6, from, &[curve]), area(whose, &[neck + wide, to, neck - wide])]
}

/// Most of a circle, with an arrow head: `clockwise` as it is seen, begun at the angle `from`, degrees from the top.
pub(super) fn round_arrow(whose: Whose, centre: Pt, radius: f64, from: f64, clockwise: bool) -> Vec<Shape> {
    let sense = if clockwise { 1.0 } else { -1.0 };
    let at = |degrees: f64| centre + pt(0.0, -radius).turned(pt(0.0, 0.0), degrees);
    let along = |degrees: f64| pt(sense, 0.0).turned(pt(0.0, 0.0), degrees);
    // Three quarter circles by cubic curves.
    let handle = radius * 0.5523;
    let curve = |start: f64| {
        let end = start + 90.0 * sense;
        [at(start) + along(start) * handle, at(end) - along(end) * handle, at(end)]
    };
    let starts = [0.0, 1.0, 2.0].map(|quarter| from + quarter * 90.0 * sense);
    let end = from + 270.0 * sense;
    let (tip, wide) = (at(end) + along(end) * 8.0, along(end).across() * 6.5);
    vec![arc(whose, 4.2, at(from), &starts.map(curve)), area(whose, &[at(end) + wide, tip, at(end) - wide])]
}

/// A plain short line that somebody pushes against.
pub(super) fn wall(whose: Whose, at: Pt) -> Shape {
    line(whose, 4.6, &[at - pt(0.0, 11.0), at + pt(0.0, 11.0)])
}
