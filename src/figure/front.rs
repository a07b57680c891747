//! The body that is attacked, from the front. Everything is laid out for a blow that comes from the picture's right, and
//! mirrored where it comes from the left: so a left and a right one, and two left hands and two right ones, are mirror
//! images to the last decimal.

use super::blade::{self, Laid};
use super::body::{self, Skeleton};
use super::marks::{self, Target};
use super::place::on_front;
use super::point::{Pt, SIDE, pt};
use super::scene::{Blow, Front, Guard, Pose};
use super::shape::{Shape, Whose, area, floor, line};
use super::stroke::{stroke, sweep};
use super::svg::Cut;
use crate::score::vocabulary::{Goes, Limb, Part, Touch};

/// How much larger a body is drawn that is shown from the waist up.
const CLOSE: f64 = 1.5;
/// How much smaller one that is hit from above.
const LOW: f64 = 0.8;
/// The side of what a small picture shows.
const SMALL: f64 = 84.0;
/// How far from the target a blade meets what comes.
const STOP: f64 = 24.0;
/// How far from the target what stops short ends.
const SHORT: f64 = 22.0;

/// The shapes of the figure, as the one who acts sees it.
pub(super) fn shapes(front: &Front) -> Vec<Shape> {
    let layout = Layout::of(front);
    let shapes = layout.shapes(front);
    if front.from_right { shapes } else { shapes.into_iter().map(Shape::mirrored).collect() }
}

/// The part of the picture that matters when one place of a body does: about the place where it is stopped, or the
/// target; nothing when the whole body moves.
pub(super) fn cut(front: &Front) -> Option<Cut> {
    if front.drops || !matches!(front.pose, Pose::Stand | Pose::Hit) {
        return None;
    }
    let layout = Layout::of(front);
    let middle = layout.target.towards(layout.stop, if front.guard == Guard::None { 0.45 } else { 0.75 });
    let corner = |at: f64| (at - SMALL / 2.0).clamp(0.0, SIDE - SMALL);
    let (x, y) = (corner(middle.x), corner(middle.y));
    Some(Cut { corner: pt(if front.from_right { x } else { SIDE - SMALL - x }, y), side: SMALL })
}

/// Where a blade meets what comes, for a blow that comes from the picture's right.
#[cfg(test)]
pub(super) fn meeting(front: &Front) -> (Pt, Option<Laid>) {
    let layout = Layout::of(front);
    let laid = match &front.guard {
        Guard::Closing(closing) => Some(blade::laid(closing, layout.stop, front.weapon_there, layout.body.scale)),
        Guard::None | Guard::Arm => None,
    };
    (layout.stop, laid)
}

/// What has its place.
struct Layout {
    /// The body as it is in the end.
    body: Skeleton,
    /// Where the blow goes.
    target: Pt,
    /// Its way, a unit.
    way: Pt,
    /// Where it is stopped.
    stop: Pt,
}

impl Layout {
    fn of(front: &Front) -> Layout {
        let standing = stance(front);
        let sided = front.aim.side.is_some();
        let body = posed(front, standing.clone());
        let from = if front.pose.is_elsewhere() { &standing } else { &body };
        let target = on_front(from, front.aim.spot, sided);
        let way = way(front);
        let stop = stop(front, &body, target, way);
        Layout { body, target, way, stop }
    }

    fn shapes(&self, front: &Front) -> Vec<Shape> {
        let gone = front.pose.is_elsewhere();
        let mut shapes = if self.body.legs { vec![floor()] } else { Vec::new() };
        if front.pose == Pose::Ball {
            shapes.extend(body::rolled(pt(34.0, 94.0)));
        } else {
            shapes.extend(self.body.painted(led(front)));
        }
        shapes.extend(self.arms(front));
        shapes.extend(self.blow(front));
        let is = match front.blow.touch {
            _ if gone => Target::Gone,
            Touch::Placed if front.guard == Guard::None => Target::Placed,
            _ => Target::Here,
        };
        shapes.extend(marks::target(self.target, is));
        shapes.extend(self.guard(front));
        if front.pose != Pose::Stand && front.pose != Pose::Hit {
            shapes.extend(motion(front.pose, &self.body, front));
        }
        if front.drops {
            shapes.extend(falling(self.body.hands[usize::from(front.weapon_there)], front.weapon_there));
        }
        shapes.into_iter().map(|shape| shape.map(|point| point.within(0.0))).collect()
    }

