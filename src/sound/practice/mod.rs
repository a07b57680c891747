//! A practice track: what a performer hears at home. Click, the effects of their own moves, and a voice that calls each
//! move ahead of it, rendered by the very mixer of the desk, so that it agrees with `holdfast timeline` to the sample.

mod calls;
mod file;
mod speech;

use std::collections::{BTreeMap, HashMap};

pub use calls::{Call, Event, Placed, events, place};
pub use file::{Kind, flac, write, write_whole};
pub use speech::{PACES, Speaker};

use super::cued::{InRun, cued};
use super::library::{Adjustment, Library};
use super::loudness::{Finished, finished};
use super::offline::render_on;
use super::recordings::Recording;
use super::voice::{Voice, VoiceKind};
use crate::score::model::FighterId;
use crate::timeline::{Click, Plan};
use crate::units::{Decibels, Generation, Micros, ServerTime};

/// The level of the click beside effects and voice.
const CLICK: Decibels = Decibels(-9.0);
/// The voice is a little louder than what it speaks over.
const VOICE: Decibels = Decibels(3.0);
/// For so long it rings on after the end.
const TAIL: Micros = Micros::millis(2_500);

/// A practice track, ready to be rendered.
#[derive(Debug)]
pub struct Track {
    library: Library,
    voices: Vec<Voice>,
    /// From the beginning of the track to the first beat of its range: add it to the times of `holdfast timeline`.
    pub first_beat: Micros,
    /// How long it is.
    pub length: Micros,
    /// Calls for which there was no time between two moves.
    pub left_out: Vec<Call>,
    /// Calls that are spoken.
    pub spoken: usize,
}

impl Track {
    /// The track of a fighter: the click of the whole plan, the sounds of the moves in which they act or answer and of
    /// those that belong to no move, as `chosen` for each, and the calls of their own part. Without a speaker nothing is
    /// called.
    ///
    /// # Errors
    /// A sentence when the speaker fails.
    pub fn new(
        plan: &Plan,
        fighter: FighterId,
        recordings: &[Recording],
        chosen: &BTreeMap<String, Adjustment>,
        speaker: Option<&mut Speaker>,
    ) -> Result<Track, String> {
        let called = match speaker {
            Some(speaker) => place(&events(plan, fighter), |text, pace| speaker.say(text, pace))?,
            None => Vec::new(),
        };
        let (spoken, left_out): (Vec<Placed>, Vec<Placed>) = called.into_iter().partition(|it| it.clip.is_some());
        let first_beat = lead(plan, &spoken);
        let (library, words) = library(plan, recordings, chosen, &spoken);
        let mut voices = clicks(plan, first_beat);
        voices.extend(effects(&library, plan, fighter, first_beat));
        voices.extend(spoken.iter().zip(&words).filter_map(|(placed, word)| {
            let named = library.effect(word, 0, 0)?;
            let due = ServerTime(0) + first_beat + placed.at;
            Some(Voice { due, kind: named.kind, level: VOICE, generation: Generation(0) })
        }));
        let left_out = left_out.into_iter().map(|placed| placed.call).collect();
        let length = first_beat + plan.duration() + TAIL;
        Ok(Track { library, voices, first_beat, length, left_out, spoken: spoken.len() })
    }

    /// Its voices, in no order; server time 0 is its first sample.
    pub fn voices(&self) -> &[Voice] {
        &self.voices
    }

    /// Its samples, one channel, at a listening level.
    pub fn render(&self, rate: u32) -> Finished {
        finished(render_on(self.library.shelf(rate), &self.voices, self.length), rate)
    }
}

/// Room for the count-in, and for what is called before it.
fn lead(plan: &Plan, spoken: &[Placed]) -> Micros {
    let count_in = plan.moments().first().map_or(Micros::ZERO, |moment| moment.time);
    let first_call = spoken.iter().map(|placed| placed.at).min().unwrap_or(Micros::ZERO);
    -count_in.min(first_call).min(Micros::ZERO)
}

/// The library of what is heard, with every clip of the voice in it, and the name of each placed call's clip.
fn library(
    plan: &Plan,
    recordings: &[Recording],
    chosen: &BTreeMap<String, Adjustment>,
    spoken: &[Placed],
) -> (Library, Vec<String>) {
    let mut known: HashMap<(String, u32), String> = HashMap::new();
    let mut all = recordings.to_vec();
    let mut words = Vec::new();
    for placed in spoken {
        let Some(clip) = &placed.clip else { continue };
        let next = format!("spoken {}", known.len());
        let word = known.entry((placed.call.text.clone(), placed.pace)).or_insert_with(|| {
            all.push(Recording { name: next.clone(), takes: vec![clip.clone()] });
            next
        });
        words.push(word.clone());
    }
    let heard =
        |name: &str| plan.sounds().iter().any(|sound| sound.name == name) || words.iter().any(|word| word == name);
    (Library::of(all, chosen, heard), words)
}

fn clicks(plan: &Plan, first_beat: Micros) -> Vec<Voice> {
    let kind = |click| match click {
        Click::Accent => Some(VoiceKind::Accent),
        Click::Beat => Some(VoiceKind::Click),
        Click::None => None,
    };
    let voice = |time, kind| Voice { due: ServerTime(0) + time, kind, level: CLICK, generation: Generation(0) };
    let moments = plan.moments().iter();
    moments.filter_map(|moment| Some(voice(first_beat + moment.time, kind(moment.click)?))).collect()
}

fn effects(library: &Library, plan: &Plan, fighter: FighterId, first_beat: Micros) -> Vec<Voice> {
    let begins = ServerTime(0);
    let run = InRun { number: 0, start: begins + first_beat, begins, generation: Generation(0) };
    let own = |by: Option<usize>| by.is_none_or(|by| plan.moves().get(by).is_some_and(|it| it.involves(fighter)));
    let sounds = plan.sounds().iter().enumerate().filter(|(_, sound)| own(sound.by_move));
    sounds.filter_map(|(index, _)| Some(cued(library, plan, index, run)?.voice)).collect()
}
