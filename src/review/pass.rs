//! A run's way through a phrase, and what several of them say: how often they are clean, how often they break.

use super::history::{Outcome, Run, Visit};
use super::statistics::{Proportion, Rate};

/// A run's way through a phrase.
#[derive(Clone, Copy)]
pub(super) struct Pass<'h> {
    pub(super) run: &'h Run,
    pub(super) visit: &'h Visit,
    /// What its break cost.
    pub(super) lost: Option<f64>,
}

/// How often it was clean, of the runs by the clock whose outcome is known.
pub(super) fn clean(passes: &[Pass<'_>]) -> Proportion {
    let known = passes.iter().filter(|pass| pass.visit.speed.is_some() && pass.visit.outcome.counts());
    let clean = known.clone().filter(|pass| pass.visit.outcome == Outcome::Clean).count();
    Proportion::new(clean as u64, known.count() as u64)
}

/// Breaks in the minutes of running by the clock that are known.
pub(super) fn breaks(passes: &[Pass<'_>]) -> Rate {
    let timed = passes.iter().filter(|pass| pass.visit.speed.is_some());
    let timed: Vec<(&Pass<'_>, f64)> = timed.filter_map(|pass| Some((pass, pass.visit.seconds?))).collect();
    let broke = timed.iter().filter(|(pass, _)| pass.visit.outcome == Outcome::Broke).count();
    Rate::new(broke as u64, timed.iter().map(|(_, seconds)| seconds / 60.0).sum())
}
