//! Steps, from above: where the feet stand, and where they go. The partner is at the top of the picture.

use super::marks;
use super::point::{Pt, pt};
use super::shape::{Shape, Whose, disc, line};
use crate::score::vocabulary::Goes;

const UP: Pt = pt(0.0, -1.0);

/// The shapes of steps that go that way.
pub(super) fn shapes(goes: Goes) -> Vec<Shape> {
    match goes {
        Goes::Forward => straight(88.0, 40.0, UP),
        Goes::Back => straight(32.0, 80.0, pt(0.0, 1.0)),
        Goes::Aside => aside(),
        Goes::Pass => pass(),
        Goes::Around => around(),
        _ => turn(),
    }
}

/// The print of a shoe, its toes to the top, turned by degrees.
fn print(whose: Whose, at: Pt, degrees: f64) -> Vec<Shape> {
    let place = |x: f64, y: f64| (at + pt(x, y)).turned(at, degrees);
    vec![line(whose, 13.0, &[place(0.0, -9.0), place(0.0, -1.0)]), disc(whose, place(0.0, 13.0), 5.6)]
}

fn pair(whose: Whose, y: f64, left: f64, right: f64) -> Vec<Shape> {
    [print(whose, pt(left, y), -8.0), print(whose, pt(right, y), 8.0)].concat()
}

fn straight(from: f64, to: f64, way: Pt) -> Vec<Shape> {
    let middle = pt(60.0, (from + to) / 2.0);
    [pair(Whose::Body, from, 36.0, 84.0), pair(Whose::Doer, to, 36.0, 84.0), marks::chevrons(Whose::Doer, middle, way)]
        .concat()
}

fn aside() -> Vec<Shape> {
    [
        print(Whose::Body, pt(20.0, 60.0), 0.0),
        print(Whose::Body, pt(42.0, 60.0), 0.0),
        marks::chevrons(Whose::Doer, pt(60.0, 60.0), pt(1.0, 0.0)),
        print(Whose::Doer, pt(84.0, 60.0), 0.0),
        print(Whose::Doer, pt(106.0, 60.0), 0.0),
    ]
    .concat()
}

fn pass() -> Vec<Shape> {
    [
        print(Whose::Body, pt(44.0, 62.0), -6.0),
        print(Whose::Body, pt(80.0, 96.0), 6.0),
        print(Whose::Doer, pt(72.0, 22.0), 0.0),
        marks::bent_arrow(Whose::Doer, pt(88.0, 76.0), pt(102.0, 54.0), pt(86.0, 34.0)),
    ]
    .concat()
}

fn around() -> Vec<Shape> {
    let mut shapes = vec![disc(Whose::Body, pt(60.0, 44.0), 11.0)];
    shapes.extend(pair(Whose::Body, 100.0, 44.0, 66.0));
    shapes.extend(marks::round_arrow(Whose::Doer, pt(60.0, 46.0), 34.0, 130.0, false));
    shapes
}

fn turn() -> Vec<Shape> {
    let mut shapes = pair(Whose::Body, 60.0, 46.0, 74.0);
    shapes.extend(marks::round_arrow(Whose::Doer, pt(60.0, 60.0), 43.0, 210.0, true));
    shapes
}
