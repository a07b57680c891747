//! The effects of a run: when a moment's cue goes out, its sounds are planned, each once; one that its trim puts before
//! its line goes out with the cue before which it is heard.

use tracing::warn;

use super::hub::Hub;
use crate::call::CueOut;
use crate::sound::{InRun, cued};
use crate::units::Micros;
use crate::wire::SoundLane;

impl Hub {
    /// Plans the sounds that are due with a cue. In a walk-through, which has no times, there are none.
    pub(super) fn plan_sounds(&mut self, cue: &CueOut) {
        let (Some(run), Some(library)) = (self.parts.call.run(), self.parts.sound.library()) else { return };
        let Some(start) = run.start else { return };
        let first = run.plan.moments().first().map_or(Micros::ZERO, |first| first.time);
        let in_run = InRun { number: run.number, start, begins: start + first, generation: cue.generation };
        for sound in self.sounding.reached(run, cue, |name| library.earliest(name)) {
            let name = sound.name;
            let Some(cued) = cued(&library, &run.plan, sound.index, in_run) else {
                warn!(name, "there is no such sound, so nothing is heard; put a recording of that name into sounds/");
                continue;
            };
            if let Some(early) = cued.clamped {
                let early = early.as_millis();
                warn!(name, "its trim would put it {early} ms before the run begins; it is heard as the run begins");
            }
            if self.page.goes_out(SoundLane::Effects) {
                self.parts.sound.plan(cued.voice);
            }
        }
    }
}