    /// What comes, as far as it comes.
    fn blow(&self, front: &Front) -> Vec<Shape> {
        let blow = &front.blow;
        let passes = blow.goes == Some(Goes::Sweep);
        match front.guard {
            _ if passes && front.pose.is_elsewhere() => past(blow, self.target),
            Guard::None if passes => self.passing(blow),
            Guard::None if blow.goes == Some(Goes::Drawn) => drawn(self.target),
            Guard::None if short(front) => {
                let at = self.target - self.way * (marks::RING + 5.0);
                let mut shapes = stroke(blow, self.target - self.way * SHORT, self.way);
                shapes.extend(marks::gap(at, self.way));
                shapes
            }
            Guard::None => stroke(blow, self.target - self.way * (marks::RING - 1.0), self.way),
            Guard::Closing(_) | Guard::Arm => {
                let mut shapes =
                    vec![marks::closed(self.stop, self.target + (self.stop - self.target).unit() * marks::RING)];
                shapes.extend(stroke(blow, self.stop + self.way * 3.0, self.way));
                shapes
            }
        }
    }

    /// What goes past somebody who stands: by the side that it comes from, with a gap.
    fn passing(&self, blow: &Blow) -> Vec<Shape> {
        let at = (self.target + pt(27.0, 0.0)).within(14.0);
        let mut shapes = if blow.limb == Limb::Blade {
            sweep((at + pt(14.0, -42.0)).within(4.0), at + pt(-7.0, -2.0), (at + pt(10.0, 36.0)).within(4.0))
        } else {
            stroke(blow, self.target - self.way * SHORT, self.way)
        };
        shapes.extend(marks::gap(self.target + pt(marks::RING + 5.0, 0.0), pt(-1.0, 0.0)));
        shapes
    }

    /// The arms that hold what closes the line, under everything else.
    fn arms(&self, front: &Front) -> Vec<Shape> {
        let Guard::Closing(closing) = &front.guard else { return Vec::new() };
        let laid = blade::laid(closing, self.stop, front.weapon_there, self.body.scale);
        let side = usize::from(front.weapon_there);
        let mut shapes = self.body.reaching(side, laid.hand, bend(front, self.body.scale));
        if let Some(second) = laid.second() {
            shapes.extend(self.body.reaching(1 - side, second, pt(0.0, 6.0)));
        }
        shapes
    }

    fn guard(&self, front: &Front) -> Vec<Shape> {
        match &front.guard {
            Guard::None => Vec::new(),
            Guard::Arm => self.arm(),
            Guard::Closing(closing) => {
                let laid = blade::laid(closing, self.stop, front.weapon_there, self.body.scale);
                let mut shapes = Vec::new();
                if closing.weapon.is_some() {
                    shapes.extend(blade::double(Whose::Partner, laid));
                } else {
                    shapes.extend(blade::open_hand(Whose::Partner, laid));
                }
                if closing.round {
                    shapes.extend(marks::round_arrow(Whose::Partner, circle(laid), 9.5, 200.0, true));
                }
                let meets = matches!(front.blow.limb, Limb::Blade | Limb::Hilt) && closing.weapon.is_some();
                shapes.extend(if meets { marks::star(self.stop) } else { Vec::new() });
                shapes
            }
        }
    }

    /// An arm in the way: the one on the side of the blow, bent, the forearm across.
    fn arm(&self) -> Vec<Shape> {
        let across = self.way.across() * if self.way.across().y > 0.0 { 17.0 } else { -17.0 };
        let (elbow, hand) = ((self.stop + across).within(6.0), (self.stop - across).within(6.0));
        let mut shapes = self.body.reaching(1, elbow, pt(0.0, 0.0));
        shapes.push(line(Whose::Ground, 16.0, &[elbow, hand]));
        shapes.push(line(Whose::Partner, 11.0, &[elbow, hand]));
        shapes
    }
}

/// Whether it stops short, or goes by, of somebody who does not give way.
fn short(front: &Front) -> bool {
    front.blow.touch == Touch::Nothing && !front.pose.is_elsewhere() && !front.blow.feint
}

/// Where the circle of a circular parry is drawn: about the point, inside of the square.
fn circle(laid: Laid) -> Pt {
    laid.tip.towards(laid.hand, 0.1).within(20.0)
}

