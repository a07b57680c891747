//! Somebody alone, from the side: what becomes of the body, and of the weapon. They look to the picture's right; a
//! left-hander to its left.

use super::blade::{self, Laid};
use super::body::{self, Skeleton};
use super::edge::leaning;
use super::feet;
use super::marks;
use super::point::{Pt, pt};
use super::scene::{Held, Own};
use super::shape::{Shape, Whose, disc, floor, line};
use crate::score::vocabulary::Goes;

const UP: Pt = pt(0.0, -1.0);
const DOWN: Pt = pt(0.0, 1.0);
const RIGHT: Pt = pt(1.0, 0.0);

/// The shapes of the figure.
pub(super) fn shapes(own: Own, mirrored: bool) -> Vec<Shape> {
    let shapes = match own {
        Own::Feet(goes) => feet::shapes(goes),
        _ => std::iter::once(floor()).chain(alone(own)).collect(),
    };
    let place = |point: Pt| if mirrored { point.within(0.0).mirrored() } else { point.within(0.0) };
    shapes.into_iter().map(|shape| shape.map(place)).collect()
}

/// Upright, looking to the right.
fn upright() -> Skeleton {
    body::profile().map(Pt::mirrored)
}

fn alone(own: Own) -> Vec<Shape> {
    match own {
        Own::Draw => sheath(UP),
        Own::Sheathe => sheath(DOWN),
        Own::PickUp => pick_up(),
        Own::Drop => drop(),
        Own::Toss => toss(),
        Own::Show(goes, held) => show(goes, held),
        Own::Kneel => with(body::profile_kneel().map(Pt::mirrored), &[(pt(30.0, 56.0), DOWN), (pt(98.0, 56.0), DOWN)]),
        Own::Rise => rise(),
        Own::Fall => {
            with(upright().moved(32.0, 0.0).tilted(pt(92.0, 110.0), -42.0), &[(pt(26.0, 88.0), pt(-0.5, 0.85))])
        }
        Own::Die => with(body::fallen(), &[(pt(46.0, 60.0), DOWN), (pt(82.0, 60.0), DOWN)]),
        Own::Crawl(goes) => crawl(goes),
        Own::Leap => with(body::jump(), &[(pt(60.0, 104.0), UP), (pt(30.0, 98.0), UP), (pt(90.0, 98.0), UP)]),
        Own::Crouch => with(body::crouch(), &[(pt(20.0, 56.0), DOWN), (pt(100.0, 56.0), DOWN)]),
        Own::Roll => roll(),
        Own::Reel => reel(),
        Own::Feet(_) => Vec::new(),
    }
}

/// A body, and chevrons beside it.
fn with(body: Skeleton, ways: &[(Pt, Pt)]) -> Vec<Shape> {
    let mut shapes = body.painted([false, false]);
    shapes.extend(ways.iter().flat_map(|(at, way)| marks::chevrons(Whose::Doer, *at, *way)));
    shapes
}

/// A body with its near arm at a place, and what it holds.
fn holding(body: &Skeleton, hand: Pt, tip: Pt) -> Vec<Shape> {
    let mut shapes = body.painted([false, true]);
    shapes.extend(body.reaching(1, hand, pt(0.0, 5.0)));
    shapes.extend(blade::double(Whose::Doer, Laid { hand, tip, end: hand }));
    shapes
}

/// Out of the sheath or into it: the blade at the hip, half in it.
fn sheath(way: Pt) -> Vec<Shape> {
    let body = upright().moved(-6.0, 0.0);
    let (mouth, end) = (pt(58.0, 76.0), pt(18.0, 96.0));
    let hand = pt(92.0, 59.0);
    let mut shapes = body.painted([false, true]);
    shapes.extend(body.reaching(1, hand, pt(4.0, 6.0)));
    shapes.extend(blade::double(Whose::Doer, Laid { hand, tip: mouth, end: hand }));
    shapes.push(line(Whose::Ground, 14.0, &[mouth, end]));
    shapes.push(line(Whose::Body, 9.0, &[mouth, end]));
    let out = (hand - mouth).unit();
    let way = if way == UP { out } else { out * -1.0 };
    shapes.extend(marks::chevrons(Whose::Doer, pt(94.0, 84.0), way));
    shapes
}

fn pick_up() -> Vec<Shape> {
    let body = leaning(upright().moved(-18.0, 0.0), 62.0);
    let (hand, tip) = (pt(78.0, 106.0), pt(116.0, 108.0));
    let mut shapes = holding(&body, hand, tip);
    shapes.extend(marks::chevrons(Whose::Doer, pt(102.0, 82.0), UP));
    shapes
}

