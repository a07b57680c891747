//! Blades that are held: the one that closes a line, drawn as a double line with a round guard, over what it stops and
//! with a little ground about it; and the one that is only carried.

use super::point::Pt;
use super::point::pt;
use super::scene::{Closing, Held};
use super::shape::{Shape, Whose, bar, disc, line};
use crate::score::vocabulary::{Line, Turn};

/// How long a metre is, in units of the square.
const METRE: f64 = 56.0;
/// Two fists need so much behind the blade, in metres; common practice, no source.
const TWO_HANDS: f64 = 0.25;

/// A blade in its place.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Laid {
    /// The hand.
    pub(super) hand: Pt,
    /// The point.
    pub(super) tip: Pt,
    /// The end behind the hand; the hand itself for a hilt of one hand.
    pub(super) end: Pt,
}

impl Laid {
    /// The second hand, where there is room for it.
    pub(super) fn second(self) -> Option<Pt> {
        let behind = self.end - self.hand;
        (behind.length() > 1.0).then(|| self.hand + behind.unit() * behind.length().min(18.0))
    }
}

/// The way from the hand to the point, for a blow that comes from the picture's right. `weapon_there`: the hand of the
/// weapon is on that side. High lines are closed with the point up, low ones with it hanging; the hand that is turned
/// nails down holds the blade steep, nails up it holds it slanting outwards (common practice, no source). From above the
/// blade lies across, the point up in a parry of the high lines, hanging in one of the low ones.
fn way(closing: &Closing, weapon_there: bool) -> Pt {
    let across = if weapon_there { -1.0 } else { 1.0 };
    let high = |line| matches!(line, Line::HighInside | Line::HighOutside);
    match (closing.line, closing.turn) {
        (Line::Overhead, _) if high(closing.usual) => pt(across, -0.26),
        (Line::Overhead, _) => pt(across, 0.36),
        (line, Turn::Supinated) if high(line) => pt(0.34, -0.94),
        (_, Turn::Supinated) => pt(0.46, 0.88),
        (line, Turn::Pronated) if high(line) => pt(-0.12, -1.0),
        (_, Turn::Pronated) => pt(-0.1, 1.0),
    }
    .unit()
}

/// The blade that closes a line, through the point `through` where it meets what comes.
pub(super) fn laid(closing: &Closing, through: Pt, weapon_there: bool, scale: f64) -> Laid {
    let way = way(closing, weapon_there);
    let held = closing.weapon.unwrap_or(Held { blade: 0.4, grip: 0.0 });
    let size = METRE * scale.sqrt();
    let length = (held.blade * size).clamp(26.0, 84.0);
    let low_hand = closing.line != Line::Overhead && closing.turn == Turn::Pronated;
    let before = (length * if low_hand { 0.46 } else { 0.36 }).clamp(13.0, 34.0);
    let back = way * -1.0;
    let hand = through + back * before.min(back.room(through, 8.0));
    let tip = hand + way * length.min(way.room(hand, 2.0));
    let behind = if held.grip < TWO_HANDS { 0.0 } else { (held.grip * size).min(back.room(hand, 3.0)) };
    Laid { hand, tip, end: hand + back * behind }
}

/// A blade of somebody: two lines with the ground between them, and a round guard.
pub(super) fn double(whose: Whose, laid: Laid) -> Vec<Shape> {
    let ends = [laid.end, laid.tip];
    let mut shapes = vec![
        bar(Whose::Ground, 14.0, &ends),
        bar(whose, 9.6, &ends),
        bar(Whose::Ground, 2.8, &ends),
        disc(whose, laid.hand, 6.5),
    ];
    shapes.extend(laid.second().map(|hand| disc(whose, hand, 6.0)));
    shapes
}

/// A hand without a weapon in the way: a forearm and a flat hand.
pub(super) fn open_hand(whose: Whose, laid: Laid) -> Vec<Shape> {
    let ends = [laid.hand, laid.tip];
    vec![line(Whose::Ground, 14.0, &ends), line(whose, 10.0, &ends)]
}

/// A blade of the one who acts: solid, with a round guard.
pub(super) fn solid(whose: Whose, laid: Laid) -> Vec<Shape> {
    let half = (laid.tip - laid.hand).unit().across() * 4.2;
    let shape = |wide: f64| [laid.hand + half * wide, laid.tip, laid.hand - half * wide];
    vec![
        super::shape::soft_area(Whose::Ground, 5.0, &shape(1.0)),
        super::shape::area(whose, &shape(1.0)),
        disc(whose, laid.hand, 6.0),
    ]
}
