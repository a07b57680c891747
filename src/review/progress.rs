//! Whether a phrase gets better: the newest week of runs against the week before it, and the newest text of the phrase
//! against the text before it. The tests are those of `statistics`; "too few runs to say" is an answer.

use jiff::Span;
use jiff::civil::Date;
use serde::Serialize;

use super::history::Fight;
use super::pass::{Pass, breaks, clean};
use super::statistics::{ProportionChange, RateChange};

/// Two groups of runs of a phrase, compared.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Change {
    /// Which runs the first group is.
    pub before: String,
    /// Which runs the second group is.
    pub after: String,
    /// Their proportions of clean runs; more is better.
    pub clean: ProportionChange,
    /// Their breaks in a minute of running; fewer is better.
    pub breaks: RateChange,
}

impl Change {
    fn of(before: (String, Vec<Pass<'_>>), after: (String, Vec<Pass<'_>>)) -> Option<Change> {
        if before.1.is_empty() || after.1.is_empty() {
            return None;
        }
        Some(Change {
            clean: clean(&before.1).change_to(clean(&after.1)),
            breaks: breaks(&before.1).change_to(breaks(&after.1)),
            before: before.0,
            after: after.0,
        })
    }
}

/// The seven days that end with the newest run, against the seven days before them.
pub(super) fn weeks(passes: &[Pass<'_>]) -> Option<Change> {
    let newest = passes.iter().filter_map(|pass| pass.run.day).max()?;
    let (week, fortnight) = (back(newest, 6)?, back(newest, 13)?);
    let between = |from: Date, to: Date| -> Vec<Pass<'_>> {
        passes.iter().copied().filter(|pass| pass.run.day.is_some_and(|day| from <= day && day <= to)).collect()
    };
    let before_week = back(week, 1)?;
    Change::of(
        (format!("{fortnight} to {before_week}"), between(fortnight, before_week)),
        (format!("{week} to {newest}"), between(week, newest)),
    )
}

fn back(day: Date, days: i32) -> Option<Date> {
    day.checked_sub(Span::new().try_days(days).ok()?).ok()
}

/// The text that the phrase has now, in whichever revisions it reads so, against the text that it had before.
pub(super) fn revisions(fight: &Fight, newest: usize, phrase: &str, passes: &[Pass<'_>]) -> Option<Change> {
    let text = |edition: usize| Some(fight.editions.get(edition)?.phrase(phrase)?.1);
    let now = text(newest)?;
    let is = |edition: usize, like| text(edition).is_some_and(|text| text.does_the_same_as(like));
    let last_before = passes.iter().rev().map(|pass| pass.run.edition).find(|edition| !is(*edition, now))?;
    let then = text(last_before)?;
    let of = |like| passes.iter().copied().filter(|pass| is(pass.run.edition, like)).collect::<Vec<_>>();
    let short = |edition: usize| fight.editions.get(edition).map(|it| it.short()).unwrap_or_default();
    Change::of((format!("as in {}", short(last_before)), of(then)), (format!("as in {}", short(newest)), of(now)))
}
