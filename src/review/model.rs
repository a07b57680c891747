//! What speed, cast, text and the weeks do to how often a phrase breaks, each at the others' being equal: one model of its
//! runs by the clock, so that a season says what can be said. Which of the answers is given, and in which words, is
//! decided in one place.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use super::edition::EditionPhrase;
use super::history::{Fight, Outcome};
use super::ladder::cast_of;
use super::pass::Pass;
use super::statistics::{Alike, Difference, FEWEST, Logistic, OddsRatio, judge};

/// So many of the newest runs are looked at.
const NEWEST: usize = 1_000;
/// With fewer runs for each thing that is looked at, and one more for the whole, nothing is said. A planning value.
const RUNS_A_THING: usize = 5;
/// So many casts besides the usual one are looked at, the most usual first.
const MOST_CASTS: usize = 4;
/// Odds that are changed by less than this for certain are changed by nothing that a rehearsal could feel. A planning
/// value, that of the breaks a minute.
const SAME_ODDS: (f64, f64) = (1.0 / 1.5, 1.5);

/// What can be said of a phrase's breaks.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Model {
    /// Runs by the clock that were looked at.
    pub runs: u64,
    /// How many of them broke.
    pub broke: u64,
    /// What was looked at: the weeks first, which say whether it gets better.
    pub effects: Vec<Effect>,
}

/// What one thing does to how often a phrase breaks, all others being equal.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Effect {
    /// Which: `week`, `speed`, `new text`, or the cast, `Bea as MARET`.
    pub of: String,
    /// What the ratio is of: `a week later`, `10 % faster`.
    pub step: String,
    /// Runs on the smaller side of it.
    pub fewest: u64,
    /// By how much it multiplies the odds of a break; nothing where it cannot be told.
    pub odds: Option<OddsRatio>,
    /// What may be said.
    pub verdict: Difference,
    /// True when it changed only together with something else, so that the two cannot be told apart.
    pub together: bool,
}

/// How the model works, in words.
pub(super) const RULE: &str = "Better or worse is looked at with speed, cast, text and weeks together (logistic regression \
with Firth's penalty of all runs by the clock): each ratio is by how much it multiplies the odds of a break when the others \
stay as they are. “Too few runs to say”: fewer than five on one side of it, or fewer than five for each thing looked at. “No \
difference can be told”: runs enough, and what they tell may be chance.";

impl Model {
    /// Whether it gets better from week to week.
    pub fn week(&self) -> Option<&Effect> {
        self.effects.iter().find(|it| it.of == WEEK)
    }
}

/// What the effect of the weeks is called.
const WEEK: &str = "week";

impl Effect {
    /// The answer in words.
    pub fn answer(&self) -> &'static str {
        if self.together { "always changed with something else: not to be told apart" } else { self.verdict.words() }
    }

    /// Its figures, where there are any.
    pub fn figures(&self) -> Option<String> {
        let odds = self.odds.filter(|_| self.verdict != Difference::TooFew)?;
        let high = odds.interval.high.map_or_else(|| "more".to_owned(), ratio);
        let (estimate, low) = (ratio(odds.estimate), ratio(odds.interval.low));
        Some(format!("{}: odds of a break × {estimate}, {low} to {high}, p {:.3}", self.step, odds.p))
    }

    /// Both.
    pub fn says(&self) -> String {
        self.figures().map_or_else(|| self.answer().to_owned(), |figures| format!("{} ({figures})", self.answer()))
    }
}

fn ratio(value: f64) -> String {
    match value {
        value if value >= 100.0 => "over 100".to_owned(),
        value if value >= 9.95 => format!("{value:.0}"),
        value if value < 0.01 => "under 0.01".to_owned(),
        value => format!("{value:.2}"),
    }
}

/// A thing that is looked at: what it is called, and its number for each run.
struct Thing {
    of: String,
    step: String,
    values: Vec<f64>,
    /// Runs on the smaller side: with it or without it; of what is a number, runs that are not at the most usual one.
    fewest: u64,
}

