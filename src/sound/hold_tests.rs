//! The call of the hold, driven by hand: everything else is silent, then it is called once, promptly and at its level;
//! mutes and repeats do not change that, and no order of pulls, plans and mutes lets anything else begin after a pull.

use proptest::prelude::*;

use super::*;
use crate::sound::{HoldCall, HoldSettings, Sound, Voice, VoiceKind};
use crate::units::Decibels;

const RATE: u32 = 48_000;
/// From a pull to the call: the block that is mixed already, and the fade.
const PROMPT: usize = BLOCK + 240;
/// So long after something too loud the ceiling may still turn down what else there is.
const LET_GO: usize = RATE as usize / 2;

fn accent(due: i64, generation: u8) -> Voice {
    let (due, generation) = (ServerTime(due), lives(generation));
    Voice { due, kind: VoiceKind::Accent, level: Decibels(0.0), generation }
}

fn lives(generation: u8) -> Generation {
    Generation(generation.into())
}

/// Sample 0 is heard at server time 0.
fn fill(player: &mut Player, samples: usize) -> Vec<f32> {
    let mut out = vec![0.0; samples];
    for block in out.chunks_mut(256) {
        let heard = ServerTime(player.position().0 * 1_000_000 / i64::from(RATE));
        player.fill(block, heard);
    }
    out
}

fn usual() -> Box<[f32]> {
    HoldSettings::default().samples(None, RATE)
}

/// Where in `out` the call is, sample for sample, and nothing after it.
fn called_at(out: &[f32], call: &[f32]) -> Option<usize> {
    let end = out.iter().rposition(|sample| *sample != 0.0)? + 1;
    // The first and the last sample of the call are zero.
    let heard = call.iter().rposition(|sample| *sample != 0.0)? + 1;
    let begin = end.checked_sub(heard)?;
    (out[begin..end] == call[..heard]).then_some(begin)
}

#[test]
fn when_all_is_silent_the_hold_is_called_once_at_its_level() {
    let level = Decibels(3.0);
    let hold = HoldSettings { call: HoldCall::Tone, level };
    let (sound, mut player) = Sound::by_hand_calling(RATE, hold.clone());
    for n in 0..400 {
        sound.plan(accent(40_000 * n, 1));
    }
    assert!(fill(&mut player, 48_000).iter().any(|sample| *sample != 0.0));
    sound.hold(lives(2), 1);
    let out = fill(&mut player, 480_000);
    let begin = called_at(&out, &hold.samples(None, RATE)).expect("the call, and nothing after it");
    assert!(begin <= PROMPT, "only after {begin} samples");
    // The roll fades until then: its last sample before the call is silent.
    assert_eq!(out[begin - 1], 0.0);
    assert_eq!(sound.status().calls, 1);
    let softer = usual()[20_000] * (Decibels(3.0 - 12.0).amplitude() as f32);
    assert!((hold.samples(None, RATE)[20_000] - softer).abs() < 1e-6);
}

#[test]
fn the_same_hold_told_again_is_not_called_again_and_an_older_one_neither() {
    let (sound, mut player) = Sound::by_hand(RATE);
    sound.hold(lives(3), 7);
    let mut out = fill(&mut player, 30_000);
    for (generation, pull) in [(3, 7), (2, 5), (9, 7), (3, 6)] {
        sound.clone().hold(lives(generation), pull);
    }
    out.extend(fill(&mut player, 100_000));
    assert!(called_at(&out, &usual()).is_some_and(|begin| begin <= PROMPT));
    assert_eq!(sound.status().calls, 1);
}

#[test]
fn a_newer_hold_begins_the_call_anew_and_the_old_one_fades() {
    let (sound, mut player) = Sound::by_hand(RATE);
    sound.hold(lives(1), 1);
    let before = fill(&mut player, 20_000);
    sound.hold(lives(2), 2);
    let out = fill(&mut player, 100_000);
    let begin = called_at(&out, &usual()).expect("the new call whole, and nothing after it");
    assert!(begin <= PROMPT);
    let step = before.windows(2).map(|pair| (pair[1] - pair[0]).abs()).fold(0.0f32, f32::max);
    assert!(out.windows(2).all(|pair| (pair[1] - pair[0]).abs() <= step * 1.2), "it fades, it does not click");
    assert_eq!(sound.status().calls, 2);
}

#[test]
fn it_is_heard_though_the_sound_is_muted() {
    let (sound, mut player) = Sound::by_hand(RATE);
    for n in 0..400 {
        sound.plan(accent(40_000 * n, 1));
    }
    sound.mute(true);
    fill(&mut player, 48_000);
    sound.hold(lives(2), 1);
    let out = fill(&mut player, 100_000);
    let begin = called_at(&out, &usual()).expect("the call");
    assert!(begin <= PROMPT && out[..begin].iter().all(|sample| *sample == 0.0));
}

