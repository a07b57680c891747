//! Who is near a place at a time: the floor in squares and the time in pieces, so that only those are compared who could come
//! near each other. It leaves nobody out who could.

use std::collections::HashMap;

use super::Space;
use crate::stage::{Leg, Vec2};

/// The side of a square, metres.
const SQUARE: f64 = 3.0;
/// The length of a piece of time, seconds, unless there would be more than so many.
const PIECE: f64 = 3.0;
const MOST_PIECES: f64 = 10_000.0;
/// A way or a look over more squares than this is nowhere on a stage: it is near everything.
const MOST_SQUARES: i64 = 1_000;

/// Who is where and when, in squares and pieces of time.
pub(super) struct Near {
    people: HashMap<(i32, i32, i32), Vec<usize>>,
    /// Those who are near everything.
    everywhere: Vec<usize>,
    count: usize,
    piece: f64,
}

impl Near {
    pub(super) fn of(space: &Space<'_, '_>) -> Near {
        let end = space.scene.plan.duration().0 as f64 / 1e6;
        let (count, piece) = (space.tracks.people.len(), PIECE.max(end / MOST_PIECES));
        let mut near = Near { people: HashMap::new(), everywhere: Vec::new(), count, piece };
        for (person, track) in space.tracks.people.iter().enumerate() {
            for (at, leg) in track.legs.iter().enumerate() {
                let until = track.legs.get(at + 1).map_or(end, |next| next.begin).max(leg.begin);
                near.put(person, leg, until);
            }
        }
        near
    }

    fn put(&mut self, person: usize, leg: &Leg, until: f64) {
        let (low, high) = around(&leg.way.corners(), 0.05);
        let (least, most) = (square(low), square(high));
        let last = square(leg.to());
        if squares(least, most) > MOST_SQUARES {
            self.everywhere.push(person);
            return;
        }
        for piece in self.piece(leg.begin)..=self.piece(until) {
            // Once the leg is over they stand where it ends.
            let stands = f64::from(piece) * self.piece > leg.end;
            let (from, to) = if stands { (last, last) } else { (least, most) };
            for x in from.0..=to.0 {
                for y in from.1..=to.1 {
                    let there = self.people.entry((piece, x, y)).or_default();
                    if there.last() != Some(&person) {
                        there.push(person);
                    }
                }
            }
        }
    }

    /// Everybody who is at any time between two within `far` of these points, and perhaps others; in order.
    pub(super) fn within(&self, points: &[Vec2], far: f64, (begin, end): (f64, f64)) -> Vec<usize> {
        let (low, high) = around(points, far);
        let (from, to) = (square(low), square(high));
        if squares(from, to) > MOST_SQUARES {
            return (0..self.count).collect();
        }
        let mut found = self.everywhere.clone();
        for piece in self.piece(begin)..=self.piece(end) {
            for x in from.0..=to.0 {
                for y in from.1..=to.1 {
                    found.extend(self.people.get(&(piece, x, y)).into_iter().flatten().copied());
                }
            }
        }
        found.sort_unstable();
        found.dedup();
        found
    }

    fn piece(&self, time: f64) -> i32 {
        (time.max(0.0) / self.piece).floor().min(2.0 * MOST_PIECES) as i32
    }
}

fn around(points: &[Vec2], more: f64) -> (Vec2, Vec2) {
    let (mut low, mut high) = (Vec2::new(f64::MAX, f64::MAX), Vec2::new(f64::MIN, f64::MIN));
    for point in points {
        low = Vec2::new(low.x.min(point.x - more), low.y.min(point.y - more));
        high = Vec2::new(high.x.max(point.x + more), high.y.max(point.y + more));
    }
    (low, high)
}

/// How many squares lie between two.
fn squares(from: (i32, i32), to: (i32, i32)) -> i64 {
    let many = |from: i32, to: i32| i64::from(to) - i64::from(from) + 1;
    many(from.0, to.0) * many(from.1, to.1)
}

/// The square of a place; a place far beyond every stage is in the last one.
fn square(at: Vec2) -> (i32, i32) {
    let square = |it: f64| (it / SQUARE).floor().clamp(-1e4, 1e4) as i32;
    (square(at.x), square(at.y))
}
