//! What passes near those who only stand by, and when: the nearest of each bar, of blows and of whoever walks past them. It is a
//! warning to them, not a finding: at what is allowed, and a good way more.

use std::collections::BTreeMap;

use super::nearest::least_below;
use super::plan::LeastDistances;
use super::swing::{EXACT, Swing};
use super::track::Tracks;
use super::vec2::Vec2;
use super::{BODY_RADIUS, Cause};
use crate::score::model::{BystanderId, FighterId, Person};
use crate::timeline::{Plan, PlannedPhrase};
use crate::units::Ticks;

/// So much farther off than a blow has to stay from who stands by, it is told to them, metres. Assumption: an arm's length
/// and a step.
const TOLD_BLOW: f64 = 1.0;
/// Whoever walks past nearer than this is told, metres from body to body. Assumption: an arm's length.
const TOLD_WALK: f64 = 0.6;

/// No body takes up more room, metres: whoever lies, whichever way, and is as tall as may be written.
const MOST_RADIUS: f64 = 1.3;

/// Something that passes near somebody who only stands by.
#[derive(Clone, Debug, PartialEq)]
pub struct Passage {
    /// Whom.
    pub who: BystanderId,
    /// The phrase in the score, counted from 0.
    pub phrase: usize,
    /// When, from the first beat of the phrase: the beat of a blow, or the whole beat at which somebody who walks is nearest.
    pub at: Ticks,
    /// Whose blow or walk.
    pub by: Person,
    /// The blow in words; nothing for a walk.
    pub action: Option<String>,
    /// How near it comes to their body, metres.
    pub gap: f64,
    /// On which side of them.
    pub side: Beside,
}

/// On which side of somebody: as they look, or on the stage where the score does not say which way they do.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Beside {
    /// In front of them.
    Front,
    /// At their right.
    Right,
    /// Behind them.
    Behind,
    /// At their left.
    Left,
    /// Upstage of them.
    Upstage,
    /// At stage left.
    StageLeft,
    /// Downstage of them.
    Downstage,
    /// At stage right.
    StageRight,
}

impl Beside {
    /// The side on which something lies that is so far away, for who looks along that bearing.
    fn of(way: Vec2, looks: Option<f64>) -> Beside {
        let turn = (way.bearing() - looks.unwrap_or(0.0) + 45.0).rem_euclid(360.0);
        match ((turn / 90.0).floor() as u8 % 4, looks.is_some()) {
            (0, true) => Beside::Front,
            (1, true) => Beside::Right,
            (2, true) => Beside::Behind,
            (_, true) => Beside::Left,
            (0, false) => Beside::Upstage,
            (1, false) => Beside::StageLeft,
            (2, false) => Beside::Downstage,
            (_, false) => Beside::StageRight,
        }
    }
}

/// What passes near everybody who only stands by in a plan of the whole fight: of each bar the nearest, in order.
pub fn passages(plan: &Plan, tracks: &Tracks<'_>, least: &LeastDistances) -> Vec<Passage> {
    let bystanders: Vec<(usize, BystanderId)> = (tracks.fighters()..tracks.people.len())
        .map(|person| (person, BystanderId(person - tracks.fighters())))
        .collect();
    if bystanders.is_empty() {
        return Vec::new();
    }
    let near = Passing { plan, tracks };
    let mut nearest: BTreeMap<(usize, i64, usize), Passage> = BTreeMap::new();
    let blows = near.blows(&bystanders, least.bystander + TOLD_BLOW);
    for passage in blows.into_iter().chain(near.walks(&bystanders)) {
        let bar = passage.at.0.div_euclid(Ticks::beats(i64::from(plan.beats_per_bar())).0);
        let key = (passage.phrase, bar, passage.who.0);
        if nearest.get(&key).is_none_or(|other| passage.gap < other.gap) {
            nearest.insert(key, passage);
        }
    }
    let mut found: Vec<Passage> = nearest.into_values().collect();
    found.sort_by_key(|it| (it.phrase, it.at, it.who));
    found
}

struct Passing<'p> {
    plan: &'p Plan,
    tracks: &'p Tracks<'p>,
}

