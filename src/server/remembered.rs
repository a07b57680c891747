//! What was signed and noted in the call that goes on, when the server is started anew in the middle of it: read back
//! from the journal, so that nobody has to sign twice.

use std::path::Path;

use jiff::Timestamp;
use tracing::warn;

use crate::call::{Remembered, Signature};
use crate::journal::{EventKind, EventRow, Reader};
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

fn of_event(event: &EventRow, now: ServerTime, utc: Timestamp) -> Option<Remembered> {
    let text = |key: &str| event.detail.get(key).and_then(|value| value.as_str()).map(str::to_owned);
    let flag = |key: &str| event.detail.get(key).and_then(serde_json::Value::as_bool);
    match EventKind::from_word(&event.kind)? {
        EventKind::Check => {
            let at: Timestamp = event.utc.parse().ok()?;
            let ago = utc.as_microsecond().saturating_sub(at.as_microsecond());
            let signature = Signature {
                by: text("signed_by").or_else(|| event.who.clone())?,
                at: ServerTime(now.0.saturating_sub(ago)),
                in_order: flag("in_order").unwrap_or(true),
                note: text("note"),
            };
            Some(Remembered::Check(event.reason.clone()?, signature))
        }
        EventKind::Attendance => Some(Remembered::Person(text("person")?, flag("present")?)),
        _ => None,
    }
}
