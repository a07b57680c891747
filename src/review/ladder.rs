//! The speed ladder: the steps of tempo a phrase climbs, the step it stands on, and what the house's rule says next.
//! Nobody is told that a step is safe: the fight director decides.

use serde::Serialize;

use super::edition::EditionPhrase;
use super::history::{Fight, Outcome, PART_RULE};
use super::house::Ladder;
use super::pass::Pass;

/// Where a phrase stands.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Standing {
    /// The step, percent of performance tempo; nothing while it is only walked.
    pub step: Option<u16>,
    /// Clean runs in a row at that step, since the text or the cast of the phrase last changed.
    pub in_a_row: u32,
    /// The next step, when the rule says that it may be tried.
    pub may_try: Option<u16>,
    /// Who played in the phrase in its newest run; only runs with them count.
    pub cast: Vec<String>,
    /// The set of weapons of its newest run, unless they were those that the score names; only runs with the same count.
    pub weapons: Option<String>,
    /// What the rule says, in a sentence.
    pub says: String,
}

impl Ladder {
    /// The rule in a sentence.
    pub fn rule(&self) -> String {
        let steps: Vec<String> = self.steps.iter().map(|step| format!("{step} %")).collect();
        format!(
            "Steps: walk, {}. After {} in a row at its step a phrase may try the next; after {} in a row it \
             stands one step lower. Runs slower than the step do not count, nor those with other weapons or another \
             cast than the newest; a phrase whose text changed counts anew. {PART_RULE} The fight director decides.",
            steps.join(", "),
            counted(self.up_after, "clean run", "clean runs"),
            counted(self.down_after, "broken run", "broken runs"),
        )
    }

    /// The place of the fastest step that a speed reaches: 0 is the walk, 1 the first step.
    fn place(&self, speed: Option<u16>) -> usize {
        speed.map_or(0, |speed| self.steps.iter().filter(|step| **step <= speed).count())
    }

    fn step(&self, place: usize) -> Option<u16> {
        self.steps.get(place.checked_sub(1)?).copied()
    }
}

fn counted(count: u32, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// Where a phrase stands after these runs.
pub(super) fn stand(ladder: &Ladder, fight: &Fight, phrase: &EditionPhrase, passes: &[Pass<'_>]) -> Standing {
    let people = phrase.people();
    let cast_of = |pass: &Pass<'_>| -> Vec<String> {
        let cast = pass.run.cast.iter().filter(|(part, _)| people.contains(&part.as_str()));
        cast.map(|(part, person)| format!("{person} as {part}")).collect()
    };
    let newest = passes.last().map(|pass| (cast_of(pass), pass.run.row.begun.weapons.clone()));
    let Some((cast, weapons)) = newest else {
        return Standing { says: "Not run yet.".to_owned(), ..Standing::default() };
    };
    let same_text = |edition: usize| {
        fight
            .editions
            .get(edition)
            .and_then(|it| it.phrase(&phrase.name))
            .is_some_and(|(_, it)| it.does_the_same_as(phrase))
    };
    let mut climb = Climb { ladder, place: 0, clean: 0, broken: 0 };
    let mut before = true;
    for pass in passes.iter().filter(|pass| cast_of(pass) == cast && pass.run.row.begun.weapons == weapons) {
        // A phrase that reads otherwise now keeps its step, and its runs are counted anew.
        let now = same_text(pass.run.edition);
        if now != before {
            (climb.clean, climb.broken) = (0, 0);
        }
        before = now;
        climb.take(ladder.place(pass.visit.speed), pass.visit.outcome);
    }
    Standing { weapons, ..climb.standing(cast, before) }
}

struct Climb<'l> {
    ladder: &'l Ladder,
    place: usize,
    clean: u32,
    broken: u32,
}

impl Climb<'_> {
    fn take(&mut self, at: usize, outcome: Outcome) {
        match outcome {
            Outcome::Clean if at > self.place => {
                (self.place, self.clean, self.broken) = (at, 1, 0);
            }
            Outcome::Clean if at == self.place => {
                self.clean = self.clean.saturating_add(1);
                self.broken = 0;
            }
            // Tried too early: the phrase stays where it stands.
            Outcome::Broke if at > self.place => {}
            Outcome::Broke if at == self.place => {
                self.clean = 0;
                self.broken += 1;
                if self.broken >= self.ladder.down_after.max(1) && self.place > 0 {
                    (self.place, self.broken) = (self.place - 1, 0);
                }
            }
            // It broke slower than it stands: what it had there is in doubt.
            Outcome::Broke => self.clean = 0,
            Outcome::Clean | Outcome::Part | Outcome::Unfinished => {}
        }
    }

    fn standing(self, cast: Vec<String>, text_is_run: bool) -> Standing {
        let needed = self.ladder.up_after.max(1);
        let next = self.ladder.step(self.place + 1);
        let in_a_row = if text_is_run { self.clean } else { 0 };
        let may_try = next.filter(|_| in_a_row >= needed);
        let says = match (may_try, next) {
            _ if !text_is_run => "Its text changed and has not been run since.".to_owned(),
            (Some(next), _) => format!("The rule lets it try {next} %."),
            (None, Some(next)) => {
                format!("{} more before {next} %.", counted(needed.saturating_sub(in_a_row), "clean run", "clean runs"))
            }
            (None, None) => "At the top of the ladder.".to_owned(),
        };
        Standing { step: self.ladder.step(self.place), in_a_row, may_try, cast, weapons: None, says }
    }
}
