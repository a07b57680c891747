//! One fight: its phrases as the newest text has them, every break, and its revisions side by side.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;
use serde::Serialize;

use super::breaks::{Break, HoldBook};
use super::edition::{Edition, EditionPhrase};
use super::ground::{Ground, grounds};
use super::history::{Fight, History, Outcome, Run, RunBy};
use super::house::{Filter, House};
use super::lineage::{self, RevisionChange};
use super::near_miss::NearMiss;
use super::pass::Pass;
use super::phrase::{Asked, Heirs, PhraseReview};
use super::split::{Splits, splits};
use super::times::Times;

/// A fight, reviewed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct FightReview {
    /// Its name.
    pub fight: String,
    /// The revision whose moves are counted, shortened: that of the newest run in the days asked for that can be read.
    pub revision: String,
    /// How many runs.
    pub runs: usize,
    /// Its phrases, in order of performance.
    pub phrases: Vec<PhraseReview>,
    /// Where on the stage they break, on the plan as it is now, one for each set that stands under them.
    #[serde(skip)]
    pub grounds: Vec<Ground>,
    /// Phrases of older revisions that are in this one no longer.
    pub phrases_gone: Vec<PhraseGone>,
    /// Every hold and stop that broke a run, in order.
    pub breaks: Vec<Break>,
    /// What nearly went wrong in these runs, as it was reported, in order.
    pub near_misses: Vec<NearMiss>,
    /// How often it broke at which speed, in which revision, with which cast; why, and who called.
    pub splits: Splits,
    /// Its revisions, in order of first use.
    pub revisions: Vec<RevisionReview>,
    /// What cannot be told, and why.
    pub notes: Vec<String>,
}

/// A phrase that is no longer in the text.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct PhraseGone {
    /// Its name.
    pub phrase: String,
    /// How often it was begun.
    pub reached: u64,
    /// How often it broke.
    pub broke: u64,
}

/// A revision.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RevisionReview {
    /// The first digits of the text's SHA-256.
    pub revision: String,
    /// When it was first used, in the house's zone.
    pub first_used: String,
    /// How many runs it has had.
    pub runs: usize,
    /// What changed from the revision before it; nothing for the first, and when one of them cannot be read.
    pub change: Option<RevisionChange>,
    /// Who has run it.
    pub has_run: Vec<String>,
    /// Who of those who ever ran this fight has not run it.
    pub has_not_run: Vec<String>,
}

/// What fights are reviewed with.
pub(super) struct Reviewer<'h> {
    pub(super) history: &'h History,
    pub(super) house: &'h House,
    pub(super) book: &'h HoldBook,
    /// What is asked for: the days decide which text is the newest.
    pub(super) filter: &'h Filter,
}

