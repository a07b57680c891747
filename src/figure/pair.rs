//! Both bodies from the side: blades that are at each other, grips, pushes, throws, bodies that come together. The one who
//! acts stands on the picture's left, unless the figure is mirrored.

use super::blade::{self, Laid};
use super::body::{self, Skeleton};
use super::edge::leaning;
use super::marks::{self, Target};
use super::place::on_profile;
use super::point::{Pt, pt};
use super::scene::{Meeting, Pair, Pose};
use super::shape::{Shape, Whose, disc, floor, line};
use super::stroke::wedge;
use crate::score::vocabulary::{Goes, Limb, Line, Part, Spot};

const RIGHT: Pt = pt(1.0, 0.0);
const LEFT: Pt = pt(-1.0, 0.0);
const DOWN: Pt = pt(0.0, 1.0);
/// Where two blades cross.
const CROSSING: Pt = pt(60.0, 50.0);

/// The shapes of the figure.
pub(super) fn shapes(pair: &Pair) -> Vec<Shape> {
    let shapes = match pair.meeting {
        Meeting::Blades | Meeting::BothAttack | Meeting::BladesApart => blades(pair),
        Meeting::AtWeapon => at_weapon(pair),
        Meeting::Bodies => bodies(pair),
        Meeting::Closes => closes(pair),
        Meeting::LetsGo => lets_go(pair),
    };
    let place = |point: Pt| if pair.mirrored { point.within(0.0).mirrored() } else { point.within(0.0) };
    shapes.into_iter().map(|shape| shape.map(place)).collect()
}

/// The one who acts, on the left, so far from the middle.
fn doer(far: f64) -> Skeleton {
    body::profile().map(Pt::mirrored).moved(-far, 0.0)
}

/// The partner, on the right, so far from the middle, as they are in the end.
fn partner(pair: &Pair, far: f64) -> Skeleton {
    let stands = body::profile().moved(far, 0.0);
    match pair.pose {
        Pose::Hit => leaning(stands, 9.0),
        Pose::Along => leaning(stands, if pair.blow.goes == Some(Goes::Back) { -12.0 } else { 8.0 }),
        Pose::Braced => leaning(stands, -10.0),
        Pose::Reel => stands.tilted(pt(60.0 + far, 110.0), 17.0),
        Pose::Back => body::profile().moved((far + 12.0).min(44.0), 0.0),
        Pose::Kneel => body::profile_kneel().moved(far, 0.0),
        Pose::Fallen => body::fallen().map(Pt::mirrored).map(|joint| pt(46.0 + joint.x * 0.6, joint.y)),
        _ => stands,
    }
}

/// Chevrons, or a stand, for what the partner does.
fn reaction(pair: &Pair, x: f64) -> Vec<Shape> {
    let chevrons = |at: Pt, way: Pt| marks::chevrons(Whose::Partner, at, way);
    match pair.pose {
        Pose::Along if pair.blow.goes == Some(Goes::Back) => chevrons(pt(x, 24.0), LEFT),
        Pose::Along | Pose::Reel | Pose::Back | Pose::Free => {
            chevrons(pt(106.0, if pair.pose == Pose::Reel { 82.0 } else { 60.0 }), RIGHT)
        }
        Pose::Braced => {
            vec![marks::wall(Whose::Partner, pt(115.0, 100.0)), marks::wall(Whose::Partner, pt(108.0, 104.0))]
        }
        Pose::Kneel => chevrons(pt(104.0, 26.0), DOWN),
        Pose::Fallen => chevrons(pt(92.0, 66.0), DOWN),
        _ => Vec::new(),
    }
}

/// A blade, and the arm that holds it.
fn armed(body: &Skeleton, whose: Whose, hand: Pt, tip: Pt) -> (Vec<Shape>, Vec<Shape>) {
    let laid = Laid { hand, tip, end: hand };
    let blade = if whose == Whose::Partner { blade::double(whose, laid) } else { blade::solid(whose, laid) };
    (body.reaching(1, hand, pt(0.0, 5.0)), blade)
}

