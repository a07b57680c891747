//! A phrase laid out: its repeats unrolled, its lines in order of performance, and its length.

use crate::score::model::{Item, LoneSound, Move, Phrase, Place, Span, TempoChange, Walk};
use crate::units::Ticks;

/// One line of a phrase where it is performed.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Unrolled<'s> {
    /// When, from the first beat of the phrase.
    pub at: Ticks,
    /// Where the round begins that it stands in: add it to any other tick of the line.
    pub offset: Ticks,
    /// The line of the use of a pattern that it comes from.
    pub used: Option<&'s Span>,
    /// What.
    pub line: Line<'s>,
}

/// A line that happens at a moment. Rests and repeats do not: they make the phrase longer.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Line<'s> {
    /// An attack and its reply.
    Move(&'s Move),
    /// Footwork.
    Walk(&'s Walk),
    /// A mark at the start of the phrase.
    Place(&'s Place),
    /// A change of tempo.
    Tempo(&'s TempoChange),
    /// A sound that belongs to no move.
    Sound(&'s LoneSound),
}

/// The lines of a phrase in order of performance, repeats (also nested ones) unrolled. Lines on one tick keep the
/// order in which they were written.
pub fn unroll(phrase: &Phrase) -> Vec<Unrolled<'_>> {
    let mut lines = Vec::with_capacity(phrase.items.len());
    gather(&phrase.items, Ticks::ZERO, None, &mut lines);
    lines.sort_by_key(|line| line.at);
    lines
}

/// How long a phrase is. It ends on the first whole beat *after* its last event (an event on beat 15 ends it at the
/// beginning of beat 16, and so does one on 15+1/2), not before the end of its ramps, walks and repeats rounded up to
/// a whole beat; then come its rests, exactly as long as they are written. A phrase in which nothing happens is its
/// rests, and at least one beat.
pub fn phrase_length(phrase: &Phrase) -> Ticks {
    let rests: i64 = phrase.items.iter().map(|item| if let Item::Rest(rest) = item { rest.length.0 } else { 0 }).sum();
    let end = end_of(&phrase.items).ceil_beat();
    (end + Ticks(rests)).max(Ticks::beats(1))
}

fn gather<'s>(items: &'s [Item], offset: Ticks, used: Option<&'s Span>, lines: &mut Vec<Unrolled<'s>>) {
    for item in items {
        let (at, line) = match item {
            Item::Move(it) => (it.at, Line::Move(it)),
            Item::Walk(it) => (it.at, Line::Walk(it)),
            Item::Place(it) => (Ticks::ZERO, Line::Place(it)),
            Item::Tempo(it @ TempoChange::Step { at, .. }) => (*at, Line::Tempo(it)),
            Item::Tempo(it @ TempoChange::Ramp { from, .. }) => (*from, Line::Tempo(it)),
            Item::Sound(it) => (it.at, Line::Sound(it)),
            Item::Rest(_) => continue,
            // Rounds of nothing are not counted out: there may be millions of them.
            Item::Repeat(repeat) if !has_lines(&repeat.items) => continue,
            Item::Repeat(repeat) => {
                let used = repeat.used.as_ref().map(|used| &used.span).or(used);
                for round in 0..i64::from(repeat.times) {
                    gather(&repeat.items, offset + repeat.at + Ticks(repeat.every.0 * round), used, lines);
                }
                continue;
            }
        };
        lines.push(Unrolled { at: offset + at, offset, used, line });
    }
}

/// True when something happens in these lines.
fn has_lines(items: &[Item]) -> bool {
    items.iter().any(|item| match item {
        Item::Rest(_) => false,
        Item::Repeat(repeat) => has_lines(&repeat.items),
        _ => true,
    })
}

/// The earliest tick at which everything in a list is over; not yet rounded where a line has an end of its own.
fn end_of(items: &[Item]) -> Ticks {
    items.iter().map(end_of_item).max().unwrap_or(Ticks::ZERO)
}

fn end_of_item(item: &Item) -> Ticks {
    match item {
        Item::Move(it) => whole_beat_after(it.at),
        Item::Sound(it) => whole_beat_after(it.at),
        Item::Tempo(TempoChange::Step { at, .. }) => whole_beat_after(*at),
        Item::Tempo(TempoChange::Ramp { to, .. }) => *to,
        Item::Walk(it) => it.until,
        Item::Repeat(it) => {
            let last_round = it.at + Ticks(it.every.0 * (i64::from(it.times) - 1));
            (last_round + it.every).max(last_round + end_of_open(&it.items))
        }
        Item::Place(_) | Item::Rest(_) => Ticks::ZERO,
    }
}

/// The end of the ramps and walks of a round, which may reach beyond it; everything else ends with the round.
fn end_of_open(items: &[Item]) -> Ticks {
    let lasting =
        |item: &&Item| matches!(item, Item::Walk(_) | Item::Repeat(_) | Item::Tempo(TempoChange::Ramp { .. }));
    items.iter().filter(lasting).map(end_of_item).max().unwrap_or(Ticks::ZERO)
}

fn whole_beat_after(at: Ticks) -> Ticks {
    Ticks(at.0 + 1).ceil_beat()
}
