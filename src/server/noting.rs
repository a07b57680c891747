//! What the hub writes down: what the call gives it, what is the server's own, and how cues came out. The hub goes on at
//! once; only a hold is announced as written when the disk has it.

use jiff::{SignedDuration, Timestamp};
use tracing::{info, warn};

use super::hub::Hub;
use super::request::Written;
use crate::call::MemberId;
use crate::event::{Entry, Event, What, Who};
use crate::journal::{Record, Report};
use crate::time::utc_now;
use crate::units::Micros;
use crate::wire::Fired;

impl Hub {
    /// Writes down what the call gives. A tap is announced as written once it is on disk.
    pub(super) fn write_down(&mut self, entry: Entry) {
        self.write_down_of(utc_now(), entry);
    }

    /// Writes down what happened under the last server and did not come to the disk, with the time of day that it had.
    pub(super) fn write_down_late(&mut self, entry: Entry) {
        let ago = match &entry {
            Entry::Event(event) => self.parts.clock.now().since(event.at),
            _ => Micros::ZERO,
        };
        let utc = utc_now();
        self.write_down_of(utc.saturating_sub(SignedDuration::from_micros(ago.0)).unwrap_or(utc), entry);
    }

    fn write_down_of(&mut self, utc: Timestamp, entry: Entry) {
        let announced = match &entry {
            Entry::Event(event) => {
                speak(event);
                announced(event)
            }
            _ => None,
        };
        let record = Record::of(utc, entry);
        match announced {
            Some(news) => {
                let written = self.to_hub.written.clone();
                self.parts.journal.record_then(record, Box::new(move |_| drop(written.send(news))));
            }
            None => self.parts.journal.record(record),
        }
    }

    /// Takes a member's word on how a cue came out.
    pub(super) fn report(&mut self, member: MemberId, fired: &Fired) {
        let (Some(run), Some(fired_us)) = (self.parts.call.run(), fired.fired_us) else { return };
        self.untold |= self.devices.fired(member, Micros(fired_us.saturating_sub(fired.due_us)));
        self.parts.journal.record(Record::Report(Report {
            run: run.number,
            member: member.0,
            cue: fired.cue,
            due_us: fired.due_us,
            fired_us,
            bound_us: fired.bound_us,
        }));
    }

    /// Writes down something that is not the call's.
    pub(super) fn note_down(&self, who: Option<Who>, what: What) {
        let event = Event { who, ..Event::new(self.parts.journal.next_event(), self.parts.clock.now(), what) };
        self.parts.journal.record(Record::of(utc_now(), event));
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
