//! What became of phrases and moves from one revision to another. A phrase is the same while its name is; a move is the
//! same when its words are, in the order of the longest run of moves that both phrases share. A phrase whose name is
//! gone is not guessed at: what it looks like is said, and its figures are kept apart.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::edition::{Edition, EditionMove, EditionPhrase};

/// The most pairs of moves that are compared in one phrase; beyond it only what stands at both ends alike is matched.
const MOST_PAIRS: usize = 4_000_000;

/// What changed from one revision to the next.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct RevisionChange {
    /// Names of phrases that are new.
    pub phrases_added: Vec<String>,
    /// Names of phrases that are gone.
    pub phrases_gone: Vec<String>,
    /// What a phrase that is gone looks like now, a sentence each: renamed, split, or joined; never acted upon.
    pub looks_like: Vec<String>,
    /// Phrases that are in both and changed.
    pub phrases: Vec<PhraseDifference>,
}

/// What changed in a phrase.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct PhraseDifference {
    /// Its name.
    pub phrase: String,
    /// Moves that are new.
    pub added: Vec<MoveAt>,
    /// Moves that are gone.
    pub gone: Vec<MoveAt>,
    /// Moves in whose place stands another: before, after.
    pub changed: Vec<(MoveAt, MoveAt)>,
    /// Moves that are on another beat: before, after.
    pub moved: Vec<(MoveAt, MoveAt)>,
    /// Its length in beats before and after, when that changed.
    pub beats: Option<(f64, f64)>,
}

/// A move and where it is.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MoveAt {
    /// Its number in the phrase, from 1.
    #[serde(rename = "move")]
    pub number: usize,
    /// Its beat, as the score writes it.
    pub beat: String,
    /// The move in words.
    pub words: String,
}

/// For every move of `old`, its place in `new`, if it is there.
pub(super) fn same_moves(old: &[EditionMove], new: &[EditionMove]) -> Vec<Option<usize>> {
    let alike = |(a, b): &(&EditionMove, &EditionMove)| a.words == b.words;
    let head = old.iter().zip(new).take_while(alike).count();
    let rest = (old.get(head..).unwrap_or_default(), new.get(head..).unwrap_or_default());
    let tail = rest.0.iter().rev().zip(rest.1.iter().rev()).take_while(alike).count();
    let middle =
        (rest.0.get(..rest.0.len() - tail).unwrap_or_default(), rest.1.get(..rest.1.len() - tail).unwrap_or_default());
    let mut places: Vec<Option<usize>> = (0..head).map(Some).collect();
    places.extend(longest_common(middle.0, middle.1).into_iter().map(|place| place.map(|place| place + head)));
    places.extend((new.len() - tail..new.len()).map(Some));
    places
}

/// The longest common subsequence by words, as the place in `new` of every move of `old`.
fn longest_common(old: &[EditionMove], new: &[EditionMove]) -> Vec<Option<usize>> {
    let mut places = vec![None; old.len()];
    if old.len().saturating_mul(new.len()) > MOST_PAIRS {
        return places;
    }
    let width = new.len() + 1;
    let mut lengths = vec![0_u32; (old.len() + 1) * width];
    let at = |lengths: &[u32], i: usize, j: usize| lengths.get(i * width + j).copied().unwrap_or(0);
    for (i, a) in old.iter().enumerate().rev() {
        for (j, b) in new.iter().enumerate().rev() {
            let longest = match a.words == b.words {
                true => at(&lengths, i + 1, j + 1) + 1,
                false => at(&lengths, i + 1, j).max(at(&lengths, i, j + 1)),
            };
            if let Some(cell) = lengths.get_mut(i * width + j) {
                *cell = longest;
            }
        }
    }
    let (mut i, mut j) = (0, 0);
    while let (Some(a), Some(b)) = (old.get(i), new.get(j)) {
        if a.words == b.words {
            if let Some(place) = places.get_mut(i) {
                *place = Some(j);
            }
            (i, j) = (i + 1, j + 1);
        } else if at(&lengths, i + 1, j) >= at(&lengths, i, j + 1) {
            i += 1;
        } else {
            j += 1;
        }
    }
    places
}

