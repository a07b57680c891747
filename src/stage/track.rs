//! Everybody's way through the whole fight: one track a person, made once (`played.rs`), asked for any instant.

use super::blow::Blow;
use super::body::{Build, Pose, Room};
use super::leg::{Cause, Leg};
use super::nearest::Vec3;
use super::plan::Layout;
use super::sweep::Sweep;
use super::vec2::Vec2;
use crate::score::model::{Facing, Person};

/// Where somebody is at an instant.
#[derive(Clone, Debug, PartialEq)]
pub struct Presence {
    /// The middle of the body.
    pub at: Vec2,
    /// How high the floor is there above the stage floor, metres.
    pub floor: f64,
    /// Which way they look, degrees: 0 is upstage, 90 audience right; nothing where nothing says it.
    pub facing: Option<f64>,
    /// How they are.
    pub pose: Pose,
    /// The cylinder that the body stays within, above the floor there.
    pub room: Room,
    /// How far an arm reaches, metres.
    pub reach: f64,
    /// The weapon in hand from guard to point, above the stage floor; nothing for bare hands.
    pub blade: Option<(Vec3, Vec3)>,
}

/// Somebody's way through the fight.
#[derive(Clone, Debug)]
pub struct Track {
    /// Who.
    pub who: Person,
    /// How they are built.
    pub build: Build,
    /// Where they stand and go, in order; nothing before the first.
    pub legs: Vec<Leg>,
    /// How they are from each time on, in order.
    pub(super) poses: Vec<(f64, Pose)>,
    /// Which way they look from each time on, in order.
    pub(super) faces: Vec<(f64, Facing)>,
    /// How much footwork that no line writes came before each leg since the last mark or walk, metres.
    pub(super) slacks: Vec<f64>,
}

/// A mark at which somebody begins a phrase, and where they were just before.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Seam {
    /// Whose, by place in [`Tracks::people`].
    pub person: usize,
    /// The place in the plan.
    pub place: usize,
    /// Where they were.
    pub from: Vec2,
    /// The mark.
    pub to: Vec2,
    /// How far off `from` may be, metres.
    pub slack: f64,
    /// Since when they had nothing to do, and when it is needed that they stand there, seconds.
    pub free: (f64, f64),
}

/// Somebody who comes to lie on the floor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Fall {
    /// Who, by place in [`Tracks::people`].
    pub person: usize,
    /// The move of the plan that it is part of.
    pub of_move: usize,
    /// The other of that move, who knows of it.
    pub with: Option<usize>,
    /// When, seconds from the first beat.
    pub time: f64,
    /// The middle of the body.
    pub at: Vec2,
}

/// Everybody's ways.
#[derive(Clone, Debug)]
pub struct Tracks<'p> {
    /// The fighters, then the bystanders, in the order of the score.
    pub people: Vec<Track>,
    /// Every blow whose two people stand somewhere, in order.
    pub blows: Vec<Blow>,
    /// What the blows sweep, each with who strikes, in order.
    pub sweeps: Vec<(usize, Sweep)>,
    /// Every time that somebody comes to lie, in order.
    pub falls: Vec<Fall>,
    /// Every mark of somebody who was somewhere before.
    pub seams: Vec<Seam>,
    /// When each phrase begins, and what stands where in it.
    pub(super) layouts: Vec<(f64, &'p Layout)>,
    pub(super) fighters: usize,
    /// How long the blade in hand is from each time on, in order, metres; 0 for none.
    pub(super) weapons: Vec<Vec<(f64, f64)>>,
}

impl Track {
    /// Where they are; nothing before their first mark.
    pub fn at(&self, time: f64) -> Option<Vec2> {
        self.leg(time).map(|leg| leg.at(time))
    }

    /// The leg they are on, or the last that is over.
    fn leg(&self, time: f64) -> Option<&Leg> {
        self.legs.get(self.legs.partition_point(|leg| leg.begin <= time).checked_sub(1)?)
    }

    /// The legs between two times, the one they stand at the end of first.
    pub fn between(&self, begin: f64, end: f64) -> &[Leg] {
        let first = self.legs.partition_point(|leg| leg.begin <= begin).saturating_sub(1);
        let last = self.legs.partition_point(|leg| leg.begin < end).max(first);
        self.legs.get(first..last).unwrap_or_default()
    }

    /// No less than how fast they are at any time between two, metres a second.
    pub fn fastest(&self, begin: f64, end: f64) -> f64 {
        self.between(begin, end).iter().map(Leg::fastest).fold(0.0, f64::max)
    }

    /// True when they come to a mark between two times, where they were somewhere else.
    pub fn jumps(&self, begin: f64, end: f64) -> bool {
        self.between(begin, end).iter().skip(1).any(|leg| matches!(leg.cause, Cause::Mark(_)))
    }

    /// How they are.
    pub fn pose(&self, time: f64) -> Pose {
        let at = self.poses.partition_point(|(from, _)| *from <= time);
        at.checked_sub(1).and_then(|at| self.poses.get(at)).map_or(Pose::default(), |(_, pose)| *pose)
    }

