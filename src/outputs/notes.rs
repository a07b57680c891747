//! Which sounds are to be planned when a cue is sent. A sound that its trim puts before its line is planned with the
//! cue of the moment before which it is heard, so that it is as early at the port as any other. Pure.

use crate::call::{CueOut, Run};
use crate::units::{Decibels, Generation, Micros, ServerTime};

/// No trim reaches further: the score's own limit, and the production's.
const FURTHEST_TRIM: Micros = Micros(2_000_000 + crate::sound::MOST_TRIM.0);

/// A sound with its time.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(crate) struct DueSound<'a> {
    /// Its place in the plan's sounds.
    pub(crate) index: usize,
    pub(crate) name: &'a str,
    pub(crate) level: Decibels,
    pub(crate) due: ServerTime,
}

/// Which sounds of a run have been handed out.
#[derive(Clone, Debug, Default)]
pub(crate) struct DueSounds {
    generation: Generation,
    /// All before this one have.
    from: usize,
    /// These have, further on.
    ahead: Vec<usize>,
}

impl DueSounds {
    /// The sounds to be planned now that this cue is sent, each once. `trim_of` is the production's own trim of a sound.
    pub(crate) fn reached<'a>(
        &mut self,
        run: &'a Run,
        cue: &CueOut,
        trim_of: impl Fn(&str) -> Micros,
    ) -> Vec<DueSound<'a>> {
        if self.generation != cue.generation {
            *self = DueSounds { generation: cue.generation, ..DueSounds::default() };
        }
        let (Some(moment), Some(start)) = (run.plan.moments().get(cue.moment), run.start) else { return Vec::new() };
        let mut reached = Vec::new();
        for (index, sound) in run.plan.sounds().iter().enumerate().skip(self.from) {
            if sound.time - sound.trim > moment.time + FURTHEST_TRIM {
                break;
            }
            let time = sound.time + trim_of(&sound.name);
            let is_due = sound.at <= moment.at || time <= moment.time;
            if is_due && !self.ahead.contains(&index) {
                self.ahead.push(index);
                reached.push(DueSound { index, name: &sound.name, level: sound.level, due: start + time });
            }
        }
        while let Some(at) = self.ahead.iter().position(|index| *index == self.from) {
            self.ahead.swap_remove(at);
            self.from += 1;
        }
        reached
    }
}
