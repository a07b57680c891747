//! What the review page asks for and gets, over HTTP with a personal key, as JSON. Every question carries the whole
//! filter: what a page shows, its folds, its events and its files are of the same selection.

use serde::{Deserialize, Serialize};
use ts_rs::TS;

/// `/api/review`: what of the journal is wanted. What is not given, or empty, is not asked for.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(deny_unknown_fields)]
pub struct ReviewAsked {
    /// From this day on: `2026-03-01`.
    pub since: Option<String>,
    /// Up to this day.
    pub until: Option<String>,
    /// This fight only: its name, or a beginning that no other has.
    pub fight: Option<String>,
    /// This phrase only: the same way.
    pub phrase: Option<String>,
    /// Runs with this set of weapons only: the same way.
    #[serde(default)]
    pub weapons: Option<String>,
}

/// The answer: the review as markup, and what else can be asked for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
pub struct ReviewPage {
    /// The review, the same markup as in `holdfast report --format html`; its closed folds (`data-part`) are empty.
    pub markup: String,
    /// What was asked for, with the names that were meant.
    pub filter: ReviewAsked,
    /// Every fight that was run.
    pub choices: Vec<ReviewChoice>,
    /// The sets of weapons that runs were done with, where there are any.
    pub weapons: Vec<String>,
    /// How many rows the journal had; the same number is the same review.
    #[ts(type = "number")]
    pub rows: i64,
}

/// A fight that can be asked for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
pub struct ReviewChoice {
    /// Its name.
    pub fight: String,
    /// Its phrases.
    pub phrases: Vec<String>,
}

/// The answer to `/api/review/order`, which is asked as `/api/review` is: a proposed order for the next call. Each line is
/// what a call can be set up with as it is.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct ReviewOrder {
    /// How it is made, in words.
    pub rule: String,
    /// What to do, what matters most first.
    pub rows: Vec<ReviewProposed>,
    /// How long all of it takes, minutes.
    pub minutes: u32,
}

/// A line of a proposed order.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct ReviewProposed {
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
    /// Why, in a sentence.
    pub why: String,
}

/// `/api/review/part`: the body of a fold.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(deny_unknown_fields)]
pub struct ReviewPartAsked {
    /// Of which review.
    pub filter: ReviewAsked,
    /// The fold's `data-part`.
    pub part: String,
}

/// `/api/review/event`: a hold or stop, told whole.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(deny_unknown_fields)]
pub struct ReviewEventAsked {
    /// The number of its event in the journal.
    #[ts(type = "number")]
    pub event: u64,
}

/// A piece of a review, as markup.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
pub struct ReviewPiece {
    /// The markup.
    pub markup: String,
}

/// `/api/review/file`: the review as a file, the same as `holdfast report` prints. The answer is the file itself.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(deny_unknown_fields)]
pub struct ReviewFileAsked {
    /// Of which review.
    pub filter: ReviewAsked,
    /// Which file.
    pub file: ReviewFile,
}

/// A review as a file.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(rename_all = "kebab-case")]
pub enum ReviewFile {
    /// One page to print.
    Html,
    /// Everything, for a program.
    Json,
    /// For a spreadsheet: a row for each phrase.
    Phrases,
    /// A row for each move.
    Moves,
    /// A row for each hold and stop.
    Breaks,
    /// A row for each run of each phrase.
    Runs,
    /// A row for each fight call.
    Calls,
}
