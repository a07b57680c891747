//! A run's plan as a Standard MIDI File: tempo map, time signatures, markers with the phrase names, sound notes. Pure.
//!
//! Places are exact: the file has the score's own 960 ticks to the beat. Times are as good as a file can say them: a
//! tempo there is a whole number of microseconds a beat and stays until the next. So a ramp becomes steps of a
//! ninety-sixth of a beat, a steady tempo is told anew every sixteen beats if it is no whole number, and each step is
//! chosen so that the error of those before it is made good. [`Exported::error`] is what is left.

use std::collections::{BTreeMap, BTreeSet};

use super::bytes::{self, Channel, Note, SevenBits};
use super::file::{self, Track};
use super::settings::SoundNote;
use crate::timeline::{Plan, TempoMap};
use crate::units::{Micros, TICKS_PER_BEAT, Ticks};

/// Steps of a ramp.
const RAMP_STEP: i64 = TICKS_PER_BEAT / 96;
/// The error of a steady tempo is made good so often.
const STEADY_STEP: i64 = 16 * TICKS_PER_BEAT;
/// The slowest tempo that a file can say has so many microseconds to the beat: 24 bits.
const SLOWEST: f64 = 16_777_215.0;
/// The first key for a sound that has none: bass drum 1 of General MIDI's percussion, and upwards from there.
const FIRST_KEY: u8 = 36;
/// The channel of percussion, as people count.
const PERCUSSION: u8 = 10;

/// A file, and what its reader should know.
#[derive(Clone, Debug, PartialEq)]
pub struct Exported {
    /// The file's bytes.
    pub bytes: Vec<u8>,
    /// How far a beat or sound in the file is from the timeline at the most.
    pub error: Micros,
    /// The sounds, each with its channel (from 1) and key.
    pub notes: Vec<(String, Note)>,
    /// Sounds that their trim would put before the file begins; they were put at its beginning.
    pub early: usize,
}

/// Why a run is no MIDI file.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum ExportError {
    /// The tempo has more microseconds to the beat than fit: choose a higher speed.
    #[error(
        "the tempo falls to {0} beats a minute, and a MIDI file cannot say less than 3.58; choose a higher --speed"
    )]
    TooSlow(String),
    /// Longer than the format's lengths reach.
    #[error("the run is longer than a MIDI file can be; export fewer phrases with --from and --to")]
    TooLong,
}

/// The file of a plan; its first tick is the first beat of the count-in. Sounds without a note of their own get keys
/// from 36 upwards on channel 10, in order of their first appearance.
///
/// # Errors
/// [`ExportError`].
pub fn export(title: &str, plan: &Plan, own: &BTreeMap<String, SoundNote>) -> Result<Exported, ExportError> {
    let lead = plan.moments().first().map_or(Ticks::ZERO, |moment| Ticks((-moment.at.0).max(0)));
    if (plan.length() + lead).0 > i64::from(file::LONGEST) {
        return Err(ExportError::TooLong);
    }
    let (tempo_track, times) = conductor(title, plan, lead)?;
    let notes = notes_of(plan, own);
    let mut sounds = Track::named("Sounds");
    for (name, note) in &notes {
        sounds.text(
            Ticks::ZERO,
            &format!("{name}: channel {} key {}", note.note.channel.as_number(), note.note.key.get()),
        );
    }
    // How far the file's time of a tick of the run is from a time of the plan.
    let origin = plan.tempo().exact_time_of(-lead.0 as f64);
    let off = |tick: i64, time: Micros| {
        let said = times.time_of(tick + lead.0) + origin;
        Micros((said - time.0 as f64).abs().ceil() as i64)
    };
    let mut error = plan.moments().iter().map(|moment| off(moment.at.0, moment.time)).max().unwrap_or_default();
    let mut early = 0;
    for sound in plan.sounds() {
        let Some((_, note)) = notes.iter().find(|(name, _)| *name == sound.name) else { continue };
        // Without a trim the sound is on its line, exactly.
        let at = if sound.trim == Micros::ZERO { sound.at } else { tick_at(plan.tempo(), sound.time) };
        early += usize::from((at + lead).0 < 0);
        error = error.max(off(at.0.max(-lead.0), sound.time));
        let at = Ticks((at + lead).0.max(0));
        let end = Ticks((tick_at(plan.tempo(), sound.time + note.length) + lead).0.max(at.0 + 1));
        sounds.message(at, bytes::note_on(note.note, note.velocity_at(sound.level)));
        sounds.message(end, bytes::note_off(note.note));
    }
    let ticks_per_beat = TICKS_PER_BEAT as u16;
    Ok(Exported {
        bytes: file::file(ticks_per_beat, vec![tempo_track, sounds], plan.length() + lead),
        error,
        notes: notes.into_iter().map(|(name, note)| (name, note.note)).collect(),
        early,
    })
}