#[test]
fn off_is_silence() {
    let (sound, mut player) =
        Sound::by_hand_calling(RATE, HoldSettings { call: HoldCall::Off, ..HoldSettings::default() });
    sound.plan(accent(100_000, 1));
    sound.hold(lives(2), 1);
    assert!(fill(&mut player, 100_000).iter().all(|sample| *sample == 0.0));
    assert_eq!((sound.status().calls, sound.says_hold()), (0, false));
}

/// A hold that the last device never mixed is called on the next one; one that was called is not called again.
#[test]
fn another_device_calls_what_has_not_been_called() {
    let (sound, mut player) = Sound::by_hand(RATE);
    sound.hold(lives(2), 1);
    player.move_to(44_100);
    let mut out = vec![0.0; 100_000];
    player.fill(&mut out, ServerTime(0));
    assert!(called_at(&out, &HoldSettings::default().samples(None, 44_100)).is_some());
    player.move_to(48_000);
    player.fill(&mut out, ServerTime(3_000_000));
    assert!(out.iter().all(|sample| *sample == 0.0));
}

#[derive(Clone, Debug)]
enum Step {
    Plan { ahead: i64, generation: u8 },
    Silence(u8),
    Hold { generation: u8, pull: u64 },
    Mute(bool),
    Fill(usize),
}

fn step() -> impl Strategy<Value = Step> {
    prop_oneof![
        4 => (-3_000i64..60_000, 0u8..8).prop_map(|(ahead, generation)| Step::Plan { ahead, generation }),
        1 => (0u8..8).prop_map(Step::Silence),
        1 => (0u8..8, 0u64..5).prop_map(|(generation, pull)| Step::Hold { generation, pull }),
        1 => any::<bool>().prop_map(Step::Mute),
        3 => (1usize..6_000).prop_map(Step::Fill),
    ]
}

/// What two players give who are told the same, of whom the second calls no holds.
struct Twins {
    calling: (Sound, Player),
    silent: (Sound, Player),
}

impl Twins {
    fn new() -> Twins {
        let off = HoldSettings { call: HoldCall::Off, ..HoldSettings::default() };
        Twins { calling: Sound::by_hand(RATE), silent: Sound::by_hand_calling(RATE, off) }
    }

    fn tell(&self, tell: impl Fn(&Sound)) {
        tell(&self.calling.0);
        tell(&self.silent.0);
    }

    /// What is heard with and without the call.
    fn fill(&mut self, samples: usize) -> (Vec<f32>, Vec<f32>) {
        (fill(&mut self.calling.1, samples), fill(&mut self.silent.1, samples))
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(48))]

    #[test]
    fn no_order_of_pulls_plans_and_mutes_lets_anything_but_the_call_begin_after_a_pull(
        steps in prop::collection::vec(step(), 1..80),
    ) {
        let mut twins = Twins::new();
        let (mut alive, mut pulled, mut calls) = (0, 0, 0);
        // Where the call sounds: from the first block after the newest pull to its end, and until what it turned down is back.
        let mut call = 0..0;
        for step in steps {
            let now = twins.silent.1.position().0;
            match step {
                Step::Plan { ahead, generation } => {
                    twins.tell(|sound| sound.plan(accent(now * 1_000_000 / i64::from(RATE) + ahead, generation)));
                }
                Step::Silence(generation) => {
                    twins.tell(|sound| sound.silence(lives(generation)));
                    alive = alive.max(generation);
                }
                Step::Hold { generation, pull } => {
                    twins.tell(|sound| sound.hold(lives(generation), pull));
                    alive = alive.max(generation);
                    if pull > pulled {
                        // Two pulls without a block between them are one call.
                        calls += u64::from(call.start != now || calls == 0);
                        pulled = pull;
                        call = now..now + (PROMPT + usual().len() + LET_GO) as i64;
                    }
                }
                Step::Mute(muted) => twins.tell(|sound| sound.mute(muted)),
                Step::Fill(samples) => {
                    let (heard, without) = twins.fill(samples);
                    for (n, (heard, without)) in heard.iter().zip(&without).enumerate() {
                        let at = now + n as i64;
                        prop_assert!(heard == without || call.contains(&at), "sample {at} differs outside of the call");
                    }
                    for sent in twins.silent.0.take_sent().into_iter().chain(twins.calling.0.take_sent()) {
                        prop_assert!(sent.generation >= lives(alive), "{sent:?} began after {alive} was pulled");
                    }
                }
            }
        }
        // After the last pull of all, which nothing outlives, there is the call and nothing else.
        twins.tell(|sound| sound.hold(lives(9), 9));
        let (heard, without) = twins.fill(200_000);
        prop_assert!(without[PROMPT..].iter().all(|sample| *sample == 0.0));
        prop_assert!(called_at(&heard, &usual()).is_some_and(|begin| begin <= PROMPT));
        prop_assert!(twins.calling.0.take_sent().is_empty());
        prop_assert!(twins.calling.0.status().calls <= calls + 1);
    }
}
