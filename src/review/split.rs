//! The breaks of a fight, split: how often its runs broke at each speed, in each revision and with each cast, for which
//! kinds of reason, and who called.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::breaks::Break;
use super::estimate::Share;
use super::history::{Fight, Outcome, Run, Visit};
use super::say;
use super::statistics::Proportion;

/// A fight's breaks, split.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Splits {
    /// By speed, the slowest first; walk-throughs come first.
    pub speeds: Vec<Split>,
    /// By set of weapons; none where there was only what the score names.
    pub weapons: Vec<Split>,
    /// By revision, in order of first use.
    pub revisions: Vec<Split>,
    /// By who played whom, the most usual first.
    pub casts: Vec<Split>,
    /// Kinds of reason, the most usual first: what was said, but for capitals and what stands at its ends.
    pub reasons: Vec<Kind>,
    /// How many have no reason.
    pub without_reason: u64,
    /// How many have a note.
    pub noted: u64,
    /// Who called, the most usual first.
    pub callers: Vec<Kind>,
}

/// Some of the runs.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Split {
    /// What they have in common: `80 %`, a revision, `Bea as MARET, Cem as OSK`.
    pub of: String,
    /// How many of them broke, of those whose outcome is known.
    pub broke: Share,
}

/// A kind of break, or a caller, with how often it was.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Kind {
    /// Which.
    pub what: String,
    /// How often.
    pub count: u64,
}

/// What a break for which nobody gave a reason is counted as.
pub(super) const NO_REASON: &str = "no reason given";

/// Splits these runs of a fight, and the breaks of them; only the phrases that `wanted` asks for.
pub(super) fn splits(fight: &Fight, runs: &[&Run], breaks: &[Break], wanted: impl Fn(&str) -> bool) -> Splits {
    let mut speeds = Tally::default();
    let mut weapons = Tally::default();
    let mut revisions = Tally::default();
    let mut casts = Tally::default();
    for run in runs {
        let visits: Vec<&Visit> = run.visits.iter().filter(|visit| wanted(&visit.phrase)).collect();
        let broke = visits.iter().any(|visit| visit.outcome == Outcome::Broke);
        let known = broke || (!visits.is_empty() && visits.iter().all(|visit| visit.outcome == Outcome::Clean));
        if !known {
            continue;
        }
        // Who only stands by makes no other cast: nobody fights differently for it.
        let text = fight.editions.get(run.edition);
        let acts = run.cast.iter().filter(|(part, _)| text.is_none_or(|text| text.has_acting(part)));
        let people: Vec<String> = acts.map(|(part, person)| format!("{person} as {part}")).collect();
        speeds.count(run.row.begun.percent, broke);
        weapons.count(run.weapons().to_owned(), broke);
        revisions.count(run.edition, broke);
        casts.count(if people.is_empty() { "nobody known".to_owned() } else { people.join(", ") }, broke);
    }
    let short = |edition: usize| fight.editions.get(edition).map(|it| it.short()).unwrap_or_default();
    let mut casts = casts.rows(|cast| cast);
    casts.sort_by_key(|it| std::cmp::Reverse(it.broke.of));
    Splits {
        speeds: speeds.rows(say::speed),
        weapons: Some(weapons.rows(|set| set)).filter(|_| told_apart(runs)).unwrap_or_default(),
        revisions: revisions.rows(short),
        casts,
        reasons: kinds(breaks.iter().flat_map(reasons)),
        without_reason: breaks.iter().filter(|broke| reasons(broke).contains(NO_REASON)).count() as u64,
        noted: breaks.iter().filter(|broke| !broke.notes.is_empty()).count() as u64,
        callers: kinds(breaks.iter().flat_map(|broke| broke.callers.iter().map(|it| it.who.clone()))),
    }
}

/// True when some of them were done with other weapons than the score names.
fn told_apart(runs: &[&Run]) -> bool {
    runs.iter().any(|run| run.row.begun.weapons.is_some())
}

/// The kinds of reason of a break: what was given after it, and else what its callers said with it, each once, however many
/// of them did.
pub(super) fn reasons(broke: &Break) -> BTreeSet<String> {
    let said = || broke.callers.iter().filter_map(|caller| caller.reason.as_deref()).filter_map(kind);
    let after = broke.reason.as_deref().filter(|_| broke.explained).and_then(kind);
    let given: BTreeSet<String> = after.map_or_else(|| said().collect(), |after| BTreeSet::from([after]));
    if given.is_empty() { BTreeSet::from([NO_REASON.to_owned()]) } else { given }
}

/// The kind of a reason: the words of it. Nothing when there are none.
fn kind(reason: &str) -> Option<String> {
    let words: Vec<String> = reason.to_lowercase().split_whitespace().map(str::to_owned).collect();
    let words = words.join(" ");
    let bare = words.trim_matches(|letter: char| !letter.is_alphanumeric());
    (!bare.is_empty()).then(|| bare.to_owned())
}

/// How often each comes, the most usual first.
pub(super) fn kinds(all: impl Iterator<Item = String>) -> Vec<Kind> {
    let mut counts: BTreeMap<String, u64> = BTreeMap::new();
    for what in all {
        *counts.entry(what).or_default() += 1;
    }
    let mut kinds: Vec<Kind> = counts.into_iter().map(|(what, count)| Kind { what, count }).collect();
    kinds.sort_by_key(|kind| std::cmp::Reverse(kind.count));
    kinds
}

/// How many of some runs broke, and of how many, by what they have in common.
struct Tally<K>(BTreeMap<K, (u64, u64)>);

impl<K> Default for Tally<K> {
    fn default() -> Tally<K> {
        Tally(BTreeMap::new())
    }
}

impl<K: Ord> Tally<K> {
    fn count(&mut self, of: K, broke: bool) {
        let (broken, all) = self.0.entry(of).or_default();
        *broken += u64::from(broke);
        *all += 1;
    }

    fn rows(self, say: impl Fn(K) -> String) -> Vec<Split> {
        let row = |(of, (broke, all))| Split { of: say(of), broke: Proportion::new(broke, all).into() };
        self.0.into_iter().map(row).collect()
    }
}

#[cfg(test)]
mod tests {
    use super::kind;

    #[test]
    fn a_reason_is_the_same_kind_however_it_is_written() {
        let rows = [
            ("Lost my  grip!", Some("lost my grip")),
            (" lost my grip ", Some("lost my grip")),
            ("“Ärmel”", Some("ärmel")),
            ("…", None),
            ("", None),
        ];
        for (said, is) in rows {
            assert_eq!(kind(said).as_deref(), is, "{said}");
        }
    }
}
