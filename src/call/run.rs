//! A run: what was set up, its plan, and how to say where in it something happened.

use super::{Drive, Setup};
use crate::timeline::{Moment, Plan, PlannedMove};
use crate::units::{Micros, ServerTime, Speed};

/// A run that has been set up.
#[derive(Clone, Debug)]
pub struct Run {
    /// Its number, from 1; a run that was never started gives its number to the next.
    pub number: u32,
    /// What was set up.
    pub setup: Setup,
    /// Everything that will happen in it.
    pub plan: Plan,
    /// Server time of the first beat of the range, once the clock drives it.
    pub start: Option<ServerTime>,
}

/// A place in the fight that a person can find again.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Spot {
    /// The number of the cue.
    pub cue: u32,
    /// The phrase, counted from 0.
    pub phrase: usize,
    /// Its name.
    pub phrase_name: String,
    /// The beat as the score writes it; 0 and below are the count-in.
    pub beat: String,
    /// The last move reached in this phrase, counted from 1.
    pub number: Option<u32>,
    /// That move in words.
    pub words: Option<String>,
}

impl Run {
    /// A run of that setup.
    pub fn new(number: u32, setup: Setup) -> Run {
        let count_in = match setup.drive {
            Drive::Clock => setup.count_in,
            Drive::Step => 0,
        };
        let plan = Plan::new(&setup.fight.score, setup.range, setup.speed, count_in);
        Run { number, setup, plan, start: None }
    }

    /// When a moment of the plan is due, if the clock drives.
    pub fn due(&self, moment: &Moment) -> Option<ServerTime> {
        self.start.map(|start| start + moment.time)
    }

    /// The last moment that is due by then, if the clock drives.
    pub fn reached(&self, at: ServerTime) -> Option<usize> {
        let start = self.start?;
        self.plan.moments().partition_point(|moment| start + moment.time <= at).checked_sub(1)
    }

    /// When the run is over, if the clock drives.
    pub fn end(&self) -> Option<ServerTime> {
        self.start.map(|start| start + self.plan.duration())
    }

    /// The time of the first moment, from the first beat: negative when there is a count-in.
    pub fn lead_in(&self) -> Micros {
        self.plan.moments().first().map_or(Micros::ZERO, |moment| moment.time.min(Micros::ZERO))
    }

    /// The speed at a moment; nothing when nothing is timed.
    pub fn speed_at(&self, moment: usize) -> Option<Speed> {
        let moment = self.plan.moments().get(moment)?;
        let phrase = self.plan.phrases().get(moment.phrase_in_range)?;
        (self.setup.drive == Drive::Clock).then_some(phrase.speed)
    }

    /// The place of a moment, as a person would say it.
    pub fn spot(&self, number: usize) -> Option<Spot> {
        let moment = self.plan.moments().get(number)?;
        let phrase = self.plan.phrases().get(moment.phrase_in_range)?;
        let reached = self
            .plan
            .moves()
            .get(..moment.moves.end)?
            .last()
            .filter(|last| last.phrase_in_range == moment.phrase_in_range);
        Some(Spot {
            cue: u32::try_from(number).ok()?,
            phrase: phrase.phrase,
            phrase_name: phrase.name.clone(),
            beat: moment.beat.beat_label(),
            number: reached.map(|last| last.number),
            words: reached.map(|last| self.words(last)),
        })
    }

    /// A move in words: `MARET thrust belly / OSK parry 4`.
    pub fn words(&self, planned: &PlannedMove) -> String {
        self.setup.fight.words(planned)
    }
}
