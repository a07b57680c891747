//! Repeats: how they nest, what fits into a round, and how many lines they make when they are laid out.

use super::MOST_UNROLLED;
use crate::score::line::shown;
use crate::score::model::{Item, Repeat, Span, Used};
use crate::score::problem::{Problem, Problems};
use crate::score::quantity::{self, MOST_BEATS};
use crate::score::raw::{RawRepeat, Text};
use crate::units::{TICKS_PER_BEAT, Ticks};

/// How deep repeats may stand in repeats.
const DEEPEST: usize = 16;

/// The lines of a phrase or of a round, as they are read.
#[derive(Default)]
struct Level {
    items: Vec<Item>,
    /// How many lines these are with inner repeats laid out.
    unrolled: u64,
    /// The repeat it belongs to; nothing for the phrase itself and for a repeat whose own line is wrong.
    repeat: Option<Opening>,
}

struct Opening {
    times: u32,
    every: Ticks,
    at: Ticks,
    used: Option<Used>,
    span: Span,
}

/// The open repeats of a phrase.
pub(super) struct Levels {
    /// The phrase itself.
    base: Level,
    open: Vec<Level>,
    /// Repeats inside the deepest one that is read.
    too_deep: usize,
}

impl Levels {
    pub(super) fn new() -> Levels {
        Levels { base: Level::default(), open: Vec::new(), too_deep: 0 }
    }

    /// True inside a repeat.
    pub(super) fn in_repeat(&self) -> bool {
        !self.open.is_empty()
    }

    /// True inside repeats that are nested too deep to be read.
    pub(super) fn ignoring(&self) -> bool {
        self.too_deep > 0
    }

    pub(super) fn push(&mut self, item: Item) {
        let level = self.open.last_mut().unwrap_or(&mut self.base);
        level.items.push(item);
        level.unrolled = level.unrolled.saturating_add(1);
    }

    /// The place of a beat in the phrase or round; reports one that lies outside.
    pub(super) fn place(&self, beat: &Text, problems: &mut Problems) -> Option<Ticks> {
        let ticks = self.placed(beat, problems)?;
        self.inside(ticks, ticks.0 + 1, &beat.span, problems).then_some(ticks)
    }

    /// The place where something ends, which may be where the round does.
    pub(super) fn place_of_end(&self, beat: &Text, problems: &mut Problems) -> Option<Ticks> {
        let ticks = self.placed(beat, problems)?;
        self.inside(ticks, ticks.0, &beat.span, problems).then_some(ticks)
    }

    fn placed(&self, beat: &Text, problems: &mut Problems) -> Option<Ticks> {
        // The grammar has read the beat already, so it is one.
        let ticks = quantity::beats(&beat.value).ok()? - Ticks::beats(1);
        if ticks < Ticks::ZERO {
            let message = format!("beat {} is before the first", shown(&beat.value));
            problems.push(
                Problem::error("S301", beat.span.clone(), message).help("the first beat of a phrase or a repeat is 1"),
            );
            return None;
        }
        Some(ticks)
    }

    fn inside(&self, place: Ticks, end: i64, span: &Span, problems: &mut Problems) -> bool {
        let Some(repeat) = self.open.last().and_then(|level| level.repeat.as_ref()) else { return true };
        if end <= repeat.every.0 {
            return true;
        }
        let length = repeat.every.length_label();
        let message = format!("beat {} is outside its repeat, whose rounds are {length} long", place.beat_label());
        problems.push(
            Problem::error("S302", span.clone(), message)
                .related(repeat.span.clone(), "this repeat")
                .help("beats inside a repeat count from 1; make the rounds longer with `every`, or move the line out"),
        );
        false
    }

    /// Opens a repeat; `raw` is nothing when its line could not be understood.
    pub(super) fn open(&mut self, raw: Option<&RawRepeat>, span: &Span, problems: &mut Problems) {
        if self.too_deep > 0 || self.open.len() >= DEEPEST {
            if self.too_deep == 0 {
                let message = format!("repeats stand more than {DEEPEST} deep in each other");
                problems.push(
                    Problem::error("S113", span.clone(), message).help("write the rounds out, or make phrases of them"),
                );
            }
            self.too_deep += 1;
            return;
        }
        let repeat = raw.and_then(|raw| self.opening(raw, span, problems));
        self.open.push(Level { repeat, ..Level::default() });
    }

    fn opening(&self, raw: &RawRepeat, span: &Span, problems: &mut Problems) -> Option<Opening> {
        let at = self.place(&raw.at, problems);
        let every = quantity::beats(&raw.every.value).ok().filter(|every| *every > Ticks::ZERO);
        if raw.times.value == 0 {
            let problem = Problem::error("S306", raw.times.span.clone(), "a repeat of no rounds is never done");
            problems.push(problem.help("write 1 or more, or delete the repeat"));
        }
        if every.is_none() {
            let problem = Problem::error("S307", raw.every.span.clone(), "a round must be longer than nothing");
            problems.push(problem.help("write how many beats a round lasts, such as `every 2`"));
        }
        Some(Opening { times: raw.times.value, every: every?, at: at?, used: None, span: span.clone() })
    }

    /// Opens rounds of a pattern: a repeat that nobody has written as one. It is ended like any other. False when repeats
    /// stand too deep in each other already, which is reported.
    pub(super) fn open_rounds(
        &mut self,
        times: u32,
        every: Ticks,
        at: Ticks,
        used: Used,
        problems: &mut Problems,
    ) -> bool {
        let span = used.span.clone();
        if self.too_deep > 0 || self.open.len() >= DEEPEST {
            let message = format!("repeats stand more than {DEEPEST} deep in each other");
            problems.push(Problem::error("S113", span, message).help("use the pattern outside of them"));
            return false;
        }
        self.open
            .push(Level { repeat: Some(Opening { times, every, at, used: Some(used), span }), ..Level::default() });
        true
    }

    /// Ends the innermost repeat. One that ends nothing has been reported by the grammar.
    pub(super) fn end(&mut self, problems: &mut Problems) {
        if self.too_deep > 0 {
            self.too_deep -= 1;
            return;
        }
        let Some(level) = self.open.pop() else { return };
        let Some(Opening { times, every, at, used, span }) = level.repeat else { return };
        let last = Ticks(at.0 + every.0 * i64::from(times));
        if last.0 > MOST_BEATS * TICKS_PER_BEAT {
            let message = format!("this repeat ends beyond beat {MOST_BEATS}, the last that a phrase can have");
            problems.push(Problem::error("S310", span, message).help("repeat it fewer times"));
            return;
        }
        if !self.inside(last, last.0, &span, problems) {
            return;
        }
        // A round without lines still counts, because somebody has to count it out.
        let unrolled = level.unrolled.max(1).saturating_mul(u64::from(times));
        if unrolled > MOST_UNROLLED {
            problems.push(too_many(span));
            return;
        }
        let outer = self.open.last_mut().unwrap_or(&mut self.base);
        outer.items.push(Item::Repeat(Repeat { at, times, every, items: level.items, used, span }));
        outer.unrolled = outer.unrolled.saturating_add(unrolled);
    }

    /// The phrase's items, and how many lines they are when they are laid out.
    pub(super) fn finish(self) -> (Vec<Item>, u64) {
        (self.base.items, self.base.unrolled)
    }
}

/// The problem of a score that is too long when it is laid out.
pub(super) fn too_many(span: Span) -> Problem {
    let message = format!("with its repeats laid out the score has more than {MOST_UNROLLED} lines");
    Problem::error("S311", span, message).help("repeat fewer times, or cut the fight in two")
}
