//! Where things lie: mirrors, the square, and the blade in its line.

use super::every::{Case, every};
use crate::figure::point::{Pt, SIDE};
use crate::figure::scene::{Guard, Scene};
use crate::figure::shape::Shape;
use crate::figure::{Armed, Drawn, DrawnReply, Picture, View, front};
use crate::score::model::{Hand, Side};
use crate::score::vocabulary::{Line, Vocabulary};

const fn other_hand(hand: Hand) -> Hand {
    match hand {
        Hand::Right => Hand::Left,
        Hand::Left => Hand::Right,
        Hand::None => Hand::None,
    }
}

const fn other_side(side: Side) -> Side {
    match side {
        Side::Left => Side::Right,
        Side::Right => Side::Left,
    }
}

/// The same on the other side.
fn sides_changed(drawn: &Drawn) -> Drawn {
    let answer = drawn.answer.clone();
    Drawn {
        side: drawn.side.map(other_side),
        answer: answer.map(|answer| DrawnReply { side: answer.side.map(other_side), ..answer }),
        ..drawn.clone()
    }
}

/// The same with the other hands.
fn hands_changed(drawn: &Drawn) -> Drawn {
    let other = |armed: &Armed| Armed { hand: other_hand(armed.hand), ..armed.clone() };
    Drawn { doer: other(&drawn.doer), partner: other(&drawn.partner), ..drawn.clone() }
}

fn shapes_of(vocabulary: &Vocabulary, drawn: &Drawn) -> Option<Vec<Shape>> {
    Picture::of(vocabulary, drawn).map(|picture| picture.shapes(View::Doer))
}

/// Whether each is the mirror image of the other, to a millionth.
fn are_mirrors(one: &[Shape], other: &[Shape]) -> bool {
    let near = |a: Pt, b: Pt| (a - b).length() < 1e-6;
    one.len() == other.len()
        && one.iter().zip(other).all(|(one, other)| {
            let (one, other) = (one.clone().mirrored().points(), other.points());
            one.len() == other.len() && one.iter().zip(&other).all(|(a, b)| near(*a, *b))
        })
}

#[test]
fn two_left_handers_are_the_mirror_image_of_two_right_handers() {
    let vocabulary = Vocabulary::built_in();
    for Case { name, drawn } in every(&vocabulary) {
        let mirrored = hands_changed(&sides_changed(&drawn));
        match (shapes_of(&vocabulary, &drawn), shapes_of(&vocabulary, &mirrored)) {
            (Some(one), Some(other)) => assert!(are_mirrors(&one, &other), "{name}"),
            (one, other) => assert_eq!(one.is_some(), other.is_some(), "{name}"),
        }
    }
}

#[test]
fn left_and_right_of_the_same_move_are_mirror_images() {
    let vocabulary = Vocabulary::built_in();
    let mut compared = 0;
    for Case { name, drawn } in every(&vocabulary).into_iter().filter(|case| case.drawn.side.is_some()) {
        let Some(one) = Picture::of(&vocabulary, &drawn) else { continue };
        // A hand of its own has its weapon: the one that closes a line, and the one that drops.
        if matches!(one.scene(), Scene::Front(front) if front.drops || matches!(front.guard, Guard::Closing(_))) {
            continue;
        }
        let other = shapes_of(&vocabulary, &sides_changed(&drawn)).unwrap();
        assert!(are_mirrors(&one.shapes(View::Doer), &other), "{name}");
        compared += 1;
    }
    assert!(compared > 1_000, "{compared}");
}

/// The partner sees their own body: a blow from their right comes from the right.
#[test]
fn the_partner_sees_what_comes_from_their_right_on_the_right() {
    let vocabulary = Vocabulary::built_in();
    for Case { name, drawn } in every(&vocabulary) {
        let Some(picture) = Picture::of(&vocabulary, &drawn) else { continue };
        let (doer, partner) = (picture.shapes(View::Doer), picture.shapes(View::Partner));
        match picture.scene() {
            Scene::Front(_) => assert!(are_mirrors(&doer, &partner), "{name}"),
            _ => assert_eq!(doer, partner, "{name}"),
        }
    }
}

#[test]
fn every_point_lies_in_the_square() {
    let vocabulary = Vocabulary::built_in();
    for Case { name, drawn } in every(&vocabulary) {
        for shape in shapes_of(&vocabulary, &drawn).unwrap_or_default() {
            assert!(lies_in_the_square(&shape), "{name}: {shape:?}");
        }
    }
}

pub(super) fn lies_in_the_square(shape: &Shape) -> bool {
    shape.points().iter().all(|at| (0.0..=SIDE).contains(&at.x) && (0.0..=SIDE).contains(&at.y))
}

/// The blade of a parry goes through the place where the blow is stopped; that place is outside of the body, on the side
/// that the line is on, and the blade stands in high lines, hangs in low ones, and lies across over the head.
#[test]
fn a_parry_meets_the_blow_in_the_line_that_it_closes() {
    let vocabulary = Vocabulary::built_in();
    let mut parries = 0;
    for Case { name, drawn } in every(&vocabulary) {
        let Some(picture) = Picture::of(&vocabulary, &drawn) else { continue };
        let Scene::Front(front) = picture.scene() else { continue };
        let Guard::Closing(closing) = &front.guard else { continue };
        let (stop, laid) = front::meeting(front);
        let laid = laid.unwrap();
        let blade = laid.tip - laid.hand;
        let along = (stop - laid.hand).length() / blade.length();
        assert!((laid.hand.towards(laid.tip, along) - stop).length() < 1.0, "{name}: it does not go through");
        assert!((0.1..0.9).contains(&along), "{name}: {along} of the way to the point");
        let outside = matches!(closing.line, Line::HighOutside | Line::LowOutside);
        match closing.line {
            Line::Overhead => assert!(blade.x.abs() > 2.0 * blade.y.abs(), "{name}"),
            Line::HighInside | Line::HighOutside => assert!(blade.y < -blade.x.abs(), "{name}"),
            Line::LowInside | Line::LowOutside => assert!(blade.y > blade.x.abs(), "{name}"),
        }
        if closing.line != Line::Overhead {
            // A right-hander's outside is the right side, which the one who acts sees on the left.
            assert_eq!(front.from_right, !outside, "{name}");
            assert!(stop.x > front::target(front).x + 12.0, "{name}");
        }
        parries += 1;
    }
    assert!(parries > 400, "{parries}");
}

#[test]
fn no_picture_is_long() {
    let vocabulary = Vocabulary::built_in();
    let long =
        |case: &Case| Picture::of(&vocabulary, &case.drawn).map(|it| (it.inline(View::Doer).len(), case.name.clone()));
    let longest = every(&vocabulary).iter().filter_map(long).max().unwrap();
    assert!(longest.0 <= 3_000, "{longest:?}");
}
