//! Meeting: nobody walks through anybody. For straight ways the least distance is a closed form; along circles it is a bound
//! that no instant is below.

use super::near::Near;
use super::{Space, told};
use crate::score::problem::Problem;
use crate::stage::nearest::{Least, least_below, passing};
use crate::stage::{Cause, Leg, Pose, Track};

/// Two pass each other no nearer, metres between the middles of their bodies: shoulders touch at half a metre, and one turns them.
/// Assumption.
const PASSING: f64 = 0.35;
/// Somebody on a level so much higher is passed under, metres.
pub(super) const STOREY: f64 = 1.9;
const EXACT: f64 = 0.01;

/// C605: two who walk through each other.
pub(super) fn find(space: &Space<'_, '_>, near: &Near) -> Vec<Problem> {
    let mut problems = Vec::new();
    for (person, track) in space.tracks.people.iter().enumerate() {
        for leg in track.legs.iter().filter(|leg| matches!(leg.cause, Cause::Walk(_)) && leg.end > leg.begin) {
            let there = near.within(&leg.way.corners(), PASSING, (leg.begin, leg.end));
            for other in there.into_iter().filter(|it| *it != person) {
                problems.extend(meet(space, (person, leg), other));
            }
        }
    }
    problems
}

fn meet(space: &Space<'_, '_>, (person, leg): (usize, &Leg), other: usize) -> Option<Problem> {
    let track = space.tracks.people.get(other)?;
    let (least, their) = least(leg, track, other < person)?;
    // Who sets off from somebody only gets farther from them.
    if least.at <= leg.begin + 1e-6 {
        return None;
    }
    let layout = space.tracks.layout(least.at)?;
    let (here, there) = (leg.at(least.at), track.at(least.at)?);
    if (layout.floor(here) - layout.floor(there)).abs() > STOREY {
        return None;
    }
    let (span, used, _) = space.line(leg.cause)?;
    let (who, whom, beat) = (space.name(person), space.name(other), space.beat(least.at));
    let apart = space.far(least.value.max(0.0));
    let lies = track.pose(least.at) == Pose::Lying;
    let walks = matches!(their.cause, Cause::Walk(_)) && their.end > least.at;
    let how = match (walks, lies) {
        (true, _) => format!("{who} and {whom} walk through each other"),
        (false, true) => format!("{who} walks over {whom}, who lies there"),
        (false, false) => format!("{who} walks through {whom}, who stands there"),
    };
    let message = format!("{how}, near {} at {beat}: {apart} from middle to middle", space.mark(here));
    let off = (here - there).unit().or_else(|| across(leg, least.at)).unwrap_or_default();
    let clear = there + off * 0.6;
    let help =
        format!("let {who} pass at {}, by two walks or along a circle, or set off at another time", space.mark(clear));
    let problem = Problem::warning("C605", span.clone(), message).help(help);
    let their_line = space.line(their.cause).filter(|_| walks);
    let problem = match their_line {
        Some((theirs, ..)) if theirs != span => problem.related(theirs.clone(), "the other walk"),
        _ => problem,
    };
    Some(told(problem, used))
}

/// To the right of the way of somebody who walks.
fn across(leg: &Leg, time: f64) -> Option<crate::stage::Vec2> {
    let way = leg.at(time + 0.01) - leg.at(time - 0.01);
    crate::stage::Vec2::new(way.y, -way.x).unit()
}

/// How near somebody on a leg comes to another, where that is too near, and on which leg the other is then. What is seen from
/// the other's walk as well is left to that when the other comes first.
fn least<'t>(leg: &Leg, track: &'t Track, seen_before: bool) -> Option<(Least, &'t Leg)> {
    let theirs = track.between(leg.begin, leg.end);
    let mut best: Option<(Least, &Leg)> = None;
    for (at, their) in theirs.iter().enumerate() {
        let until = theirs.get(at + 1).map_or(leg.end, |next| next.begin).min(leg.end);
        for (begin, end) in [(their.begin, their.end.min(until)), (their.end, until)] {
            let span = (begin.max(leg.begin), end.min(leg.end));
            let walks = matches!(their.cause, Cause::Walk(_)) && begin < their.end;
            if span.1 < span.0 || (walks && seen_before) {
                continue;
            }
            let found = within(leg, their, span);
            if let Some(found) = found.filter(|it| best.is_none_or(|(least, _)| it.value < least.value)) {
                best = Some((found, their));
            }
        }
    }
    best
}

fn within(leg: &Leg, their: &Leg, (begin, end): (f64, f64)) -> Option<Least> {
    let apart = |time: f64| leg.at(time) - their.at(time);
    if leg.is_straight() && their.is_straight() {
        let least = passing(apart(begin), apart(end), begin, end);
        return Some(least).filter(|it| it.value < PASSING);
    }
    least_below((begin, end), leg.fastest() + their.fastest(), PASSING, EXACT, |time| apart(time).length())
}
