//! How much of a journal is looked at: where no day is named, the newest fight calls, so that what tonight asks is answered
//! as fast after ten years as after one month. No summary is kept beside the rows, which would be a second truth: the end
//! of the journal is read, further back until there is enough.

use std::ops::Range;

use serde::Serialize;

use super::calls::{self, Calls};
use super::house::{Extent, Filter};
use super::times::Times;
use crate::event::What;
use crate::journal::{EventRow, JournalError, Reader};

/// That there is more than was looked at.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Older {
    /// How many fight calls were looked at: the newest.
    pub looked_at: usize,
    /// The number of the first event that was looked at.
    pub first_event: u64,
    /// The day on which the journal was begun.
    pub begun: Option<String>,
    /// True when the first of them is so long that only its end was looked at.
    pub in_the_middle: bool,
}

impl Older {
    /// What a reader must know of it.
    pub fn says(&self) -> String {
        let middle = if self.in_the_middle { ", of the first of them only the end" } else { "" };
        let begun = self.begun.as_ref().map_or_else(String::new, |day| format!("; the log goes back to {day}"));
        match self.looked_at {
            1 => format!("Only the newest fight call was looked at{middle}{begun}: choose days to see earlier ones."),
            calls => format!(
                "Only the newest {calls} fight calls were looked at{middle}{begun}: choose days to see earlier ones."
            ),
        }
    }
}

/// The part of a journal that is looked at, and some calls before it, which tell who was there when it began.
pub(super) struct Newest {
    pub(super) events: Vec<EventRow>,
    pub(super) calls: Calls,
    /// The place of the first event that is looked at.
    pub(super) from: usize,
    /// True when that is all there is.
    pub(super) whole: bool,
    pub(super) older: Option<Older>,
}

impl Newest {
    /// The number of the first run that began in what is looked at; nothing where none did.
    pub(super) fn first_run(&self) -> Option<u32> {
        let newest = self.events.get(self.from..).unwrap_or_default();
        newest.iter().filter(|row| matches!(row.event.what, What::Start { .. })).filter_map(|row| row.event.run).min()
    }
}

/// Reads as much as the filter asks for.
///
/// # Errors
/// Those of the journal.
pub(super) fn read(
    reader: &Reader,
    filter: &Filter,
    extent: Extent,
    times: &Times<'_>,
) -> Result<Newest, JournalError> {
    let mut most = extent.first.max(1);
    loop {
        let (events, all) = reader.newest_events(most)?;
        let calls = calls::divide(&events);
        let part = Part { events: &events, calls: &calls, all };
        let Some(from) = part.from(filter, extent, times) else {
            most = most.saturating_mul(2);
            continue;
        };
        let more = filter.since.is_none() && (from > 0 || !all);
        let first = events.get(from).filter(|_| more);
        let begun = if more { reader.begun()? } else { None };
        let older = first.map(|first| Older {
            looked_at: calls.ranges.iter().filter(|range| range.start >= from && part.counts(range)).count(),
            first_event: first.seq,
            begun: begun.and_then(|utc| times.day(&utc)).map(|day| day.to_string()),
            in_the_middle: from == 0,
        });
        return Ok(Newest { older, events, calls, from, whole: all && from == 0 });
    }
}

/// The end of a journal, divided into calls; `all` when it is the whole.
struct Part<'e> {
    events: &'e [EventRow],
    calls: &'e Calls,
    all: bool,
}

impl Part<'_> {
    /// The place of the first event to be looked at, where what was read is enough.
    fn from(&self, filter: &Filter, extent: Extent, times: &Times<'_>) -> Option<usize> {
        if filter.since.is_some() {
            return (self.all || self.is_before(filter, times)).then_some(0);
        }
        // Of the first one the beginning may be missing.
        let whole = self.calls.ranges.get(usize::from(!self.all)..).unwrap_or_default();
        let wanted = |range: &&Range<usize>| {
            self.counts(range)
                && self.events.get(range.start).is_some_and(|row| filter.wants_before(times.day(&row.utc)))
        };
        if let Some(range) = whole.iter().rev().filter(wanted).nth(extent.calls.saturating_sub(1)) {
            return Some(range.start);
        }
        let long = filter.until.is_none() && self.events.len() >= extent.events;
        let first = whole.iter().find(|range| self.counts(range)).map_or(0, |range| range.start);
        if self.all { Some(0) } else { long.then_some(first) }
    }

    /// True when the first two calls lie before the days that are asked for. One might by a clock that was set wrong.
    fn is_before(&self, filter: &Filter, times: &Times<'_>) -> bool {
        let first = self.calls.ranges.iter().take(2);
        let before = |at: &usize| {
            let day = self.events.get(*at).and_then(|row| times.day(&row.utc));
            day.zip(filter.since).is_some_and(|(day, since)| day < since)
        };
        self.calls.ranges.len() > 2 && first.clone().all(|range| before(&range.start) && before(&(range.end - 1)))
    }

    /// True of a call in which something was done that a record tells.
    fn counts(&self, range: &Range<usize>) -> bool {
        let events = self.events.get(range.clone()).unwrap_or_default();
        events.iter().any(|row| {
            use What::{Check, Hold, NearMiss, Start, Stop};
            matches!(row.event.what, Start { .. } | Hold { .. } | Stop { .. } | NearMiss { .. } | Check { .. })
        })
    }
}
