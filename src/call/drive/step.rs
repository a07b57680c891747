//! Driven by step, for a walk-through: the desk or the captain says "next", and the next moment that has a move is
//! cued. Nothing is timed and nothing sounds.

use std::ops::Range;

use super::Driver;
use crate::call::Run;
use crate::units::ServerTime;

/// The driver.
#[derive(Debug, Default)]
pub(super) struct ByStep {
    /// The moment that stands on the screens.
    at: Option<usize>,
    /// True between a step and the handing-out of its cue.
    fresh: bool,
    over: bool,
}

impl Driver for ByStep {
    fn next_cue(&mut self, _: ServerTime, _: &Run) -> Option<usize> {
        std::mem::take(&mut self.fresh).then_some(self.at).flatten()
    }

    fn deadline(&self, _: &Run) -> Option<ServerTime> {
        None
    }

    fn pending(&self, _: ServerTime, _: &Run) -> Range<usize> {
        self.at.map_or(0..0, |at| at..at + 1)
    }

    fn reached(&self, _: ServerTime, _: &Run) -> Option<usize> {
        self.at
    }

    fn counts_in(&self, _: ServerTime, _: &Run) -> bool {
        false
    }

    fn is_over(&self, _: ServerTime, _: &Run) -> bool {
        self.over
    }

    fn step(&mut self, run: &Run) -> bool {
        let from = self.at.map_or(0, |at| at + 1);
        let later = run.plan.moments().iter().enumerate().skip(from);
        match later.into_iter().find(|(_, moment)| !moment.moves.is_empty()) {
            Some((moment, _)) => {
                self.at = Some(moment);
                self.fresh = true;
            }
            None => self.over = true,
        }
        true
    }

    fn first_free_phrase(&self, _: &Run) -> Option<usize> {
        None
    }
}
