//! How long things took before: from the call of places to the end of a run that came to it, by what was run and how fast.
//! It is read from the journal once, beside everything else, after a start.

use std::collections::HashMap;

use crate::call::{Drive, SetupRequest};
use crate::event::{self, EventKind, RunEnd};
use crate::journal::{EventRow, JournalError, Reader, RunRow};
use crate::score::model::Score;

/// So many of the last times count.
const LAST: usize = 12;
/// And so many of the newest events: what took how long years ago says nothing of tonight.
const NEWEST: usize = 1 << 14;

/// What is run, and how fast: fight, first and last phrase by name, percent or a walk-through.
type What = (String, String, String, Option<u16>);

/// How long things took, seconds, the last time last.
#[derive(Clone, Debug, Default, PartialEq)]
pub(super) struct PastTimes(HashMap<What, Vec<u32>>);

impl PastTimes {
    /// Reads what a journal tells.
    ///
    /// # Errors
    /// Those of the journal.
    pub(super) fn read(reader: &Reader) -> Result<PastTimes, JournalError> {
        let (events, all) = reader.newest_events(NEWEST)?;
        let first = events.iter().filter(|row| matches!(row.event.what, event::What::Start { .. }));
        let first = first.filter_map(|row| row.event.run).min();
        let runs = match first {
            _ if all => reader.runs()?,
            Some(first) => reader.runs_from(first)?,
            None => Vec::new(),
        };
        let places: Vec<EventRow> =
            events.into_iter().filter(|row| row.event.what.kind() == Some(EventKind::Places)).collect();
        Ok(PastTimes::of_runs(&runs, &places))
    }

    fn of_runs(runs: &[RunRow], places: &[EventRow]) -> PastTimes {
        let mut times: HashMap<What, Vec<u32>> = HashMap::new();
        let mut called: HashMap<i64, Vec<i64>> = HashMap::new();
        places.iter().for_each(|row| called.entry(row.session).or_default().push(row.event.at.0));
        for run in runs.iter().filter(|run| run.how == Some(RunEnd::Complete) && run.begun.from_move.is_none()) {
            let begun = &run.begun;
            // They are in order of the server's clock.
            let called = called
                .get(&run.session)
                .and_then(|all| all.get(all.partition_point(|at| *at <= begun.server_us).checked_sub(1)?).copied());
            let Some(took) = called.zip(run.ended_us).map(|(from, to)| to - from).filter(|us| *us > 0) else {
                continue;
            };
            let what = (begun.fight.clone(), begun.from_name.clone(), begun.to_name.clone(), begun.percent);
            times.entry(what).or_default().push(u32::try_from(took / 1_000_000).unwrap_or(u32::MAX));
        }
        PastTimes(times)
    }

    /// How long it took in the middle the last times, seconds; nothing when it was never done like this.
    pub(super) fn of(&self, request: &SetupRequest, score: &Score) -> Option<u32> {
        let name = |at: usize| score.phrases.get(at).map(|phrase| phrase.name.clone());
        let percent = (request.drive == Drive::Clock).then_some(request.percent);
        let times = self.0.get(&(request.fight.clone(), name(request.first)?, name(request.last)?, percent))?;
        let mut last: Vec<u32> = times.iter().rev().take(LAST).copied().collect();
        last.sort_unstable();
        last.get(last.len() / 2).copied()
    }
}