fn falling_blade(hand: Pt) -> Vec<Shape> {
    let laid = Laid { hand, tip: hand + pt(-10.0, 28.0), end: hand };
    let mut shapes = blade::double(Whose::Partner, laid);
    shapes.extend(marks::chevrons(Whose::Partner, hand + pt(12.0, 16.0), DOWN));
    shapes
}

// ---- Blades ----

fn blades(pair: &Pair) -> Vec<Shape> {
    let (doer, partner) = (doer(38.0), partner(pair, 38.0));
    let apart = pair.meeting == Meeting::BladesApart;
    let (mine, theirs) = if apart { (pt(70.0, 40.0), pt(64.0, 14.0)) } else { (pt(84.0, 22.0), pt(36.0, 22.0)) };
    let (arm, blade) = armed(&doer, Whose::Doer, pt(40.0, 74.0), if apart { pt(56.0, 30.0) } else { mine });
    let mut shapes = vec![floor()];
    shapes.extend(doer.painted([false, true]));
    shapes.extend(partner.painted([false, true]));
    shapes.extend(arm);
    if pair.drops {
        shapes.extend(partner.reaching(1, pt(80.0, 68.0), pt(0.0, 0.0)));
        shapes.extend(blade);
        shapes.extend(falling_blade(pt(70.0, 76.0)));
    } else {
        let (arm, other) = armed(&partner, Whose::Partner, pt(80.0, 74.0), theirs);
        shapes.extend(arm);
        shapes.extend(other);
        shapes.extend(blade);
    }
    if let Some(aim) = pair.aim {
        shapes.extend(marks::target(on_profile(&partner, aim.spot, aim.side.is_some()), Target::Here));
    }
    if !apart && !pair.drops {
        shapes.extend(marks::star(CROSSING));
    }
    shapes.extend(blade_way(pair));
    shapes.extend(reaction(pair, 104.0));
    shapes
}

/// What the blade does.
fn blade_way(pair: &Pair) -> Vec<Shape> {
    let arrow = |from: Pt, over: Pt, to: Pt| marks::bent_arrow(Whose::Doer, from, over, to);
    match (pair.meeting, pair.blow.goes) {
        (Meeting::BothAttack, goes) => {
            let mine = match goes {
                Some(Goes::Thrust) => marks::chevrons(Whose::Doer, pt(10.0, 66.0), RIGHT),
                Some(Goes::Wind) => marks::round_arrow(Whose::Doer, pt(60.0, 18.0), 10.0, 200.0, true),
                // An arc from above.
                _ => arrow(pt(36.0, 8.0), pt(56.0, 0.0), pt(61.0, 26.0)),
            };
            [mine, marks::chevrons(Whose::Partner, pt(110.0, 66.0), LEFT)].concat()
        }
        // Under the other blade and up on its other side.
        (Meeting::BladesApart, _) => arrow(pt(58.0, 44.0), pt(66.0, 86.0), pt(84.0, 42.0)),
        (_, Some(Goes::Carry)) => carried(pair.carried),
        (_, Some(Goes::Wind)) => marks::round_arrow(Whose::Doer, pt(60.0, 20.0), 11.0, 200.0, true),
        (_, Some(Goes::Beat)) => marks::chevrons(Whose::Doer, pt(55.0, 14.0), RIGHT),
        _ => Vec::new(),
    }
}

/// From line to line: up or down where the height changes, else across.
fn carried(lines: Option<(Line, Line)>) -> Vec<Shape> {
    let high = |line| !matches!(line, Line::LowInside | Line::LowOutside);
    let arrow = |from: Pt, over: Pt, to: Pt| marks::bent_arrow(Whose::Doer, from, over, to);
    let (above, below) = (pt(66.0, 10.0), pt(64.0, 92.0));
    match lines.map(|(from, to)| (high(from), high(to))) {
        Some((true, false)) => arrow(above, pt(20.0, 40.0), below),
        Some((false, true)) => arrow(below, pt(20.0, 40.0), above),
        Some((false, false)) => arrow(pt(44.0, 88.0), pt(60.0, 106.0), pt(78.0, 90.0)),
        _ => arrow(pt(40.0, 18.0), pt(60.0, 1.0), pt(82.0, 16.0)),
    }
}

