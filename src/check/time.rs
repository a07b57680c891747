//! Time: has everybody enough of it, at performance tempo, between one thing they do and the next?
//!
//! A blow lands on its beat, so what a fighter has for the next thing is the time from the beat of the last one, less what
//! the last one takes after its beat: a fall, a jump, a death. Who acts needs the least time of the action, less when it
//! comes straight out of their own parry. Who answers needs the least time of the reply and has to see the attack first:
//! a reaction. Where the attack is the answer to their own (a parry and a riposte, rehearsed as one), nothing has to be
//! seen first. All of it comes from the vocabulary. Below the least (with the fastest reaction there is) it is an error;
//! below what is safe (a usual reaction; for who acts, the house's margin) it is a warning.

use crate::score::model::{FighterId, Word};
use crate::score::problem::{Problem, Severity};
use crate::score::vocabulary::{Action, Reply, ReplyKind};
use crate::timeline::PlannedMove;
use crate::units::{Bpm, Ticks};

use super::point_at_use;
use super::scene::{Rows, Scene, beats};

/// The time that one fighter has for one thing.
#[derive(Clone, Debug)]
pub(super) struct Gap {
    pub(super) fighter: FighterId,
    /// The move, by its place in the plan.
    pub(super) index: usize,
    /// What they come from.
    previous: Done,
    pub(super) answers: bool,
    /// The time there is, at performance tempo. Microseconds.
    pub(super) has_us: f64,
    /// The least that can be done.
    pub(super) least_us: f64,
    /// The least that is safe.
    pub(super) safe_us: f64,
}

impl Gap {
    /// The factor on performance tempo at which the time is just safe.
    pub(super) fn factor(&self) -> f64 {
        self.has_us / self.safe_us
    }
}

/// T301: no time. T302: tight. Of a line that is done several times over the worst time is told.
pub(super) fn find(scene: &Scene<'_>, gaps: &[Gap]) -> Vec<Problem> {
    let mut gaps: Vec<&Gap> = gaps.iter().filter(|gap| gap.factor() < 1.0).collect();
    let line = |gap: &Gap| (scene.plan.moves().get(gap.index).map_or(0, |it| it.span.start), gap.fighter, gap.answers);
    gaps.sort_by(|a, b| line(a).cmp(&line(b)).then(a.factor().total_cmp(&b.factor())));
    gaps.dedup_by(|a, b| line(a) == line(b));
    gaps.iter().filter_map(|gap| problem(scene, gap)).collect()
}

/// Every time between two things that one fighter does, in order of the moves. Two things on one tick have no time
/// between them; the body check speaks of those.
pub(super) fn gaps(scene: &Scene<'_>) -> Vec<Gap> {
    let slower = slower_by_own_weapon(scene);
    let mut lasts: Vec<Last> = vec![Last::default(); scene.score.fighters.len()];
    let mut gaps = Vec::with_capacity(2 * scene.plan.moves().len());
    for (index, planned) in scene.plan.moves().iter().enumerate() {
        let rows = scene.rows_of(index);
        let at_us = scene.plan.tempo().exact_time_of(planned.at.0 as f64);
        let answerer = planned.to.filter(|&to| to != planned.who);
        for (fighter, answers) in [(Some(planned.who), false), (answerer, true)] {
            let Some(fighter) = fighter else { continue };
            let done = Done { index, at_us, answered: answers, after_us: busy_after(rows, answers) };
            let Some(previous) = lasts.get_mut(fighter.0).and_then(|last| last.reach(planned.at, done)) else {
                continue;
            };
            let needs = if answers {
                reply_needs(scene, planned, rows, previous)
            } else {
                action_needs(scene, planned, rows, previous, &slower)
            };
            gaps.extend(needs.map(|needs| gap(fighter, done, previous, needs)));
        }
    }
    gaps
}

/// A half of a move that somebody did.
#[derive(Clone, Copy, Debug)]
struct Done {
    /// The move, by its place in the plan.
    index: usize,
    /// Its beat, at performance tempo. Microseconds.
    at_us: f64,
    answered: bool,
    /// How long after its beat they are busy with it. Microseconds.
    after_us: f64,
}

/// The last thing that a fighter did, and the last before its tick.
#[derive(Clone, Copy, Default)]
struct Last {
    current: Option<(Ticks, Done)>,
    before: Option<Done>,
}

impl Last {
    /// They do something at a tick: what did they do before? Of two things on one tick the longer one counts.
    fn reach(&mut self, at: Ticks, done: Done) -> Option<Done> {
        let longer = match self.current {
            Some((tick, other)) if tick == at => other.after_us > done.after_us,
            current => {
                self.before = current.map(|(_, done)| done);
                false
            }
        };
        if !longer {
            self.current = Some((at, done));
        }
        self.before
    }
}

/// The time from one thing to the next, with the least and the safe time that the next one needs.
fn gap(fighter: FighterId, done: Done, previous: Done, (least_us, safe_us): (f64, f64)) -> Gap {
    let has_us = done.at_us - previous.at_us;
    let (least_us, safe_us) = (least_us + previous.after_us, safe_us + previous.after_us);
    Gap { fighter, index: done.index, previous, answers: done.answered, has_us, least_us, safe_us }
}

