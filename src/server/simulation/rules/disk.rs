//! What must be on the disk in the end: the journal reads as the record says, with every tap and every run in it.

use std::collections::BTreeMap;
use std::path::Path;

use super::Rules;
use crate::event::{Event, Maker, RunEnd, What};
use crate::journal::{EventFilter, Reader, verify};
use crate::server::replay::replay;

impl Rules {
    /// What is on disk in the end.
    pub(in crate::server::simulation) fn read(&self, data: &Path) {
        let reader = Reader::open(data).unwrap_or_else(|error| self.fail(format!("no journal: {error}")));
        let rows = reader.events(EventFilter::default());
        let rows = rows.unwrap_or_else(|error| self.fail(format!("the journal cannot be read: {error}")));
        let events: Vec<Event> = rows.into_iter().map(|row| row.event).collect();
        self.taps_are_in(&events);
        let given: Vec<Event> = events.into_iter().filter(|event| event.id.maker != Maker::Journal).collect();
        self.holds(self.record.equals(&given));
        self.runs_ended(&reader);
        self.calls_are_told(&reader);
        self.comes_out(data);
        let whole = verify(data);
        let whole = whole.unwrap_or_else(|error| self.fail(format!("the journal cannot be verified: {error}")));
        self.must(whole.findings.is_empty(), || format!("the journal is not whole: {:?}", whole.findings));
    }

    /// What was recorded gives what was told.
    fn comes_out(&self, data: &Path) {
        let starts = replay(data, None).unwrap_or_else(|error| self.fail(format!("it cannot be replayed: {error}")));
        for start in starts {
            let well = start.failed.is_none() && start.differs.is_none();
            self.must(well, || format!("played again it comes out otherwise: {start:?}"));
        }
    }

    /// Every tap that nobody has forgotten is in the log, once, and so is every hold that was said to be.
    fn taps_are_in(&self, events: &[Event]) {
        let mut written: BTreeMap<&str, u32> = BTreeMap::new();
        for tap in events.iter().filter_map(|event| event.what.tap()) {
            *written.entry(tap).or_default() += 1;
        }
        for tap in self.taps.keys() {
            let times = written.get(tap.as_str()).copied().unwrap_or(0);
            self.must(times <= 1, || format!("the tap {tap:?} is in the log {times} times"));
            let owed = self.promised.contains(tap) || !self.excused.contains(tap);
            self.must(times == 1 || !owed, || {
                let promised = self.promised.contains(tap);
                format!("the tap {tap:?} is not in the log (said to be written: {promised})")
            });
        }
        for hold in &self.promised_holds {
            let is = |event: &&Event| matches!(&event.what, What::Hold { call, .. } if call.hold.0 == *hold);
            let times = events.iter().filter(is).count();
            self.must(times == 1, || format!("hold {hold} was said to be written, and is in the log {times} times"));
        }
    }

    /// Every run ended as the record says; of one that a server's death cut off the end may be missing.
    fn runs_ended(&self, reader: &Reader) {
        let rows = reader.runs().unwrap_or_else(|error| self.fail(format!("the runs cannot be read: {error}")));
        let mut ends = self.record.ends();
        for row in rows {
            let cut_off = matches!(row.how, None | Some(RunEnd::CutOff));
            // Of what a server wrote last the start of the run may be missing, too.
            let Some(end) = ends.remove(&row.begun.run) else {
                self.must(cut_off, || format!("{row:?} was never started"));
                continue;
            };
            self.must(cut_off || row.how == end, || format!("{row:?} ended by {end:?}"));
        }
        self.must(ends.is_empty(), || format!("these runs are missing: {ends:?}"));
    }
}
