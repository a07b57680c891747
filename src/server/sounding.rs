//! The effects of a run: when a moment's cue goes out, its sounds are planned.

use tracing::warn;

use super::hub::Hub;
use crate::call::CueOut;
use crate::sound::{InRun, cued};
use crate::units::Micros;

impl Hub {
    /// Plans the sounds of a cue's moment. Without a time (a walk-through) there are none.
    pub(super) fn plan_sounds(&self, cue: &CueOut) {
        let (Some(run), Some(_), Some(library)) = (self.parts.call.run(), cue.due, self.parts.sound.library()) else {
            return;
        };
        let (Some(start), Some(moment)) = (run.start, run.plan.moments().get(cue.moment)) else { return };
        let first = run.plan.moments().first().map_or(Micros::ZERO, |first| first.time);
        let in_run = InRun { number: run.number, start, begins: start + first, generation: cue.generation };
        for index in moment.sounds.clone() {
            let name = run.plan.sounds().get(index).map_or("", |sound| sound.name.as_str());
            let Some(cued) = cued(&library, &run.plan, index, in_run) else {
                warn!(name, "there is no such sound, so nothing is heard; put a recording of that name into sounds/");
                continue;
            };
            if let Some(early) = cued.clamped {
                let early = early.as_millis();
                warn!(name, "its trim would put it {early} ms before the run begins; it is heard as the run begins");
            }
            self.parts.sound.plan(cued.voice);
        }
    }
}
