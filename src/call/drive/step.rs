//! Driven by step, for a walk-through: the desk or the captain says "next" or "back", and the next moment that has a
//! move or a walk, or the one before, is cued. Nothing is timed and nothing sounds. Every step has a number that only grows,
//! whichever way it went: by it a page knows the newest cue, and whoever steps says what was on their screen.

use std::ops::Range;

use super::{Driver, Stepped};
use crate::call::{Run, Way};
use crate::units::ServerTime;

/// The driver.
#[derive(Debug, Default)]
pub(super) struct ByStep {
    /// The moment that stands on the screens.
    at: Option<usize>,
    /// True between a step and the handing-out of its cue.
    fresh: bool,
    over: bool,
    /// How many steps were taken.
    steps: u32,
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

    fn steps(&self) -> Option<u32> {
        Some(self.steps)
    }

    fn step(&mut self, run: &Run, way: Way) -> Stepped {
        let moments = run.plan.moments();
        let something =
            |moment: &usize| moments.get(*moment).is_some_and(|it| !it.moves.is_empty() || !it.walks.is_empty());
        let to = match way {
            Way::On => (self.at.map_or(0, |at| at + 1)..moments.len()).find(something),
            Way::Back => (0..self.at.unwrap_or(0)).rev().find(something),
        };
        match (to, way) {
            (None, Way::Back) => return Stepped::AtTheFirst,
            (None, Way::On) => self.over = true,
            (Some(_), _) => (self.at, self.fresh) = (to, true),
        }
        self.steps = self.steps.saturating_add(1);
        Stepped::Taken
    }

    fn first_free_phrase(&self, _: &Run) -> Option<usize> {
        None
    }
}
