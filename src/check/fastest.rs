//! The fastest safe tempo of every move and every phrase, and the move that limits it.
//!
//! Every time between two moves is inversely proportional to the tempo, also across changes of tempo when all of them
//! are scaled alike. So the largest factor on performance tempo at which a fighter has enough time is what they have
//! divided by what they need, and that of a phrase is the smallest of its moves.

use crate::score::model::{FighterId, Span};
use crate::units::Micros;

use super::scene::Scene;
use super::time::Gap;

/// How fast a fight can safely go.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Fastest {
    /// Every move that has a limit, in order of performance, repeats unrolled.
    pub moves: Vec<MoveFactor>,
    /// Every phrase of the score.
    pub phrases: Vec<PhraseLimit>,
}

/// How fast a move can safely go.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct MoveFactor {
    /// The phrase, counted from 0.
    pub phrase: usize,
    /// The largest factor on performance tempo at which it is safe.
    pub factor: f64,
}

/// The fastest safe tempo of a move, in words.
#[derive(Clone, Debug, PartialEq)]
pub struct MoveLimit {
    /// The phrase, counted from 0.
    pub phrase: usize,
    /// The number in the phrase, counted from 1, repeats unrolled.
    pub number: u32,
    /// The beat as the score writes it.
    pub beat: String,
    /// The move in words: `OSK cut head / MARET parry 5`.
    pub words: String,
    /// The line in the text.
    pub span: Span,
    /// Whose time is the shortest.
    pub fighter: FighterId,
    /// What they have at performance tempo.
    pub has: Micros,
    /// What they need to be safe.
    pub needs: Micros,
    /// The largest factor on performance tempo at which it is safe.
    pub factor: f64,
    /// Beats a minute at this move at that factor.
    pub bpm: f64,
}

/// The fastest safe tempo of a phrase.
#[derive(Clone, Debug, PartialEq)]
pub struct PhraseLimit {
    /// The phrase, counted from 0.
    pub phrase: usize,
    /// Its name.
    pub name: String,
    /// Its limiting move; nothing when nobody has two things to do one after the other.
    pub limit: Option<MoveLimit>,
}

impl Fastest {
    /// The largest factor on performance tempo at which the whole fight is safe; nothing when nothing limits it.
    pub fn factor(&self) -> Option<f64> {
        self.moves.iter().map(|limit| limit.factor).min_by(f64::total_cmp)
    }

    pub(super) fn of(scene: &Scene<'_>, gaps: &[Gap]) -> Fastest {
        let slowest = slowest(scene, gaps);
        let factor = |gap: &&Gap| Some(MoveFactor { phrase: phrase_of(scene, gap)?, factor: gap.factor() });
        let moves = slowest.iter().filter_map(factor).collect();
        let phrases = 0..scene.score.phrases.len();
        Fastest { moves, phrases: phrases.filter_map(|phrase| phrase_limit(scene, &slowest, phrase)).collect() }
    }
}

/// The shortest time of every move.
fn slowest<'g>(scene: &Scene<'_>, gaps: &'g [Gap]) -> Vec<&'g Gap> {
    let mut slowest: Vec<&Gap> = Vec::with_capacity(scene.plan.moves().len());
    for gap in gaps {
        match slowest.last_mut() {
            Some(last) if last.index == gap.index => {
                if gap.factor() < last.factor() {
                    *last = gap;
                }
            }
            _ => slowest.push(gap),
        }
    }
    slowest
}

/// The phrase of a move, counted from 0.
fn phrase_of(scene: &Scene<'_>, gap: &Gap) -> Option<usize> {
    let planned = scene.plan.moves().get(gap.index)?;
    Some(scene.plan.phrases().get(planned.phrase_in_range)?.phrase)
}

fn limit(scene: &Scene<'_>, gap: &Gap) -> Option<MoveLimit> {
    let planned = scene.plan.moves().get(gap.index)?;
    let phrase = phrase_of(scene, gap)?;
    let answer = match (planned.to, &planned.reply) {
        (Some(to), Some(reply)) => format!(" / {} {reply}", scene.fighter(to)),
        _ => String::new(),
    };
    Some(MoveLimit {
        phrase,
        number: planned.number,
        beat: planned.beat.beat_label(),
        words: format!("{} {}{answer}", scene.fighter(planned.who), planned.action),
        span: planned.span.clone(),
        fighter: gap.fighter,
        has: Micros(gap.has_us.round() as i64),
        needs: Micros(gap.safe_us.round() as i64),
        factor: gap.factor(),
        bpm: scene.plan.tempo().bpm_at(planned.at) * gap.factor(),
    })
}

fn phrase_limit(scene: &Scene<'_>, slowest: &[&Gap], phrase: usize) -> Option<PhraseLimit> {
    let name = scene.score.phrases.get(phrase)?.name.clone();
    // Moves are in order of performance, so those of a phrase stand together.
    let first = slowest.partition_point(|gap| phrase_of(scene, gap) < Some(phrase));
    let own = slowest.iter().skip(first).take_while(|gap| phrase_of(scene, gap) == Some(phrase));
    let limit = own.min_by(|a, b| a.factor().total_cmp(&b.factor())).and_then(|gap| limit(scene, gap));
    Some(PhraseLimit { phrase, name, limit })
}
