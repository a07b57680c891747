//! What to drill next: every phrase by what it is likely to cost at least, so that both the cost and how sure it is
//! decide. The rule is told in one sentence.

use serde::Serialize;

use super::estimate::{Share, median};
use super::history::Outcome;
use super::phrase::{MoveReview, PhraseReview, VisitReview};
use super::statistics::{FEWEST, Proportion};

/// So many of the newest runs count.
pub(super) const NEWEST: usize = 20;
/// The confidence of the interval whose low end counts.
const CONFIDENCE: f64 = 0.8;
/// With fewer breaks whose cost is known, the cost is that of the fight.
const FEWEST_COSTS: u64 = 3;

/// What to drill, in order.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Drill {
    /// The rule.
    pub rule: String,
    /// The phrases that broke, the costliest first.
    pub rows: Vec<DrillRow>,
    /// Phrases with too few runs to be ranked: fight, phrase, runs.
    pub too_few: Vec<(String, String, u64)>,
}

/// A phrase to drill.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct DrillRow {
    /// The fight.
    pub fight: String,
    /// The phrase.
    pub phrase: String,
    /// How often it broke in its newest runs by the clock.
    pub broke: Share,
    /// The low end of the 80 % interval of that.
    pub at_least: f64,
    /// What a break of it costs, seconds to the next start.
    pub cost_seconds: Option<f64>,
    /// True when that is the middle cost in the whole fight, because too few of this phrase's are known.
    pub cost_of_fight: bool,
    /// Seconds a run that it costs at least: what it is ranked by.
    pub least_seconds: f64,
    /// The moves at which it breaks most, the worst first; three at most.
    pub worst: Vec<MoveReview>,
}

/// The rule in one sentence.
fn rule() -> String {
    format!(
        "Phrases are ranked by the least they are likely to cost in a run: the low end of the {:.0} % interval of how \
         often they broke in their last {NEWEST} runs by the clock, times the middle time from a break to the next \
         start (the fight's, where fewer than {FEWEST_COSTS} of the phrase's own are known).",
        CONFIDENCE * 100.0
    )
}

/// Ranks the phrases of all fights.
pub(super) fn rank<'r>(fights: impl Iterator<Item = (&'r str, &'r [PhraseReview])>) -> Drill {
    let mut drill = Drill { rule: rule(), ..Drill::default() };
    for (fight, phrases) in fights {
        let mut costs: Vec<f64> =
            phrases.iter().flat_map(|it| &it.visits).filter_map(|visit| visit.lost_seconds).collect();
        let of_fight = median(&mut costs);
        for phrase in phrases {
            match row(fight, phrase, of_fight) {
                Some(row) if row.broke.of < FEWEST => {
                    drill.too_few.push((row.fight, row.phrase, row.broke.of));
                }
                Some(row) if row.broke.count > 0 => drill.rows.push(row),
                _ => {}
            }
        }
    }
    drill.rows.sort_by(|a, b| {
        let by = |row: &DrillRow| (row.least_seconds, row.at_least);
        b.least_seconds.total_cmp(&a.least_seconds).then(by(b).1.total_cmp(&by(a).1))
    });
    drill
}

/// What is known of a phrase's breaks; nothing where no run by the clock is known.
pub(super) fn row(fight: &str, phrase: &PhraseReview, of_fight: Option<f64>) -> Option<DrillRow> {
    let known = |visit: &&VisitReview| visit.speed.is_some() && visit.outcome.counts();
    let newest: Vec<&VisitReview> = phrase.visits.iter().rev().filter(known).take(NEWEST).collect();
    if newest.is_empty() {
        return None;
    }
    let broke = newest.iter().filter(|visit| visit.outcome == Outcome::Broke).count();
    let broke = Proportion::new(broke as u64, newest.len() as u64);
    let own = phrase.lost_known >= FEWEST_COSTS;
    let cost = if own { phrase.lost_median } else { of_fight };
    let at_least = broke.wilson(CONFIDENCE).low;
    let mut worst: Vec<MoveReview> = phrase.moves.iter().filter(|it| it.broke > 0).cloned().collect();
    worst.sort_by_key(|it| std::cmp::Reverse(it.broke));
    worst.truncate(3);
    Some(DrillRow {
        fight: fight.to_owned(),
        phrase: phrase.phrase.clone(),
        broke: broke.into(),
        at_least,
        cost_seconds: cost,
        cost_of_fight: !own && cost.is_some(),
        least_seconds: at_least * cost.unwrap_or(0.0),
        worst,
    })
}
