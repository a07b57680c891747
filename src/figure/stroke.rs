//! What goes to the partner, by what goes and which way: a wedge straight in, a crescent for a cut, a crescent with an
//! arrow head for what goes past, a disc for a fist, and the plain forms of the other limbs.

use super::marks::chevrons;
use super::point::{Pt, pt};
use super::scene::Blow;
use super::shape::{Ends, Form, Shape, Whose, arc, area, bar, blade_of_curves, disc, line};
use crate::score::vocabulary::{Goes, Limb};

/// The narrowest margin that is kept to the edge of the square.
const MARGIN: f64 = 2.0;

/// A blow that comes to `tip` on the way `way`, a unit.
pub(super) fn stroke(blow: &Blow, tip: Pt, way: Pt) -> Vec<Shape> {
    let goes = blow.goes.unwrap_or(if blow.limb == Limb::Hand { Goes::Rest } else { Goes::Thrust });
    match (blow.limb, goes) {
        (Limb::Blade, _) if blow.feint => shown(tip, way, blow.reach),
        (Limb::Blade, Goes::Thrust) => vec![wedge(Whose::Doer, tip, way, length(blow.reach), 15.0)],
        (Limb::Blade, Goes::Wind) => wound(tip, way),
        (Limb::Blade, _) => vec![crescent(tip, way, length(blow.reach))],
        (Limb::Hilt, _) => pommel(tip, way),
        (Limb::Fist, _) => fist(tip, way),
        (Limb::Hand, Goes::Cut | Goes::Sweep) => slap(tip, way),
        (Limb::Hand, Goes::Forward | Goes::Thrust | Goes::Up | Goes::Down) => palm(tip, way),
        (Limb::Hand, _) => grip(tip, way, goes == Goes::Back),
        (Limb::Elbow, _) => bent(tip, way, 30.0),
        (Limb::Knee, _) => bent(tip, way, 42.0),
        (Limb::Foot, Goes::Down) => stamp(tip, way),
        (Limb::Foot, _) => foot(tip, way),
        (Limb::Body, _) => vec![wedge(Whose::Doer, tip, way, 24.0, 34.0)],
    }
}

/// How long a weapon is drawn: a dagger is short, a spear is long, and both are seen.
fn length(reach: f64) -> f64 {
    (20.0 + 30.0 * reach).clamp(24.0, 60.0)
}

/// A wedge, wide where it comes from and sharp where it goes.
pub(super) fn wedge(whose: Whose, tip: Pt, way: Pt, length: f64, width: f64) -> Shape {
    let back = way * -1.0;
    let from = tip + back * length.min(back.room(tip, MARGIN)).max(16.0);
    let half = way.across() * (width / 2.0);
    area(whose, &[(from + half).within(0.0), tip, (from - half).within(0.0)])
}

/// What is only shown: the outline of a wedge.
fn shown(tip: Pt, way: Pt, reach: f64) -> Vec<Shape> {
    let Form::Area { points, .. } = wedge(Whose::Doer, tip, way, length(reach), 18.0).form else { return Vec::new() };
    let closed: Vec<Pt> = points.iter().chain(points.first()).copied().collect();
    vec![Shape { whose: Whose::Doer, form: Form::Line { points: closed, width: 3.6, ends: Ends::Round } }]
}

/// Where a cut begins: above, on the side that it comes from.
fn beginning(tip: Pt, way: Pt, length: f64) -> Pt {
    // What goes low comes in flat.
    let up = if tip.y > 78.0 { 0.5 } else { 0.8 };
    let side = if way.x > 0.0 { -0.68 } else { 0.68 };
    (tip + pt(length * side, -length * up)).within(4.0)
}

/// A crescent that begins thin, swells, and ends in its point, bent outwards and down.
fn crescent(tip: Pt, way: Pt, length: f64) -> Shape {
    let from = beginning(tip, way, length);
    let chord = tip - from;
    let out = if chord.across().y > 0.0 { chord.across() } else { chord.across() * -1.0 };
    let at = |along: f64, far: f64| (from + chord * along + out * far).within(0.5);
    let (outer, inner) = ([at(0.3, 0.34), at(0.78, 0.5)], [at(0.3, 0.2), at(0.74, 0.13)]);
    blade_of_curves(Whose::Doer, from, &[[outer[0], outer[1], tip], [inner[1], inner[0], from]])
}

/// A cut that comes out of a full circle.
fn wound(tip: Pt, way: Pt) -> Vec<Shape> {
    let cut = crescent(tip, way, 44.0);
    let from = beginning(tip, way, 44.0);
    let centre = (from + pt(-9.0, 2.0)).within(11.0);
    vec![Shape { whose: Whose::Doer, form: Form::Ring { centre, radius: 8.5, width: 4.2, dashed: false } }, cut]
}

