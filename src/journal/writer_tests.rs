//! The writer is made to panic on purpose: before a commit, in the middle of one, after one, at one record always. What
//! is in the file is read by the journal's own reader and judged by `verify`.

use std::sync::atomic::{AtomicBool, Ordering::SeqCst};
use std::sync::{Arc, mpsc};
use std::thread;
use std::time::Duration;

use proptest::prelude::*;
use tempfile::TempDir;

use super::*;
use crate::event::{Called, Event, EventId, HoldId, Maker};
use crate::journal::{EventFilter, EventRow, Journal, Reader, SessionStart, verify};

#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Place {
    Before,
    Within,
    After,
}

/// Writes, and panics there.
fn fail_at(place: Option<Place>, store: &mut Store, records: &[&Record], seqs: &mut Vec<u64>) -> rusqlite::Result<()> {
    match place {
        None => store.write(records, seqs),
        Some(Place::Before) => panic!("before the commit"),
        Some(Place::Within) => store.commit(|page| {
            for record in records {
                seqs.push(page.put(1, record)?);
            }
            panic!("within the commit")
        }),
        Some(Place::After) => {
            store.write(records, seqs)?;
            panic!("after the commit")
        }
    }
}

fn open(folder: &TempDir, write: impl Writing + Send + 'static) -> Journal {
    let start = SessionStart { utc: utc_now(), server: "a test".into() };
    Journal::open_with(folder.path(), &start, Faults::with_pause(Duration::ZERO), write).unwrap()
}

fn tapped(hold: u32, tap: &str) -> Record {
    let id = EventId { session: 1, maker: Maker::Call, number: u64::from(hold) };
    let call = Called { hold: HoldId(hold), tap: Some(tap.to_owned()), reason: None, screen: None };
    let what = What::Hold { call, under_way: Vec::new() };
    Record::of(utc_now(), Event::new(id, ServerTime(7), what))
}

fn events(folder: &TempDir) -> Vec<EventRow> {
    Reader::open(folder.path()).unwrap().events(EventFilter::default()).unwrap()
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(40))]

    #[test]
    fn whatever_panics_when_every_record_is_written_once_in_order_and_acknowledged_once(
        // Fewer in a row than what makes a record the culprit.
        faults in prop::collection::vec(
            prop::option::weighted(0.8, prop::sample::select(vec![Place::Before, Place::Within, Place::After])), 0..6,
        ),
        records in 1u32..40,
    ) {
        let folder = TempDir::new().unwrap();
        let mut faults = faults.into_iter();
        let journal = open(&folder, move |store: &mut Store, records: &[&Record], seqs: &mut Vec<u64>| {
            fail_at(faults.next().flatten(), store, records, seqs)
        });
        let (done, acknowledged) = mpsc::channel();
        for number in 0..records {
            let done = done.clone();
            journal.record_then(tapped(number + 1, &number.to_string()), Box::new(move |seq| done.send((number, seq)).unwrap()));
        }
        drop(done);
        let acknowledged: Vec<(u32, u64)> = acknowledged.iter().collect();
        journal.close().unwrap();
        let written: Vec<(u32, u64)> = events(&folder)
            .iter()
            .filter_map(|row| Some((row.event.what.tap()?.parse().ok()?, row.seq)))
            .collect();
        prop_assert_eq!(written.iter().map(|(number, _)| *number).collect::<Vec<_>>(), (0..records).collect::<Vec<_>>());
        prop_assert_eq!(acknowledged, written);
        let verdict = verify(folder.path()).unwrap();
        prop_assert!(verdict.findings.is_empty(), "{:?}", verdict.findings);
    }
}

#[test]
fn one_record_that_makes_the_writer_panic_blocks_no_other_and_is_kept_in_other_words() {
    let folder = TempDir::new().unwrap();
    let journal = open(&folder, |store: &mut Store, records: &[&Record], seqs: &mut Vec<u64>| {
        let bad = |record: &&Record| record.event().is_some_and(|event| event.what.tap() == Some("bad"));
        let place = records.iter().any(bad).then_some(Place::Within);
        fail_at(place, store, records, seqs)
    });
    let (done, acknowledged) = mpsc::channel();
    for (hold, tap) in (1..).zip(["one", "bad", "two", "bad", "three"]) {
        let done = done.clone();
        journal.record_then(tapped(hold, tap), Box::new(move |seq| done.send(seq).unwrap()));
    }
    drop(done);
    let seqs: Vec<u64> = acknowledged.iter().collect();
    assert!(seqs.windows(2).all(|pair| pair[1] == pair[0] + 1) && seqs.len() == 5, "{seqs:?}");
    journal.close().unwrap();
    let events = events(&folder);
    let taps: Vec<&str> = events.iter().filter_map(|row| row.event.what.tap()).collect();
    assert_eq!(taps, ["one", "two", "three"]);
    let kept = |row: &&EventRow| matches!(&row.event.what, What::Misrecorded { record, .. } if record.contains("bad"));
    assert_eq!(events.iter().filter(kept).count(), 2);
    assert_eq!(verify(folder.path()).unwrap().findings, Vec::new());
}

#[test]
fn the_desk_reads_that_the_log_has_stopped_and_that_it_goes_on() {
    let folder = TempDir::new().unwrap();
    let failing = Arc::new(AtomicBool::new(true));
    let fails = Arc::clone(&failing);
    let journal = open(&folder, move |store: &mut Store, records: &[&Record], seqs: &mut Vec<u64>| {
        fail_at(fails.load(SeqCst).then_some(Place::Within), store, records, seqs)
    });
    assert!(journal.health().well);
    let (done, written) = mpsc::channel();
    journal.record_then(tapped(1, "one"), Box::new(move |seq| done.send(seq).unwrap()));
    until(|| journal.health().says.starts_with("The log has stopped: ") && !journal.health().well);
    assert!(written.try_recv().is_err(), "nothing is acknowledged that is not on disk");
    failing.store(false, SeqCst);
    written.recv().unwrap();
    until(|| journal.health().well);
    let faults = journal.faults();
    assert!(faults.len() == 1 && faults[0].contains("The writer of the log failed"), "{faults:?}");
    journal.close().unwrap();
}

/// A writer that fails whatever it is given does not keep the server from ending, and what is lost is said.
#[test]
fn closing_ends_though_the_writer_fails_for_ever() {
    let folder = TempDir::new().unwrap();
    let journal = open(&folder, |store: &mut Store, records: &[&Record], seqs: &mut Vec<u64>| {
        fail_at(Some(Place::Before), store, records, seqs)
    });
    journal.record(tapped(1, "one"));
    let error = journal.close().unwrap_err().to_string();
    assert!(error.contains("fails again and again"), "{error}");
}

fn until(is_so: impl Fn() -> bool) {
    while !is_so() {
        thread::sleep(Duration::from_millis(1));
    }
}
