//! The agenda of the audio half: what is planned and has not begun, in order of its time, in a room of fixed size.

use super::voice::VoiceKind;
use crate::units::{Generation, ServerTime};

/// A voice as it travels to the audio half: its level is already a factor.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Planned {
    /// When it is to be heard.
    pub(super) due: ServerTime,
    /// Which sound.
    pub(super) kind: VoiceKind,
    /// The factor on its amplitude.
    pub(super) gain: f32,
    /// The life of the run it belongs to.
    pub(super) generation: Generation,
}

/// What waits for its time. Never allocates after it is made.
#[derive(Debug)]
pub(super) struct Agenda {
    waiting: Vec<Planned>,
}

/// How many voices can wait: more than a horizon of 1.5 s holds at 64 voices a beat and 400 beats a minute.
const ROOM: usize = 1024;

impl Agenda {
    /// An empty agenda.
    pub(super) fn new() -> Agenda {
        Agenda { waiting: Vec::with_capacity(ROOM) }
    }

    /// Adds a voice; false when there is no room.
    pub(super) fn add(&mut self, voice: Planned) -> bool {
        if self.waiting.len() >= ROOM {
            return false;
        }
        // The soonest is last, so that taking it moves nothing; of two with one time the first planned goes first.
        let place = self.waiting.partition_point(|other| other.due > voice.due);
        self.waiting.insert(place, voice);
        true
    }

    /// The voice that is due next.
    pub(super) fn next(&self) -> Option<&Planned> {
        self.waiting.last()
    }

    /// Takes the voice that is due next.
    pub(super) fn take(&mut self) -> Option<Planned> {
        self.waiting.pop()
    }

    /// Drops what is older than `lives`; how many that were.
    pub(super) fn bury(&mut self, lives: Generation) -> u64 {
        let before = self.waiting.len();
        self.waiting.retain(|voice| voice.generation >= lives);
        (before - self.waiting.len()) as u64
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn it_gives_back_the_living_in_order(voices in prop::collection::vec((0i64..50, 0u64..4), 0..100), lives in 0u64..4) {
            let mut agenda = Agenda::new();
            for (due, generation) in &voices {
                let planned = Planned {
                    due: ServerTime(*due), kind: VoiceKind::Click, gain: 1.0, generation: Generation(*generation),
                };
                prop_assert!(agenda.add(planned));
            }
            let dead = voices.iter().filter(|(_, generation)| *generation < lives).count();
            prop_assert_eq!(agenda.bury(Generation(lives)), dead as u64);
            let mut expected: Vec<i64> = voices.iter().filter(|(_, g)| *g >= lives).map(|(due, _)| *due).collect();
            expected.sort_unstable();
            let mut found = Vec::new();
            while let Some(planned) = agenda.take() {
                found.push(planned.due.0);
            }
            prop_assert_eq!(found, expected);
        }
    }

    #[test]
    fn a_full_agenda_says_so() {
        let mut agenda = Agenda::new();
        let planned = Planned { due: ServerTime(1), kind: VoiceKind::Click, gain: 1.0, generation: Generation(0) };
        for _ in 0..ROOM {
            assert!(agenda.add(planned));
        }
        assert!(!agenda.add(planned));
    }
}
