//! A stretch of holds, one after the other: from the tap of one healthy member until every healthy member has read the
//! "held" frame, each let go by the desk before the next.

use std::time::Duration;

use holdfast::units::Micros;
use holdfast::wire::Stage;

use super::attacker::Attacker;
use super::crowd::{Crowd, Stuck};
use super::figures::percentile;
use super::hold::{tap, told};
use super::holdfast::Holdfast;
use super::options::Options;
use super::sighting::Kind;
use super::system::System;
use super::usage::Usage;

/// From one hold to the next: the desk is a member too, who may say a hundred things a second.
const BETWEEN: Duration = Duration::from_millis(30);

/// What was measured, microseconds.
#[derive(Clone, Debug, Default)]
pub(crate) struct Stretch {
    /// Until all have the "held".
    pub(crate) held: Vec<i64>,
    /// Until all have the stop, which is earlier.
    pub(crate) stopped: Vec<i64>,
    /// The median of each round, until all have the "held".
    pub(crate) rounds: Vec<i64>,
    /// The most that the server held between the holds.
    pub(crate) usage: Usage,
}

impl Stretch {
    /// Measures at least so many holds for at least so long; adds them.
    pub(crate) fn go(
        &mut self,
        holdfast: &mut Holdfast,
        crowd: &mut Crowd,
        options: &Options,
        mut attacker: Option<&mut Attacker>,
    ) -> Result<(), Stuck> {
        let (start, before) = (crowd.now(), self.held.len());
        let mut number = 0;
        while number < options.holds || crowd.now().since(start) < options.stretch {
            crowd.rest(BETWEEN);
            holdfast.desk.read(crowd);
            if holdfast.desk.stage() == Some(Stage::Held) {
                // An attack has a hold of its own.
                holdfast.settle(crowd)?;
            }
            self.usage = self.usage.most(Usage::of(holdfast.process()));
            self.one(holdfast, crowd, number * 7, &mut attacker)?;
            number += 1;
        }
        self.rounds.push(percentile(&self.held[before..], 0.5));
        Ok(())
    }

    fn one(
        &mut self,
        holdfast: &mut Holdfast,
        crowd: &mut Crowd,
        tapper: usize,
        attacker: &mut Option<&mut Attacker>,
    ) -> Result<(), Stuck> {
        let tapped = tap(holdfast, crowd, tapper)?;
        if let Some(attacker) = attacker {
            attacker.measuring(true);
        }
        let held = told(crowd, holdfast.members(), Kind::Held)?;
        if let Some(attacker) = attacker {
            attacker.measuring(false);
        }
        holdfast.settle(crowd)?;
        self.held.push(held.last.since(tapped.start()).0.max(Micros::ZERO.0));
        self.stopped.push(tapped.settled(holdfast, crowd).last.0);
        Ok(())
    }
}
