//! A fight to be learned: its moves as a run of all of it would be told, where everybody stands and walks, what is heard.

use std::sync::Arc;

use crate::call::{Drive, Fight, Run, Setup};
use crate::score::model::{Person, Score};
use crate::score::words;
use crate::server::view::{run_sheet, small};
use crate::timeline::{PhraseRange, Plan, PlannedPlace, PlannedWalk};
use crate::units::{Generation, Speed};
use crate::wire::{FeetView, Lesson, SoundAt};

/// The whole fight at performance tempo, of no run and of no generation; nothing where it has no phrase.
pub(super) fn lesson(fight: &Arc<Fight>) -> Option<Lesson> {
    let range = PhraseRange::whole(&fight.score)?;
    let setup =
        Setup { fight: Arc::clone(fight), range, begin: None, speed: Speed::FULL, count_in: 0, drive: Drive::Clock };
    let run = Run::new(0, setup);
    let feet = feet(&fight.score, &run.plan);
    let sounds = sounds(&run.plan);
    Some(Lesson { sheet: run_sheet(&run, Generation(0)), feet, sounds })
}

/// Marks and walks in order; the marks of a phrase before its walks.
fn feet(score: &Score, plan: &Plan) -> Vec<FeetView> {
    let marks = plan.places().iter().map(|place| mark(score, plan, place));
    let walks = plan.walks().iter().map(|walk| self::walk(score, plan, walk));
    let mut feet: Vec<FeetView> = marks.chain(walks).collect();
    feet.sort_by_key(|it| (it.at_ticks, it.beat.is_some()));
    feet
}

fn mark(score: &Score, plan: &Plan, place: &PlannedPlace) -> FeetView {
    let phrase = plan.phrases().get(place.phrase_in_range);
    let facing = words::facing(place.facing, |other| name(score, other));
    FeetView {
        phrase: phrase.map_or(0, |phrase| small(phrase.phrase)),
        at_ticks: phrase.map_or(0, |phrase| phrase.at.0),
        beat: None,
        who: name(score, place.who),
        words: format!("{}{facing}", words::mark(place.point)),
        until: None,
    }
}

fn walk(score: &Score, plan: &Plan, walk: &PlannedWalk) -> FeetView {
    let phrase = plan.phrases().get(walk.phrase_in_range);
    let start = phrase.map_or_else(Default::default, |phrase| phrase.at);
    FeetView {
        phrase: phrase.map_or(0, |phrase| small(phrase.phrase)),
        at_ticks: walk.at.0,
        beat: Some((walk.at - start).beat_label()),
        who: name(score, walk.who),
        words: words::course(&walk.course, words::mark),
        until: Some((walk.until - start).beat_label()),
    }
}

fn name(score: &Score, person: Person) -> String {
    let name = match person {
        Person::Fighter(id) => score.fighters.get(id.0).map(|it| it.name.as_str()),
        Person::Bystander(id) => score.bystanders.get(id.0).map(|it| it.name.as_str()),
    };
    name.unwrap_or("?").to_owned()
}

fn sounds(plan: &Plan) -> Vec<SoundAt> {
    let of = |sound: &crate::timeline::PlannedSound| SoundAt {
        at_ticks: sound.at.0,
        later_us: sound.trim.0,
        gain_db: sound.level.0,
        name: sound.name.clone(),
        by_move: sound.by_move.map(small),
    };
    plan.sounds().iter().map(of).collect()
}
