//! A proposed order for the next call: which phrases, with whom, at which speed, for how long, and why. What speaks for a
//! phrase is a list of reasons; each has its points and its words, so that the order and the sentence are of one making.

use std::collections::BTreeMap;

use serde::Serialize;

use super::drill::{self, NEWEST};
use super::estimate::median;
use super::fight::FightReview;
use super::house::Ladder;
use super::ladder::Standing;
use super::phrase::{PhraseReview, TempoLimit, VisitReview};
use super::say;

/// What every figure of the rule is; all are planning values without a source.
const POINTS_BROKE: f64 = 10.0;
const SECONDS_A_POINT: f64 = 10.0;
const MOST_TIME: f64 = 5.0;
const POINTS_NEAR: f64 = 2.0;
const MOST_NEAR: f64 = 6.0;
/// Near misses of so many days count.
pub(super) const NEAR_DAYS: i64 = 14;
const POINTS_NEW_TEXT: f64 = 3.0;
const MOST_WEEKS: f64 = 3.0;
const POINTS_TEMPO: f64 = 2.0;
/// A phrase whose tempo is limited to less than this of performance tempo has a move to look at.
const NARROW: u16 = 110;
const POINTS_STEP: f64 = 1.0;
/// What has fewer points is not proposed.
const LEAST: f64 = 2.0;
/// So many phrases at the most.
const MOST: usize = 8;
/// Between two runs where nothing is known of the fight.
const BETWEEN_SECONDS: f64 = 60.0;
/// No shorter and no longer than this, minutes.
const MINUTES: (f64, f64) = (3.0, 15.0);

/// A proposed order.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct CallOrder {
    /// How it is made, in words.
    pub rule: String,
    /// What to do, what matters most first.
    pub rows: Vec<Proposed>,
    /// How long all of it takes, minutes.
    pub minutes: u32,
}

/// One line of an order: what a call can take over as it is.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Proposed {
    /// The fight.
    pub fight: String,
    /// The first phrase.
    pub first: String,
    /// The last phrase.
    pub last: String,
    /// Percent of performance tempo.
    pub percent: u16,
    /// How long, minutes.
    pub minutes: u32,
    /// With whom: `Bea as MARET`.
    pub with: Vec<String>,
    /// What speaks for it, in points.
    pub points: f64,
    /// What speaks for it, what weighs most first.
    pub reasons: Vec<Reason>,
    /// The same in a sentence.
    pub why: String,
}

/// Something that speaks for a phrase.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(tag = "kind", rename_all = "kebab-case")]
pub enum Reason {
    /// It broke.
    Broke {
        /// So often.
        count: u64,
        /// In so many of its newest runs by the clock.
        of: u64,
        /// The low end of the 80 % interval of that.
        at_least: f64,
        /// The beat and move at which it broke most, and how often.
        worst: Option<(String, String, u64)>,
    },
    /// Its breaks cost time.
    Time {
        /// Seconds a run that they cost at least.
        least_seconds: f64,
        /// Seconds that a break costs.
        cost_seconds: f64,
    },
    /// Near misses were told.
    NearMisses {
        /// How many lately.
        count: u64,
    },
    /// Its text changed, and these people have not run it so often as the house asks since.
    NewText {
        /// How often they have.
        runs: u64,
    },
    /// These people have not run it for long.
    Days {
        /// For so many days.
        days: i64,
    },
    /// A move in it limits its tempo.
    Tempo(TempoLimit),
    /// The ladder lets it try a step.
    Step {
        /// The step, percent of performance tempo.
        next: u16,
    },
}

