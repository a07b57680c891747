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
    render_on(Arc::new(Shelf::new(rate)), voices, length)
}

/// The same with the sounds of this shelf, at its rate.
pub fn render_on(shelf: Arc<Shelf>, voices: &[Voice], length: Micros) -> Vec<f32> {
    let rate = shelf.rate();
    let mut due: Vec<&Voice> = voices.iter().filter(|voice| voice.due >= ServerTime(0)).collect();
    due.sort_by_key(|voice| voice.due);
    let mut due = due.into_iter().peekable();
    let mut mixer = Mixer::new(shelf, SampleNumber(0));
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::sound::VoiceKind;
    use crate::units::Decibels;
    use proptest::prelude::*;

    fn voice(due: i64, accent: bool) -> Voice {
        let kind = if accent { VoiceKind::Accent } else { VoiceKind::Click };
        Voice { due: ServerTime(due), kind, level: Decibels(-6.0), generation: Generation(7) }
    }

    proptest! {
        #![proptest_config(ProptestConfig::with_cases(64))]

        /// Every onset of every voice is the sample nearest to its time (reckoned here in floating point, which is exact
        /// enough for some seconds), and from there the sound stands as it is on the shelf.
        #[test]
        fn every_voice_begins_at_its_exact_sample(
            gaps in prop::collection::vec((100_000i64..400_000, any::<bool>()), 1..12),
            rate in 8_000u32..192_000,
            order in any::<prop::sample::Index>(),
        ) {
            let mut time = 0;
            let mut voices: Vec<Voice> = gaps
                .iter()
                .map(|(gap, accent)| { time += gap; voice(time, *accent) })
                .collect();
            let expected: Vec<Voice> = voices.clone();
            let turn = order.index(voices.len());
            voices.rotate_left(turn);
            let out = render(&voices, rate, Micros(time + 200_000));
            let shelf = Shelf::new(rate);
            let mut rest = out.clone();
            for voice in &expected {
                let at = (voice.due.0 as f64 * f64::from(rate) / 1e6 + 0.5).floor() as usize;
                prop_assert!(out[at - 1] == 0.0 && out[at] != 0.0);
                for (n, sample) in shelf.sound(voice.kind).iter().enumerate() {
                    prop_assert_eq!(out[at + n], sample * voice.gain());
                    rest[at + n] = 0.0;
                }
            }
            prop_assert!(rest.iter().all(|sample| *sample == 0.0), "nothing else sounds");
        }
    }

    #[test]
    fn what_lies_outside_is_left_out_and_odd_levels_do_no_harm() {
        assert!(
            render(&[voice(-1, true), voice(1_000_000, true)], 48_000, Micros::seconds(1)).iter().all(|s| *s == 0.0)
        );
        assert!(render(&[voice(0, true)], 48_000, Micros(-5)).is_empty());
        for level in [f64::NAN, f64::INFINITY, f64::NEG_INFINITY, 1e300] {
            let loud = Voice { level: Decibels(level), ..voice(0, true) };
            assert!(render(&[loud; 100], 48_000, Micros::seconds(1)).iter().all(|s| s.abs() <= 1.0));
        }
    }
}