fn drop() -> Vec<Shape> {
    let body = upright().moved(-16.0, 0.0);
    let mut shapes = body.painted([false, true]);
    shapes.extend(body.reaching(1, pt(74.0, 56.0), pt(0.0, 4.0)));
    let hand = pt(82.0, 72.0);
    shapes.extend(blade::double(Whose::Doer, Laid { hand, tip: pt(100.0, 108.0), end: hand }));
    shapes.extend(marks::chevrons(Whose::Doer, pt(106.0, 74.0), DOWN));
    shapes
}

fn toss() -> Vec<Shape> {
    let body = upright().moved(-26.0, 0.0);
    let mut shapes = body.painted([false, true]);
    shapes.extend(body.reaching(1, pt(64.0, 44.0), pt(0.0, 6.0)));
    let hand = pt(94.0, 50.0);
    shapes.extend(blade::double(Whose::Doer, Laid { hand, tip: pt(94.0, 8.0), end: hand }));
    shapes.extend(marks::bent_arrow(Whose::Doer, pt(70.0, 66.0), pt(98.0, 60.0), pt(112.0, 88.0)));
    shapes
}

/// A weapon that is shown: up before the face, towards the partner, or on guard. Without one, the hands are.
fn show(goes: Goes, held: Option<Held>) -> Vec<Shape> {
    let body = upright().moved(-20.0, 0.0);
    let (hand, way) = match goes {
        Goes::Up => (pt(66.0, 50.0), UP),
        Goes::Forward => (pt(72.0, 48.0), RIGHT),
        _ => (pt(68.0, 66.0), pt(0.74, -0.67)),
    };
    let mut shapes = match held {
        Some(held) => {
            let length = (held.blade * 48.0).clamp(22.0, 60.0).min(way.room(hand, 3.0));
            holding(&body, hand, hand + way * length)
        }
        None => {
            let mut shapes = body.painted([false, true]);
            shapes.extend(body.reaching(1, hand, pt(0.0, 6.0)));
            shapes.push(disc(Whose::Doer, hand, 8.0));
            shapes
        }
    };
    match goes {
        Goes::Up => shapes.extend(marks::chevrons(Whose::Doer, pt(90.0, 40.0), UP)),
        Goes::Forward => shapes.extend(marks::chevrons(Whose::Doer, pt(94.0, 72.0), RIGHT)),
        _ => {}
    }
    shapes
}

fn rise() -> Vec<Shape> {
    with(body::profile_kneel().map(Pt::mirrored), &[(pt(30.0, 50.0), UP), (pt(98.0, 50.0), UP)])
}

/// On hands and knees.
fn crawl(goes: Goes) -> Vec<Shape> {
    let mut body = upright();
    body.head = pt(94.0, 70.0);
    body.shoulders = [pt(80.0, 80.0), pt(80.0, 80.0)];
    body.hips = [pt(42.0, 82.0), pt(42.0, 82.0)];
    body.elbows = [pt(80.0, 96.0), pt(90.0, 95.0)];
    body.hands = [pt(80.0, 111.0), pt(96.0, 111.0)];
    body.knees = [pt(46.0, 108.0), pt(32.0, 108.0)];
    body.feet = [pt(26.0, 111.0), pt(14.0, 111.0)];
    let way = if goes == Goes::Back { RIGHT * -1.0 } else { RIGHT };
    with(body, &[(pt(60.0, 50.0), way)])
}

fn roll() -> Vec<Shape> {
    let mut shapes = body::rolled(pt(60.0, 88.0));
    shapes.extend(marks::round_arrow(Whose::Doer, pt(60.0, 78.0), 36.0, 235.0, true).into_iter().map(|shape| {
        // It stays above the floor.
        shape.map(|point| pt(point.x, point.y.min(112.0)))
    }));
    shapes
}

fn reel() -> Vec<Shape> {
    let mut body = upright().moved(-6.0, 0.0).tilted(pt(60.0, 110.0), 22.0);
    body.elbows = [body.shoulders[0] + pt(-10.0, -4.0), body.shoulders[1] + pt(13.0, -6.0)];
    body.hands = [body.shoulders[0] + pt(-22.0, -16.0), body.shoulders[1] + pt(26.0, 2.0)];
    body.feet = [pt(34.0, 104.0), pt(74.0, 110.0)];
    with(body, &[(pt(104.0, 86.0), pt(0.8, 0.6))])
}