/// Which way a blow comes that comes from the picture's right.
fn way(front: &Front) -> Pt {
    let blow = &front.blow;
    match (blow.limb, blow.goes) {
        (Limb::Knee, _) => pt(-0.35, -1.0),
        (_, Some(Goes::Down)) => pt(0.0, 1.0),
        (Limb::Foot, Some(Goes::Sweep)) => pt(-1.0, 0.0),
        (Limb::Foot, _) => pt(-1.0, -0.3),
        _ if front.overhead && blow.limb == Limb::Blade => pt(-0.45, 1.0),
        _ if front.overhead => pt(-0.8, 0.6),
        _ if front.high => pt(-1.0, 0.16),
        _ => pt(-1.0, -0.16),
    }
    .unit()
}

/// Where it is stopped: outside of the body, on its way; what comes from above, above the crown.
fn stop(front: &Front, body: &Skeleton, target: Pt, way: Pt) -> Pt {
    if front.overhead && front.guard != Guard::None {
        return target - pt(0.0, 15.0);
    }
    let edge = match front.aim.spot.part {
        Part::Head => body.head.x + body.radius,
        Part::Trunk | Part::Back => body.shoulders[1].x.max(body.hips[1].x) + 4.0 * body.scale,
        Part::Arm | Part::Leg => target.x,
    };
    let out = (STOP * way.x.abs()).max(edge + 9.0 - target.x);
    (target - way * (out / way.x.abs().max(0.3))).within(8.0)
}

/// True for a picture from the waist up.
fn is_close(front: &Front) -> bool {
    let spot = front.aim.spot;
    let high = match spot.part {
        Part::Head => true,
        Part::Trunk | Part::Back => spot.along >= 50,
        Part::Arm => spot.along >= 50,
        Part::Leg => false,
    };
    let above = !matches!(front.blow.limb, Limb::Knee | Limb::Foot);
    high && above && matches!(front.pose, Pose::Stand | Pose::Hit) && !front.drops
}

/// The body before it does anything, in its place in the picture.
fn stance(front: &Front) -> Skeleton {
    let body = arms(front, body::stand());
    if is_close(front) {
        let to = if front.overhead { pt(52.0, 82.0) } else { pt(44.0, 42.0) };
        let mut body = body.scaled(CLOSE, pt(60.0, 25.0), to);
        body.legs = false;
        return body;
    }
    // What comes down on the crown needs room above it.
    let body = if front.overhead { body.scaled(LOW, pt(60.0, 111.0), pt(60.0, 111.0)) } else { body };
    // What comes needs room beside it, most of all for an arm that is held out.
    let aside = match front.aim.spot.part {
        _ if front.pose.is_elsewhere() => 0.0,
        // On both sides where a weapon falls beside the body.
        _ if front.drops => -15.0,
        Part::Arm => -29.0,
        _ => -15.0,
    };
    body.moved(aside, 0.0)
}

/// The arm on the side of the blow does not hang before the target.
fn arms(front: &Front, mut body: Skeleton) -> Skeleton {
    match front.aim.spot.part {
        Part::Arm | Part::Trunk if front.drops || front.aim.spot.part == Part::Arm => {
            body.elbows[1] = pt(83.0, 52.0);
            body.hands[1] = pt(95.0, 62.0);
        }
        Part::Trunk if front.aim.side.is_some() => {
            body.elbows[1] = pt(83.0, 38.0);
            body.hands[1] = pt(90.0, 24.0);
        }
        _ => {
            body.elbows[1] = pt(77.0, 57.0);
            body.hands[1] = pt(75.0, 71.0);
        }
    }
    body
}

/// Which arms are drawn by what they do.
fn led(front: &Front) -> [bool; 2] {
    match &front.guard {
        Guard::None => [false, false],
        Guard::Arm => [false, true],
        Guard::Closing(closing) => {
            let both = closing.weapon.is_some_and(|held| held.grip >= 0.25);
            [!front.weapon_there || both, front.weapon_there || both]
        }
    }
}

fn bend(front: &Front, scale: f64) -> Pt {
    if front.weapon_there { pt(6.0, 7.0) * scale } else { pt(-4.0, 10.0) * scale }
}

/// The body as it is in the end.
fn posed(front: &Front, standing: Skeleton) -> Skeleton {
    match front.pose {
        Pose::Hit => hit(front, standing),
        Pose::Duck => body::crouch(),
        Pose::Jump => body::jump(),
        Pose::LiftLeg => body::lifted_leg(),
        Pose::Aside => standing.moved(-25.0, 0.0),
        Pose::Reel => standing.tilted(pt(44.0, 110.0), -15.0),
        Pose::Kneel => body::kneel().moved(-18.0, 0.0),
        // Whose feet are taken falls to the side; else they lie already.
        Pose::Fallen if low(&standing, front) => standing.moved(24.0, 0.0).tilted(pt(84.0, 111.0), -48.0),
        Pose::Fallen => body::fallen(),
        _ => standing,
    }
}

