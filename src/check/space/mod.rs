//! Space: where people stand and go, on the stage's plan. Without a plan nothing is said here. Codes: M measure, C clearance,
//! F flow, P marks, V what is seen. Every distance is a planning value; who has no mark is left out, and that is said.

mod backs;
mod clearance;
mod edges;
mod falls;
mod flow;
mod marks;
mod masking;
mod measure;
mod meeting;
mod near;
mod ways;

use crate::score::model::{Person, Span};
use crate::score::problem::Problem;
use crate::stage::{Cause, FOOT, Passage, StagePlan, Tracks, Vec2, passages};
use crate::timeline::PlannedMove;
use crate::units::Ticks;

use super::point_at_use;
use super::scene::Scene;

pub use clearance::Approach;

/// To what each blow of a fight comes nearest of all that it is not meant for, where that is within `limit` metres; in order.
pub(super) fn approaches(scene: &Scene<'_>, limit: f64) -> Vec<Approach> {
    let Some(stage) = scene.rules.stage.as_deref() else { return Vec::new() };
    let tracks = Tracks::of(scene.score, scene.vocabulary, &scene.plan, stage);
    let space = Space { scene, stage, tracks: &tracks };
    clearance::approaches(&space, &near::Near::of(&space), limit)
}

/// M501 … V903, and what passes near whoever only stands by: of both nothing where no stage is known.
pub(super) fn find(scene: &Scene<'_>) -> (Vec<Problem>, Vec<Passage>) {
    let Some(stage) = scene.rules.stage.as_deref() else { return (Vec::new(), Vec::new()) };
    let tracks = Tracks::of(scene.score, scene.vocabulary, &scene.plan, stage);
    let space = Space { scene, stage, tracks: &tracks };
    let near = near::Near::of(&space);
    let mut problems = marks::find(&space);
    problems.extend(flow::find(&space));
    problems.extend(ways::find(&space));
    problems.extend(meeting::find(&space, &near));
    problems.extend(measure::find(&space));
    problems.extend(clearance::find(&space, &near));
    problems.extend(backs::find(&space, &near));
    problems.extend(edges::find(&space));
    problems.extend(falls::find(&space));
    problems.extend(masking::find(&space));
    (problems, passages(&scene.plan, &tracks, &stage.least))
}

/// What the checks of space look at.
struct Space<'s, 'a> {
    scene: &'s Scene<'a>,
    stage: &'s StagePlan,
    tracks: &'s Tracks<'s>,
}

impl<'a> Space<'_, 'a> {
    fn name(&self, person: usize) -> &str {
        self.tracks.people.get(person).map_or("somebody", |track| self.scene.person(track.who))
    }

    fn is_bystander(&self, person: usize) -> bool {
        self.tracks.people.get(person).is_some_and(|track| matches!(track.who, Person::Bystander(_)))
    }

    fn planned(&self, index: usize) -> Option<&PlannedMove> {
        self.scene.plan.moves().get(index)
    }

    /// A length as this production says it.
    fn far(&self, metres: f64) -> String {
        if self.stage.feet { format!("{:.1} ft", metres / FOOT) } else { format!("{metres:.1} m") }
    }

    /// The same for what something is to be changed by: no less than it.
    fn more(&self, metres: f64) -> String {
        let unit = if self.stage.feet { FOOT } else { 1.0 };
        self.far((metres / unit * 10.0 - 1e-6).ceil() / 10.0 * unit)
    }

    /// A place as a score writes it.
    fn mark(&self, at: Vec2) -> String {
        // To the centimetre, and no `-0`.
        let number = |it: f64| (it * 100.0).round() / 100.0 + 0.0;
        format!("{},{}", number(at.x), number(at.y))
    }

    /// A way in the words of the stage: stage left is audience right.
    fn way(&self, way: Vec2) -> String {
        let parts = [(way.x, "stage left", "stage right"), (way.y, "upstage", "downstage")];
        let parts = parts.into_iter().filter(|(much, ..)| much.abs() >= 0.02);
        let said: Vec<String> = parts
            .map(|(much, more, less)| format!("{} {}", self.more(much.abs()), if much > 0.0 { more } else { less }))
            .collect();
        if said.is_empty() { self.far(0.0) } else { said.join(" and ") }
    }

    /// `beat 5`, the nearest whole beat of the phrase that goes then.
    fn beat(&self, time: f64) -> String {
        let plan = &self.scene.plan;
        let ticks = plan.tempo().exact_ticks_at(time * 1e6).max(0.0);
        let phrase = self.phrase_at(time).and_then(|phrase| plan.phrases().get(phrase));
        let start = phrase.map_or(0, |phrase| phrase.at.0);
        format!("beat {:.0}", ((ticks - start as f64) / Ticks::beats(1).0 as f64).max(0.0) + 1.0)
    }

    /// The phrase that goes at a time, in the plan.
    fn phrase_at(&self, time: f64) -> Option<usize> {
        let plan = &self.scene.plan;
        let ticks = plan.tempo().exact_ticks_at(time * 1e6);
        plan.phrases().partition_point(|phrase| phrase.at.0 as f64 <= ticks + 0.5).checked_sub(1)
    }

    /// From when to when a phrase goes, seconds.
    fn span_of(&self, phrase: usize) -> (f64, f64) {
        let plan = &self.scene.plan;
        let time = |ticks: Ticks| plan.tempo().exact_time_of(ticks.0 as f64) / 1e6;
        plan.phrases().get(phrase).map_or((0.0, 0.0), |it| (time(it.at), time(it.at + it.length)))
    }

    /// The line that a leg comes from, the use it is written in, and its phrase.
    fn line(&self, cause: Cause) -> Option<(&Span, Option<&Span>, usize)> {
        let plan = &self.scene.plan;
        match cause {
            Cause::Mark(at) => plan.places().get(at).map(|it| (&it.span, None, it.phrase_in_range)),
            Cause::Walk(at) => plan.walks().get(at).map(|it| (&it.span, it.used.as_ref(), it.phrase_in_range)),
            Cause::Move(at) => plan.moves().get(at).map(|it| (&it.span, it.used.as_ref(), it.phrase_in_range)),
        }
    }

    /// What somebody does on a leg: `MARET's walk`, `OSK's step-back`.
    fn doing(&self, person: usize, cause: Cause) -> String {
        let who = self.name(person);
        match cause {
            Cause::Mark(_) => format!("{who}'s mark"),
            Cause::Walk(_) => format!("{who}'s walk"),
            Cause::Move(at) => {
                let planned = self.planned(at);
                let answers = planned.is_some_and(|it| it.who.0 != person);
                let word = planned.and_then(|it| if answers { it.reply.as_deref() } else { Some(it.action.as_str()) });
                format!("{who}'s {}", word.unwrap_or("footwork"))
            }
        }
    }
}

/// A finding at a line, pointing at the use of the pattern that the line is written in.
fn told(problem: Problem, used: Option<&Span>) -> Problem {
    let mut problems = [problem];
    point_at_use(&mut problems, used);
    let [problem] = problems;
    problem
}
