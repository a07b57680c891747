//! What nearly went wrong, as people reported it: a figure beside holds and stops, and never one of them.

use serde::Serialize;

use super::times::Times;
use crate::event::What;
use crate::journal::EventRow;

/// A near miss.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct NearMiss {
    /// The number of its event in the journal.
    pub event: u64,
    /// The run; nothing when none was meant.
    pub run: Option<u32>,
    /// When it was reported, in the house's zone: day and time of day.
    pub at: String,
    /// Who reported it; nothing where they gave no name.
    pub who: Option<String>,
    /// The phrase; nothing when no place was given.
    pub phrase: Option<String>,
    /// The beat as the score writes it.
    pub beat: Option<String>,
    /// The move in words.
    pub words: Option<String>,
    /// Percent of performance tempo; nothing in a walk-through and where no place was given.
    pub speed: Option<u16>,
    /// Why.
    pub reason: Option<String>,
    /// What was noted.
    pub note: Option<String>,
}

impl NearMiss {
    /// That of an event, if it is one.
    pub(super) fn of(row: &EventRow, times: &Times<'_>) -> Option<NearMiss> {
        let What::NearMiss { reason, note } = &row.event.what else { return None };
        let spot = row.event.spot.as_ref();
        Some(NearMiss {
            event: row.seq,
            run: row.event.run,
            at: times.both(&row.utc),
            who: row.event.name().map(str::to_owned),
            phrase: spot.map(|spot| spot.phrase_name.clone()),
            beat: spot.map(|spot| spot.beat.clone()),
            words: spot.and_then(|spot| spot.words.clone()),
            speed: row.event.percent,
            reason: reason.clone(),
            note: note.clone(),
        })
    }
}
