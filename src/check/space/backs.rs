//! Backs: whoever fights does not see who fights behind them. No other pair stands within the reach of a weapon that is swung,
//! whichever way it is turned: a step back, or a weapon that is drawn back, and it is there.

use std::collections::{BTreeMap, BTreeSet};

use super::clearance::reaches;
use super::measure::more;
use super::meeting::STOREY;
use super::near::Near;
use super::{Space, told};
use crate::score::problem::Problem;
use crate::stage::nearest::{Least, least_below};
use crate::stage::{BODY_RADIUS, EXACT, Pose, Swing};

/// Two fight at the same time when less than this lies between a blow of the one and a blow of the other, seconds. Assumption.
const AT_ONCE: f64 = 3.0;

/// Somebody who fights a third person within the reach of a weapon.
struct Behind<'t> {
    swing: Swing<'t>,
    person: usize,
    least: Least,
}

/// C606: another pair within reach. Once for two people in a phrase, where they are nearest; what a blow sweeps near them is
/// said by C602 and not here.
pub(super) fn find(space: &Space<'_, '_>, near: &Near) -> Vec<Problem> {
    let mut found: BTreeMap<(usize, usize, usize), (Behind<'_>, usize)> = BTreeMap::new();
    let mut said: BTreeSet<(usize, usize, usize)> = BTreeSet::new();
    for (own, sweep) in space.tracks.sweeps.iter().filter(|(_, sweep)| sweep.armed) {
        let Some(planned) = space.planned(sweep.of_move) else { continue };
        let phrase = planned.phrase_in_range;
        let Some(swing) = Swing::of(space.tracks, planned, (*own, *sweep), space.span_of(phrase)) else { continue };
        for person in who_fights(space, near, &swing, phrase) {
            let key = (phrase, person.min(*own), person.max(*own));
            if reaches(space, &swing, person) {
                said.insert(key);
                continue;
            }
            let Some(least) = how_near(space, &swing, person) else { continue };
            let one = Behind { swing, person, least };
            match found.get_mut(&key) {
                Some((before, times)) if before.least.value <= least.value + EXACT => *times += 1,
                Some(worse) => *worse = (one, worse.1 + 1),
                None => drop(found.insert(key, (one, 0))),
            }
        }
    }
    let left = found.into_iter().filter(|(key, _)| !said.contains(key));
    left.filter_map(|(_, (one, times))| tell(space, &one, times)).collect()
}

/// Everybody who may be near and who fights somebody else at the time of a blow.
fn who_fights(space: &Space<'_, '_>, near: &Near, swing: &Swing<'_>, phrase: usize) -> Vec<usize> {
    let Some((partner, _)) = swing.partner else { return Vec::new() };
    let two = [swing.own, partner];
    let blows = &space.tracks.blows;
    let first = blows.partition_point(|it| it.time < swing.sweep.beat - AT_ONCE);
    let at_once = blows.iter().skip(first).take_while(|it| it.time <= swing.sweep.beat + AT_ONCE);
    let at_once = at_once.filter(|it| space.planned(it.of_move).is_some_and(|it| it.phrase_in_range == phrase));
    let others = at_once.filter(|it| !two.contains(&it.own) && !two.contains(&it.partner));
    let mut fight: Vec<usize> = others.flat_map(|it| [it.own, it.partner]).collect();
    fight.sort_unstable();
    fight.dedup();
    if !fight.is_empty() {
        let far = swing.sweep.radius + BODY_RADIUS + swing.rate * (swing.span.1 - swing.span.0);
        let there = near.within(&[swing.at(swing.sweep.beat).0], far, swing.span);
        fight.retain(|person| there.binary_search(person).is_ok());
    }
    fight
}

/// How near somebody comes to whoever strikes, where that is within reach.
fn how_near(space: &Space<'_, '_>, swing: &Swing<'_>, person: usize) -> Option<Least> {
    let (own, other) = (space.tracks.people.get(swing.own)?, space.tracks.people.get(person)?);
    let (begin, end) = swing.span;
    other.at(begin)?;
    if other.pose(swing.sweep.beat) == Pose::Lying
        || swing.rise(space.tracks, other.at(swing.sweep.beat)?).abs() > STOREY
    {
        return None;
    }
    let rate = own.fastest(begin, end) + other.fastest(begin, end);
    let apart = |time: f64| swing.at(time).0.distance(other.at(time).unwrap_or_default());
    least_below(swing.span, rate, swing.sweep.radius + BODY_RADIUS, EXACT, apart)
}

fn tell(space: &Space<'_, '_>, one: &Behind<'_>, times: usize) -> Option<Problem> {
    let Behind { swing, person, least } = one;
    let planned = space.planned(swing.sweep.of_move)?;
    let (from, there) = (swing.at(least.at).0, space.tracks.people.get(*person)?.at(least.at)?);
    let (who, whom, needs) = (space.name(swing.own), space.name(*person), swing.sweep.radius + BODY_RADIUS);
    let message = format!(
        "{who}'s {} at beat {} is done {} from {whom}, who fights somebody else: neither sees the other, and a weapon that is \
         drawn back, or a step, reaches {}",
        planned.action,
        planned.beat.beat_label(),
        space.far(least.value),
        space.far(needs)
    );
    let off = (there - from).unit()? * (needs - least.value + EXACT);
    let help = format!("keep the pairs apart: {whom} {} from there, at {}", space.way(off), space.mark(there + off));
    let problem = Problem::warning("C606", planned.span.clone(), message).help(help);
    Some(told(more(problem, times), planned.used.as_ref()))
}
