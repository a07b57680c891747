//! The shelf: every sound, ready to be mixed at one sample rate. It is filled off the audio thread and only read on
//! it; whoever fills it keeps it alive for as long as a mixer reads from it.

use super::click::{ACCENT, CLICK};
use super::voice::VoiceKind;

/// The sounds at one rate.
#[derive(Debug)]
pub struct Shelf {
    rate: u32,
    click: Box<[f32]>,
    accent: Box<[f32]>,
}

impl Shelf {
    /// Computes every sound at `rate` samples per second.
    pub fn new(rate: u32) -> Shelf {
        Shelf { rate, click: CLICK.render(rate).into(), accent: ACCENT.render(rate).into() }
    }

    /// Samples per second.
    pub fn rate(&self) -> u32 {
        self.rate
    }

    /// The samples of a sound, one channel.
    pub fn sound(&self, kind: VoiceKind) -> &[f32] {
        match kind {
            VoiceKind::Click => &self.click,
            VoiceKind::Accent => &self.accent,
        }
    }
}
