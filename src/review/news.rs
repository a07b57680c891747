//! What is new: the newest day of runs against all that was before it. Runs and breaks, steps of the ladder that were
//! reached and lost, texts that were first run, people who played a part for the first time.

use std::collections::{BTreeMap, BTreeSet};

use jiff::civil::Date;
use serde::Serialize;

use super::edition::EditionPhrase;
use super::fight::Reviewer;
use super::history::{Fight, Outcome, Run};
use super::ladder::{self, Standing};
use super::say;

/// What a day brought.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct News {
    /// The newest day with runs.
    pub day: Option<String>,
    /// The day with runs before it.
    pub since: Option<String>,
    /// What was new on it, a sentence each.
    pub items: Vec<String>,
}

/// What the newest day of these runs brought.
pub(super) fn news<'h>(reviewer: &Reviewer<'h>, fights: &[(&'h Fight, Vec<&'h Run>)]) -> News {
    let days: BTreeSet<Date> = fights.iter().flat_map(|(_, runs)| runs.iter().filter_map(|run| run.day)).collect();
    let Some(day) = days.last().copied() else { return News::default() };
    let items = fights.iter().flat_map(|(fight, runs)| of_fight(reviewer, fight, runs, day)).collect();
    let since = days.iter().rev().nth(1).map(ToString::to_string);
    News { day: Some(day.to_string()), since, items }
}

fn of_fight<'h>(reviewer: &Reviewer<'h>, fight: &'h Fight, runs: &[&'h Run], day: Date) -> Vec<String> {
    let (now, before): (Vec<&'h Run>, Vec<&'h Run>) = runs.iter().copied().partition(|run| run.day == Some(day));
    if now.is_empty() {
        return Vec::new();
    }
    let mut items = vec![runs_of(fight, &now)];
    items.extend(texts(fight, &now, &before));
    items.extend(people(fight, &now, &before));
    for phrase in reviewer.phrases(fight) {
        items.extend(step(reviewer, fight, phrase, &before, runs));
    }
    items
}

fn runs_of(fight: &Fight, now: &[&Run]) -> String {
    let mut broke: BTreeMap<&str, usize> = BTreeMap::new();
    for visit in now.iter().flat_map(|run| &run.visits).filter(|visit| visit.outcome == Outcome::Broke) {
        *broke.entry(visit.phrase.as_str()).or_default() += 1;
    }
    let mut broke: Vec<(&str, usize)> = broke.into_iter().collect();
    broke.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    let said: Vec<String> = broke.iter().map(|(phrase, count)| format!("{count} in “{phrase}”")).collect();
    let all: usize = broke.iter().map(|(_, count)| count).sum();
    let holds = match all {
        0 => "no hold or stop in it".to_owned(),
        all => format!("{}: {}", say::counted(all, "hold or stop", "holds and stops"), said.join(", ")),
    };
    format!("{}: {}, {holds}.", fight.name, say::counted(now.len(), "run", "runs"))
}

fn texts(fight: &Fight, now: &[&Run], before: &[&Run]) -> Vec<String> {
    let used = |runs: &[&Run]| -> BTreeSet<usize> { runs.iter().map(|run| run.edition).collect() };
    let older = used(before);
    let new = used(now).into_iter().filter(|edition| !older.contains(edition) && !older.is_empty());
    let said = |edition: usize| {
        let text = fight.editions.get(edition)?;
        Some(format!("{}: a new text, revision {}, was run.", fight.name, text.short()))
    };
    new.filter_map(said).collect()
}

fn people(fight: &Fight, now: &[&Run], before: &[&Run]) -> Vec<String> {
    let played = |runs: &[&Run]| -> BTreeSet<String> {
        runs.iter().flat_map(|run| run.cast.iter().map(|(part, person)| format!("{person} as {part}"))).collect()
    };
    let older = played(before);
    let new: Vec<String> = played(now).into_iter().filter(|who| !older.contains(who) && !older.is_empty()).collect();
    let said = (!new.is_empty()).then(|| format!("{}: for the first time {}.", fight.name, new.join(", ")));
    said.into_iter().collect()
}

/// The step of a phrase, where it is another than before for the same cast.
fn step<'h>(
    reviewer: &Reviewer<'h>,
    fight: &'h Fight,
    phrase: &EditionPhrase,
    before: &[&'h Run],
    runs: &[&'h Run],
) -> Option<String> {
    let stand = |runs: &[&'h Run]| {
        let passes = reviewer.passes(fight, runs, &phrase.name);
        ladder::stand(&reviewer.house.ladder, fight, phrase, &passes)
    };
    let now = stand(runs).into_iter().next()?;
    let then = stand(before).into_iter().find(|then| then.cast == now.cast);
    // With a text that was not run before, it stands where it stood with the one before that.
    let then = then.and_then(|then| then.step.or(then.before.filter(|_| then.runs == 0)));
    let step = |it: &Standing| it.step;
    let said = match (then, step(&now)) {
        (then, now) if then == now => return None,
        (None, Some(now)) => format!("now stands on {now} %"),
        (Some(then), None) => format!("stands on no step any more (before: {then} %)"),
        (Some(then), Some(now)) => format!("now stands on {now} % (before: {then} %)"),
        (None, None) => return None,
    };
    Some(format!("{}, “{}” {said}.", fight.name, phrase.name))
}
