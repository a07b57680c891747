//! A phrase that goes round while somebody trims its sounds: its click and its sounds, planned a little ahead, round
//! after round, in a generation of its own that any hold silences.

use std::collections::BTreeSet;
use std::sync::Arc;

use crate::call::Fight;
use crate::outputs::Outputs;
use crate::sound::{InRun, MOST_TRIM, Sound, Voice, VoiceKind, cued};
use crate::timeline::{Click, PhraseRange, Plan};
use crate::units::{Decibels, Generation, Micros, ServerTime, Speed};
use crate::wire::{LoopView, SoundLane};

/// It is planned so often.
const EVERY: Micros = Micros::millis(100);
/// A shorter phrase does not go round: nobody could trim by it.
const SHORTEST: Micros = Micros::millis(500);

/// The loop.
#[derive(Debug)]
pub(super) struct Loop {
    fight: Arc<Fight>,
    phrase: u32,
    plan: Plan,
    by: String,
    start: ServerTime,
    length: Micros,
    generation: Generation,
    /// What is before this is planned.
    planned_to: ServerTime,
    next: ServerTime,
}

/// Something that is to be planned.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Item {
    /// A click of the plan, at its time.
    Click { due: ServerTime, accent: bool },
    /// A sound of the plan, in a round.
    Sound { index: usize, round: u32 },
}

impl Loop {
    /// A phrase of a fight at a speed, for the first time at `start`.
    ///
    /// # Errors
    /// A sentence when there is no such phrase, or when it is too short.
    pub(super) fn new(
        fight: &Arc<Fight>,
        phrase: u32,
        speed: Speed,
        by: String,
        (start, generation): (ServerTime, Generation),
    ) -> Result<Loop, String> {
        let number = usize::try_from(phrase).unwrap_or(usize::MAX);
        let range = PhraseRange::new(&fight.score, number, number);
        let range = range.ok_or("There is no such phrase in this fight. Choose one from the list.")?;
        let plan = Plan::new(&fight.score, range, speed, 0);
        let length = plan.duration();
        if length < SHORTEST {
            return Err("This phrase is shorter than half a second, so it does not go round.".to_owned());
        }
        let fight = Arc::clone(fight);
        Ok(Loop { fight, phrase, plan, by, start, length, generation, planned_to: start, next: start })
    }

    pub(super) fn generation(&self) -> Generation {
        self.generation
    }

    pub(super) fn phrase_name(&self) -> &str {
        self.plan.phrases().first().map_or("", |phrase| phrase.name.as_str())
    }

    pub(super) fn deadline(&self) -> ServerTime {
        self.next
    }

    pub(super) fn view(&self) -> LoopView {
        LoopView {
            fight: self.fight.score.name.clone(),
            phrase: self.phrase,
            percent: self.plan.phrases().first().map_or(0, |phrase| phrase.speed.as_percent()),
            start_us: self.start.0,
            length_us: self.length.0,
            by: self.by.clone(),
        }
    }

    /// Plans what is needed by now, but for the lanes that are off.
    pub(super) fn plan(&mut self, now: ServerTime, off: &BTreeSet<SoundLane>, sound: &Sound, outputs: &Outputs) {
        if now < self.next {
            return;
        }
        self.next = now + EVERY;
        // A machine that slept does not catch up.
        if now > self.planned_to {
            self.planned_to = now;
        }
        let ahead = sound.status().lead() + MOST_TRIM + EVERY;
        for item in self.plan_to(now + ahead + EVERY) {
            match item {
                Item::Click { due, accent } if !off.contains(&SoundLane::Click) => {
                    let kind = if accent { VoiceKind::Accent } else { VoiceKind::Click };
                    sound.plan(Voice { due, kind, level: Decibels::default(), generation: self.generation });
                }
                Item::Click { .. } => {}
                Item::Sound { index, round } => {
                    self.plan_sound(index, round, !off.contains(&SoundLane::Effects), sound, outputs);
                }
            }
        }
    }

    /// A sound of the plan in a round, on the loudspeakers if it is to be heard there, and on the outputs.
    fn plan_sound(&self, index: usize, round: u32, heard: bool, sound: &Sound, outputs: &Outputs) {
        let generation = self.generation;
        let run = InRun { number: round, start: self.round(round), begins: self.start, generation };
        let Some(library) = sound.library() else { return };
        let Some(cued) = cued(&library, &self.plan, index, run) else { return };
        if heard {
            sound.plan(cued.voice);
        }
        if let Some(planned) = self.plan.sounds().get(index) {
            outputs.sound(0, &planned.name, cued.voice.due, planned.level, generation);
        }
    }