/// What changed from `old` to `new`; nothing when one of them cannot be read.
pub(super) fn change(old: &Edition, new: &Edition) -> Option<RevisionChange> {
    let (before, after) = (old.phrases.as_ref()?, new.phrases.as_ref()?);
    let missing = |from: &[EditionPhrase], there: &Edition| -> Vec<String> {
        from.iter().filter(|it| there.phrase(&it.name).is_none()).map(|it| it.name.clone()).collect()
    };
    let differences =
        before.iter().filter_map(|phrase| Some(difference(phrase, new.phrase(&phrase.name)?.1))).flatten().collect();
    Some(RevisionChange {
        phrases_added: missing(after, old),
        phrases_gone: missing(before, new),
        looks_like: looks_like(old, new),
        phrases: differences,
    })
}

fn difference(old: &EditionPhrase, new: &EditionPhrase) -> Option<PhraseDifference> {
    let places = same_moves(&old.moves, &new.moves);
    let kept: BTreeSet<usize> = places.iter().flatten().copied().collect();
    let mut gone: Vec<usize> = (0..places.len()).filter(|at| places.get(*at) == Some(&None)).collect();
    let mut added: Vec<usize> = (0..new.moves.len()).filter(|at| !kept.contains(at)).collect();
    let mut difference = PhraseDifference { phrase: old.name.clone(), ..PhraseDifference::default() };
    // On the same beat, or by the same person at the same place in line: that move was changed, not replaced.
    let new_by_beat: BTreeMap<&str, usize> =
        added.iter().filter_map(|at| Some((new.moves.get(*at)?.beat.as_str(), *at))).collect();
    let pairs: Vec<(usize, usize)> = gone
        .iter()
        .filter_map(|at| Some((*at, *new_by_beat.get(old.moves.get(*at)?.beat.as_str())?)))
        .collect::<BTreeMap<_, _>>()
        .into_iter()
        .collect();
    let mut taken = BTreeSet::new();
    for (from, to) in pairs {
        if taken.insert(to) {
            gone.retain(|at| *at != from);
            added.retain(|at| *at != to);
            difference.changed.extend(move_at(old, from).zip(move_at(new, to)));
        }
    }
    difference.gone = gone.iter().filter_map(|at| move_at(old, *at)).collect();
    difference.added = added.iter().filter_map(|at| move_at(new, *at)).collect();
    let kept = places.iter().enumerate().filter_map(|(from, to)| move_at(old, from).zip(move_at(new, (*to)?)));
    difference.moved = kept.filter(|(from, to)| from.beat != to.beat).collect();
    difference.beats = ((old.beats - new.beats).abs() > 1e-9).then_some((old.beats, new.beats));
    let nothing = difference.added.is_empty() && difference.gone.is_empty() && difference.changed.is_empty();
    (!nothing || !difference.moved.is_empty() || difference.beats.is_some()).then_some(difference)
}

fn move_at(phrase: &EditionPhrase, at: usize) -> Option<MoveAt> {
    let it = phrase.moves.get(at)?;
    Some(MoveAt { number: at + 1, beat: it.beat.clone(), words: it.words.clone() })
}

/// What phrases of `old` that are gone look like in `new`, a sentence each.
pub(super) fn looks_like(old: &Edition, new: &Edition) -> Vec<String> {
    let fresh: Vec<&EditionPhrase> =
        new.known_phrases().iter().filter(|phrase| old.phrase(&phrase.name).is_none()).collect();
    let gone = old.known_phrases().iter().filter(|phrase| new.phrase(&phrase.name).is_none());
    gone.map(|phrase| what_became_of(phrase, &fresh)).collect()
}

