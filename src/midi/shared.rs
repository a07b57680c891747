//! What the handle, the sending thread and the watching thread share.

use std::collections::VecDeque;
use std::sync::Mutex;
use std::sync::atomic::Ordering::Relaxed;
use std::sync::atomic::{AtomicBool, AtomicU64};

use super::status::{MidiStatus, Sent};
use crate::faults::Faults;

/// Records that are kept when nobody asks for them; older ones go first.
const KEPT: usize = 1_024;

#[derive(Debug, Default)]
pub(super) struct Shared {
    /// The generation that lives. The sending thread looks at it before every message.
    pub(super) lives: AtomicU64,
    /// Set by the sending thread when the port took a message no more.
    pub(super) broken: AtomicBool,
    pub(super) sent: AtomicU64,
    pub(super) late: AtomicU64,
    pub(super) dropped: AtomicU64,
    pub(super) silenced: AtomicU64,
    pub(super) lost: AtomicU64,
    pub(super) opened: AtomicU64,
    /// What failed in the threads.
    pub(super) faults: Faults,
    place: Mutex<Place>,
    records: Mutex<VecDeque<Sent>>,
}

/// Where MIDI goes, in words.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub(super) struct Place {
    pub(super) port: String,
    pub(super) well: bool,
    pub(super) says: String,
}

impl Shared {
    pub(super) fn set_place(&self, place: Place) {
        if let Ok(mut known) = self.place.lock() {
            *known = place;
        }
    }

    pub(super) fn keep(&self, sent: Sent) {
        if let Ok(mut records) = self.records.lock() {
            if records.len() >= KEPT {
                records.pop_front();
            }
            records.push_back(sent);
        }
    }

    pub(super) fn take_sent(&self) -> Vec<Sent> {
        self.records.lock().map(|mut records| records.drain(..).collect()).unwrap_or_default()
    }

    pub(super) fn status(&self) -> MidiStatus {
        let place = self.place.lock().map(|place| place.clone()).unwrap_or_default();
        let count = |counter: &AtomicU64| counter.load(Relaxed);
        MidiStatus {
            port: place.port,
            well: place.well,
            says: place.says,
            sent: count(&self.sent),
            late: count(&self.late),
            dropped: count(&self.dropped),
            silenced: count(&self.silenced),
            lost: count(&self.lost),
            opened: count(&self.opened),
        }
    }
}