/// A stroke that goes past: from a point over a second one to a third, with an arrow head.
pub(super) fn sweep(from: Pt, over: Pt, to: Pt) -> Vec<Shape> {
    let way = (to - over).unit();
    let neck = to - way * 17.0;
    let across = way.across();
    let chord = (neck - from).unit().across() * 6.0;
    let side = |sign: f64| {
        let over = over + chord * (sign * 0.6);
        let neck = neck + across * (4.6 * sign);
        [from.towards(over, 0.67), neck.towards(over, 0.67), neck]
    };
    let ([a, b, one], [c, d, other]) = (side(1.0), side(-1.0));
    let tail = blade_of_curves(Whose::Doer, from, &[[a, b, one], [one, other, other], [d, c, from]]);
    vec![tail, area(Whose::Doer, &[(neck + across * 11.0).within(0.0), to, (neck - across * 11.0).within(0.0)])]
}

/// The pommel first: a disc, the guard across, the blade away from it.
fn pommel(tip: Pt, way: Pt) -> Vec<Shape> {
    let (back, across) = (way * -1.0, way.across());
    let disc_at = tip + back * 6.5;
    let guard = tip + back * 20.0;
    let point = guard + back * back.room(guard, MARGIN).min(30.0);
    vec![
        disc(Whose::Doer, disc_at, 6.5),
        bar(Whose::Doer, 6.0, &[disc_at, guard]),
        bar(Whose::Doer, 5.0, &[(guard + across * 11.0).within(MARGIN), (guard - across * 11.0).within(MARGIN)]),
        area(Whose::Doer, &[guard + across * 3.6, point, guard - across * 3.6]),
    ]
}

/// Where a forearm comes from.
fn forearm(from: Pt, way: Pt) -> Pt {
    let back = way * -1.0;
    from + back * back.room(from, MARGIN).clamp(6.0, 30.0)
}

fn fist(tip: Pt, way: Pt) -> Vec<Shape> {
    let centre = tip - way * 10.0;
    vec![bar(Whose::Doer, 9.0, &[forearm(centre, way).within(0.0), centre]), disc(Whose::Doer, centre, 10.0)]
}

/// An open hand, flat to the front.
pub(super) fn palm(tip: Pt, way: Pt) -> Vec<Shape> {
    let (wrist, across) = (tip - way * 3.5, way.across() * 11.0);
    vec![
        bar(Whose::Doer, 7.0, &[forearm(wrist, way).within(0.0), wrist]),
        line(Whose::Doer, 7.0, &[(wrist - across).within(3.5), (wrist + across).within(3.5)]),
    ]
}

/// A hand that takes hold, its fingers open; with chevrons where it pulls.
fn grip(tip: Pt, way: Pt, pulls: bool) -> Vec<Shape> {
    let wrist = tip - way * 14.0;
    let finger = |side: f64| {
        let knuckle = wrist + way * 2.0 + way.across() * (9.0 * side);
        line(Whose::Doer, 6.0, &[wrist, knuckle, tip + way.across() * (7.0 * side)])
    };
    let mut shapes = vec![bar(Whose::Doer, 8.0, &[forearm(wrist, way).within(0.0), wrist]), finger(1.0), finger(-1.0)];
    if pulls {
        let back = way * -1.0;
        shapes.extend(chevrons(Whose::Doer, (wrist + back * 12.0 + pt(0.0, -18.0)).within(12.0), back));
    }
    shapes
}

/// An open hand that comes across.
fn slap(tip: Pt, way: Pt) -> Vec<Shape> {
    let mut shapes = palm(tip, way);
    let wrist = tip - way * 3.5;
    let start = (wrist - way * 20.0 + pt(0.0, -26.0)).within(4.0);
    let over = (wrist - way * 2.0 + pt(0.0, -30.0)).within(4.0);
    let end = wrist + pt(0.0, -15.0);
    shapes.push(arc(Whose::Doer, 3.6, start, &[[start.towards(over, 0.67), end.towards(over, 0.67), end]]));
    shapes
}

/// An elbow or a knee: a limb that is bent, its joint first.
fn bent(tip: Pt, way: Pt, half_angle: f64) -> Vec<Shape> {
    let joint = tip - way * 5.0;
    let arm = |degrees: f64, far: f64| {
        let back = (way * -1.0).turned(pt(0.0, 0.0), degrees);
        joint + back * back.room(joint, 5.5).min(far)
    };
    vec![line(Whose::Doer, 10.5, &[arm(half_angle, 38.0), joint, arm(-half_angle, 24.0)])]
}

/// A leg with its foot, the sole first.
pub(super) fn foot(tip: Pt, way: Pt) -> Vec<Shape> {
    let (heel, across) = (tip - way * 4.0, way.across());
    let toes = heel + across * if across.y < 0.0 { 14.0 } else { -14.0 };
    let back = way * -1.0;
    let knee = heel + back * back.room(heel, MARGIN).clamp(8.0, 38.0);
    vec![line(Whose::Doer, 9.0, &[knee.within(MARGIN), heel, toes.within(4.0)])]
}

/// A foot that comes down.
fn stamp(tip: Pt, way: Pt) -> Vec<Shape> {
    let heel = tip - way * 4.0;
    let knee = heel - way * 34.0;
    vec![line(
        Whose::Doer,
        9.0,
        &[knee.within(MARGIN), (heel + pt(7.0, 0.0)).within(5.0), (heel - pt(10.0, 0.0)).within(5.0)],
    )]
}
