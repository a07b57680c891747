//! What is found in a journal that is not whole: one thing that is damaged or missing, at its place.

use serde::Serialize;

/// Something that is damaged or missing.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Finding {
    /// What kind: `tables`, `pages`, `unreadable`, `altered`, `missing`, `reference`, `hold`, `run`, `session`, `head`.
    pub code: &'static str,
    /// The event it is at, or the last one before it.
    pub seq: Option<i64>,
    /// That event's time.
    pub utc: Option<String>,
    /// A sentence.
    pub says: String,
}

/// So many sentences are said; the rest are counted.
const MOST: usize = 50;

/// The first of these sentences, and how many more there are.
pub fn first_of(says: &[String]) -> Vec<String> {
    let more = says.len().saturating_sub(MOST);
    says.iter().take(MOST).cloned().chain((more > 0).then(|| format!("And {more} more."))).collect()
}
