//! The mixer's promises: exact onsets, silence in five milliseconds, no step, nothing of an older generation.

use super::*;
use proptest::prelude::*;

fn mixer(rate: u32) -> Mixer {
    Mixer::new(Arc::new(Shelf::new(rate)), SampleNumber(0))
}

fn start(at: i64, generation: u64) -> Start {
    let (at, generation) = (SampleNumber(at), Generation(generation));
    Start { at, kind: VoiceKind::Accent, gain: 1.0, generation, choke: None }
}

fn render(mixer: &mut Mixer, samples: usize, lives: u64) -> Vec<f32> {
    let mut out = vec![0.0; samples];
    mixer.render(&mut out, Generation(lives));
    out
}

fn steepest(samples: &[f32]) -> f32 {
    samples.windows(2).map(|pair| (pair[1] - pair[0]).abs()).fold(0.0, f32::max)
}

proptest! {
    /// Blocks of any size give the same samples as one block.
    #[test]
    fn the_size_of_blocks_changes_nothing(
        starts in prop::collection::vec(0i64..4_000, 1..20),
        blocks in prop::collection::vec(1usize..700, 1..40),
    ) {
        let length: usize = blocks.iter().sum();
        let (mut whole, mut cut) = (mixer(48_000), mixer(48_000));
        for at in &starts {
            whole.start(start(*at, 0));
            cut.start(start(*at, 0));
        }
        let expected = render(&mut whole, length, 0);
        let found: Vec<f32> = blocks.iter().flat_map(|block| render(&mut cut, *block, 0)).collect();
        prop_assert_eq!(expected, found);
    }

    /// A voice is heard from its very sample on, sample by sample as it stands on the shelf.
    #[test]
    fn a_voice_begins_at_its_sample(at in 0i64..3_000, rate in 8_000u32..100_000, gain in 0.01f32..1.0) {
        let mut mixer = mixer(rate);
        mixer.start(Start { gain, ..start(at, 0) });
        let out = render(&mut mixer, 20_000, 0);
        let shelf = Shelf::new(rate);
        let sound = shelf.sound(VoiceKind::Accent);
        prop_assert_eq!(out.iter().position(|sample| *sample != 0.0), Some(at as usize));
        for (found, sample) in out[at as usize..].iter().zip(sound) {
            prop_assert_eq!(*found, sample * gain);
        }
    }

    /// After a silence everything old is gone in five milliseconds, and falls without a step.
    #[test]
    fn silence_comes_in_five_milliseconds_without_a_step(
        starts in prop::collection::vec(0i64..9_000, 1..12),
        at in 1usize..9_000,
        rate in prop::sample::select(vec![8_000u32, 44_100, 48_000, 96_000]),
    ) {
        let (mut going_on, mut silenced) = (mixer(rate), mixer(rate));
        for sample in &starts {
            going_on.start(start(*sample, 3));
            silenced.start(start(*sample, 3));
        }
        let whole = render(&mut going_on, at + 9_000, 3);
        let mut out = render(&mut silenced, at, 3);
        out.extend(render(&mut silenced, 9_000, 4));
        let fade = (rate as usize * 5).div_ceil(1000);
        prop_assert!(out[at + fade..].iter().all(|sample| *sample == 0.0));
        // The fade adds to the sound's own steps at most its own slope of full scale.
        prop_assert!(steepest(&out) <= steepest(&whole) + 1.0 / fade as f32 + 1e-6);
    }

    /// What belongs to an older generation and has not begun never does, in whatever order things happen.
    #[test]
    fn the_dead_never_begin(
        steps in prop::collection::vec((0u8..3, 0i64..2_000, 0u64..4), 1..60),
    ) {
        let mut mixer = mixer(48_000);
        let mut lives = 0;
        for (what, ahead, number) in steps {
            match what {
                0 => { mixer.start(start(mixer.position().0 + ahead, number)); }
                1 => lives = lives.max(number),
                _ => { render(&mut mixer, ahead as usize + 1, lives); }
            }
        }
        // One last life that nothing was started in: after the fade there is silence for good.
        render(&mut mixer, 240, 9);
        prop_assert!(render(&mut mixer, 20_000, 9).iter().all(|sample| *sample == 0.0));
    }
}

#[test]
fn a_click_chokes_the_one_before_it() {
    let (mut alone, mut both) = (mixer(48_000), mixer(48_000));
    let choked = |at| Start { choke: VoiceKind::Click.choke_group(), ..start(at, 0) };
    alone.start(choked(1_000));
    both.start(choked(0));
    both.start(choked(1_000));
    let (alone, both) = (render(&mut alone, 8_000, 0), render(&mut both, 8_000, 0));
    assert_eq!(alone[1_240..], both[1_240..], "five milliseconds after the second only the second is heard");
    assert_ne!(alone[1_000..1_240], both[1_000..1_240]);
}

#[test]
fn more_voices_than_there_is_room_for_are_refused_and_the_rest_plays_on() {
    let mut mixer = mixer(48_000);
    let taken = (0..200).filter(|n| mixer.start(start(10_000 - n, 0))).count();
    assert_eq!(taken, VOICES + TAILS);
    let out = render(&mut mixer, 20_000, 0);
    assert!(out.iter().any(|sample| *sample != 0.0) && out.iter().all(|sample| sample.abs() <= 1.0));
    assert!(mixer.start(start(20_000, 0)), "there is room again");
}

#[test]
fn when_all_voices_sound_the_oldest_makes_room() {
    let mut mixer = mixer(48_000);
    for at in 0..VOICES as i64 {
        assert!(mixer.start(Start { gain: 0.001, ..start(at, 0) }));
    }
    render(&mut mixer, 1_000, 0);
    assert!(mixer.start(Start { gain: 0.001, ..start(1_000, 0) }));
    let fading: Vec<i64> = mixer.sounding.iter().filter(|v| v.fade_from.is_some()).map(|v| v.start.at.0).collect();
    assert_eq!(fading, [0]);
}
