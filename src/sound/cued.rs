//! A sound of a plan as a voice: the one rule for the desk and for practice tracks.

use super::library::Library;
use super::voice::Voice;
use crate::timeline::Plan;
use crate::units::{Decibels, Generation, Micros, ServerTime};

/// The run that a sound is heard in.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct InRun {
    /// Its number, by which takes are chosen.
    pub number: u32,
    /// When the first beat of its range is heard.
    pub start: ServerTime,
    /// When the run itself begins, count-in and all: nothing sounds before.
    pub begins: ServerTime,
    /// Its life.
    pub generation: Generation,
}

/// A sound that is to be planned.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Cued {
    /// The voice.
    pub voice: Voice,
    /// By how much its trim would have put it before the run began; then it is heard as the run begins.
    pub clamped: Option<Micros>,
}

/// The voice of a sound of the plan (a place in [`Plan::sounds`]); nothing when the library has no such sound.
pub fn cued(library: &Library, plan: &Plan, index: usize, run: InRun) -> Option<Cued> {
    let sound = plan.sounds().get(index)?;
    let before = plan.sounds().iter().take(index).filter(|other| other.name == sound.name).count();
    let named = library.effect(&sound.name, run.number, u32::try_from(before).unwrap_or(u32::MAX))?;
    let heard = run.start + sound.time + named.trim;
    let early = run.begins.since(heard);
    let voice = Voice {
        // What is heard of it falls on its time, so its first sample comes before.
        due: (heard - named.attack).max(run.begins),
        kind: named.kind,
        level: Decibels(sound.level.0 + named.gain.0),
        generation: run.generation,
    };
    Some(Cued { voice, clamped: (early > Micros::ZERO).then_some(early) })
}