impl Reason {
    /// What it weighs.
    pub fn points(&self) -> f64 {
        match self {
            Reason::Broke { at_least, .. } => POINTS_BROKE * at_least,
            Reason::Time { least_seconds, .. } => (least_seconds / SECONDS_A_POINT).min(MOST_TIME),
            Reason::NearMisses { count } => (POINTS_NEAR * *count as f64).min(MOST_NEAR),
            Reason::NewText { .. } => POINTS_NEW_TEXT,
            Reason::Days { days } => ((days / 7) as f64).clamp(0.0, MOST_WEEKS),
            Reason::Tempo(limit) if limit.percent < NARROW => POINTS_TEMPO,
            Reason::Tempo(_) => 0.0,
            Reason::Step { .. } => POINTS_STEP,
        }
    }

    fn is_of_breaks(&self) -> bool {
        matches!(self, Reason::Broke { .. } | Reason::Time { .. })
    }

    /// The same as a part of a sentence.
    fn words(&self) -> String {
        match self {
            Reason::Broke { count, of, worst, .. } => {
                let most = worst
                    .as_ref()
                    .map_or_else(String::new, |(beat, words, _)| format!(", most at beat {beat}, {words}"));
                format!("it broke in {count} of its last {}{most}", say::counted(*of as usize, "run", "runs"))
            }
            Reason::Time { cost_seconds, .. } => format!("a break there costs {}", say::seconds(*cost_seconds)),
            Reason::NearMisses { count } => {
                format!("{} lately", say::counted(*count as usize, "near miss was told", "near misses were told"))
            }
            Reason::NewText { runs: 0 } => "its text changed, and they have not run it since".to_owned(),
            Reason::NewText { runs } => {
                format!(
                    "its text changed, and they have run it {} since",
                    say::counted(*runs as usize, "time", "times")
                )
            }
            Reason::Days { days } => format!("these people have not run it for {days} days"),
            Reason::Tempo(TempoLimit { beat, words, percent, .. }) => {
                format!("beat {beat}, {words}, limits its tempo: by the checks no faster than {percent} %")
            }
            Reason::Step { next } => format!("the rule of the ladder lets it try {next} %"),
        }
    }
}

/// How an order is made, in words.
fn rule() -> String {
    format!(
        "Points: {POINTS_BROKE:.0} × the low end of the 80 % interval of how often a phrase broke in its last {NEWEST} runs by \
         the clock; 1 for every {SECONDS_A_POINT:.0} s a run that this costs at least, {MOST_TIME:.0} at most; {POINTS_NEAR:.0} \
         for every near miss of the last {NEAR_DAYS} days, {MOST_NEAR:.0} at most; {POINTS_NEW_TEXT:.0} when its text changed and \
         the people of its newest run have not run it as often since as the ladder asks; 1 for every week since they ran it, \
         {MOST_WEEKS:.0} at most; {POINTS_TEMPO:.0} when a move limits its tempo below {NARROW} % by the checks; \
         {POINTS_STEP:.0} when the ladder lets it try a step. The {MOST} phrases with the most points, {LEAST:.0} at least. Speed: \
         the step that may be tried, else the one it stands on, else the first; never faster than the checks’ limit. Time: as \
         many runs as the ladder asks in a row, with the usual time between two, {:.0} to {:.0} minutes. Planning values: the \
         fight captain decides.",
        MINUTES.0, MINUTES.1
    )
}

/// What else is known of the days that are looked at.
pub(super) struct Lately<'a> {
    /// The newest day, that "days since" are counted to.
    pub(super) newest: Option<jiff::civil::Date>,
    /// Near misses by fight and phrase.
    pub(super) near_misses: &'a BTreeMap<(String, String), u64>,
}

/// The order that these fights ask for.
pub(super) fn propose(fights: &[FightReview], ladder: &Ladder, lately: &Lately<'_>) -> CallOrder {
    let mut rows: Vec<Proposed> = fights.iter().flat_map(|fight| of_fight(fight, ladder, lately)).collect();
    rows.retain(|row| row.points >= LEAST);
    rows.sort_by(|a, b| b.points.total_cmp(&a.points));
    rows.truncate(MOST);
    CallOrder { rule: rule(), minutes: rows.iter().map(|row| row.minutes).sum(), rows }
}

