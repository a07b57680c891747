//! The speed ladder: the steps of tempo a phrase climbs with a cast, the step it stands on, and what the house's rule says
//! next. One small state machine, [`Climb`], which knows nothing but speeds and outcomes; the sentence is made of what it
//! says and of nothing else. Nobody is told that a step is safe: the fight director decides.

use std::collections::BTreeMap;

use serde::Serialize;

use super::edition::EditionPhrase;
use super::history::{Fight, Outcome, PART_RULE};
use super::house::Ladder;
use super::pass::Pass;

/// Where a phrase stands with a cast.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Standing {
    /// The step, percent of performance tempo; nothing while it stands on none.
    pub step: Option<u16>,
    /// Clean runs in a row that count at that step; where it stands on none, at the first.
    pub in_a_row: u32,
    /// The step above; nothing at the top.
    pub next: Option<u16>,
    /// Clean runs in a row that count at the step above.
    pub next_in_a_row: u32,
    /// Broken runs in a row that count against the step above.
    pub next_broke: u32,
    /// The step above, when the rule says that it may be tried.
    pub may_try: Option<u16>,
    /// The clean runs in a row that the house asks.
    pub asked: u32,
    /// Runs that count: with this cast, these weapons and the text as it is.
    pub runs: u64,
    /// Runs of this cast with these weapons and another text; they do not count.
    pub other_text: u64,
    /// The step that it stood on with the text before, where that is another and it stands on none now.
    pub before: Option<u16>,
    /// Who plays in the phrase; only runs with them count.
    pub cast: Vec<String>,
    /// The set of weapons of their newest run, unless they were those that the score names; only runs with the same count.
    pub weapons: Option<String>,
    /// What was seen of these runs, the fastest first.
    pub seen: Vec<Seen>,
    /// The day of the newest run of this cast, whatever its text and weapons.
    pub last_day: Option<String>,
    /// What the rule says, in a sentence.
    pub says: String,
}

/// The runs at one speed.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Seen {
    /// Percent of performance tempo; nothing in a walk-through.
    pub speed: Option<u16>,
    /// How many were clean.
    pub clean: u64,
    /// How many broke.
    pub broke: u64,
    /// The day of the last of them.
    pub last_day: Option<String>,
    /// True when the last of them was clean.
    pub last_clean: bool,
}

impl Ladder {
    /// The rule in words.
    pub fn rule(&self) -> String {
        let steps: Vec<String> = self.steps.iter().map(|step| format!("{step} %")).collect();
        format!(
            "Steps: {}. A clean run counts at its speed and for every slower step, a hold or stop at its speed and \
             against every faster one. A phrase stands on a step after {} in a row that count for it, and so on every \
             slower one; after {} in a row that count against it, it stands there no more. The next step may be tried \
             when the newest {} at the step were clean. Only runs with the same cast, the weapons of its newest run \
             and the text as it is in the days looked at count; where only the tempo changed, a run counts at what its \
             speed is of the tempo now. {PART_RULE} The fight director decides.",
            steps.join(", "),
            counted(self.up_after.max(1), "clean run", "clean runs"),
            counted(self.down_after.max(1), "broken run", "broken runs"),
            if self.up_after <= 1 { "run".to_owned() } else { format!("{} runs", self.up_after) },
        )
    }
}

fn counted(count: u32, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// One step of the ladder.
#[derive(Clone, Copy, Debug, Default)]
struct Step {
    /// Clean runs in a row that count for it.
    clean: u32,
    /// Broken runs in a row that count against it.
    broke: u32,
    stood: bool,
}

/// The state machine: a run at a time, from the first to the newest.
struct Climb<'l> {
    ladder: &'l Ladder,
    steps: Vec<Step>,
}

/// Speeds that are this near are the same: a converted one is not exact.
const NEAR: f64 = 1e-6;

