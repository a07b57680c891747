//! What was signed and noted in the call that goes on, when the server is started anew in the middle of it: read back
//! from the journal, so that nobody has to sign twice.

use std::path::Path;

use jiff::Timestamp;
use tracing::warn;

use crate::call::{Remembered, Signature};
use crate::event::What;
use crate::journal::{EventRow, Reader};
use crate::review;
use crate::units::ServerTime;

/// What the journal in that folder has of the call under way. `now` and `utc` are the same moment by two clocks. Waits
/// for the disk. A journal that cannot be read gives nothing: everything is signed anew then.
pub(super) fn remembered(data: &Path, now: ServerTime, utc: Timestamp) -> Vec<Remembered> {
    match Reader::open(data).and_then(|reader| review::under_way(&reader)) {
        Ok(events) => events.iter().filter_map(|event| of_event(event, now, utc)).collect(),
        Err(error) => {
            warn!("what was signed before this start is not known, so it is signed anew: {error}");
            Vec::new()
        }
    }
}

fn of_event(row: &EventRow, now: ServerTime, utc: Timestamp) -> Option<Remembered> {
    match &row.event.what {
        What::Check { check, in_order, note, by } => {
            let at: Timestamp = row.utc.parse().ok()?;
            let ago = utc.as_microsecond().saturating_sub(at.as_microsecond());
            let signature = Signature {
                by: by.as_deref().or(row.event.name())?.to_owned(),
                at: ServerTime(now.0.saturating_sub(ago)),
                in_order: *in_order,
                note: note.clone(),
            };
            Some(Remembered::Check(check.clone(), signature))
        }
        What::Attendance { person, present } => Some(Remembered::Person(person.clone(), *present)),
        _ => None,
    }
}