impl<'h> Reviewer<'h> {
    /// The review of a fight over these of its runs.
    pub(super) fn fight(&self, fight: &'h Fight, runs: &[&'h Run]) -> FightReview {
        let newest = newest(fight, |run| self.filter.wants(run.day));
        let asked = Asked { fight, house: self.house, book: self.book, newest };
        let wanted = |name: &str| self.filter.phrase.as_deref().is_none_or(|phrase| phrase == name);
        let text = fight.editions.get(newest);
        let phrases = text.map_or(&[][..], |text| text.known_phrases());
        let breaks = self.breaks(fight, newest, runs, wanted);
        let limits = text.map_or_else(Vec::new, |text| text.limits(&self.house.vocabulary, &self.house.rules));
        let limit = |at: usize| limits.get(at).and_then(Option::as_ref);
        let phrase = |(at, it): (usize, &'h EditionPhrase)| asked.phrase(it, limit(at), runs);
        let reviewed: Vec<PhraseReview> =
            phrases.iter().enumerate().filter(|(_, it)| wanted(&it.name)).map(phrase).collect();
        FightReview {
            grounds: self.grounds(text, &reviewed),
            fight: fight.name.clone(),
            revision: text.map(|it| it.short()).unwrap_or_default(),
            runs: runs.len(),
            phrases: reviewed,
            phrases_gone: gone(runs, |name| wanted(name) && phrases.iter().all(|phrase| phrase.name != name)),
            splits: splits(fight, runs, &breaks, wanted),
            near_misses: self.near_misses(runs, wanted),
            breaks,
            revisions: self.revisions(fight),
            notes: notes(fight, newest, runs),
        }
    }

    /// Where on the stage these phrases of a text break. Reads the text anew, and only where something broke.
    fn grounds(&self, text: Option<&Edition>, phrases: &[PhraseReview]) -> Vec<Ground> {
        let broke = phrases.iter().any(|phrase| phrase.moves.iter().any(|it| it.broke > 0));
        let (Some(text), Some(stage)) = (text.filter(|_| broke), &self.house.stage) else { return Vec::new() };
        let score = text.score(&self.house.vocabulary);
        score.map_or_else(Vec::new, |score| grounds(&score, &self.house.vocabulary, stage, phrases))
    }

    /// The phrases of the newest text that are asked for.
    pub(super) fn phrases(&self, fight: &'h Fight) -> impl Iterator<Item = &'h EditionPhrase> {
        let newest = newest(fight, |run| self.filter.wants(run.day));
        let all = fight.editions.get(newest).map_or(&[][..], Edition::known_phrases);
        all.iter().filter(|it| self.filter.phrase.as_deref().is_none_or(|phrase| phrase == it.name))
    }

    /// The runs, of those given, that went into a phrase.
    pub(super) fn passes(&self, fight: &'h Fight, runs: &[&'h Run], phrase: &str) -> Vec<Pass<'h>> {
        Asked { fight, house: self.house, book: self.book, newest: 0 }.passes(runs, phrase)
    }

    fn breaks(&self, fight: &'h Fight, newest: usize, runs: &[&'h Run], wanted: impl Fn(&str) -> bool) -> Vec<Break> {
        let times = Times { zone: &self.house.zone };
        let mut heirs: BTreeMap<&str, Heirs<'_>> = BTreeMap::new();
        let phrases = fight.editions.get(newest).map_or(&[][..], |text| text.known_phrases());
        let mut breaks = Vec::new();
        for run in runs {
            let Some(mut broke) = self.book.of_run(self.history, fight, run, &times) else { continue };
            let visit = run.visits.iter().find(|visit| visit.outcome == Outcome::Broke);
            if visit.is_some_and(|visit| !wanted(&visit.phrase)) || (visit.is_none() && self.filter.phrase.is_some()) {
                continue;
            }
            if let Some(visit) = visit.filter(|visit| visit.reached > 0) {
                let now = phrases.iter().find(|phrase| phrase.name == visit.phrase);
                broke.move_now = now.and_then(|now| {
                    let heirs = heirs.entry(now.name.as_str()).or_insert_with(|| Heirs::new(fight, now));
                    heirs.of(run.edition).get(visit.reached - 1).copied().flatten()
                });
                broke.move_now = broke.move_now.map(|at| at + 1);
                broke.move_gone = broke.move_now.is_none();
            }
            breaks.push(broke);
        }
        breaks
    }

    /// Those that were reported of these runs; of a phrase those that were there.
    fn near_misses(&self, runs: &[&Run], wanted: impl Fn(&str) -> bool) -> Vec<NearMiss> {
        let times = Times { zone: &self.house.zone };
        let numbers: BTreeSet<u32> = runs.iter().map(|run| run.row.begun.run).collect();
        let of_these = |miss: &NearMiss| miss.run.is_some_and(|run| numbers.contains(&run));
        let there = |miss: &NearMiss| miss.phrase.as_deref().map_or(self.filter.phrase.is_none(), &wanted);
        let all = self.history.events.iter().filter_map(|row| NearMiss::of(row, &times));
        all.filter(|miss| of_these(miss) && there(miss)).collect()
    }

    fn revisions(&self, fight: &Fight) -> Vec<RevisionReview> {
        let times = Times { zone: &self.house.zone };
        let left: BTreeSet<&str> =
            self.history.members.iter().filter(|member| member.revoked).map(|member| member.name.as_str()).collect();
        let back: BTreeSet<&str> =
            self.history.members.iter().filter(|member| !member.revoked).map(|member| member.name.as_str()).collect();
        let here = |said: &String| {
            let person = said.rsplit_once(" as ").map_or(said.as_str(), |(person, _)| person);
            !left.contains(person) || back.contains(person)
        };
        // What came after the days that are looked at was not known then.
        let known = |day: Option<Date>| self.filter.wants_before(day);
        let people = |text: &RunBy| -> BTreeSet<String> {
            text.people.iter().filter(|(_, day)| known(**day)).map(|(said, _)| said.clone()).collect()
        };
        let all: BTreeSet<String> = fight.run_by.iter().flat_map(people).collect();
        let review = |(at, text): (usize, &Edition)| {
            let run_by = fight.run_by.get(at);
            let has_run = run_by.map(people).unwrap_or_default();
            let before = at.checked_sub(1).and_then(|before| fight.editions.get(before));
            RevisionReview {
                revision: text.short(),
                first_used: times.both(&text.utc),
                runs: run_by.map_or(0, |it| it.runs.iter().filter(|day| known(**day)).count()),
                change: before.and_then(|before| lineage::change(before, text)),
                has_not_run: all.difference(&has_run).filter(|said| here(said)).cloned().collect(),
                has_run: has_run.into_iter().collect(),
            }
        };
        let written = |(_, text): &(usize, &Edition)| self.filter.wants_before(times.day(&text.utc));
        fight.editions.iter().enumerate().filter(written).map(review).collect()
    }
}

