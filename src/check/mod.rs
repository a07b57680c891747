//! The checks: what a fight director would say about a score before anybody does it. One file a kind of finding; this
//! file lists them. A code never changes its meaning: A answer, B body, T time, H house, and on a stage's plan M measure,
//! C clearance, F flow, P marks, V sight lines.

mod answer;
mod body;
mod fastest;
mod house;
mod rules;
mod scene;
mod space;
mod time;

pub use body::start::{InHand, Posture, Stand, starts};
pub use fastest::{Fastest, MoveFactor, MoveLimit, PhraseLimit};
pub use rules::HouseRules;
pub use space::Approach;

use crate::score::model::{Score, Span};
use crate::score::problem::Problem;
use crate::score::vocabulary::Vocabulary;
use crate::stage::Passage;

use scene::Scene;

/// What the checks do not look at where no stage is known, and what their times and tempos are worth. It is said wherever
/// they say that nothing was found, or how fast something can go.
pub const UNCHECKED: &str = "Where people stand was not checked: not distance or reach, not what is hidden from the \
     seats, not whom a blade passes near. Times and tempos are planning values, never permission: the fight director decides.";

/// The same where a stage is known.
pub const UNCHECKED_ON_STAGE: &str = "Distances, walks and whom or what a blow passes near were checked from marks, walks \
     and the stage's plan, with what the vocabulary takes a blow to sweep; not for whoever has no mark; and what is hidden \
     from the seats where the score says on which side. Distances, times and tempos are planning values, never permission: the fight director decides.";

/// What the checks do not look at by these rules, and what their figures are worth.
pub fn unchecked(rules: &HouseRules) -> &'static str {
    if rules.stage.is_some() { UNCHECKED_ON_STAGE } else { UNCHECKED }
}

/// What the checks found.
#[derive(Clone, Debug)]
pub struct Checked {
    /// The findings, in order of the text. A line that is done several times over is found once.
    pub findings: Vec<Problem>,
    /// How fast the fight can go.
    pub fastest: Fastest,
    /// What passes near whoever only stands by, where a stage is known.
    pub passages: Vec<Passage>,
}

/// Every kind of finding but those of time, which the fastest tempos come from as well, and those of space, with which comes
/// what passes near bystanders.
const KINDS: [fn(&Scene<'_>) -> Vec<Problem>; 3] = [answer::find, body::find, house::find];

/// Checks a score at performance tempo.
pub fn check(score: &Score, vocabulary: &Vocabulary, rules: &HouseRules) -> Checked {
    let scene = Scene::new(score, vocabulary, rules);
    let gaps = time::gaps(&scene);
    let mut findings: Vec<Problem> = KINDS.iter().flat_map(|find| find(&scene)).collect();
    findings.extend(time::find(&scene, &gaps));
    let (of_space, passages) = space::find(&scene);
    findings.extend(of_space);
    findings.sort_by(|a, b| (a.span.start, a.code, &a.message).cmp(&(b.span.start, b.code, &b.message)));
    findings.dedup_by(|later, first| {
        let same = later.code == first.code && later.span == first.span && later.message == first.message;
        if same {
            also_at(first, later);
        }
        same
    });
    Checked { findings, fastest: Fastest::of(&scene, &gaps), passages }
}

/// So many uses of a pattern are pointed at from one finding in it.
const MOST_USES: usize = 8;

/// To what each blow of a fight comes nearest of all that it is not meant for, where that is within `limit` metres, in order;
/// nothing where no stage is known.
pub fn approaches(score: &Score, vocabulary: &Vocabulary, rules: &HouseRules, limit: f64) -> Vec<Approach> {
    space::approaches(&Scene::new(score, vocabulary, rules), limit)
}

/// Takes over the places of a finding that is made again elsewhere: the other uses of its pattern.
fn also_at(first: &mut Problem, later: &mut Problem) {
    for place in later.related.drain(..) {
        if first.related.len() < MOST_USES && !first.related.contains(&place) {
            first.related.push(place);
        }
    }
}

/// Points from findings in a pattern to the use they were made in.
fn point_at_use(findings: &mut [Problem], used: Option<&Span>) {
    let Some(used) = used else { return };
    let elsewhere = findings.iter_mut().filter(|finding| finding.span != *used);
    elsewhere.for_each(|finding| finding.related.push((used.clone(), "used here".to_owned())));
}