fn of_fight(fight: &FightReview, ladder: &Ladder, lately: &Lately<'_>) -> Vec<Proposed> {
    let visits = fight.phrases.iter().flat_map(|phrase| &phrase.visits);
    let mut costs: Vec<f64> = visits.filter_map(|visit: &VisitReview| visit.lost_seconds).collect();
    let usual = median(&mut costs);
    let row = |phrase: &PhraseReview| {
        let near = lately.near_misses.get(&(fight.fight.clone(), phrase.phrase.clone())).copied().unwrap_or(0);
        proposed(fight, phrase, ladder, usual, near, lately.newest)
    };
    fight.phrases.iter().filter(|phrase| phrase.reached > 0).map(row).collect()
}

fn proposed(
    fight: &FightReview,
    phrase: &PhraseReview,
    ladder: &Ladder,
    usual: Option<f64>,
    near_misses: u64,
    newest: Option<jiff::civil::Date>,
) -> Proposed {
    let standing = &phrase.ladder;
    let mut reasons = broken(fight, phrase, usual);
    reasons.push(Reason::NearMisses { count: near_misses });
    if standing.is_new_text() {
        reasons.push(Reason::NewText { runs: standing.runs });
    }
    reasons.push(Reason::Days { days: days_since(standing, newest) });
    reasons.extend(phrase.limit.clone().map(Reason::Tempo));
    reasons.extend(standing.step.and(standing.may_try).map(|next| Reason::Step { next }));
    reasons.retain(|reason| reason.points() > 0.0);
    // How often it broke and what that costs are said together.
    let breaks: f64 = reasons.iter().filter(|it| it.is_of_breaks()).map(Reason::points).sum();
    let weight = |reason: &Reason| if reason.is_of_breaks() { breaks } else { reason.points() };
    reasons.sort_by(|a, b| weight(b).total_cmp(&weight(a)));
    let percent = percent(ladder, standing, phrase.limit.as_ref());
    Proposed {
        fight: fight.fight.clone(),
        first: phrase.phrase.clone(),
        last: phrase.phrase.clone(),
        percent,
        minutes: minutes(phrase.seconds, percent, standing.asked, usual),
        with: standing.cast.clone(),
        points: reasons.iter().map(Reason::points).sum(),
        why: sentence(&reasons),
        reasons,
    }
}

/// How often it broke, and what that costs.
fn broken(fight: &FightReview, phrase: &PhraseReview, usual: Option<f64>) -> Vec<Reason> {
    let Some(row) = drill::row(&fight.fight, phrase, usual).filter(|row| row.broke.count > 0) else {
        return Vec::new();
    };
    let worst = row.worst.first().map(|it| (it.beat.clone(), it.words.clone(), it.broke));
    let broke = Reason::Broke { count: row.broke.count, of: row.broke.of, at_least: row.at_least, worst };
    let time = row.cost_seconds.map(|cost_seconds| Reason::Time { least_seconds: row.least_seconds, cost_seconds });
    std::iter::once(broke).chain(time).collect()
}

fn days_since(standing: &Standing, newest: Option<jiff::civil::Date>) -> i64 {
    let last: Option<jiff::civil::Date> = standing.last_day.as_deref().and_then(|day| day.parse().ok());
    let days = newest.zip(last).and_then(|(newest, last)| newest.since(last).ok());
    days.map_or(0, |span| i64::from(span.get_days()))
}

fn percent(ladder: &Ladder, standing: &Standing, limit: Option<&TempoLimit>) -> u16 {
    let wanted = standing.may_try.or(standing.step).or(ladder.steps.first().copied()).unwrap_or(100);
    match limit.map(|limit| limit.percent).filter(|most| *most < wanted) {
        None => wanted,
        Some(most) => ladder.steps.iter().copied().filter(|step| *step <= most).max().unwrap_or(most.max(1)),
    }
}