    /// The room that they take up between two times at the most, whichever way they are.
    pub fn room(&self, begin: f64, end: f64) -> Room {
        let first = self.build.room(self.pose(begin));
        let from = self.poses.partition_point(|(at, _)| *at <= begin);
        let later = self.poses.iter().skip(from).take_while(|(at, _)| *at < end);
        later.map(|(_, pose)| self.build.room(*pose)).fold(first, |one, other| Room {
            radius: one.radius.max(other.radius),
            low: one.low.min(other.low),
            high: one.high.max(other.high),
        })
    }

    /// Whom or which way they look.
    pub fn faces(&self, time: f64) -> Option<Facing> {
        let at = self.faces.partition_point(|(from, _)| *from <= time).checked_sub(1)?;
        self.faces.get(at).map(|(_, facing)| *facing)
    }

    /// How far off they may be at the end of a leg, metres: the footwork that no line writes since the last mark or walk.
    pub fn slack(&self, leg: usize) -> f64 {
        self.slacks.get(leg).copied().unwrap_or(0.0)
    }
}

impl<'p> Tracks<'p> {
    /// How many of the people fight: they come first.
    pub fn fighters(&self) -> usize {
        self.fighters
    }

    /// Where somebody is at an instant, seconds from the first beat; nothing before their first mark.
    pub fn presence(&self, person: usize, time: f64) -> Option<Presence> {
        let track = self.people.get(person)?;
        let at = track.at(time)?;
        let (floor, pose) = (self.layout(time).map_or(0.0, |layout| layout.floor(at)), track.pose(time));
        let facing = self.facing(person, time);
        let blade = facing.and_then(|facing| self.blade(person, time, (at, floor, facing)));
        let room = track.build.room(pose);
        Some(Presence { at, floor, facing, pose, room, reach: track.build.reach, blade })
    }

    /// Which way somebody looks, degrees.
    pub fn facing(&self, person: usize, time: f64) -> Option<f64> {
        let track = self.people.get(person)?;
        match track.faces(time)? {
            Facing::Degrees(degrees) => Some(degrees.rem_euclid(360.0)),
            Facing::Person(other) => {
                let way = self.people.get(self.place_of(other))?.at(time)? - track.at(time)?;
                way.unit().map(Vec2::bearing)
            }
        }
    }

    /// A person's place in [`Tracks::people`].
    pub fn place_of(&self, person: Person) -> usize {
        match person {
            Person::Fighter(fighter) => fighter.0,
            Person::Bystander(bystander) => self.fighters + bystander.0,
        }
    }

    /// What stands where at a time.
    pub fn layout(&self, time: f64) -> Option<&'p Layout> {
        let at = self.layouts.partition_point(|(from, _)| *from <= time + 1e-9).max(1) - 1;
        self.layouts.get(at).map(|(_, layout)| *layout)
    }

    /// What stands where in a phrase, counted from 0.
    pub fn layout_of_phrase(&self, phrase: usize) -> Option<&'p Layout> {
        self.layouts.get(phrase).map(|(_, layout)| *layout)
    }

    /// The weapon between guard and point. In a blow it comes from its side to the partner; else it is held in front, its
    /// point up. A picture of it, which stays within what the checks take as swept.
    fn blade(&self, person: usize, time: f64, (at, floor, facing): (Vec2, f64, f64)) -> Option<(Vec3, Vec3)> {
        let build = self.people.get(person)?.build;
        let held = self.weapons.get(person)?;
        let length = held.get(held.partition_point(|(from, _)| *from <= time).checked_sub(1)?)?.1;
        if length <= 0.0 {
            return None;
        }
        let in_space = |out: f64, bearing: f64, high: f64| {
            let point = at + Vec2::along(facing + bearing) * out;
            [point.x, point.y, floor + high]
        };
        let during = |(who, sweep): &&(usize, Sweep)| {
            *who == person && sweep.armed && sweep.span.0 <= time && time <= sweep.span.1
        };
        // Sweeps stand in order of their beats, and none is longer than this.
        let near = self.sweeps.partition_point(|(_, sweep)| sweep.beat < time - LONGEST_BLOW);
        let soon = self.sweeps.iter().skip(near).take_while(|(_, sweep)| sweep.beat <= time + LONGEST_BLOW);
        if let Some((_, sweep)) = soon.into_iter().find(during) {
            let before = ((sweep.beat - time) / (sweep.beat - sweep.span.0).max(1e-9)).clamp(0.0, 1.0);
            let bearing = if sweep.angles.1 >= sweep.angles.0 { sweep.angles.1 } else { -sweep.angles.0 } * before;
            let high = sweep.heights.0 + (sweep.heights.1 - sweep.heights.0) / 2.0;
            return Some((in_space(sweep.radius - length, bearing, high), in_space(sweep.radius, bearing, high)));
        }
        let (hand, high, rise) = (build.reach / 2.0, build.shoulder() * 0.75, 30f64.to_radians());
        let point = in_space(hand + length * rise.cos(), 0.0, high + length * rise.sin());
        Some((in_space(hand, 0.0, high), point))
    }
}

/// No blow takes longer to one side of its beat, seconds: the longest time that a row of the vocabulary can give.
const LONGEST_BLOW: f64 = 60.0;
