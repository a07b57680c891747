//! What the hub writes down: the call's entries, the runs, who has which part, and how cues came out. The hub goes on at
//! once; only a hold is announced as written when the disk has it.

use tracing::{info, warn};

use super::hub::Hub;
use super::request::Written;
use super::written;
use crate::call::{Entry, EntryKind, MemberId};
use crate::journal::{EventKind, Record, Report};
use crate::time::utc_now;
use crate::units::{Micros, ServerTime};
use crate::wire::Fired;

impl Hub {
    /// Writes an entry down. A tap is announced as written once it is on disk.
    pub(super) fn write_down(&mut self, mut entry: Entry) {
        let utc = utc_now();
        speak(&entry);
        match entry.kind {
            EntryKind::Start => {
                self.begun = (entry.run.unwrap_or(self.begun.0), true);
                self.write_run(entry.at, utc);
            }
            EntryKind::Part => self.keep_part(&entry, utc),
            _ => {}
        }
        // A hold at places hits no run yet, and one after the end of a run does not end it again.
        entry.run = entry.run.filter(|run| *run <= self.begun.0);
        let open = entry.run.filter(|run| self.begun == (*run, true));
        let ended = open.and_then(|run| Some((run, written::ends_run(entry.kind)?)));
        self.begun.1 &= ended.is_none();
        let (at, last) = (entry.at, entry.spot.clone());
        let announces = announces(&entry);
        let event = written::event(entry, utc);
        match announces {
            Some(announces) => {
                let written = self.to_hub.written.clone();
                let done = move |_| drop(written.send(announces));
                self.parts.journal.record_then(event, Box::new(done));
            }
            None => self.parts.journal.record(event),
        }
        if let Some((run, how)) = ended {
            let first = last.as_ref().and_then(|_| self.parts.call.run().and_then(|run| run.spot(0)));
            let ended = written::run_ended(run, how, last, first, at, utc);
            self.parts.journal.record(Record::RunEnded(Box::new(ended)));
        }
    }

    /// A part that changed hands is kept for the next start of the server.
    fn keep_part(&self, entry: &Entry, utc: jiff::Timestamp) {
        let Some((member, ..)) = entry.who else { return };
        let part = self.parts.call.roster().get(member).and_then(|member| member.part.clone());
        self.parts.journal.record(Record::MemberPart { member: member.0, part, utc });
    }

    fn write_run(&self, at: ServerTime, utc: jiff::Timestamp) {
        let Some(run) = self.parts.call.run() else { return };
        let journal = &self.parts.journal;
        journal.record(Record::Revision(written::revision(run, utc)));
        journal.record(Record::RunBegun(Box::new(written::run_begun(run, at, utc))));
        for cast in written::casts(run, self.parts.call.roster()) {
            journal.record(Record::Cast(cast));
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
    pub(super) fn note_down(&self, kind: EventKind, reason: String) {
        let mut event = crate::journal::Event::new(kind, self.parts.clock.now().0, utc_now());
        event.reason = Some(reason);
        self.parts.journal.record(event);
    }
}

/// What is announced once the entry is on disk, if anything is.
fn announces(entry: &Entry) -> Option<Written> {
    let tap = entry.who.as_ref().map(|(member, ..)| *member).zip(entry.tap.clone());
    match entry.kind {
        EntryKind::Hold | EntryKind::HoldJoined => entry.hold.map(|hold| Written::Hold { hold, tap }),
        EntryKind::HoldLate => tap.map(|(member, tap)| Written::Late { member, tap }),
        _ => None,
    }
}

/// The entry as a person reads it in the terminal.
fn speak(entry: &Entry) {
    let line = line(entry);
    match entry.kind {
        EntryKind::Hold | EntryKind::HoldJoined => warn!("{line}"),
        _ => info!("{line}"),
    }
}

/// What, who, where, why: only what there is.
fn line(entry: &Entry) -> String {
    let what = match entry.kind {
        EntryKind::Hold => "HOLD".to_owned(),
        EntryKind::HoldJoined => "HOLD, also called".to_owned(),
        kind => written::kind(kind).word().to_owned(),
    };
    let who = entry.who.as_ref().map(|(_, name, role)| format!(": {name}, {}", role.title()));
    let place = entry.spot.as_ref().map(|spot| {
        let words = spot.words.as_deref().unwrap_or("before the first move");
        format!("; {}, beat {}: {words}", spot.phrase_name, spot.beat)
    });
    let reason = entry.reason.as_ref().map(|reason| format!("; {reason}"));
    [Some(what), who, place, reason].into_iter().flatten().collect()
}
