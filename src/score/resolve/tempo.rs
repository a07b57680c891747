//! Tempos: whether a number is one, and whether two of them want the same beat.

use std::collections::HashSet;

use crate::score::line::shown;
use crate::score::model::{Item, Phrase, Span, TempoChange};
use crate::score::problem::{Problem, Problems};
use crate::score::quantity;
use crate::score::raw::Text;
use crate::units::{Bpm, Ticks};

/// The tempo that a word gives; reports one that nobody can fight to.
pub(super) fn bpm(word: &Text, problems: &mut Problems) -> Option<Bpm> {
    if let Some(bpm) = quantity::decimal(&word.value).and_then(Bpm::new) {
        return Some(bpm);
    }
    let message = format!("`{}` is not a tempo", shown(&word.value));
    let expected = format!("expected beats per minute from {} to {}", Bpm::SLOWEST, Bpm::FASTEST);
    problems
        .push(Problem::error("S304", word.span.clone(), message).expected(expected).help("write a number such as 84"));
    None
}

/// The tempo that a phrase states for its first beat, on its own line or in its head.
pub(super) fn at_first_beat(phrase: &Phrase) -> Option<Bpm> {
    phrase.tempo.or_else(|| {
        phrase.items.iter().find_map(|item| match item {
            Item::Tempo(TempoChange::Step { at, to, .. }) if *at == Ticks::ZERO => Some(*to),
            Item::Tempo(TempoChange::Ramp { from, start, .. }) if *from == Ticks::ZERO => Some(*start),
            _ => None,
        })
    })
}

/// A tempo laid out in its phrase: a step has no length.
struct Stretch {
    from: Ticks,
    to: Ticks,
    start: Bpm,
    span: Span,
}

/// Reports tempos of a phrase that contradict each other: ramps that overlap, steps within a ramp, two tempos for one
/// beat. The phrase's repeats must be few enough to be laid out.
pub(super) fn contradictions(phrase: &Phrase, problems: &mut Problems) {
    let mut stretches = Vec::new();
    if let Some(start) = phrase.tempo {
        stretches.push(Stretch { from: Ticks::ZERO, to: Ticks::ZERO, start, span: phrase.span.clone() });
    }
    lay_out(&phrase.items, Ticks::ZERO, &mut stretches);
    stretches.sort_by_key(|stretch| (stretch.from, stretch.to));
    let mut blamed = HashSet::new();
    let mut longest: Option<&Stretch> = None;
    let mut before: Option<&Stretch> = None;
    for stretch in &stretches {
        let within = longest.filter(|ramp| stretch.from < ramp.to);
        let differs = before.filter(|other| other.from == stretch.from && other.start != stretch.start);
        // A ramp and a step that begin together at the same tempo agree, in whichever order they are sorted.
        if let Some(other) = within.or(differs)
            && blamed.insert((other.span.start, stretch.span.start))
        {
            problems.push(
                Problem::error("S305", stretch.span.clone(), "two tempos want the same beats")
                    .expected(format!("from beat {}", stretch.from.beat_label()))
                    .related(other.span.clone(), "the other tempo")
                    .help("end the one before the other begins"),
            );
        }
        if longest.is_none_or(|ramp| stretch.to > ramp.to) {
            longest = Some(stretch);
        }
        before = Some(stretch);
    }
}

fn lay_out(items: &[Item], offset: Ticks, stretches: &mut Vec<Stretch>) {
    for item in items {
        match item {
            Item::Tempo(TempoChange::Step { at, to, span }) => {
                let at = offset + *at;
                stretches.push(Stretch { from: at, to: at, start: *to, span: span.clone() });
            }
            Item::Tempo(TempoChange::Ramp { from, to, start, span, .. }) => {
                stretches.push(Stretch { from: offset + *from, to: offset + *to, start: *start, span: span.clone() });
            }
            Item::Repeat(repeat) => {
                for round in 0..repeat.times {
                    let first = offset + repeat.at + Ticks(repeat.every.0 * i64::from(round));
                    lay_out(&repeat.items, first, stretches);
                }
            }
            _ => {}
        }
    }
}