    /// What begins from where it was planned to until `until`, each once. A sound counts by the time that the score
    /// gives it, so that a trim that changes meanwhile makes it neither twice nor not at all.
    fn plan_to(&mut self, until: ServerTime) -> Vec<Item> {
        let from = self.planned_to;
        let mut items = Vec::new();
        if until <= from {
            return items;
        }
        for moment in self.plan.moments().iter().filter(|moment| moment.click != Click::None) {
            for round in self.rounds(moment.time, from, until) {
                let due = self.round(round) + moment.time;
                items.push(Item::Click { due, accent: moment.click == Click::Accent });
            }
        }
        for (index, sound) in self.plan.sounds().iter().enumerate() {
            items.extend(self.rounds(sound.time, from, until).map(|round| Item::Sound { index, round }));
        }
        self.planned_to = until;
        items
    }

    /// The rounds in which what is `time` into the phrase falls between two moments.
    fn rounds(&self, time: Micros, from: ServerTime, until: ServerTime) -> std::ops::Range<u32> {
        let first = |moment: ServerTime| {
            // The first round in which it is not before that moment: the quotient, rounded up.
            let rounds = -(-(moment.since(self.start) - time).0).div_euclid(self.length.0);
            u32::try_from(rounds.max(0)).unwrap_or(u32::MAX)
        };
        // What a trim puts before the very beginning belongs to the first time round.
        let from = if from == self.start { from + time.min(Micros::ZERO) } else { from };
        first(from)..first(until)
    }

    fn round(&self, round: u32) -> ServerTime {
        self.start + Micros(self.length.0.saturating_mul(i64::from(round)))
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::score::read;
    use crate::score::vocabulary::Vocabulary;
    use proptest::prelude::*;

    /// Four beats of half a second: a hit on 1 and, 30 ms early, on 1, and one on 3 that is heard after the phrase's end.
    const FIGHT: &str = r#"fight "The Quay"
beats 4
tempo 120
fighters
  MARET rapier right
  OSK   rapier right
phrase "One"
  1  MARET cut head / OSK parry 5 ! steel
  2  ! wood -530ms
  3  ! slap +1500ms
  4  ! steel
"#;

    fn looping(percent: u16) -> Loop {
        let score = read(FIGHT, "quay.fight", &Vocabulary::built_in()).score.unwrap();
        let fight = Arc::new(Fight::unchecked(score, String::new(), FIGHT.into()));
        let at = (ServerTime(5_000_000), Generation(7));
        Loop::new(&fight, 0, Speed::percent(percent).unwrap(), "Nia".into(), at).unwrap()
    }

    proptest! {
        /// However it is asked, everything comes once in every round.
        #[test]
        fn everything_comes_once_a_round(steps in prop::collection::vec(1i64..900_000, 1..60), percent in 50u16..=100) {
            let mut bit_by_bit = looping(percent);
            let mut at_once = looping(percent);
            let mut until = bit_by_bit.start;
            let mut found = Vec::new();
            for step in steps {
                until = until + Micros(step);
                found.extend(bit_by_bit.plan_to(until));
            }
            let order = |items: &mut Vec<Item>| items.sort_by_key(|item| format!("{item:?}"));
            let mut expected = at_once.plan_to(until);
            order(&mut found);
            order(&mut expected);
            prop_assert_eq!(&found, &expected);
            let rounds = until.since(at_once.start).0 / at_once.length.0;
            let clicks = found.iter().filter(|item| matches!(item, Item::Click { .. })).count() as i64;
            prop_assert!(clicks >= rounds * 4 && clicks <= rounds * 4 + 4, "{} clicks in {} rounds", clicks, rounds);
        }
    }

    #[test]
    fn what_begins_before_the_first_round_is_in_it() {
        let mut looping = looping(100);
        let items = looping.plan_to(looping.start + Micros::millis(10));
        assert!(items.contains(&Item::Sound { index: 0, round: 0 }), "{items:?}");
        assert!(items.contains(&Item::Sound { index: 1, round: 0 }), "30 ms before the first beat: {items:?}");
        assert!(items.contains(&Item::Click { due: looping.start, accent: true }), "{items:?}");
    }
}
