//! The mixer: voices that start at exact sample numbers, added up block by block. Pure: it is given sample numbers and
//! the generation that lives, and knows no clock, device or thread. Rendering never allocates, locks, logs or frees.

use std::sync::Arc;

use super::caller::Caller;
use super::ceiling::{Ceiling, LOOK, MOST};
use super::gate::Gate;
use super::sample::SampleNumber;
use super::shelf::Shelf;
use super::voice::VoiceKind;
use crate::units::{Generation, Micros};

/// How many voices sound at once.
pub const VOICES: usize = 64;

/// How long a silenced or choked voice takes to fade out.
pub const FADE: Micros = Micros::millis(5);

/// Room for voices that are fading out, besides those that sound.
const TAILS: usize = 16;

/// A voice to be started.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Start {
    /// The number of its first sample; not before [`Mixer::position`], or its beginning is cut off.
    pub at: SampleNumber,
    /// Which sound.
    pub kind: VoiceKind,
    /// The factor on its amplitude.
    pub gain: f32,
    /// The life of the run it belongs to.
    pub generation: Generation,
    /// The group it chokes when it begins, and in which it is choked by the next.
    pub choke: Option<u8>,
}

/// A voice that has started or is about to; it needs nothing to be freed.
#[derive(Clone, Copy, Debug)]
struct Sounding {
    start: Start,
    /// The first sample of its fade, if it is fading.
    fade_from: Option<i64>,
    /// It sounds from the shelf before the present one.
    from_old: bool,
}

/// Adds up voices into one channel.
#[derive(Debug)]
pub struct Mixer {
    shelf: Arc<Shelf>,
    /// The shelf before, for as long as a voice sounds from it.
    old: Option<Arc<Shelf>>,
    position: i64,
    fade: i64,
    sounding: Vec<Sounding>,
    caller: Caller,
    ceiling: Ceiling,
    /// What was mixed last, before the ceiling.
    mix: Box<[f32; MOST + LOOK]>,
}

impl Mixer {
    /// An empty mixer whose next sample is number `position`.
    pub fn new(shelf: Arc<Shelf>, position: SampleNumber) -> Mixer {
        let fade = SampleNumber::count(FADE, shelf.rate()).max(1);
        let sounding = Vec::with_capacity(VOICES + TAILS);
        let (ceiling, mix) = (Ceiling::new(shelf.rate()), Box::new([0.0; MOST + LOOK]));
        let (position, caller) = (position.0, Caller::default());
        Mixer { shelf, old: None, position, fade, sounding, caller, ceiling, mix }
    }

    /// The number of the next sample that will be rendered.
    pub fn position(&self) -> SampleNumber {
        SampleNumber(self.position)
    }

    /// Samples per second.
    pub fn rate(&self) -> u32 {
        self.shelf.rate()
    }

    /// True when nothing sounds, or is about to.
    pub(super) fn is_silent(&self) -> bool {
        self.sounding.is_empty() && !self.caller.is_calling()
    }

    /// Goes on by so many samples while nothing sounds, without mixing them.
    pub(super) fn pass_over(&mut self, samples: usize) {
        debug_assert!(self.is_silent());
        self.position += samples as i64;
    }

    /// True when the sound is there to be started.
    pub fn has(&self, kind: VoiceKind) -> bool {
        !self.shelf.sound(kind).is_empty()
    }

    /// Takes another shelf; what sounds goes on from the old one. Neither allocates nor frees.
    ///
    /// # Errors
    /// Gives it back when it is of another rate, or when voices still sound from the one before the last.
    pub fn restock(&mut self, shelf: Arc<Shelf>) -> Result<(), Arc<Shelf>> {
        if self.old.is_some() || shelf.rate() != self.rate() {
            return Err(shelf);
        }
        for voice in &mut self.sounding {
            voice.from_old = true;
        }
        self.caller.restock();
        self.old = Some(std::mem::replace(&mut self.shelf, shelf));
        Ok(())
    }

    /// True while voices may still sound from the shelf before.
    pub fn is_changing(&self) -> bool {
        self.old.is_some()
    }

    /// The shelf before, once nothing sounds from it any more: to be freed elsewhere.
    pub fn take_spent(&mut self) -> Option<Arc<Shelf>> {
        if self.caller.needs_old() || self.sounding.iter().any(|voice| voice.from_old) {
            return None;
        }
        self.old.take()
    }