/// Whether it goes for the feet.
fn low(standing: &Skeleton, front: &Front) -> bool {
    on_front(standing, front.aim.spot, front.aim.side.is_some()).y > 84.0
}

/// The body bends about the blow: away from it where it comes, less above and below.
fn hit(front: &Front, standing: Skeleton) -> Skeleton {
    let at = on_front(&standing, front.aim.spot, front.aim.side.is_some());
    let (far, wide) = (9.0 * standing.scale, 22.0 * standing.scale);
    let feet = standing.feet;
    let mut body = standing.map(|joint| {
        let away = (joint.y - at.y) / wide;
        joint - pt(far * (-away * away).exp(), 0.0)
    });
    body.feet = feet;
    body
}

/// Chevrons the way the body goes.
fn motion(pose: Pose, body: &Skeleton, front: &Front) -> Vec<Shape> {
    let chevrons = |x: f64, y: f64, way: Pt| marks::chevrons(Whose::Partner, pt(x, y), way);
    let (up, down, left, right) = (pt(0.0, -1.0), pt(0.0, 1.0), pt(-1.0, 0.0), pt(1.0, 0.0));
    match pose {
        Pose::Duck => [chevrons(14.0, 66.0, down), chevrons(106.0, 66.0, down)].concat(),
        Pose::Jump => [chevrons(14.0, 60.0, up), chevrons(106.0, 60.0, up)].concat(),
        Pose::LiftLeg => chevrons(104.0, 50.0, up),
        Pose::Aside if front.aim.side.is_some() => chevrons(12.0, 96.0, left),
        // Which way is not said: one pair to either side.
        Pose::Aside => [chevrons(12.0, 96.0, left), chevrons(92.0, 96.0, right)].concat(),
        Pose::Ball => marks::bent_arrow(Whose::Partner, pt(60.0, 68.0), pt(36.0, 46.0), pt(10.0, 68.0)),
        Pose::Reel => chevrons(16.0, 92.0, left),
        Pose::Kneel => chevrons(14.0, 58.0, down),
        Pose::Fallen if body.head.y < 90.0 => chevrons(body.head.x, body.head.y + 24.0, down),
        Pose::Fallen => chevrons(body.head.x + 8.0, 74.0, down),
        _ => Vec::new(),
    }
}

/// What goes past where nobody is any more.
fn past(blow: &Blow, target: Pt) -> Vec<Shape> {
    if blow.limb != Limb::Blade {
        let way = pt(-1.0, 0.0);
        return [stroke(blow, target, way), marks::chevrons(Whose::Doer, pt(22.0, target.y.min(106.0)), way)].concat();
    }
    let low = if target.y > 60.0 { 16.0 } else { -16.0 };
    let y = (target.y + low * -0.35).clamp(16.0, 104.0);
    sweep(pt(116.0, y), pt(target.x, (y + low * 1.3).clamp(4.0, 116.0)), pt(4.0, y))
}

/// A blade that is laid on and drawn along: across the target, with an arrow beside it.
fn drawn(target: Pt) -> Vec<Shape> {
    let (way, across) = (pt(-0.62, 0.78), pt(0.78, 0.62));
    let (from, to) = ((target - way * 30.0).within(3.0), (target + way * 30.0).within(3.0));
    let mut shapes = vec![area(Whose::Doer, &[from + across * 5.5, to, from - across * 5.5])];
    let beside = across * 21.0;
    let at = |far: f64| (target + beside + way * far).within(4.0);
    shapes.extend(marks::bent_arrow(Whose::Doer, at(-20.0), at(0.0) + across * 2.0, at(20.0)));
    shapes
}

/// A weapon on its way to the floor, out of the hand that held it.
fn falling(hand: Pt, there: bool) -> Vec<Shape> {
    let out = if there { 1.0 } else { -1.0 };
    let hilt = (hand + pt(-2.0 * out, 16.0)).within(10.0);
    let tip = (hilt + pt(3.0 * out, 28.0)).within(4.0);
    let mut shapes = blade::double(Whose::Partner, Laid { hand: hilt, tip, end: hilt });
    shapes.extend(marks::chevrons(Whose::Partner, (hilt + pt(17.0 * out, 10.0)).within(12.0), pt(0.0, 1.0)));
    shapes
}

/// Where it goes, for a blow that comes from the picture's right.
#[cfg(test)]
pub(super) fn target(front: &Front) -> Pt {
    Layout::of(front).target
}
