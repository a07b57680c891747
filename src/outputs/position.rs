//! Where in the whole score a run begins: the song position and the timecode that sound desks know the place by. Pure.

use crate::call::Run;
use crate::midi::RunTiming;
use crate::timeline::{PhraseRange, Plan};
use crate::units::{Generation, Micros, Ticks};

/// The place of the latest run, which is worked out once.
#[derive(Clone, Debug, Default)]
pub(super) struct Positions {
    known: Option<(Generation, Ticks, Micros)>,
}

impl Positions {
    /// The timing of a run that the clock drives; nothing otherwise.
    pub(super) fn timing(&mut self, run: &Run, generation: Generation) -> Option<RunTiming> {
        let start = run.start?;
        let known = self.known.filter(|known| known.0 == generation);
        let (_, place, place_time) = *self.known.insert(known.unwrap_or_else(|| {
            let (place, place_time) = place_of(run);
            (generation, place, place_time)
        }));
        let first = run.plan.moments().first().map_or(Ticks::ZERO, |moment| moment.at);
        Some(RunTiming {
            start,
            tempo: run.plan.tempo().clone(),
            count_in: Ticks((-first.0).max(0)),
            length: run.plan.length(),
            place,
            place_time,
            generation,
        })
    }
}

/// What lies before the range: its length, and its duration at the speed that the run was set up with.
fn place_of(run: &Run) -> (Ticks, Micros) {
    let Some(last) = run.setup.range.first.checked_sub(1) else { return (Ticks::ZERO, Micros::ZERO) };
    let before = Plan::new(&run.setup.fight.score, PhraseRange { first: 0, last }, run.setup.speed, 0);
    (before.length(), before.duration())
}
