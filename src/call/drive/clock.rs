//! Driven by the clock: every moment has its time, and is cued a horizon ahead of it.

use std::ops::Range;

use super::{Driver, Stepped};
use crate::call::{Run, Way};
use crate::units::{Micros, ServerTime};

/// The driver.
#[derive(Debug)]
pub(super) struct ByClock {
    horizon: Micros,
    /// The next moment that has not been cued.
    next: usize,
}

impl ByClock {
    pub(super) fn new(horizon: Micros) -> ByClock {
        ByClock { horizon, next: 0 }
    }

    /// The driver of a run that has cued everything.
    pub(super) fn done() -> ByClock {
        ByClock { horizon: Micros::ZERO, next: usize::MAX }
    }

    fn send_time(&self, run: &Run) -> Option<ServerTime> {
        Some(run.due(run.plan.moments().get(self.next)?)? - self.horizon)
    }
}

impl Driver for ByClock {
    fn next_cue(&mut self, now: ServerTime, run: &Run) -> Option<usize> {
        let moment = self.next;
        if self.send_time(run)? > now {
            return None;
        }
        self.next += 1;
        Some(moment)
    }

    fn deadline(&self, run: &Run) -> Option<ServerTime> {
        self.send_time(run).or_else(|| run.end())
    }

    fn pending(&self, now: ServerTime, run: &Run) -> Range<usize> {
        self.reached(now, run).map_or(0, |reached| reached + 1)..self.next
    }

    fn reached(&self, now: ServerTime, run: &Run) -> Option<usize> {
        run.reached(now)
    }

    fn counts_in(&self, now: ServerTime, run: &Run) -> bool {
        run.start.is_some_and(|start| now < start)
    }

    fn is_over(&self, now: ServerTime, run: &Run) -> bool {
        run.end().is_some_and(|end| now >= end)
    }

    fn step(&mut self, _: &Run, _: Way) -> Stepped {
        Stepped::ByClock
    }

    fn first_free_phrase(&self, run: &Run) -> Option<usize> {
        let last_cued = self.next.checked_sub(1).and_then(|cued| run.plan.moments().get(cued));
        let free = last_cued.map_or(0, |moment| moment.phrase_in_range + 1);
        (free < run.plan.phrases().len()).then_some(free)
    }
}
