//! Which events belong to one fight call: a call ends when the desk ends it, or when nothing happens for a long while.
//! A server that was started anew in the middle does not end it. Clocks that jumped are noticed on the way.

use std::ops::Range;

use super::times::micros;
use crate::call::LONGEST_PAUSE;
use crate::event::What;
use crate::journal::EventRow;

/// A wall clock that goes ahead of or behind the server's own clock by more than this between two events was set.
const JUMP_US: i64 = 5_000_000;

/// The events of a journal, divided into calls.
pub(super) struct Calls {
    /// The events of each call, as places in the list.
    pub(super) ranges: Vec<Range<usize>>,
    /// How often the wall clock jumped, and the time of the first jump.
    pub(super) jumps: Option<(usize, String)>,
}

/// Divides events, given in order.
pub(super) fn divide(events: &[EventRow]) -> Calls {
    let mut calls = Calls { ranges: Vec::new(), jumps: None };
    let mut first = 0;
    let mut before: Option<(&EventRow, Option<i64>)> = None;
    // What the next server finds of the one that went away is written late, with the times of then.
    for (at, event) in events.iter().enumerate().filter(|(_, row)| !matches!(row.event.what, What::CutOff { .. })) {
        let now = micros(&event.utc);
        if let Some((last, then)) = before {
            let gap = gap(last, then, event, now);
            if gap.jumped {
                let jumps = calls.jumps.take();
                calls.jumps = Some(jumps.map_or((1, event.utc.clone()), |(count, first)| (count + 1, first)));
            }
            if is_end(last) || gap.us > LONGEST_PAUSE.0 {
                calls.ranges.push(first..at);
                first = at;
            }
        }
        before = Some((event, now));
    }
    if first < events.len() {
        calls.ranges.push(first..events.len());
    }
    calls
}

fn is_end(row: &EventRow) -> bool {
    matches!(row.event.what, What::End { .. })
}

struct Gap {
    us: i64,
    jumped: bool,
}

/// The time between two events. Within a start of the server its own clock is believed, which nobody can set.
fn gap(last: &EventRow, then: Option<i64>, event: &EventRow, now: Option<i64>) -> Gap {
    let wall = now.zip(then).map(|(now, then)| now.saturating_sub(then));
    if last.session != event.session {
        return Gap { us: wall.unwrap_or(0), jumped: wall.is_some_and(|wall| wall < -JUMP_US) };
    }
    let (then_us, now_us) = (last.event.at.0, event.event.at.0);
    let us = now_us.saturating_sub(then_us);
    // What the journal itself writes has no time of the server's clock.
    let told = then_us != 0 && now_us != 0;
    Gap {
        us: if told { us } else { wall.unwrap_or(us) },
        jumped: told && wall.is_some_and(|wall| wall.saturating_sub(us).saturating_abs() > JUMP_US),
    }
}
