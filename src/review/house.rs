//! What the house decides about its reviews, and what is asked of one.

use std::sync::Arc;

use jiff::civil::Date;
use jiff::tz::TimeZone;
use serde::Serialize;

use super::times::Times;
use crate::check::HouseRules;
use crate::journal::JournalError;
use crate::score::vocabulary::Vocabulary;
use crate::stage::StagePlan;

/// What the house decides.
#[derive(Clone, Debug)]
pub struct House {
    /// The production's name, where it is known.
    pub production: Option<String>,
    /// The words that its scores are written in.
    pub vocabulary: Vocabulary,
    /// Its limits, for how fast a phrase can go.
    pub rules: HouseRules,
    /// The plan of its stage, where it has one: breaks are shown on it.
    pub stage: Option<Arc<StagePlan>>,
    /// How phrases climb to performance tempo.
    pub ladder: Ladder,
    /// What the company checks and signs before a call: weapons, floor, marks, injuries.
    pub before_call: Vec<String>,
    /// The zone in which days and times of day are told.
    pub zone: TimeZone,
    /// How much is looked at where no day is named.
    pub extent: Extent,
}

impl House {
    /// The filter for an event of which the time is known (RFC 3339): its day, and the one before, on which its call may
    /// have begun. Everything where it is no time.
    pub fn around(&self, utc: &str) -> Filter {
        let day = Times { zone: &self.zone }.day(utc);
        Filter { since: day.map(|day| day.yesterday().unwrap_or(day)), until: day, ..Filter::default() }
    }
}

impl Default for House {
    fn default() -> House {
        House {
            production: None,
            vocabulary: Vocabulary::built_in(),
            rules: HouseRules::default(),
            stage: None,
            ladder: Ladder::default(),
            before_call: Vec::new(),
            zone: TimeZone::UTC,
            extent: Extent::default(),
        }
    }
}

/// How much is looked at where no day is named.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Extent {
    /// So many of the newest fight calls: some months of eight shows a week.
    pub calls: usize,
    /// And of so many events, where one call after the other is as long as no call should be: what that many take of
    /// memory is tens of megabytes.
    pub events: usize,
    /// So many events are read first, then twice as many, until there is enough.
    pub first: usize,
    /// Of a journal with more rows than this only what is counted is looked at for damage; of others every row, which
    /// takes a second.
    pub short: i64,
}

impl Default for Extent {
    fn default() -> Extent {
        Extent { calls: 100, events: 1 << 17, first: 1 << 13, short: 200_000 }
    }
}

/// The speed ladder. All of it is the house's to decide; the usual values are planning values without a source.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Ladder {
    /// The steps, percent of performance tempo, rising. What is slower than the first is a walk.
    pub steps: Vec<u16>,
    /// So many clean runs in a row that count for a step, and it is stood on; so many newest ones, and the next one may be
    /// tried. At least 1.
    pub up_after: u32,
    /// So many broken runs in a row that count against a step, and it is stood on no more. At least 1.
    pub down_after: u32,
}

impl Default for Ladder {
    fn default() -> Ladder {
        Ladder { steps: vec![50, 65, 80, 90, 100], up_after: 3, down_after: 2 }
    }
}

/// What a review is asked about; what is not said is not asked for.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize)]
pub struct Filter {
    /// Only what happened on this day or later.
    pub since: Option<Date>,
    /// Only what happened on this day or before.
    pub until: Option<Date>,
    /// Only this fight: its name, or a beginning that no other has; capitals do not matter.
    pub fight: Option<String>,
    /// Only this phrase: the same way.
    pub phrase: Option<String>,
    /// Only runs with this set of weapons: the same way; [`AS_WRITTEN`] for those that the score names.
    pub weapons: Option<String>,
}

/// What stands for the weapons that a score names, where sets of weapons are told apart.
pub(super) const AS_WRITTEN: &str = "as the score says";

impl Filter {
    /// True when something of that day is asked for. What has no day that can be read is kept.
    pub(super) fn wants(&self, day: Option<Date>) -> bool {
        day.is_none_or(|day| self.since.is_none_or(|since| since <= day) && self.until.is_none_or(|until| day <= until))
    }

    /// True when that day is not after those that are asked for.
    pub(super) fn wants_before(&self, day: Option<Date>) -> bool {
        day.is_none_or(|day| self.until.is_none_or(|until| day <= until))
    }
}

/// Why there is no review.
#[derive(Debug, thiserror::Error)]
pub enum ReviewError {
    /// The journal cannot be read; see there.
    #[error(transparent)]
    Journal(#[from] JournalError),
    /// Nothing of that name was run. Remedy: one of the list.
    #[error("No {what} of the journal is called “{asked}”. There is: {choices}.")]
    Unknown {
        /// `fight` or `phrase`.
        what: &'static str,
        /// What was asked for.
        asked: String,
        /// What there is.
        choices: String,
    },
    /// More than one begins so. Remedy: more of the name.
    #[error("More than one {what} begins with “{asked}”: {choices}. Write more of the name.")]
    Ambiguous {
        /// `fight` or `phrase`.
        what: &'static str,
        /// What was asked for.
        asked: String,
        /// Those that begin so.
        choices: String,
    },
}

/// The name among `names` that a person means.
///
/// # Errors
/// `Unknown`, `Ambiguous`.
pub(super) fn named(what: &'static str, asked: &str, names: &[&str]) -> Result<String, ReviewError> {
    let wanted = asked.trim().to_lowercase();
    let list = |names: &[&str]| if names.is_empty() { "nothing".to_owned() } else { names.join(", ") };
    if let Some(exact) = names.iter().find(|name| name.to_lowercase() == wanted) {
        return Ok((*exact).to_owned());
    }
    let begin_so: Vec<&str> = names.iter().copied().filter(|name| name.to_lowercase().starts_with(&wanted)).collect();
    match begin_so.as_slice() {
        [only] => Ok((*only).to_owned()),
        [] => Err(ReviewError::Unknown { what, asked: asked.to_owned(), choices: list(names) }),
        several => Err(ReviewError::Ambiguous { what, asked: asked.to_owned(), choices: list(several) }),
    }
}