/// The text that the newest of these runs used, or the newest that can be read.
fn newest(fight: &Fight, wanted: impl Fn(&Run) -> bool) -> usize {
    let readable = |at: &usize| fight.editions.get(*at).is_some_and(|text| text.phrases.is_some());
    let run = fight.runs.iter().rev().filter(|run| wanted(run)).map(|run| run.edition).find(readable);
    run.or_else(|| (0..fight.editions.len()).rev().find(readable)).unwrap_or(0)
}

fn gone(runs: &[&Run], is_gone: impl Fn(&str) -> bool) -> Vec<PhraseGone> {
    let mut gone: BTreeMap<&str, (u64, u64)> = BTreeMap::new();
    for visit in runs.iter().flat_map(|run| &run.visits).filter(|visit| is_gone(&visit.phrase)) {
        let (reached, broke) = gone.entry(visit.phrase.as_str()).or_default();
        *reached += 1;
        *broke += u64::from(visit.outcome == Outcome::Broke);
    }
    gone.into_iter()
        .map(|(phrase, (reached, broke))| PhraseGone { phrase: phrase.to_owned(), reached, broke })
        .collect()
}

fn notes(fight: &Fight, newest: usize, runs: &[&Run]) -> Vec<String> {
    let mut notes = Vec::new();
    let used: BTreeSet<usize> = runs.iter().map(|run| run.edition).collect();
    let texts = || used.iter().filter_map(|at| fight.editions.get(*at));
    for text in texts().filter(|text| text.phrases.is_none()) {
        notes.push(format!(
            "The text of revision {} cannot be read with today's vocabulary. Its runs are counted by phrase; its moves are not.",
            text.short()
        ));
    }
    if let Some(now) = fight.editions.get(newest) {
        for text in texts().filter(|text| text.sha256 != now.sha256) {
            for says in lineage::looks_like(text, now) {
                if !notes.contains(&says) {
                    notes.push(says);
                }
            }
        }
    }
    notes
}
