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