/// The model of these runs of a phrase.
pub(super) fn of(fight: &Fight, phrase: &EditionPhrase, passes: &[Pass<'_>]) -> Model {
    let known = |pass: &&Pass<'_>| pass.visit.speed.is_some() && pass.visit.outcome.counts();
    let mut known: Vec<&Pass<'_>> = passes.iter().rev().filter(known).take(NEWEST).collect();
    known.reverse();
    let broke: Vec<bool> = known.iter().map(|pass| pass.visit.outcome == Outcome::Broke).collect();
    let things = things(fight, phrase, &known);
    Model {
        runs: known.len() as u64,
        broke: broke.iter().filter(|broke| **broke).count() as u64,
        effects: effects(&things, &broke),
    }
}

fn things(fight: &Fight, phrase: &EditionPhrase, passes: &[&Pass<'_>]) -> Vec<Thing> {
    let mut things = vec![weeks(passes), speeds(passes)];
    things.push(text(fight, phrase, passes));
    things.extend(casts(phrase, passes));
    things.into_iter().flatten().collect()
}

/// Weeks since the first of the runs. Nothing while all of them are of one week.
fn weeks(passes: &[&Pass<'_>]) -> Option<Thing> {
    let first = passes.iter().filter_map(|pass| pass.run.day).min()?;
    let week = |pass: &&Pass<'_>| -> f64 {
        let days = pass.run.day.and_then(|day| day.since(first).ok()).map_or(0, |span| span.get_days());
        f64::from(days / 7)
    };
    number(WEEK, "a week later", passes.iter().map(week).collect())
}

fn speeds(passes: &[&Pass<'_>]) -> Option<Thing> {
    number("speed", "10 % faster", passes.iter().map(|pass| f64::from(pass.visit.speed.unwrap_or(0)) / 10.0).collect())
}

/// Whether it was run with the text that it has now.
fn text(fight: &Fight, phrase: &EditionPhrase, passes: &[&Pass<'_>]) -> Option<Thing> {
    let is_now = |pass: &&Pass<'_>| {
        let then = fight.editions.get(pass.run.edition).and_then(|then| then.phrase(&phrase.name));
        then.is_some_and(|(_, then)| then.does_the_same_as(phrase))
    };
    side("new text", "the text as it is against those before", passes.iter().map(is_now).collect())
}

/// Whether it was run with each cast that is not the most usual one.
fn casts(phrase: &EditionPhrase, passes: &[&Pass<'_>]) -> Vec<Option<Thing>> {
    let people = phrase.people();
    let of_run: Vec<Vec<String>> = passes.iter().map(|pass| cast_of(pass, &people)).collect();
    let mut counts: BTreeMap<&Vec<String>, usize> = BTreeMap::new();
    of_run.iter().for_each(|cast| *counts.entry(cast).or_default() += 1);
    let mut casts: Vec<(&Vec<String>, usize)> = counts.into_iter().collect();
    casts.sort_by_key(|(_, count)| std::cmp::Reverse(*count));
    let Some((usual, others)) = casts.split_first() else { return Vec::new() };
    let thing = |(cast, _): &(&Vec<String>, usize)| {
        let different: Vec<&str> = cast.iter().filter(|it| !usual.0.contains(it)).map(String::as_str).collect();
        let said = if different.is_empty() { "others".to_owned() } else { different.join(", ") };
        side(&said, "against the usual cast", of_run.iter().map(|own| own == *cast).collect())
    };
    others.iter().take(MOST_CASTS).map(thing).collect()
}

fn number(of: &str, step: &str, values: Vec<f64>) -> Option<Thing> {
    let mut counts: BTreeMap<u64, u64> = BTreeMap::new();
    values.iter().for_each(|value| *counts.entry(value.to_bits()).or_default() += 1);
    let most = counts.values().max().copied().unwrap_or(0);
    let fewest = (values.len() as u64).saturating_sub(most);
    (counts.len() > 1).then(|| Thing { of: of.to_owned(), step: step.to_owned(), values, fewest })
}

fn side(of: &str, step: &str, on: Vec<bool>) -> Option<Thing> {
    let with = on.iter().filter(|on| **on).count();
    let fewest = with.min(on.len() - with) as u64;
    let values = on.iter().map(|on| f64::from(u8::from(*on))).collect();
    (fewest > 0).then(|| Thing { of: of.to_owned(), step: step.to_owned(), values, fewest })
}

/// What each thing does. What has too few runs on one side is left out of the model, and so is what changed only together
/// with what stands before it.
fn effects(things: &[Thing], broke: &[bool]) -> Vec<Effect> {
    let mut within: Vec<usize> = Vec::new();
    let mut together: BTreeSet<usize> = BTreeSet::new();
    for (at, thing) in things.iter().enumerate() {
        if thing.fewest < FEWEST || broke.len() < RUNS_A_THING * (within.len() + 2) {
            continue;
        }
        within.push(at);
        if Logistic::fit(&alike(things, &within, broke)).is_none() {
            together.insert(at);
            within.pop();
        }
    }
    // What changed together with something is not told by that something either.
    let told = if together.is_empty() {
        Logistic::fit(&alike(things, &within, broke))
    } else {
        without(things, &within, &mut together, broke)
    };
    let effect = |(at, thing): (usize, &Thing)| {
        let place = within.iter().position(|other| *other == at);
        let apart = !together.contains(&at);
        let odds = place.filter(|_| apart).and_then(|place| told.as_ref()?.odds_ratio(place + 1));
        let fewest = if place.is_some() { thing.fewest } else { 0 };
        let verdict = match (&odds, apart) {
            (Some(odds), _) => judge(fewest, &odds.interval, 1.0, SAME_ODDS, odds.p).turned(),
            (None, false) => Difference::Unclear,
            (None, true) => Difference::TooFew,
        };
        Effect { of: thing.of.clone(), step: thing.step.clone(), fewest: thing.fewest, odds, verdict, together: !apart }
    };
    things.iter().enumerate().map(effect).collect()
}

/// The model, after all that some left-out thing is made of is found: those are not told apart from it.
fn without(things: &[Thing], within: &[usize], together: &mut BTreeSet<usize>, broke: &[bool]) -> Option<Logistic> {
    let left_out: Vec<usize> = together.iter().copied().collect();
    for out in left_out {
        for at in within {
            let others: Vec<usize> = within.iter().copied().filter(|other| other != at).chain([out]).collect();
            // With it in the other's place it can be fitted: so the two say the same.
            if Logistic::fit(&alike(things, &others, broke)).is_some() {
                together.insert(*at);
            }
        }
    }
    Logistic::fit(&alike(things, within, broke))
}

/// The runs, those that are alike counted together. Numbers are taken from their mean, which keeps the arithmetic even.
fn alike(things: &[Thing], within: &[usize], broke: &[bool]) -> Vec<Alike> {
    let chosen: Vec<&Thing> = within.iter().filter_map(|at| things.get(*at)).collect();
    let mean = |thing: &Thing| thing.values.iter().sum::<f64>() / thing.values.len().max(1) as f64;
    let means: Vec<f64> = chosen.iter().map(|thing| mean(thing)).collect();
    let mut rows: BTreeMap<Vec<u64>, Alike> = BTreeMap::new();
    for (at, broke) in broke.iter().enumerate() {
        let value = |(thing, mean): (&&Thing, &f64)| thing.values.get(at).copied().unwrap_or(0.0) - mean;
        let like: Vec<f64> = chosen.iter().zip(&means).map(value).collect();
        let key = like.iter().map(|value| value.to_bits()).collect();
        let row = rows.entry(key).or_insert(Alike { like, of: 0, count: 0 });
        row.of += 1;
        row.count += u64::from(*broke);
    }
    rows.into_values().collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn thing(of: &str, values: &[f64]) -> Thing {
        number(of, of, values.to_vec()).unwrap()
    }

    #[test]
    fn what_changed_together_is_not_told_apart_and_the_rest_is() {
        let weeks: Vec<f64> = (0..40).map(|at| f64::from(at / 20)).collect();
        let speeds: Vec<f64> = weeks.iter().map(|week| 5.0 + week * 3.0).collect();
        let cast: Vec<bool> = (0..40).map(|at| at % 2 == 0).collect();
        let broke: Vec<bool> = (0..40).map(|at| at % 2 == 0 && at % 10 != 0).collect();
        let things = [thing("week", &weeks), thing("speed", &speeds), side("Bea", "", cast).unwrap()];
        let effects = effects(&things, &broke);
        assert!(effects[0].together && effects[1].together && !effects[2].together);
        assert_eq!(effects[0].odds, None);
        assert_eq!(effects[2].verdict, Difference::Worse);
        assert!(effects[0].says().contains("not to be told apart"));
    }

    #[test]
    fn too_few_and_no_difference_are_two_answers() {
        let things = |many: usize| [side("Bea", "with Bea", (0..many).map(|at| at % 2 == 0).collect()).unwrap()];
        let broke = |many: usize| -> Vec<bool> { (0..many).map(|at| at % 4 < 2).collect() };
        assert_eq!(effects(&things(8), &broke(8))[0].verdict, Difference::TooFew);
        assert_eq!(effects(&things(8), &broke(8))[0].says(), "too few runs to say");
        let enough = &effects(&things(40), &broke(40))[0];
        assert_eq!(enough.verdict, Difference::Unclear);
        assert!(
            enough.says().starts_with("no difference can be told (with Bea: odds of a break × 1.00, "),
            "{}",
            enough.says()
        );
        assert_eq!(effects(&things(2_000), &broke(2_000))[0].verdict, Difference::Same);
    }
}
