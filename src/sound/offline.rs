//! Rendering without a device: the very same mixer, fed from a list. For practice tracks and for tests.

use std::sync::Arc;

use super::mixer::{Mixer, Start};
use super::sample::SampleNumber;
use super::shelf::Shelf;
use super::voice::Voice;
use crate::units::{Generation, Micros, ServerTime};

/// Samples that are mixed at a time.
const BLOCK: usize = 512;

/// Renders `voices` to one channel of `length` at `rate` samples per second. Server time 0 is sample 0, every voice
/// begins at the sample nearest to its time, and a voice before 0 or after the end is left out. Generations do not
/// matter here: nothing is held in a recording.
pub fn render(voices: &[Voice], rate: u32, length: Micros) -> Vec<f32> {
    let mut due: Vec<&Voice> = voices.iter().filter(|voice| voice.due >= ServerTime(0)).collect();
    due.sort_by_key(|voice| voice.due);
    let mut due = due.into_iter().peekable();
    let mut mixer = Mixer::new(Arc::new(Shelf::new(rate)), SampleNumber(0));
    let samples = usize::try_from(SampleNumber::nearest(length, rate).0).unwrap_or(0);
    let mut out = vec![0.0; samples];
    for block in out.chunks_mut(BLOCK) {
        let end = mixer.position().0 + block.len() as i64;
        while let Some(voice) = due.next_if(|voice| sample_of(voice, rate).0 < end) {
            mixer.start(Start {
                at: sample_of(voice, rate),
                kind: voice.kind,
                gain: voice.gain(),
                generation: Generation(0),
                choke: voice.kind.choke_group(),
            });
        }
        mixer.render(block, Generation(0));
    }
    out
}

fn sample_of(voice: &Voice, rate: u32) -> SampleNumber {
    SampleNumber::nearest(voice.due.since(ServerTime(0)), rate)
}