/// How long after its beat somebody is busy with a half of a move. Microseconds.
pub(super) fn busy_after(rows: Rows<'_>, answered: bool) -> f64 {
    let after = if answered { rows.reply.map(|row| row.after) } else { rows.action.map(|row| row.after) };
    after.map_or(0.0, |after| after.0 as f64)
}

fn is_parry(reply: Option<&Reply>) -> bool {
    reply.is_some_and(|row| matches!(row.kind, ReplyKind::Parry | ReplyKind::CircularParry))
}

fn action_needs(
    scene: &Scene<'_>,
    planned: &PlannedMove,
    rows: Rows<'_>,
    previous: Done,
    own_weapon: &[f64],
) -> Option<(f64, f64)> {
    let row = rows.action?;
    let out_of_a_parry = previous.answered && is_parry(scene.rows_of(previous.index).reply);
    let least = row.after_parry.filter(|_| out_of_a_parry).unwrap_or(row.least).0 as f64;
    let least = if with_a_weapon(row) { least * slower(scene, planned, own_weapon) } else { least };
    Some((least, least * scene.rules.act_margin.max(1.0)))
}

fn with_a_weapon(row: &Action) -> bool {
    row.attack && row.needs_weapon
}

/// The factor by which a heavy weapon makes an attack longer. Which weapon it is, is told by the cast.
fn slower(scene: &Scene<'_>, planned: &PlannedMove, own_weapon: &[f64]) -> f64 {
    match planned.manner.with.as_deref() {
        Some(word) => slower_with(scene, word),
        None => own_weapon.get(planned.who.0).copied().unwrap_or(1.0),
    }
}

/// The same for each fighter's first weapon.
fn slower_by_own_weapon(scene: &Scene<'_>) -> Vec<f64> {
    scene.score.fighters.iter().map(|fighter| slower_with(scene, &fighter.weapon)).collect()
}

fn slower_with(scene: &Scene<'_>, weapon: &str) -> f64 {
    scene.vocabulary.weapons.get(weapon).map_or(1.0, |row| 1.0 + f64::from(row.slower) / 100.0)
}

fn reply_needs(scene: &Scene<'_>, planned: &PlannedMove, rows: Rows<'_>, previous: Done) -> Option<(f64, f64)> {
    let least = rows.reply?.least.0 as f64;
    let from = scene.plan.moves().get(previous.index)?;
    // Their own attack was parried, and this is the riposte: rehearsed as one, so that nothing has to be seen first.
    if !previous.answered && from.to == Some(planned.who) && is_parry(scene.rows_of(previous.index).reply) {
        return Some((least, least * scene.rules.act_margin.max(1.0)));
    }
    let reaction = &scene.vocabulary.reaction;
    Some((least + reaction.least.0 as f64, least + reaction.usual.0 as f64))
}

fn problem(scene: &Scene<'_>, gap: &Gap) -> Option<Problem> {
    let planned = scene.plan.moves().get(gap.index)?;
    let previous = scene.plan.moves().get(gap.previous.index)?;
    let impossible = gap.has_us < gap.least_us;
    let (code, severity) = if impossible { ("T301", Severity::Error) } else { ("T302", Severity::Warning) };
    let who = scene.fighter(gap.fighter);
    let doing = match (&planned.reply, gap.answers) {
        (Some(reply), true) => format!("to see {} and {reply}", scene.whose(planned)),
        _ => format!("for {}", planned.action),
    };
    let verdict = if impossible { "there is no time for this" } else { "this is tight" };
    let needs = if impossible { gap.least_us } else { gap.safe_us };
    let mut message = format!("{verdict}: {who} has {} {doing}, and needs {}", seconds(gap.has_us), seconds(needs));
    if gap.previous.after_us > 0.0 {
        let before = if gap.previous.answered { previous.reply.as_ref() } else { Some(&previous.action) };
        let before = before.map_or("what comes before", Word::as_str);
        message += &format!(", {} of it to be done with {before}", seconds(gap.previous.after_us));
    }
    let now = scene.plan.tempo().bpm_at(planned.at);
    let bpm = now * gap.factor();
    let help = if bpm >= Bpm::SLOWEST {
        format!(
            "it is safe at {} beats a minute ({} % of this tempo), or give it more beats",
            floor(bpm),
            floor(gap.factor() * 100.0)
        )
    } else {
        "give it more beats: no tempo is slow enough".to_owned()
    };
    let from = format!("{who} comes from here, {} earlier", beats(planned.at - previous.at));
    let problem = Problem::new(severity, code, planned.span.clone(), message).help(help);
    let mut problem =
        if previous.span == planned.span { problem } else { problem.related(previous.span.clone(), from) };
    point_at_use(std::slice::from_mut(&mut problem), planned.used.as_ref());
    Some(problem)
}

fn seconds(micros: f64) -> String {
    format!("{:.2} s", micros / 1e6)
}

/// Rounded down, because a tempo that is rounded up is no longer safe. A hair is added first, so that what is whole
/// but for the last digit of a float stays what it is.
pub(super) fn floor(value: f64) -> f64 {
    (value + 1e-6).floor()
}
