//! One body from the side: what goes back, or bends back, is seen only from there, and so is a blow from behind. Laid out
//! for a body that looks to the picture's left and a blow from there; from behind it comes from the right.

use super::body::{self, Skeleton};
use super::marks::{self, Target};
use super::place::on_profile;
use super::point::{Pt, pt};
use super::scene::{Edge, Pose};
use super::shape::{Shape, Whose, floor};
use super::stroke::{stroke, sweep};
use crate::score::vocabulary::{Goes, Limb, Part, Touch};

/// The shapes of the figure.
pub(super) fn shapes(edge: &Edge) -> Vec<Shape> {
    let high = edge.aim.spot.part == Part::Head && edge.aim.spot.along > 75;
    // What comes down on the crown needs room above it.
    let scale = if high { 0.84 } else { 1.0 };
    let standing = body::profile().scaled(scale, pt(60.0, 111.0), pt(60.0, 111.0));
    let sided = edge.aim.side.is_some();
    let body = posed(edge, standing.clone());
    let from = if edge.pose.is_elsewhere() { &standing } else { &body };
    let target = on_profile(from, edge.aim.spot, sided);
    let mut shapes = vec![floor()];
    if edge.pose == Pose::Ball {
        shapes.extend(body::rolled(pt(if edge.behind { 32.0 } else { 88.0 }, 96.0)));
    } else {
        shapes.extend(body.painted([false, false]));
    }
    shapes.extend(blow(edge, target));
    let is = match edge.blow.touch {
        _ if edge.pose.is_elsewhere() => Target::Gone,
        Touch::Placed => Target::Placed,
        _ => Target::Here,
    };
    shapes.extend(marks::target(target, is));
    shapes.extend(motion(edge));
    // From behind it comes from the right here, and from the left in the picture, as everything does.
    let turned = edge.behind != edge.mirrored;
    let place = |point: Pt| if turned { point.within(0.0).mirrored() } else { point.within(0.0) };
    shapes.into_iter().map(|shape| shape.map(place)).collect()
}

/// Which way it comes, a unit.
fn way(edge: &Edge) -> Pt {
    let side = if edge.behind { -1.0 } else { 1.0 };
    match edge.blow.limb {
        Limb::Knee => pt(0.35 * side, -1.0),
        Limb::Foot if edge.blow.goes == Some(Goes::Down) => pt(0.0, 1.0),
        Limb::Foot if edge.blow.goes == Some(Goes::Sweep) => pt(side, 0.0),
        Limb::Foot => pt(side, -0.3),
        _ => pt(side, 0.1),
    }
    .unit()
}

fn blow(edge: &Edge, target: Pt) -> Vec<Shape> {
    let (blow, way) = (&edge.blow, way(edge));
    let gone = edge.pose.is_elsewhere();
    let side = if edge.behind { -1.0 } else { 1.0 };
    match blow.goes {
        Some(Goes::Sweep) if blow.limb == Limb::Blade => {
            let at = if gone { target } else { target - way * 26.0 };
            let (above, below) = ((target.y - 40.0).max(5.0), (target.y + 36.0).min(115.0));
            let mut shapes =
                sweep(pt(at.x - 20.0 * side, above), at + pt(10.0 * side, 0.0), pt(at.x - 18.0 * side, below));
            if !gone {
                shapes.extend(marks::gap(target - way * (marks::RING + 5.0), way));
            }
            shapes
        }
        // A limb that goes past is seen from its end; chevrons say that it goes on.
        Some(Goes::Sweep) if gone => {
            let on = (target + pt(22.0 * side, 0.0)).within(10.0);
            [stroke(blow, target, way), marks::chevrons(Whose::Doer, on, pt(side, 0.0))].concat()
        }
        _ if gone => stroke(blow, target, way),
        _ if blow.touch == Touch::Nothing && !blow.feint => {
            let mut shapes = stroke(blow, target - way * 22.0, way);
            shapes.extend(marks::gap(target - way * (marks::RING + 5.0), way));
            shapes
        }
        _ => stroke(blow, target - way * (marks::RING - 1.0), way),
    }
}

fn posed(edge: &Edge, standing: Skeleton) -> Skeleton {
    // Away from the blow.
    let away = if edge.behind { -1.0 } else { 1.0 };
    match edge.pose {
        Pose::Back => standing.moved(27.0 * away, 0.0),
        Pose::Lean => leaning(standing, 24.0),
        Pose::Hollow => bulged(standing, 72.0, 17.0, 20.0, -7.0),
        Pose::Hit => {
            let y = on_profile(&standing, edge.aim.spot, false).y;
            bulged(standing, y, 9.0 * away, 22.0, 0.0)
        }
        Pose::Reel => standing.tilted(pt(64.0, 110.0), 15.0 * away),
        Pose::Kneel => body::profile_kneel(),
        Pose::Fallen => body::fallen(),
        _ => standing,
    }
}

/// Everything above the hips turned about them.
pub(super) fn leaning(body: Skeleton, degrees: f64) -> Skeleton {
    let (hip, hips, knees, feet) = (body.hip(), body.hips, body.knees, body.feet);
    let turned = body.map(|joint| joint.turned(hip, degrees));
    Skeleton { hips, knees, feet, ..turned }
}

/// Pushed to the side at one height, less above and below; the head goes the way `head` against it.
fn bulged(body: Skeleton, at: f64, far: f64, wide: f64, head: f64) -> Skeleton {
    let feet = body.feet;
    let mut bent = body.map(|joint| {
        let off = (joint.y - at) / wide;
        joint + pt(far * (-off * off).exp(), 0.0)
    });
    bent.head = bent.head + pt(head, 0.0);
    bent.feet = feet;
    bent
}

fn motion(edge: &Edge) -> Vec<Shape> {
    let away = if edge.behind { -1.0 } else { 1.0 };
    let chevrons = |x: f64, y: f64, way: Pt| {
        let x = if edge.behind { 120.0 - x } else { x };
        marks::chevrons(Whose::Partner, pt(x, y), way)
    };
    let (back, down) = (pt(away, 0.0), pt(0.0, 1.0));
    match edge.pose {
        Pose::Back => chevrons(106.0, 62.0, back),
        Pose::Ball => chevrons(90.0, 66.0, back),
        Pose::Lean => chevrons(104.0, 36.0, back),
        Pose::Hollow => chevrons(100.0, 72.0, back),
        Pose::Reel => chevrons(98.0, 70.0, back),
        Pose::Kneel => chevrons(96.0, 60.0, down),
        Pose::Fallen => chevrons(70.0, 72.0, down),
        _ => Vec::new(),
    }
}
