//! What drives a run. The call asks the same questions of every driver and does not know which one it has; a new way
//! of driving is a file here.

mod clock;
mod step;

use std::ops::Range;

use super::{Drive, Run, Way};
use crate::units::{Micros, ServerTime};

/// What came of a step.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Stepped {
    /// It was taken.
    Taken,
    /// There is no move before the one that stands on the screens.
    AtTheFirst,
    /// This driver takes no steps.
    ByClock,
}

/// A driver: it says which moments of the plan are to be cued, and where the run is.
pub(super) trait Driver: std::fmt::Debug + Send {
    /// The next moment to cue, if it is time to send it; each is handed out once.
    fn next_cue(&mut self, now: ServerTime, run: &Run) -> Option<usize>;

    /// When to ask again.
    fn deadline(&self, run: &Run) -> Option<ServerTime>;

    /// The moments that have been cued and that somebody who comes in now still needs.
    fn pending(&self, now: ServerTime, run: &Run) -> Range<usize>;

    /// The last moment that is due by now.
    fn reached(&self, now: ServerTime, run: &Run) -> Option<usize>;

    /// True while counting in.
    fn counts_in(&self, now: ServerTime, run: &Run) -> bool;

    /// True once the run is over.
    fn is_over(&self, now: ServerTime, run: &Run) -> bool;

    /// How many steps it has taken, on and back; nothing when it takes none.
    fn steps(&self) -> Option<u32> {
        None
    }

    /// One step. Nothing is done when this driver takes no steps, or has none to take that way.
    fn step(&mut self, run: &Run, way: Way) -> Stepped;

    /// The first phrase of the range of which nothing has been cued, whose speed can still change.
    fn first_free_phrase(&self, run: &Run) -> Option<usize>;
}

/// The driver of a run by the clock that has come to its end.
pub(super) fn done() -> Box<dyn Driver> {
    Box::new(clock::ByClock::done())
}

/// The driver that a setup asks for; by the clock, the first beat gets its time here.
pub(super) fn begin(run: &mut Run, now: ServerTime, lead: Micros, horizon: Micros) -> Box<dyn Driver> {
    match run.setup.drive {
        Drive::Clock => {
            run.start = Some(now + lead - run.lead_in());
            Box::new(clock::ByClock::new(horizon))
        }
        Drive::Step => Box::new(step::ByStep::default()),
    }
}