    /// Starts a voice, now or in the future. It chokes what sounds of its group; when [`VOICES`] already sound, the one
    /// that began first makes room. False when there is no room left even among the fading.
    pub fn start(&mut self, start: Start) -> bool {
        if self.sounding.len() >= VOICES + TAILS {
            return false;
        }
        let mut new = Sounding { start, fade_from: None, from_old: false };
        if start.choke.is_some() {
            for other in self.sounding.iter_mut().filter(|other| other.start.choke == start.choke) {
                if other.start.at <= start.at {
                    other.fade(start.at.0);
                } else {
                    new.fade(other.start.at.0);
                }
            }
        }
        if self.sounding.iter().filter(|voice| voice.fade_from.is_none()).count() >= VOICES {
            let oldest = self.sounding.iter_mut().filter(|voice| voice.fade_from.is_none()).min_by_key(|v| v.start.at);
            if let Some(oldest) = oldest {
                oldest.fade(start.at.0);
            }
        }
        self.sounding.push(new);
        true
    }

    /// Begins the call of the hold once everything that is silenced at the next sample has faded. False when there is
    /// none on the shelf.
    pub(super) fn call(&mut self) -> bool {
        if self.shelf.call().is_empty() {
            return false;
        }
        self.caller.call(self.position, self.position + self.fade);
        true
    }

    /// Renders the next `out.len()` samples. Voices of a generation older than `lives` fade out from the first of them
    /// and are gone [`FADE`] later; those that have not begun never do.
    pub fn render(&mut self, out: &mut [f32], lives: Generation) {
        self.render_through(out, lives, &mut Gate::OPEN.clone());
    }

    /// The same with a gate that the voices pass; the call of a hold does not.
    pub(super) fn render_through(&mut self, out: &mut [f32], lives: Generation, gate: &mut Gate) {
        let begin = self.position;
        self.sounding.retain_mut(|voice| {
            if voice.start.generation < lives {
                voice.fade(begin);
                return voice.start.at.0 < begin;
            }
            true
        });
        for block in out.chunks_mut(MOST) {
            self.render_block(block, gate);
        }
    }

    /// Mixes these samples and those that the ceiling looks at ahead of them.
    fn render_block(&mut self, out: &mut [f32], gate: &mut Gate) {
        let (begin, end) = (self.position, self.position + out.len() as i64);
        let (shelf, old, fade) = (&self.shelf, self.old.as_deref(), self.fade);
        let mix = &mut self.mix[..out.len() + LOOK];
        mix.fill(0.0);
        for voice in &self.sounding {
            voice.add(voice.sound(shelf, old), mix, begin, fade);
        }
        let (now, ahead) = mix.split_at_mut(out.len());
        gate.pass(now, fade);
        gate.clone().pass(ahead, fade);
        self.caller.add(mix, begin, fade, shelf, old);
        self.ceiling.pass(mix, out);
        self.sounding.retain(|voice| voice.end(voice.sound(shelf, old), fade) > end);
        self.caller.end(end, fade, shelf, old);
        self.position = end;
    }
}

impl Sounding {
    /// Fades from sample `from` on, or from where it was already to fade, whichever is sooner.
    fn fade(&mut self, from: i64) {
        self.fade_from = Some(self.fade_from.map_or(from, |already| already.min(from)));
    }

    /// Its samples.
    fn sound<'s>(&self, shelf: &'s Shelf, old: Option<&'s Shelf>) -> &'s [f32] {
        let shelf = if self.from_old { old.unwrap_or(shelf) } else { shelf };
        shelf.sound(self.start.kind)
    }

    /// One past its last sample.
    fn end(&self, sound: &[f32], fade: i64) -> i64 {
        let whole = self.start.at.0.saturating_add(sound.len() as i64);
        self.fade_from.map_or(whole, |from| whole.min(from.saturating_add(fade)))
    }

    /// Adds what falls into the block that begins at sample `begin`.
    fn add(&self, sound: &[f32], out: &mut [f32], begin: i64, fade: i64) {
        let skip = usize::try_from(self.start.at.0 - begin).unwrap_or(0);
        let done = usize::try_from(begin - self.start.at.0).unwrap_or(0);
        let (Some(out), Some(sound)) = (out.get_mut(skip..), sound.get(done..)) else { return };
        match self.fade_from {
            None => {
                for (sample, value) in out.iter_mut().zip(sound) {
                    *sample += value * self.start.gain;
                }
            }
            Some(from) => {
                let first = begin + skip as i64;
                for (n, (sample, value)) in out.iter_mut().zip(sound).enumerate() {
                    let faded = (first + n as i64 - from + 1).clamp(0, fade);
                    let left = (fade - faded) as f32 / fade as f32;
                    *sample += value * self.start.gain * left;
                }
            }
        }
    }
}

#[cfg(test)]
#[path = "mixer_tests.rs"]
mod tests;