impl<'l> Climb<'l> {
    fn new(ladder: &'l Ladder) -> Climb<'l> {
        Climb { ladder, steps: vec![Step::default(); ladder.steps.len()] }
    }

    /// A run at that speed, percent of performance tempo; 0 is a walk-through.
    fn take(&mut self, speed: f64, outcome: Outcome) {
        for (percent, step) in self.ladder.steps.iter().zip(&mut self.steps) {
            let percent = f64::from(*percent);
            match outcome {
                Outcome::Clean if percent <= speed + NEAR => {
                    (step.clean, step.broke) = (step.clean.saturating_add(1), 0);
                    step.stood |= step.clean >= self.ladder.up_after.max(1);
                }
                Outcome::Broke if percent >= speed - NEAR => {
                    (step.clean, step.broke) = (0, step.broke.saturating_add(1));
                    step.stood &= step.broke < self.ladder.down_after.max(1);
                }
                Outcome::Clean | Outcome::Broke | Outcome::Part | Outcome::Unfinished => {}
            }
        }
    }

    /// How many steps are stood on: whoever stands on a step stands on all below it.
    fn height(&self) -> usize {
        self.steps.iter().take_while(|step| step.stood).count()
    }

    fn percent(&self, place: usize) -> Option<u16> {
        self.ladder.steps.get(place).copied()
    }

    /// What it says; without who, what was seen, and the sentence.
    fn standing(&self) -> Standing {
        let height = self.height();
        let step = |place: usize| self.steps.get(place).copied().unwrap_or_default();
        let below = height.checked_sub(1);
        let next = self.percent(height);
        let asked = self.ladder.up_after.max(1);
        let in_a_row = step(below.unwrap_or(0)).clean;
        Standing {
            step: below.and_then(|place| self.percent(place)),
            in_a_row,
            next,
            next_in_a_row: step(height).clean,
            next_broke: step(height).broke,
            may_try: next.filter(|_| below.is_none() || in_a_row >= asked),
            asked,
            ..Standing::default()
        }
    }
}

impl Standing {
    /// The sentence of what stands in the fields.
    fn sentence(&self) -> String {
        let before =
            self.before.map_or_else(String::new, |step| format!(" With the text before it stood on {step} %."));
        let clean = |count: u32| counted(count, "clean run", "clean runs");
        match (self.step, self.next) {
            _ if self.runs == 0 && self.last_day.is_none() && self.cast.is_empty() => "Not run yet.".to_owned(),
            _ if self.runs == 0 => format!("Its text changed and has not been run since.{before}"),
            (None, None) => "The house has no steps.".to_owned(),
            (None, Some(first)) => {
                format!("On no step yet: {} of {} in a row at {first} %.{before}", self.in_a_row, clean(self.asked))
            }
            (Some(step), next) => {
                let there = match self.in_a_row {
                    0 => "it broke there or slower since".to_owned(),
                    count if count < self.asked => format!("{} in a row there since it broke", clean(count)),
                    count => format!("{} in a row there", clean(count)),
                };
                let then = match (self.may_try, next) {
                    (Some(next), _) if self.next_broke > 0 => format!(
                        "The rule lets it try {next} %, where it broke {} in a row.",
                        counted(self.next_broke, "time", "times")
                    ),
                    (Some(next), _) => format!("The rule lets it try {next} %."),
                    (None, Some(next)) => {
                        format!("{} more before {next} %.", clean(self.asked.saturating_sub(self.in_a_row)))
                    }
                    (None, None) => "That is the top of the ladder.".to_owned(),
                };
                format!("Stands on {step} %: {there}. {then}")
            }
        }
    }

    /// True when the text changed and they have not run it since as often as the house asks in a row.
    pub fn is_new_text(&self) -> bool {
        self.other_text > 0 && self.runs < u64::from(self.asked)
    }

