//! The moments of a run: what gets a cue. Every beat is one, from the first of the count-in, and so is every tick
//! between two beats at which a move, a walk or a sound on its own line begins.

use std::ops::Range;

use crate::units::{Micros, TICKS_PER_BEAT, Ticks};

use super::planned::{PlannedMove, PlannedPhrase, PlannedSound, PlannedWalk};

/// One moment of a run.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Moment {
    /// When, from the first beat of the range; negative in the count-in.
    pub at: Ticks,
    /// When, from the first beat of the range.
    pub time: Micros,
    /// Its phrase, counted from 0 in the range; a count-in belongs to the first.
    pub phrase_in_range: usize,
    /// When, from the first beat of its phrase.
    pub beat: Ticks,
    /// The bar, counted from 1 in each phrase; 0 in a count-in.
    pub bar: u32,
    /// The beat of the bar, counted from 1.
    pub count: u32,
    /// Beats of count-in left, this one included; nothing once the fight runs.
    pub count_in: Option<u32>,
    /// What the click does.
    pub click: Click,
    /// The moves that begin here, as places in [`super::Plan::moves`]. An empty range still says which move comes next.
    pub moves: Range<usize>,
    /// The walks that begin here, as places in [`super::Plan::walks`].
    pub walks: Range<usize>,
    /// The sounds whose lines stand here, as places in [`super::Plan::sounds`].
    pub sounds: Range<usize>,
}

/// What the click does at a moment.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Click {
    /// The first beat of a bar.
    Accent,
    /// Any other beat.
    Beat,
    /// Between beats: nothing.
    None,
}

/// What is dealt out to moments: the phrases of a range and all that lies in them, each list in order of its ticks.
pub(super) struct Laid<'p> {
    pub(super) phrases: &'p [PlannedPhrase],
    pub(super) moves: &'p [PlannedMove],
    pub(super) walks: &'p [PlannedWalk],
    pub(super) sounds: &'p [PlannedSound],
    pub(super) beats_per_bar: u32,
}

impl Laid<'_> {
    /// The moments, in order, not yet timed, after a count-in of whole beats.
    pub(super) fn moments(&self, count_in: u32) -> Vec<Moment> {
        let skipped = self.phrases.first().map_or(Ticks::ZERO, |phrase| phrase.skipped);
        let mut moments: Vec<Moment> =
            (1..=count_in).rev().map(|left| count_in_beat(left, skipped, self.beats_per_bar)).collect();
        let mut reached = Reached::default();
        for (index, phrase) in self.phrases.iter().enumerate() {
            for at in ticks_of(phrase, self, &reached) {
                moments.push(reached.moment(self, index, phrase, at));
            }
        }
        moments
    }
}

/// A beat of the count-in with so many left. The counts lead into that of the first beat: 1, where nothing of its phrase is
/// skipped.
fn count_in_beat(left: u32, skipped: Ticks, beats_per_bar: u32) -> Moment {
    let at = Ticks::beats(-i64::from(left));
    let count = count_of(at + skipped, beats_per_bar);
    Moment {
        at,
        time: Micros::ZERO,
        phrase_in_range: 0,
        beat: at,
        bar: 0,
        count,
        count_in: Some(left),
        click: if count == 1 { Click::Accent } else { Click::Beat },
        moves: 0..0,
        walks: 0..0,
        sounds: 0..0,
    }
}

/// The ticks of a phrase that are moments: its whole beats, and those at which something begins.
fn ticks_of(phrase: &PlannedPhrase, laid: &Laid<'_>, reached: &Reached) -> Vec<Ticks> {
    let end = phrase.at + phrase.length;
    let beats = (phrase.at.0..end.0).step_by(TICKS_PER_BEAT as usize).map(Ticks);
    let moves = laid.moves.iter().skip(reached.moves).map(|it| it.at);
    let walks = laid.walks.iter().skip(reached.walks).map(|it| it.at);
    let sounds = laid.sounds.iter().skip(reached.sounds).map(|it| it.at);
    let mut ticks: Vec<Ticks> = beats.collect();
    ticks.extend(moves.take_while(|&at| at < end));
    ticks.extend(walks.take_while(|&at| at < end));
    ticks.extend(sounds.take_while(|&at| at < end));
    ticks.sort_unstable();
    ticks.dedup();
    ticks
}

/// How far the lists of the plan have been dealt out to moments.
#[derive(Default)]
struct Reached {
    moves: usize,
    walks: usize,
    sounds: usize,
}

impl Reached {
    fn moment(&mut self, laid: &Laid<'_>, index: usize, phrase: &PlannedPhrase, at: Ticks) -> Moment {
        let beat = at - phrase.at + phrase.skipped;
        let count = count_of(beat, laid.beats_per_bar);
        let click = match (beat.is_whole_beat(), count) {
            (false, _) => Click::None,
            (true, 1) => Click::Accent,
            (true, _) => Click::Beat,
        };
        let bar = beat.0.div_euclid(TICKS_PER_BEAT * i64::from(laid.beats_per_bar)) + 1;
        Moment {
            at,
            time: Micros::ZERO,
            phrase_in_range: index,
            beat,
            bar: u32::try_from(bar).unwrap_or(u32::MAX),
            count,
            count_in: None,
            click,
            moves: take_at(&mut self.moves, laid.moves, |it| it.at, at),
            walks: take_at(&mut self.walks, laid.walks, |it| it.at, at),
            sounds: take_at(&mut self.sounds, laid.sounds, |it| it.at, at),
        }
    }
}

/// The items at a tick, from the first that has not been dealt out.
fn take_at<T>(reached: &mut usize, items: &[T], tick_of: impl Fn(&T) -> Ticks, at: Ticks) -> Range<usize> {
    let first = *reached;
    *reached += items.iter().skip(first).take_while(|item| tick_of(item) == at).count();
    first..*reached
}

fn count_of(beat: Ticks, beats_per_bar: u32) -> u32 {
    let count = beat.0.div_euclid(TICKS_PER_BEAT).rem_euclid(i64::from(beats_per_bar)) + 1;
    u32::try_from(count).unwrap_or(1)
}