impl Passing<'_> {
    fn blows(&self, bystanders: &[(usize, BystanderId)], told: f64) -> Vec<Passage> {
        let mut found = Vec::new();
        for (own, sweep) in &self.tracks.sweeps {
            let Some(planned) = self.plan.moves().get(sweep.of_move) else { continue };
            let Some(phrase) = self.plan.phrases().get(planned.phrase_in_range) else { continue };
            let span = (self.seconds(phrase.at), self.seconds(phrase.at + phrase.length));
            let Some(swing) = Swing::of(self.tracks, planned, (*own, *sweep), span) else { continue };
            let (from, _) = swing.at(swing.span.0);
            for (person, who) in bystanders {
                let Some((gap, way)) = self.passes(&swing, from, *person, told) else { continue };
                let side = Beside::of(way, self.tracks.facing(*person, sweep.beat));
                found.push(Passage {
                    who: *who,
                    phrase: phrase.phrase,
                    at: planned.beat,
                    by: Person::Fighter(FighterId(*own)),
                    action: Some(planned.action.to_string()),
                    gap,
                    side,
                });
            }
        }
        found
    }

    /// How near a blow that begins from there comes to somebody's body, and the way to it from them.
    fn passes(&self, swing: &Swing<'_>, from: Vec2, person: usize, told: f64) -> Option<(f64, Vec2)> {
        let other = self.tracks.people.get(person)?;
        let here = other.at(swing.span.0)?;
        let moves = (swing.rate + other.fastest(swing.span.0, swing.span.1)) * (swing.span.1 - swing.span.0);
        // Most are far off, and are asked no more than where they are.
        let (way, far) = (here - from, swing.sweep.radius + told + MOST_RADIUS + moves);
        if way.dot(way) > far * far {
            return None;
        }
        let room = other.room(swing.span.0, swing.span.1);
        if way.length() > swing.sweep.radius + told + room.radius + moves {
            return None;
        }
        let rise = swing.rise(self.tracks, here);
        if !swing.sweep.is_as_high_as(rise + room.low, rise + room.high) {
            return None;
        }
        let least = swing.comes_near(other, Vec2::default(), told + room.radius)?;
        let here = other.at(least.at)?;
        let (from, bearing) = swing.at(least.at);
        Some(((least.value - room.radius).max(0.0), swing.sweep.nearest(from, bearing, here) - here))
    }

    fn walks(&self, bystanders: &[(usize, BystanderId)]) -> Vec<Passage> {
        let mut found = Vec::new();
        for (own, track) in self.tracks.people.iter().enumerate() {
            for leg in track.legs.iter().filter(|leg| leg.end > leg.begin) {
                let Cause::Walk(walk) = leg.cause else { continue };
                let Some(walk) = self.plan.walks().get(walk) else { continue };
                let Some(phrase) = self.plan.phrases().get(walk.phrase_in_range) else { continue };
                for (person, who) in bystanders.iter().filter(|(person, _)| *person != own) {
                    let Some(other) = self.tracks.people.get(*person) else { continue };
                    let limit = TOLD_WALK + 2.0 * BODY_RADIUS;
                    let apart = |time: f64| other.at(time).map_or(f64::INFINITY, |at| at.distance(leg.at(time)));
                    let rate = leg.fastest() + other.fastest(leg.begin, leg.end);
                    // Who comes on later, or goes to another mark, is not where they were.
                    if other.at(leg.begin).is_none() || other.jumps(leg.begin, leg.end) {
                        continue;
                    }
                    let Some(least) = least_below((leg.begin, leg.end), rate, limit, EXACT, apart) else { continue };
                    let Some(here) = other.at(least.at) else { continue };
                    let side = Beside::of(leg.at(least.at) - here, self.tracks.facing(*person, least.at));
                    found.push(Passage {
                        who: *who,
                        phrase: phrase.phrase,
                        at: self.beat(phrase, least.at),
                        by: track.who,
                        action: None,
                        gap: (least.value - 2.0 * BODY_RADIUS).max(0.0),
                        side,
                    });
                }
            }
        }
        found
    }

    fn seconds(&self, ticks: Ticks) -> f64 {
        self.plan.tempo().exact_time_of(ticks.0 as f64) / 1e6
    }

    /// The whole beat of a phrase that is nearest to a time.
    fn beat(&self, phrase: &PlannedPhrase, seconds: f64) -> Ticks {
        let since = self.plan.tempo().exact_ticks_at(seconds * 1e6) - phrase.at.0 as f64;
        Ticks::beats((since / Ticks::beats(1).0 as f64).round() as i64)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn sides_are_those_of_who_looks() {
        // Who looks downstage has stage left at the left.
        assert_eq!(Beside::of(Vec2::new(1.0, 0.2), Some(180.0)), Beside::Left);
        assert_eq!(Beside::of(Vec2::new(-1.0, 0.0), Some(180.0)), Beside::Right);
        assert_eq!(Beside::of(Vec2::new(0.0, -1.0), Some(180.0)), Beside::Front);
        assert_eq!(Beside::of(Vec2::new(0.1, 1.0), Some(180.0)), Beside::Behind);
        assert_eq!(Beside::of(Vec2::new(1.0, 0.2), None), Beside::StageLeft);
        assert_eq!(Beside::of(Vec2::new(0.0, -1.0), None), Beside::Downstage);
    }
}
