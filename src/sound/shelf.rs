//! The shelf: every sound, ready to be mixed at one sample rate. It is filled off the audio thread and only read on
//! it; whoever fills it keeps it alive for as long as a mixer reads from it.

use std::sync::Arc;

use super::click::{ACCENT, CLICK};
use super::voice::VoiceKind;

/// The sounds at one rate.
#[derive(Debug)]
pub struct Shelf {
    rate: u32,
    click: Arc<[f32]>,
    accent: Arc<[f32]>,
    /// The call of the hold.
    call: Box<[f32]>,
    library: u32,
    /// By sound, by take.
    effects: Arc<[Vec<Box<[f32]>>]>,
}

impl Shelf {
    /// Computes click and accent at `rate` samples per second; there are no other sounds on it.
    pub fn new(rate: u32) -> Shelf {
        Shelf::with(rate, 0, Vec::new())
    }

    /// Click, accent, and the sounds of the library with this stamp: by sound, by take.
    pub(super) fn with(rate: u32, library: u32, effects: Vec<Vec<Box<[f32]>>>) -> Shelf {
        let (click, accent) = (CLICK.render(rate).into(), ACCENT.render(rate).into());
        Shelf { rate, click, accent, call: Box::default(), library, effects: effects.into() }
    }

    /// The same sounds, with this call of the hold.
    pub(super) fn calling(&self, call: Box<[f32]>) -> Shelf {
        let (click, accent, effects) = (Arc::clone(&self.click), Arc::clone(&self.accent), Arc::clone(&self.effects));
        Shelf { rate: self.rate, click, accent, call, library: self.library, effects }
    }

    /// The samples of the call of the hold, one channel; none when it is off.
    pub(super) fn call(&self) -> &[f32] {
        &self.call
    }

    /// Tells, as long as it can be upgraded, that the effects of this shelf are in memory.
    #[cfg(test)]
    pub(super) fn watch(&self) -> std::sync::Weak<[Vec<Box<[f32]>>]> {
        Arc::downgrade(&self.effects)
    }

    /// Samples per second.
    pub fn rate(&self) -> u32 {
        self.rate
    }

    /// The samples of a sound, one channel; none when it is not on this shelf.
    pub fn sound(&self, kind: VoiceKind) -> &[f32] {
        match kind {
            VoiceKind::Click => &self.click,
            VoiceKind::Accent => &self.accent,
            VoiceKind::Effect(effect) if effect.library == self.library => {
                let takes = self.effects.get(usize::from(effect.sound));
                takes.and_then(|takes| takes.get(usize::from(effect.take))).map_or(&[], |take| take)
            }
            VoiceKind::Effect(_) => &[],
        }
    }
}
