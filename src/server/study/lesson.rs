//! A fight to be learned: its moves and its feet as a run of all of it would be told, and what is heard.

use std::sync::Arc;

use crate::call::{Drive, Fight, Run, Setup};
use crate::server::view::run_sheet;
use crate::timeline::{PhraseRange, Plan};
use crate::units::{Generation, Speed};
use crate::wire::{Lesson, SoundAt, small};

/// The whole fight at performance tempo, of no run and of no generation; nothing where it has no phrase.
pub(super) fn lesson(fight: &Arc<Fight>) -> Option<Lesson> {
    let range = PhraseRange::whole(&fight.score)?;
    let setup =
        Setup { fight: Arc::clone(fight), range, begin: None, speed: Speed::FULL, count_in: 0, drive: Drive::Clock };
    let run = Run::new(0, setup);
    let sounds = sounds(&run.plan);
    Some(Lesson { sheet: run_sheet(&run, Generation(0)), sounds })
}

fn sounds(plan: &Plan) -> Vec<SoundAt> {
    let of = |sound: &crate::timeline::PlannedSound| SoundAt {
        at_ticks: sound.at.0,
        later_us: sound.trim.0,
        gain_db: sound.level.0,
        name: sound.name.to_string(),
        by_move: sound.by_move.map(small),
    };
    plan.sounds().iter().map(of).collect()
}