/// A hand or a foot at the other's weapon.
fn at_weapon(pair: &Pair) -> Vec<Shape> {
    let (doer, partner) = (doer(32.0), partner(pair, 34.0));
    let gone = pair.pose == Pose::Back;
    let held = pt(72.0, 62.0);
    let hand = if gone { held + pt(14.0, 6.0) } else { held };
    // On the arm, where a place of it is meant, else on the blade.
    let blade = held + pt(-18.0, -44.0) * 0.34;
    let on_arm = |spot: Spot| held.towards(partner.shoulders[1], f64::from(spot.along) / 100.0);
    let reached = pair.aim.map_or(blade, |aim| on_arm(aim.spot));
    let mut shapes = vec![floor()];
    shapes.extend(doer.painted([false, pair.blow.limb != Limb::Foot]));
    shapes.extend(partner.painted([false, true]));
    shapes.extend(partner.reaching(1, hand, pt(0.0, 5.0)));
    if pair.drops {
        shapes.extend(falling_blade(pt(64.0, 74.0)));
    } else {
        shapes.extend(blade::double(Whose::Partner, Laid { hand, tip: hand - pt(18.0, 44.0), end: hand }));
    }
    shapes.extend(limb(pair, &doer, reached - pt(6.0, 0.0)));
    shapes.extend(marks::target(reached, if gone { Target::Gone } else { Target::Here }));
    shapes.extend(reaction(pair, 104.0));
    shapes
}

// ---- Bodies ----

/// The limb that reaches the partner.
fn limb(pair: &Pair, doer: &Skeleton, to: Pt) -> Vec<Shape> {
    match pair.blow.limb {
        Limb::Foot | Limb::Knee => {
            let hip = doer.hip();
            let knee = hip.towards(to, 0.5) + pt(2.0, -7.0);
            let toes = (to - knee).unit().across() * -9.0;
            vec![
                line(Whose::Ground, 12.0, &[knee, to]),
                line(Whose::Body, 10.0, &[hip, knee]),
                line(Whose::Doer, 9.0, &[knee, to, to + toes]),
            ]
        }
        Limb::Body => Vec::new(),
        _ => {
            let shoulder = doer.shoulders[1];
            let elbow = shoulder.towards(to, 0.45) + pt(0.0, 7.0);
            vec![
                line(Whose::Ground, 12.0, &[elbow, to]),
                line(Whose::Body, 8.0, &[shoulder, elbow]),
                line(Whose::Doer, 8.6, &[elbow, to]),
                disc(Whose::Doer, to, 7.0),
            ]
        }
    }
}

fn bodies(pair: &Pair) -> Vec<Shape> {
    let gone = pair.pose == Pose::Back;
    let spot = pair.spot;
    let sided = pair.aim.is_some_and(|aim| aim.side.is_some());
    let far = if pair.blow.limb == Limb::Body { 17.0 } else { 23.0 };
    let (doer, partner) = (leaning(doer(far), 6.0), partner(pair, far));
    let stands = body::profile().moved(far, 0.0);
    let down = matches!(pair.pose, Pose::Kneel | Pose::Fallen);
    let turned = spot.part == Part::Back;
    let (partner, stands) =
        if turned { (turned_away(partner, far), turned_away(stands, far)) } else { (partner, stands) };
    let on = if gone || pair.pose == Pose::Fallen { &stands } else { &partner };
    let at = if turned { on.hip().towards(on.collar(), 0.62) - pt(8.0, 0.0) } else { on_profile(on, spot, sided) };
    let mut shapes = vec![floor()];
    shapes.extend(partner.painted([false, false]));
    let uses_arm = !matches!(pair.blow.limb, Limb::Foot | Limb::Knee | Limb::Body);
    shapes.extend(doer.painted([false, uses_arm]));
    shapes.extend(limb(pair, &doer, at));
    if pair.aim.is_some() {
        let is = if gone || pair.pose == Pose::Fallen { Target::Gone } else { Target::Here };
        shapes.extend(marks::target(at, is));
    }
    shapes.extend(push(pair, at));
    if pair.pose == Pose::Free {
        shapes.extend(marks::gap(at - pt(14.0, 0.0), RIGHT));
    }
    shapes.extend(reaction(pair, if down { 104.0 } else { 100.0 }));
    if pair.drops {
        shapes.extend(falling_blade(pt(60.0, 84.0)));
    }
    shapes
}