fn what_became_of(gone: &EditionPhrase, fresh: &[&EditionPhrase]) -> String {
    let shared = |new: &EditionPhrase| same_moves(&gone.moves, &new.moves).iter().flatten().count();
    // A third of a new phrase's moves is more than chance gives in a fight of cuts and parries.
    let heirs: Vec<(&str, usize)> = fresh
        .iter()
        .map(|new| (new.name.as_str(), shared(new), new.moves.len()))
        .filter(|(_, shared, of)| *shared > 0 && shared * 3 >= *of)
        .map(|(name, shared, _)| (name, shared))
        .collect();
    let name = &gone.name;
    let of = gone.moves.len();
    let apart = "Its figures are kept apart.";
    match heirs.as_slice() {
        [] => format!("“{name}” is gone. {apart}"),
        [(heir, shared)] => {
            format!("“{name}” is gone; {shared} of its {of} moves are in the new “{heir}”: renamed? {apart}")
        }
        several => {
            let parts: Vec<String> =
                several.iter().map(|(heir, shared)| format!("{shared} of its {of} moves in “{heir}”")).collect();
            format!("“{name}” is gone; {}: split? {apart}", parts.join(", "))
        }
    }
}

#[cfg(test)]
mod tests {
    use super::super::edition::phrase_of;
    use super::*;

    fn edition(phrases: Vec<EditionPhrase>) -> Edition {
        Edition { sha256: "0".repeat(64), utc: String::new(), phrases: Some(phrases), ..Edition::default() }
    }

    #[test]
    fn moves_are_followed_through_a_phrase_that_was_changed() {
        let old = phrase_of("a", &["A cut", "B thrust", "A duck", "B cut", "A bind"]);
        let new = phrase_of("a", &["A cut", "A duck", "B slash", "B cut", "A bind", "B yield"]);
        assert_eq!(same_moves(&old.moves, &new.moves), [Some(0), None, Some(1), Some(3), Some(4)]);
        assert_eq!(same_moves(&old.moves, &old.moves), (0..5).map(Some).collect::<Vec<_>>());
        assert_eq!(same_moves(&[], &new.moves), []);
        assert_eq!(same_moves(&old.moves, &[]), [None; 5]);
    }

    #[test]
    fn what_changed_is_told_by_kind() {
        let old = edition(vec![phrase_of("a", &["A cut", "B thrust", "A duck"]), phrase_of("b", &["A salute"])]);
        let new =
            edition(vec![phrase_of("a", &["A cut", "B slash", "A duck", "B bow"]), phrase_of("b", &["A salute"])]);
        let change = change(&old, &new).unwrap();
        assert_eq!((change.phrases.len(), change.phrases_gone.len()), (1, 0));
        let words = |at: &MoveAt| at.words.clone();
        let changed: Vec<_> = change.phrases[0].changed.iter().map(|(a, b)| (words(a), words(b))).collect();
        assert_eq!(changed, [("B thrust".to_owned(), "B slash".to_owned())]);
        assert_eq!(change.phrases[0].added.iter().map(words).collect::<Vec<_>>(), ["B bow"]);
    }

    #[test]
    fn a_split_and_a_new_name_are_said_and_not_guessed() {
        let whole = phrase_of("whole", &["A a", "B b", "A c", "B d"]);
        let other = phrase_of("other", &["A x", "B y"]);
        let old = edition(vec![whole, other]);
        let halves = [phrase_of("first", &["A a", "B b"]), phrase_of("second", &["A c", "B d"])];
        let new = edition(halves.into_iter().chain([phrase_of("another", &["A x", "B y"])]).collect());
        let says = looks_like(&old, &new);
        assert!(says[0].contains("2 of its 4 moves in “first”") && says[0].contains("split?"), "{says:?}");
        assert!(says[1].contains("in the new “another”: renamed?"), "{says:?}");
    }
}