/// The first track, and the times that its tempos say.
fn conductor(title: &str, plan: &Plan, lead: Ticks) -> Result<(Track, FileTimes), ExportError> {
    let mut track = Track::named(title);
    track.time_signature(Ticks::ZERO, plan.beats_per_bar());
    if lead > Ticks::ZERO {
        track.marker(Ticks::ZERO, "count-in");
    }
    for phrase in plan.phrases() {
        track.marker(phrase.at + lead, &phrase.name);
        if phrase.at > Ticks::ZERO || lead > Ticks::ZERO {
            track.time_signature(phrase.at + lead, plan.beats_per_bar());
        }
    }
    let mut times = FileTimes::default();
    let tempo = plan.tempo();
    let origin = tempo.exact_time_of(-lead.0 as f64);
    for (from, to) in steps(plan, lead) {
        let due = tempo.exact_time_of((to - lead.0) as f64) - origin;
        let per_beat = (due - times.time_of(from)) * TICKS_PER_BEAT as f64 / (to - from) as f64;
        if per_beat.round() > SLOWEST {
            return Err(ExportError::TooSlow(format!("{:.2}", 60e6 / per_beat)));
        }
        let per_beat = per_beat.round().max(1.0);
        if times.add(from, per_beat) {
            track.tempo(Ticks(from), per_beat as u32);
        }
    }
    Ok((track, times))
}

/// Where a tempo may be told anew: from and to, in the file's ticks. A ramp is cut at every moment, too, so that what
/// is cued stands at the end of a step, where no error is left.
fn steps(plan: &Plan, lead: Ticks) -> Vec<(i64, i64)> {
    let mut cuts = BTreeSet::from([0]);
    let mut cut = |from: i64, to: i64, size: i64| {
        cuts.extend((from..to).step_by(size as usize).chain([to]));
    };
    cut(0, lead.0, STEADY_STEP);
    for stretch in plan.tempo().stretches() {
        let (from, to) = (stretch.at.0, stretch.end().0.min(plan.length().0));
        cut(from + lead.0, to + lead.0, if stretch.is_ramp() { RAMP_STEP } else { STEADY_STEP });
        if stretch.is_ramp() {
            let first = plan.moments().partition_point(|moment| moment.at.0 < from);
            let inside = plan.moments().iter().skip(first).map(|moment| moment.at.0).take_while(|at| *at < to);
            inside.for_each(|at| cut(at + lead.0, at + lead.0, RAMP_STEP));
        }
    }
    cuts.iter().copied().zip(cuts.iter().copied().skip(1)).collect()
}

/// What the file's tempos say: the time of a tick, microseconds from its beginning.
#[derive(Debug, Default)]
struct FileTimes {
    /// From which tick, at which time, how many microseconds to the beat.
    tempos: Vec<(i64, f64, f64)>,
}

impl FileTimes {
    /// A tempo from here on. False when it is the one that holds already.
    fn add(&mut self, at: i64, per_beat: f64) -> bool {
        if self.tempos.last().is_some_and(|(.., before)| *before == per_beat) {
            return false;
        }
        self.tempos.push((at, self.time_of(at), per_beat));
        true
    }

    fn time_of(&self, tick: i64) -> f64 {
        let index = self.tempos.partition_point(|(at, ..)| *at <= tick).saturating_sub(1);
        self.tempos
            .get(index)
            .map_or(0.0, |(at, time, per_beat)| time + (tick - at) as f64 * per_beat / TICKS_PER_BEAT as f64)
    }
}

/// The tick nearest to a time.
fn tick_at(tempo: &TempoMap, time: Micros) -> Ticks {
    Ticks(tempo.ticks_at(time).round() as i64)
}

/// Every sound of the plan with its note, in order of first appearance.
fn notes_of(plan: &Plan, own: &BTreeMap<String, SoundNote>) -> Vec<(String, SoundNote)> {
    let mut notes: Vec<(String, SoundNote)> = Vec::new();
    for sound in plan.sounds() {
        if notes.iter().any(|(name, _)| *name == sound.name) {
            continue;
        }
        let note = match own.get(sound.name.as_str()) {
            Some(note) => *note,
            None => {
                let taken = |key: u8| {
                    notes
                        .iter()
                        .map(|(_, note)| note)
                        .chain(own.values())
                        .any(|note| note.note.channel.as_number() == PERCUSSION && note.note.key.get() == key)
                };
                // With more sounds than keys the last key is shared.
                let key = (FIRST_KEY..127).find(|key| !taken(*key)).unwrap_or(127);
                let Some(note) = percussion(key) else { continue };
                note
            }
        };
        notes.push((sound.name.to_string(), note));
    }
    notes
}

fn percussion(key: u8) -> Option<SoundNote> {
    let note = Note { channel: Channel::number(PERCUSSION)?, key: SevenBits::new(key)? };
    Some(SoundNote { note, velocity: SevenBits::new(100)?, length: Micros::millis(200) })
}
