//! A leg of somebody's way: where they stand or go between two times. Along it they go at one speed.

use super::vec2::Vec2;
use crate::score::model::{Arc, Way as Turning};

/// Where somebody is from one time to another, seconds from the first beat. Afterwards they stand where it ends.
#[derive(Clone, Debug, PartialEq)]
pub struct Leg {
    /// When it begins.
    pub begin: f64,
    /// When it ends; not before it begins.
    pub end: f64,
    /// Which way.
    pub way: Way,
    /// What it comes from.
    pub cause: Cause,
}

/// What a leg comes from; the numbers are places in the plan.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Cause {
    /// A mark at the start of a phrase: one of the plan's places.
    Mark(usize),
    /// One of the plan's walks.
    Walk(usize),
    /// The footwork of one of the plan's moves; the score writes no mark for it.
    Move(usize),
}

/// The way of a leg.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Way {
    /// Nowhere.
    Stand(Vec2),
    /// Straight.
    Straight {
        /// From here.
        from: Vec2,
        /// To here.
        to: Vec2,
    },
    /// Round a middle; nearer to it or farther from it evenly on the way.
    Round {
        /// The middle.
        middle: Vec2,
        /// The first bearing from the middle, degrees.
        bearing: f64,
        /// How far round, degrees; with the clock is positive.
        turn: f64,
        /// How far from the middle it begins and ends.
        radii: (f64, f64),
    },
}

impl Way {
    /// The way from a place to another, straight or along a circle; nothing where somebody stands in its middle.
    pub fn of_walk(from: Vec2, to: Vec2, around: Option<(Vec2, Arc)>) -> Way {
        let Some((middle, arc)) = around else { return Way::Straight { from, to } };
        let (first, last) = (from - middle, to - middle);
        let radii = (first.length(), last.length());
        if radii.0 < 1e-9 || radii.1 < 1e-9 {
            return Way::Straight { from, to };
        }
        let clockwise = (last.bearing() - first.bearing()).rem_euclid(360.0);
        let turn = match arc.way {
            Some(Turning::Clockwise) => clockwise,
            Some(Turning::Anticlockwise) => clockwise - 360.0,
            None if clockwise <= 180.0 => clockwise,
            None => clockwise - 360.0,
        };
        // Once round, when it ends where it begins.
        let turn = match arc.way {
            Some(Turning::Clockwise) if turn < 1e-9 => 360.0,
            _ => turn,
        };
        Way::Round { middle, bearing: first.bearing(), turn, radii }
    }

    /// Where it is after a part of it, 0 to 1.
    pub fn at(&self, part: f64) -> Vec2 {
        match *self {
            Way::Stand(at) => at,
            Way::Straight { from, to } => from.toward(to, part),
            Way::Round { middle, bearing, turn, radii } => {
                middle + Vec2::along(bearing + turn * part) * (radii.0 + (radii.1 - radii.0) * part)
            }
        }
    }

    /// How long it is, metres: along a circle exact, nearer or farther on the way by Simpson's rule.
    pub fn length(&self) -> f64 {
        match *self {
            Way::Stand(_) => 0.0,
            Way::Straight { from, to } => from.distance(to),
            Way::Round { turn, radii, .. } => {
                let (turn, inward) = (turn.abs().to_radians(), radii.1 - radii.0);
                let rate = |part: f64| (turn * (radii.0 + inward * part)).hypot(inward);
                let steps = 64;
                let part = |step: i32| f64::from(step) / f64::from(steps);
                let weights = (0..=steps).map(|step| match step {
                    0 => 1.0,
                    it if it == steps => 1.0,
                    it if it % 2 == 1 => 4.0,
                    _ => 2.0,
                });
                weights.zip(0..).map(|(weight, step)| weight * rate(part(step))).sum::<f64>() / (3.0 * f64::from(steps))
            }
        }
    }

    /// At least the rate at which it goes anywhere, metres for the whole of it.
    fn rate(&self) -> f64 {
        match *self {
            Way::Round { turn, radii, .. } => (turn.abs().to_radians() * radii.0.max(radii.1)).hypot(radii.1 - radii.0),
            _ => self.length(),
        }
    }

    /// The way as straight pieces: a circle in pieces of 5 degrees or less, which it leaves by a thousandth of its radius.
    pub fn corners(&self) -> Vec<Vec2> {
        match *self {
            Way::Stand(at) => vec![at],
            Way::Straight { from, to } => vec![from, to],
            Way::Round { turn, .. } => {
                let pieces = (turn.abs() / 5.0).ceil().max(1.0);
                let count = pieces as usize;
                (0..=count).map(|piece| self.at(piece as f64 / pieces)).collect()
            }
        }
    }
}

impl Leg {
    /// Where somebody on it is.
    pub fn at(&self, time: f64) -> Vec2 {
        let long = self.end - self.begin;
        let part = if long > 0.0 { ((time - self.begin) / long).clamp(0.0, 1.0) } else { 1.0 };
        self.way.at(part)
    }

    /// Where it ends.
    pub fn to(&self) -> Vec2 {
        self.way.at(1.0)
    }

    /// No less than how fast somebody on it ever is, metres a second.
    pub fn fastest(&self) -> f64 {
        let long = self.end - self.begin;
        if long > 0.0 { self.way.rate() / long } else { 0.0 }
    }

    /// True when it goes straight or nowhere.
    pub fn is_straight(&self) -> bool {
        !matches!(self.way, Way::Round { .. })
    }
}
