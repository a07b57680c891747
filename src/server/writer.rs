//! What is written: what the call gives, what is the server's own, and how cues came out. Nothing waits; only a hold is
//! announced as written when the disk has it.

use jiff::{SignedDuration, Timestamp};
use tokio::sync::mpsc::UnboundedSender;
use tracing::{info, warn};

use super::request::Written;
use crate::call::MemberId;
use crate::event::{Entry, Event, What, Who};
use crate::journal::{Journal, Record};
use crate::time::{ServerClock, utc_now};
use crate::units::Micros;

/// What writes.
pub(super) struct Writer {
    journal: Journal,
    clock: ServerClock,
    /// Who hears that a hold is on disk.
    written: UnboundedSender<Written>,
}

impl Writer {
    pub(super) fn new(journal: Journal, clock: ServerClock, written: UnboundedSender<Written>) -> Writer {
        Writer { journal, clock, written }
    }

    /// Writes down what the call gives. A tap is announced as written once it is on disk.
    pub(super) fn entry(&self, entry: Entry) {
        self.entry_of(utc_now(), entry);
    }

    /// Writes down what happened under the last server and did not come to the disk, with the time of day that it had.
    pub(super) fn late(&self, entry: Entry) {
        let ago = match &entry {
            Entry::Event(event) => self.clock.now().since(event.at),
            _ => Micros::ZERO,
        };
        let utc = utc_now();
        self.entry_of(utc.saturating_sub(SignedDuration::from_micros(ago.0)).unwrap_or(utc), entry);
    }

    fn entry_of(&self, utc: Timestamp, entry: Entry) {
        let announced = match &entry {
            Entry::Event(event) => {
                speak(event);
                announced(event)
            }
            _ => None,
        };
        let record = Record::of(utc, entry);
        match announced {
            Some(news @ Written::Late { .. }) if !self.journal.keeps() => {
                // Nobody is to wait for a disk that takes nothing.
                drop(self.written.send(news));
                self.journal.record(record);
            }
            Some(news) => {
                let written = self.written.clone();
                self.journal.record_then(record, Box::new(move |_| drop(written.send(news))));
            }
            None => self.journal.record(record),
        }
    }

    /// Writes down an event that is not the call's.
    pub(super) fn note(&self, who: Option<Who>, what: What) {
        let event = Event { who, ..Event::new(self.journal.next_event(), self.clock.now(), what) };
        self.record(Record::of(utc_now(), event));
    }

    /// Writes down anything else.
    pub(super) fn record(&self, record: Record) {
        self.journal.record(record);
    }

    /// What failed in the journal, and how it is.
    pub(super) fn journal(&self) -> &Journal {
        &self.journal
    }
}

/// What is announced once the event is on disk, if anything is.
fn announced(event: &Event) -> Option<Written> {
    let tap = event.member().map(MemberId).zip(event.what.tap().map(str::to_owned));
    match &event.what {
        What::Hold { call, .. } | What::HoldJoined(call) => Some(Written::Hold { hold: call.hold, tap }),
        What::HoldLate { .. } => tap.map(|(member, tap)| Written::Late { member, tap }),
        _ => None,
    }
}

/// The event as a person reads it in the terminal.
fn speak(event: &Event) {
    let line = line(event);
    match event.what {
        What::Hold { .. } | What::HoldJoined(_) => warn!("{line}"),
        _ => info!("{line}"),
    }
}

/// What, who, where, why: only what there is.
fn line(event: &Event) -> String {
    let what = match &event.what {
        What::Hold { .. } => "HOLD".to_owned(),
        What::HoldJoined(_) => "HOLD, also called".to_owned(),
        what => what.word().to_owned(),
    };
    let who = event.who.as_ref().map(|who| {
        let role = who.role.map_or_else(String::new, |role| format!(", {}", role.title()));
        format!(": {}{role}", who.name)
    });
    let place = event.spot.as_ref().map(|spot| {
        let words = spot.words.as_deref().unwrap_or("before the first move");
        format!("; {}, beat {}: {words}", spot.phrase_name, spot.beat)
    });
    let reason = event.what.says().map(|says| format!("; {says}"));
    [Some(what), who, place, reason].into_iter().flatten().collect()
}
