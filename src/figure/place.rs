//! Where on a skeleton a target lies.

use super::body::Skeleton;
use super::point::{Pt, pt};
use crate::score::vocabulary::{Part, Spot};

/// Where the target is on a body from the front. What has a side lies on the side that the blow comes from, the right one
/// of the picture; everything is mirrored afterwards where it comes from the left.
pub(super) fn on_front(body: &Skeleton, spot: Spot, sided: bool) -> Pt {
    let along = share(spot);
    match spot.part {
        Part::Head => {
            let out = if !sided {
                0.0
            } else if spot.along < 25 {
                0.55
            } else {
                0.8
            };
            spine(body, along) + (body.head - body.collar()).unit().across() * (body.radius * out)
        }
        Part::Trunk | Part::Back if sided => body.hips[1].towards(body.shoulders[1], along),
        Part::Trunk | Part::Back => body.hip().towards(body.collar(), along),
        Part::Arm => arm(body, along),
        Part::Leg if sided => leg(body, 1, along),
        Part::Leg => leg(body, 0, along).towards(leg(body, 1, along), 0.5),
    }
}

/// Where it is on a body from the side that looks to the picture's left: what has a side on the near side, everything
/// else on the front, or on the back.
pub(super) fn on_profile(body: &Skeleton, spot: Spot, sided: bool) -> Pt {
    let along = share(spot);
    let front = |depth: f64| if sided { pt(0.0, 0.0) } else { pt(-depth * body.scale, 0.0) };
    match spot.part {
        Part::Head => spine(body, along) + front(if spot.along < 25 { 3.0 } else { 7.0 }),
        Part::Trunk => body.hip().towards(body.collar(), along) + front(8.0),
        Part::Back => body.hip().towards(body.collar(), along) - front(8.0),
        Part::Arm => arm(body, along),
        Part::Leg if sided => leg(body, 1, along),
        Part::Leg => leg(body, 0, along).towards(leg(body, 1, along), 0.5),
    }
}

fn share(spot: Spot) -> f64 {
    f64::from(spot.along) / 100.0
}

/// From the collar to the crown.
fn spine(body: &Skeleton, along: f64) -> Pt {
    let collar = body.collar();
    let up = body.head - collar;
    collar + up.unit() * ((up.length() + body.radius) * along)
}

fn arm(body: &Skeleton, along: f64) -> Pt {
    joint(body.hands[1], body.elbows[1], body.shoulders[1], along)
}

fn leg(body: &Skeleton, side: usize, along: f64) -> Pt {
    joint(body.feet[side] + pt(0.0, 2.0), body.knees[side], body.hips[side], along)
}

fn joint(low: Pt, middle: Pt, high: Pt, along: f64) -> Pt {
    if along < 0.5 { low.towards(middle, along * 2.0) } else { middle.towards(high, along * 2.0 - 1.0) }
}
