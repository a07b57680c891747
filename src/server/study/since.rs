//! What is another in a part since its performer ran it last: moves that are new, that are gone, and that come sooner or
//! later after their own move before. The texts are compared move by move and not line by line, so that a pattern or a
//! repeat that makes the same moves is no change.

use std::collections::BTreeSet;

use crate::score::compare::side_by_side;
use crate::score::model::{FighterId, Score};
use crate::timeline::{PhraseRange, Plan};
use crate::units::{Speed, Ticks};
use crate::wire::GoneView;

/// What is another.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct Changes {
    /// New moves, by their place in the plan of the whole newer score.
    pub(super) new: Vec<u32>,
    /// Moves at another distance from the own move before.
    pub(super) moved: Vec<u32>,
    pub(super) gone: Vec<GoneView>,
}

/// A move of one's own.
struct Own {
    /// Its place in the plan.
    at: u32,
    phrase: String,
    words: String,
    /// How it is told from any other: phrase, what is done and answered, the director's words.
    line: String,
    /// From the own move before it, or from the beginning of the phrase.
    gap: Ticks,
}

/// What is another in the part of that name.
pub(super) fn changes(older: &Score, newer: &Score, part: &str) -> Changes {
    let (before, now) = (own_moves(older, part), own_moves(newer, part));
    let lines = |moves: &[Own]| moves.iter().map(|it| format!("{}\n", it.line)).collect::<String>();
    let (was, is) = (lines(&before), lines(&now));
    let mut changes = Changes::default();
    // A gap is another's fault where the move before it is new or gone: that is told already.
    let mut told: BTreeSet<String> = BTreeSet::new();
    for row in side_by_side(&was, &is) {
        let old = row.older.and_then(|(line, _)| before.get(line - 1));
        let new = row.newer.and_then(|(line, _)| now.get(line - 1));
        match (old, new) {
            (Some(old), Some(new)) if old.line == new.line => {
                if old.gap != new.gap && !told.contains(&new.phrase) {
                    changes.moved.push(new.at);
                }
                told.remove(&new.phrase);
            }
            (old, new) => {
                told.extend([old, new].into_iter().flatten().map(|it| it.phrase.clone()));
                changes.new.extend(new.map(|it| it.at));
                let gone = old.map(|it| GoneView { phrase: it.phrase.clone(), words: it.words.clone() });
                changes.gone.extend(gone);
            }
        }
    }
    changes
}

fn own_moves(score: &Score, part: &str) -> Vec<Own> {
    let Some(fighter) = score.fighters.iter().position(|it| it.name == part).map(FighterId) else { return Vec::new() };
    let Some(range) = PhraseRange::whole(score) else { return Vec::new() };
    let plan = Plan::new(score, range, Speed::FULL, 0);
    let mut last = (usize::MAX, Ticks::ZERO);
    let mut own = Vec::new();
    for (at, planned) in plan.moves().iter().enumerate().filter(|(_, planned)| planned.involves(fighter)) {
        let phrase = plan.phrases().get(planned.phrase_in_range).map_or("", |phrase| phrase.name.as_str());
        let before = if last.0 == planned.phrase_in_range { last.1 } else { Ticks::ZERO };
        let words = planned.words(score);
        // A line of the comparison is one line.
        let line =
            format!("{phrase} {words} {}", planned.text.as_deref().unwrap_or_default()).replace(['\n', '\r'], " ");
        let at = crate::wire::small(at);
        own.push(Own { at, phrase: phrase.to_owned(), words, line, gap: planned.beat - before });
        last = (planned.phrase_in_range, planned.beat);
    }
    own
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::score::read;
    use crate::score::vocabulary::Vocabulary;

    fn score(lines: &str) -> Score {
        let text = format!(
            "fight \"The Weir\"\nbeats 4\ntempo 60\n\nfighters\n  ANSE smallsword right\n  BRAM smallsword right\n\n\
             phrase \"One\"\n{lines}\n"
        );
        let reading = read(text.as_bytes(), "weir.fight", &Vocabulary::built_in());
        reading.score.unwrap_or_else(|| panic!("{:?}", reading.problems))
    }

    const WAS: &str =
        "  1 ANSE thrust belly / BRAM parry 4\n  5 BRAM cut head / ANSE parry 5\n  9 ANSE thrust chest / BRAM parry 4";

    #[test]
    fn a_text_beside_itself_has_changed_nothing() {
        assert_eq!(changes(&score(WAS), &score(WAS), "ANSE"), Changes::default());
        assert_eq!(changes(&score(WAS), &score(WAS), "NOBODY"), Changes::default());
    }

    #[test]
    fn new_moved_and_gone_are_told_apart() {
        let now = score(
            "  1 ANSE thrust belly / BRAM parry 4\n  5 BRAM cut flank left / ANSE parry 3\n  9 ANSE thrust chest / BRAM parry 4",
        );
        let found = changes(&score(WAS), &now, "ANSE");
        assert_eq!((found.new, found.moved), (vec![1], vec![]));
        assert_eq!(found.gone.iter().map(|it| it.words.as_str()).collect::<Vec<_>>(), ["BRAM cut head / ANSE parry 5"]);
        // Everything a beat later, and one of them later still: only what is at another distance is told.
        let later = score(
            "  2 ANSE thrust belly / BRAM parry 4\n  6 BRAM cut head / ANSE parry 5\n  12 ANSE thrust chest / BRAM parry 4",
        );
        let found = changes(&score(WAS), &later, "BRAM");
        assert_eq!((found.new, found.moved, found.gone), (vec![], vec![0, 2], vec![]));
    }

    #[test]
    fn the_same_moves_written_as_a_repeat_are_no_change() {
        let was = score("  1 ANSE thrust belly / BRAM parry 4\n  5 ANSE thrust belly / BRAM parry 4");
        let now = score("  repeat 2 every 4 at 1\n    1 ANSE thrust belly / BRAM parry 4\n  end");
        assert_eq!(changes(&was, &now, "ANSE"), Changes::default());
    }
}