fn minutes(seconds: f64, percent: u16, asked: u32, between: Option<f64>) -> u32 {
    let run = seconds * 100.0 / f64::from(percent.max(1)) + between.unwrap_or(BETWEEN_SECONDS);
    (f64::from(asked) * run / 60.0).ceil().clamp(MINUTES.0, MINUTES.1) as u32
}

/// The reasons as a sentence, what weighs most first.
fn sentence(reasons: &[Reason]) -> String {
    let said: Vec<String> = reasons.iter().map(Reason::words).collect();
    let text = said.join("; ");
    let mut letters = text.chars();
    letters.next().map_or_else(String::new, |first| format!("{}{}.", first.to_uppercase(), letters.as_str()))
}

impl Proposed {
    /// Who does what how fast, for how long: what a captain says before the reason.
    pub fn says(&self) -> String {
        let with = if self.with.is_empty() { String::new() } else { format!("{} ", self.with.join(", ")) };
        format!("{with}at {} %, {} min", self.percent, self.minutes)
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn limit(percent: u16) -> TempoLimit {
        TempoLimit { number: 2, beat: "3".into(), words: "A thrust belly / B parry 4".into(), percent }
    }

    #[test]
    fn every_reason_weighs_what_the_rule_says() {
        let broke = Reason::Broke { count: 7, of: 20, at_least: 0.2, worst: None };
        let rows = [
            (broke, 2.0),
            (Reason::Time { least_seconds: 25.0, cost_seconds: 60.0 }, 2.5),
            (Reason::Time { least_seconds: 500.0, cost_seconds: 600.0 }, 5.0),
            (Reason::NearMisses { count: 2 }, 4.0),
            (Reason::NearMisses { count: 9 }, 6.0),
            (Reason::NewText { runs: 1 }, 3.0),
            (Reason::Days { days: 6 }, 0.0),
            (Reason::Days { days: 15 }, 2.0),
            (Reason::Days { days: 90 }, 3.0),
            (Reason::Tempo(limit(104)), 2.0),
            (Reason::Tempo(limit(110)), 0.0),
            (Reason::Step { next: 80 }, 1.0),
        ];
        for (reason, points) in rows {
            assert!((reason.points() - points).abs() < 1e-9, "{reason:?}");
        }
    }

    #[test]
    fn the_sentence_is_made_of_the_reasons() {
        let worst = Some(("3".to_owned(), "A thrust belly / B parry 4".to_owned(), 5));
        let reasons = [
            Reason::Broke { count: 7, of: 20, at_least: 0.2, worst },
            Reason::NewText { runs: 1 },
            Reason::Tempo(limit(96)),
        ];
        assert_eq!(
            sentence(&reasons),
            "It broke in 7 of its last 20 runs, most at beat 3, A thrust belly / B parry 4; its text changed, and they have \
             run it 1 time since; beat 3, A thrust belly / B parry 4, limits its tempo: by the checks no faster than 96 %."
        );
        assert_eq!(sentence(&[]), "");
    }

    proptest! {
        #[test]
        fn nothing_is_proposed_faster_than_the_ladder_and_the_checks_let(
            step in prop::option::of(0..5_usize), may in any::<bool>(), most in 20..150_u16, seconds in 0.0..600.0, between in prop::option::of(0.0..900.0)
        ) {
            let ladder = Ladder::default();
            let next = ladder.steps.get(step.map_or(0, |step| step + 1)).copied();
            let standing = Standing { step: step.map(|step| ladder.steps[step]), next, may_try: next.filter(|_| may), ..Standing::default() };
            let free = percent(&ladder, &standing, None);
            let held = percent(&ladder, &standing, Some(&limit(most)));
            prop_assert!(held <= most.max(free.min(most)) && held <= free);
            prop_assert!(free <= standing.may_try.or(standing.step).unwrap_or(ladder.steps[0]));
            let minutes = minutes(seconds, held, 3, between);
            prop_assert!((3..=15).contains(&minutes));
        }
    }
}
