//! What the file itself promises: durable commits, and that damage is found, at the opening or soon after.

use std::sync::LazyLock;

use proptest::prelude::*;

use super::*;
use crate::event::{Revision, RunEnd, RunEnded};
use crate::journal::opening::begin_session;
use crate::journal::{Came, FILE_NAME, Report, SessionStart, verify};

#[test]
fn every_commit_is_synced() {
    let folder = tempfile::tempdir().unwrap();
    let (store, _) = Store::open(&folder.path().join("journal.sqlite"), 0).unwrap();
    let mode: String = store.db.pragma_query_value(None, "journal_mode", |row| row.get(0)).unwrap();
    let synchronous: i64 = store.db.pragma_query_value(None, "synchronous", |row| row.get(0)).unwrap();
    // 2 is FULL: sqlite.org/pragma.html#pragma_synchronous.
    assert_eq!((mode.as_str(), synchronous), ("wal", 2));
}

/// A whole and closed journal of which most rows are reports, as of a long one.
static LONG: LazyLock<Vec<u8>> = LazyLock::new(|| {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(FILE_NAME);
    let mut store = begun(&path, LOOK).unwrap();
    let cue = |cue: u32| [came(cue), phrase()].into_iter().chain((0..12).map(move |member| report(cue, member)));
    let ended = RunEnded { run: 1, how: RunEnd::Complete, first: None, last: None, at: ServerTime(9) };
    let records = run().into_iter().chain((0..600).flat_map(cue)).chain([Record::of(utc_now(), ended)]);
    write(&mut store, &records.collect::<Vec<_>>()).unwrap();
    store.close().unwrap();
    assert!(verify(&path).unwrap().whole);
    fs::read(&path).unwrap()
});

/// What makes that a long one.
const AS_LONG: Look = Look { wholly: 100, at_the_end: 100 };

/// Opened and a session begun, as a server does.
fn begun(path: &Path, look: Look) -> Result<Store, JournalError> {
    let (mut store, lost) = Store::open_looking(path, 0, look)?;
    let start = SessionStart { utc: utc_now(), server: "0.0.0-test".into() };
    begin_session(&mut store, lost, &start).map_err(|error| JournalError::writing(path, &error))?;
    Ok(store)
}

fn write(store: &mut Store, records: &[Record]) -> rusqlite::Result<()> {
    store.write(&records.iter().collect::<Vec<_>>(), &mut Vec::new())
}

fn run() -> [Record; 2] {
    let revision = Revision { sha256: "ab".repeat(32), fight: "The Salt Stair".into(), text: "fight".into() };
    let begun = RunBegun {
        run: 1,
        revision: "ab".repeat(32),
        fight: "The Salt Stair".into(),
        weapons: None,
        from_phrase: 0,
        from_name: "One".into(),
        from_move: None,
        to_phrase: 0,
        to_name: "One".into(),
        percent: Some(50),
        count_in: 4,
        drive: "clock".into(),
        server_us: 1,
        item: None,
        cast: Vec::new(),
    };
    [Record::of(utc_now(), revision), Record::of(utc_now(), begun)]
}

fn came(cue: u32) -> Record {
    Record::Came(Came { at: ServerTime(i64::from(cue)), body: "{\"tick\":{}}".into() })
}

fn phrase() -> Record {
    Record::Own { utc: utc_now(), at: ServerTime(0), what: What::Phrase }
}

fn report(cue: u32, member: u32) -> Record {
    Record::Report(Report { run: 1, member, cue, due_us: 1_000, fired_us: 1_200, bound_us: Some(400) })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    /// Wherever a page of a long journal is spoilt, either it is refused and left alone, or rows of every kind go into it
    /// and the look through the whole file finds what is wrong.
    #[test]
    fn a_bad_page_of_a_long_journal_is_found_at_the_opening_or_when_it_is_looked_through(
        page in any::<prop::sample::Index>(),
        garbage in any::<bool>(),
    ) {
        let mut bytes = LONG.clone();
        let at = 4_096 * (1 + page.index(bytes.len() / 4_096 - 1));
        bytes[at..at + 4_096].fill(if garbage { 0xA5 } else { 0 });
        let folder = tempfile::tempdir().unwrap();
        let path = folder.path().join(FILE_NAME);
        fs::write(&path, &bytes).unwrap();
        match begun(&path, AS_LONG) {
            Err(error) => {
                prop_assert!(matches!(error, JournalError::Damaged { .. }), "{error}");
                prop_assert!(fs::read(&path).unwrap() == bytes, "it was left as it was");
            }
            Ok(mut store) => {
                let written = write(&mut store, &[came(9_000), phrase(), report(9_000, 1)]);
                prop_assert!(written.is_ok(), "{written:?}");
                store.close().unwrap();
                prop_assert!(!verify(&path).unwrap().whole, "nothing found");
            }
        }
    }
}

/// What is looked at of a long journal is less than all of it: else nobody would have to wait.
#[test]
fn a_bad_page_in_the_middle_of_a_long_journal_keeps_nobody_waiting() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(FILE_NAME);
    let opens = |page: usize, look: Look| {
        let mut bytes = LONG.clone();
        bytes[4_096 * page..4_096 * (page + 1)].fill(0xA5);
        fs::write(&path, &bytes).unwrap();
        begun(&path, look).is_ok()
    };
    let pages = LONG.len() / 4_096;
    let middle: Vec<usize> = (pages / 3..pages / 2).step_by(7).collect();
    assert!(middle.iter().all(|page| !opens(*page, LOOK)), "a short one is looked at wholly");
    assert!(middle.iter().any(|page| opens(*page, AS_LONG)));
}