/// The partner looks away from whoever comes from behind.
fn turned_away(body: Skeleton, far: f64) -> Skeleton {
    body.moved(-far, 0.0).map(Pt::mirrored).moved(far, 0.0)
}

/// Which way the one who acts pushes, pulls or turns.
fn push(pair: &Pair, at: Pt) -> Vec<Shape> {
    let chevrons = |way: Pt| marks::chevrons(Whose::Doer, pt(22.0, 14.0), way);
    match pair.blow.goes {
        Some(Goes::Forward) if pair.blow.limb == Limb::Body => vec![wedge(Whose::Doer, at, RIGHT, 24.0, 30.0)],
        Some(Goes::Forward | Goes::Thrust) => chevrons(RIGHT),
        Some(Goes::Back) => chevrons(LEFT),
        Some(Goes::Down) => chevrons(DOWN),
        Some(Goes::Up) => chevrons(pt(0.0, -1.0)),
        Some(Goes::Turn | Goes::Wind) => {
            marks::round_arrow(Whose::Doer, (at - pt(2.0, 0.0)).within(24.0), 17.0, 200.0, true)
        }
        Some(Goes::Around | Goes::Roll) => {
            marks::bent_arrow(Whose::Doer, pt(84.0, 22.0), pt(60.0, -10.0), pt(26.0, 20.0))
        }
        Some(Goes::Sweep) => marks::bent_arrow(Whose::Doer, pt(98.0, 96.0), pt(80.0, 116.0), pt(56.0, 104.0)),
        // A hold that stays: the hand closes.
        _ => vec![disc(Whose::Doer, at, 4.6)],
    }
}

/// Body to body, the blades up between them.
fn closes(pair: &Pair) -> Vec<Shape> {
    let (doer, partner) = (leaning(doer(26.0), 14.0), leaning(partner(pair, 26.0), -14.0));
    let (mine, mine_blade) = armed(&doer, Whose::Doer, pt(54.0, 68.0), pt(68.0, 8.0));
    let (theirs, theirs_blade) = armed(&partner, Whose::Partner, pt(67.0, 68.0), pt(52.0, 8.0));
    let mut shapes = vec![floor()];
    shapes.extend(partner.painted([false, true]));
    shapes.extend(doer.painted([false, true]));
    shapes.extend([mine, theirs, theirs_blade, mine_blade].concat());
    shapes.push(wedge(Whose::Doer, pt(24.0, 62.0), RIGHT, 18.0, 24.0));
    match pair.pose {
        Pose::Stand | Pose::Braced => shapes.push(wedge(Whose::Partner, pt(96.0, 62.0), LEFT, 18.0, 24.0)),
        _ => shapes.extend(reaction(pair, 104.0)),
    }
    shapes
}

fn lets_go(pair: &Pair) -> Vec<Shape> {
    let (doer, partner) = (leaning(doer(26.0), -6.0), partner(pair, 28.0));
    let mut shapes = vec![floor()];
    shapes.extend(doer.painted([false, true]));
    shapes.extend(partner.painted([false, false]));
    shapes.extend(limb(pair, &doer, pt(54.0, 52.0)));
    shapes.extend(marks::gap(pt(74.0, 50.0), RIGHT));
    shapes.extend(marks::chevrons(Whose::Doer, pt(16.0, 14.0), LEFT));
    shapes
}
