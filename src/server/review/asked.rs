//! What is asked for, from the wire's words into the review's and back. What cannot be meant gets a sentence.

use axum::http::StatusCode;
use jiff::civil::Date;

use crate::review::{CallOrder, Filter, Proposed, Review};
use crate::server::answer::No;
use crate::wire::{ReviewAsked, ReviewChoice, ReviewOrder, ReviewProposed};

/// The longest name that is looked for, in characters; no fight and no phrase is called so.
const LONGEST: usize = 300;

/// The filter that is meant.
pub(super) fn filter(asked: &ReviewAsked) -> Result<Filter, No> {
    let given = |text: &Option<String>| text.as_deref().map(str::trim).filter(|text| !text.is_empty()).map(shortened);
    let day = |text: &Option<String>| given(text).map(|text| read_day(&text)).transpose();
    let (since, until) = (day(&asked.since)?, day(&asked.until)?);
    if let (Some(since), Some(until)) = (since, until)
        && since > until
    {
        let says = format!("The first day, {since}, comes after the last, {until}. Change one of them.");
        return Err(No::new(StatusCode::UNPROCESSABLE_ENTITY, says));
    }
    let (fight, phrase, weapons) = (given(&asked.fight), given(&asked.phrase), given(&asked.weapons));
    Ok(Filter { since, until, fight, phrase, weapons })
}

fn shortened(text: &str) -> String {
    text.chars().take(LONGEST).collect()
}

fn read_day(text: &str) -> Result<Date, No> {
    text.parse().map_err(|_| {
        let says = format!("“{text}” is no day. Write a day as year, month and day: 2026-03-01.");
        No::new(StatusCode::UNPROCESSABLE_ENTITY, says)
    })
}

/// A filter in the wire's words.
pub(super) fn told(filter: &Filter) -> ReviewAsked {
    ReviewAsked {
        since: filter.since.map(|day| day.to_string()),
        until: filter.until.map(|day| day.to_string()),
        fight: filter.fight.clone(),
        phrase: filter.phrase.clone(),
        weapons: filter.weapons.clone(),
    }
}

/// A proposed order in the wire's words.
pub(super) fn order(order: &CallOrder) -> ReviewOrder {
    let row = |it: &Proposed| ReviewProposed {
        fight: it.fight.clone(),
        first: it.first.clone(),
        last: it.last.clone(),
        percent: it.percent,
        minutes: it.minutes,
        with: it.with.clone(),
        why: it.why.clone(),
    };
    ReviewOrder { rule: order.rule.clone(), rows: order.rows.iter().map(row).collect(), minutes: order.minutes }
}

/// What can be asked for.
pub(super) fn choices(review: &Review) -> Vec<ReviewChoice> {
    let choice = |it: &crate::review::Choice| ReviewChoice { fight: it.fight.clone(), phrases: it.phrases.clone() };
    review.choices.iter().map(choice).collect()
}