    fn said(mut self) -> Standing {
        self.says = self.sentence();
        self
    }
}

/// Where a phrase stands after these runs, with each cast that has run it; the cast of the newest run first.
pub(super) fn stand(ladder: &Ladder, fight: &Fight, phrase: &EditionPhrase, passes: &[Pass<'_>]) -> Vec<Standing> {
    let people = phrase.people();
    let mut casts: Vec<(Vec<String>, Vec<&Pass<'_>>)> = Vec::new();
    for pass in passes.iter().rev() {
        let own = cast_of(pass, &people);
        match casts.iter_mut().find(|(cast, _)| *cast == own) {
            Some((_, passes)) => passes.push(pass),
            None => casts.push((own, vec![pass])),
        }
    }
    let with = |(cast, mut passes): (Vec<String>, Vec<&Pass<'_>>)| {
        passes.reverse();
        stand_with(ladder, fight, phrase, cast, &passes)
    };
    casts.into_iter().map(with).collect()
}

/// Where a phrase stands that nobody has run.
pub(super) fn not_run(ladder: &Ladder) -> Standing {
    Climb::new(ladder).standing().said()
}

/// Who plays in the phrase in a run: `Bea as MARET`.
pub(super) fn cast_of(pass: &Pass<'_>, people: &[&str]) -> Vec<String> {
    let cast = pass.run.cast.iter().filter(|(part, _)| people.contains(&part.as_str()));
    cast.map(|(part, person)| format!("{person} as {part}")).collect()
}

fn stand_with(
    ladder: &Ladder,
    fight: &Fight,
    phrase: &EditionPhrase,
    cast: Vec<String>,
    passes: &[&Pass<'_>],
) -> Standing {
    let weapons = passes.last().and_then(|pass| pass.run.row.begun.weapons.clone());
    let text = |pass: &Pass<'_>| Some(fight.editions.get(pass.run.edition)?.phrase(&phrase.name)?.1);
    let armed = || passes.iter().copied().filter(|pass| pass.run.row.begun.weapons == weapons);
    let of = |now: &EditionPhrase| -> (Climb<'_>, Vec<&Pass<'_>>) {
        let mut climb = Climb::new(ladder);
        let mut counted = Vec::new();
        for pass in armed() {
            let Some(then) = text(pass).filter(|then| then.does_the_same_as(now)) else { continue };
            climb.take(speed_now(pass.visit.speed, then, now), pass.visit.outcome);
            counted.extend(pass.visit.outcome.counts().then_some(pass));
        }
        (climb, counted)
    };
    let (climb, counted) = of(phrase);
    let standing = climb.standing();
    let others = || armed().filter_map(text).filter(|then| !then.does_the_same_as(phrase));
    let (older, other_text) = (others().next_back(), others().count() as u64);
    let before = older.filter(|_| standing.step.is_none()).and_then(|then| of(then).0.standing().step);
    let last_day = passes.iter().filter_map(|pass| pass.run.day).max().map(|day| day.to_string());
    let runs = counted.len() as u64;
    Standing { runs, other_text, before, cast, weapons, seen: seen(&counted), last_day, ..standing }.said()
}

/// What a run's speed is of the tempo that the phrase has now; 0 for a walk-through.
fn speed_now(speed: Option<u16>, then: &EditionPhrase, now: &EditionPhrase) -> f64 {
    let percent = speed.map_or(0.0, f64::from);
    if then.seconds > 0.0 && now.seconds > 0.0 { percent * now.seconds / then.seconds } else { percent }
}

fn seen(passes: &[&Pass<'_>]) -> Vec<Seen> {
    let mut speeds: BTreeMap<Option<u16>, Seen> = BTreeMap::new();
    for pass in passes {
        let speed = pass.visit.speed;
        let blank = Seen { speed, clean: 0, broke: 0, last_day: None, last_clean: false };
        let own = speeds.entry(speed).or_insert(blank);
        own.last_clean = pass.visit.outcome == Outcome::Clean;
        if own.last_clean {
            own.clean += 1
        } else {
            own.broke += 1
        }
        own.last_day = pass.run.day.map(|day| day.to_string()).or(own.last_day.take());
    }
    speeds.into_values().rev().collect()
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn after(ladder: &Ladder, runs: &[(u16, Outcome)]) -> Standing {
        let mut climb = Climb::new(ladder);
        runs.iter().for_each(|(speed, outcome)| climb.take(f64::from(*speed), *outcome));
        let counted = runs.iter().filter(|(_, outcome)| outcome.counts()).count() as u64;
        Standing { runs: counted, cast: vec!["Bea as A".to_owned()], ..climb.standing() }.said()
    }

    #[test]
    fn one_clean_run_after_nine_broken_ones_is_no_step() {
        let ladder = Ladder::default();
        let mut runs = vec![(100, Outcome::Broke); 9];
        runs.push((100, Outcome::Clean));
        let standing = after(&ladder, &runs);
        assert_eq!((standing.step, standing.may_try), (None, Some(50)));
        assert_eq!(standing.says, "On no step yet: 1 of 3 clean runs in a row at 50 %.");
    }

    #[test]
    fn breaks_above_the_step_are_told_and_breaks_below_it_count() {
        let ladder = Ladder::default();
        let mut runs = vec![(80, Outcome::Clean); 4];
        runs.extend([(90, Outcome::Broke); 3]);
        let above = after(&ladder, &runs);
        assert_eq!((above.step, above.in_a_row, above.next_broke), (Some(80), 4, 3));
        assert_eq!(
            above.says,
            "Stands on 80 %: 4 clean runs in a row there. The rule lets it try 90 %, where it broke 3 times in a row."
        );
        runs.push((50, Outcome::Broke));
        let once = after(&ladder, &runs);
        assert_eq!((once.step, once.in_a_row, once.may_try), (Some(80), 0, None));
        assert_eq!(once.says, "Stands on 80 %: it broke there or slower since. 3 clean runs more before 90 %.");
        runs.push((65, Outcome::Broke));
        assert_eq!(
            after(&ladder, &runs).step,
            Some(50),
            "against 65 and faster it broke twice in a row, against 50 once"
        );
    }

    #[test]
    fn a_speed_between_two_steps_counts_for_the_slower_and_against_the_faster() {
        let ladder = Ladder::default();
        assert_eq!(after(&ladder, &[(85, Outcome::Clean); 3]).step, Some(80));
        let mut runs = vec![(90, Outcome::Clean); 3];
        runs.extend([(85, Outcome::Broke); 2]);
        assert_eq!(after(&ladder, &runs).step, Some(80));
    }

    fn runs() -> impl Strategy<Value = Vec<(u16, Outcome)>> {
        let outcome = prop_oneof![
            6 => Just(Outcome::Clean), 3 => Just(Outcome::Broke), 1 => Just(Outcome::Part), 1 => Just(Outcome::Unfinished)
        ];
        prop::collection::vec(
            (prop_oneof![Just(0), Just(40), Just(60), Just(70), Just(100), 10..150_u16], outcome),
            0..60,
        )
    }

    /// The rule as it is told, without the machine: what counts for and against a step as letters, and what of them says
    /// that it is stood on.
    fn stood(ladder: &Ladder, step: u16, runs: &[(u16, Outcome)]) -> bool {
        let letter = |(speed, outcome): &(u16, Outcome)| match outcome {
            Outcome::Clean if *speed >= step => Some('c'),
            Outcome::Broke if *speed <= step => Some('b'),
            _ => None,
        };
        let told: String = runs.iter().filter_map(letter).collect();
        let (up, down) = ("c".repeat(ladder.up_after as usize), "b".repeat(ladder.down_after as usize));
        told.rfind(&up).is_some_and(|at| !told[at..].contains(&down))
    }

    proptest! {
        #[test]
        fn sentence_number_and_rule_say_the_same(runs in runs(), up_after in 1..5_u32, down_after in 1..4_u32) {
            let ladder = Ladder { steps: vec![40, 60, 70, 100], up_after, down_after };
            let standing = after(&ladder, &runs);
            // The rule: what is stood on is the fastest step of which it is true, and it is true of all below.
            let stood: Vec<u16> = ladder.steps.iter().copied().filter(|step| stood(&ladder, *step, &runs)).collect();
            prop_assert_eq!(&stood[..], &ladder.steps[..stood.len()], "none is skipped");
            prop_assert_eq!(standing.step, stood.last().copied());
            prop_assert_eq!(standing.next, ladder.steps.get(stood.len()).copied());
            // Whoever stands somewhere was clean so often in a row there.
            let at = standing.step.unwrap_or(40);
            let newest = runs.iter().rev().filter(|(speed, outcome)| match outcome {
                Outcome::Clean => *speed >= at,
                Outcome::Broke => *speed <= at,
                _ => false,
            });
            let clean = newest.take_while(|(_, outcome)| *outcome == Outcome::Clean).count() as u32;
            prop_assert_eq!(standing.in_a_row, clean);
            prop_assert_eq!(standing.may_try.is_some(), standing.next.is_some() && (standing.step.is_none() || clean >= up_after));
            // The sentence says these numbers and no others.
            let says = &standing.says;
            let numbers: Vec<u32> = says.split(|c: char| !c.is_ascii_digit()).filter_map(|word| word.parse().ok()).collect();
            let known = [standing.step.map(u32::from), standing.next.map(u32::from), Some(clean), Some(up_after),
                Some(up_after.saturating_sub(clean)), Some(standing.next_broke)];
            prop_assert!(numbers.iter().all(|number| known.contains(&Some(*number))), "{says}");
            if standing.runs > 0 {
                prop_assert_eq!(says.starts_with("On no step yet"), standing.step.is_none());
                prop_assert_eq!(standing.step.is_some_and(|step| says.starts_with(&format!("Stands on {step} %:"))), standing.step.is_some());
                prop_assert_eq!(says.contains("top of the ladder"), standing.step == Some(100));
                let lets = standing.step.is_some() && standing.may_try.is_some();
                prop_assert_eq!(says.contains("lets it try"), lets, "{}", says);
            } else {
                prop_assert!(!says.contains("Stands"));
            }
        }
    }
}
