//! The journal in use: what is recorded is read back, what cannot be opened is refused in a sentence and left alone,
//! and whoever joined is known again. Other `journal_*` files share the helpers at the end.

use std::fs;
use std::path::Path;
use std::sync::mpsc;

use holdfast::event::{
    Called, Cast, Entry, Event, EventId, HoldId, Maker, Revision, Role, RunBegun, RunEnd, RunEnded, Spot, What, Who,
};
use holdfast::journal::{
    Came, EventFilter, EventLine, EventRow, FILE_NAME, Journal, JournalError, MemberJoined, Parting, Reader, Record,
    Report, SessionStart, verify,
};
use holdfast::time::utc_now;
use holdfast::units::ServerTime;
use proptest::prelude::*;
use rusqlite::Connection;

use crate::support::events::{any_event, of_people, of_runs, of_sound, unknown};

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn what_is_acknowledged_is_read_back_in_order(records in records()) {
        let folder = tempfile::tempdir().unwrap();
        let journal = open(folder.path());
        let seqs = record_all(&journal, &records);
        let events: Vec<&Event> = records.iter().filter_map(Record::event).collect();

        // Once while the server has it, once after.
        for live in [true, false] {
            let reader = Reader::open(folder.path()).unwrap();
            prop_assert_eq!(reader.is_live(), live);
            let rows = reader.events(EventFilter::default()).unwrap();
            let acknowledged: Vec<&EventRow> = rows.iter().filter(|row| seqs.contains(&row.seq)).collect();
            prop_assert_eq!(acknowledged.len(), events.len());
            for (row, event) in acknowledged.iter().zip(&events) {
                prop_assert_eq!(&row.event, *event);
            }
            prop_assert!(seqs.windows(2).all(|pair| pair[0] < pair[1]));
            let verdict = verify(folder.path()).unwrap();
            prop_assert!(verdict.whole, "{:?}", verdict.findings);
            if live { journal.close().unwrap(); }
        }
        let reports = records.iter().filter(|r| matches!(r, Record::Report(_))).count();
        prop_assert_eq!(Reader::open(folder.path()).unwrap().reports(None).unwrap().len(), reports);
    }

    #[test]
    fn an_event_of_any_kind_is_read_back_as_it_was_written(events in prop::collection::vec(any_event(), 1..40)) {
        let folder = tempfile::tempdir().unwrap();
        let journal = open(folder.path());
        let utc = "2026-03-01T18:30:00.000001Z".parse().unwrap();
        let records: Vec<Record> = events.iter().map(|event| Record::of(utc, event.clone())).collect();
        record_all(&journal, &records);
        journal.close().unwrap();
        let rows = Reader::open(folder.path()).unwrap().events(EventFilter::default()).unwrap();
        prop_assert_eq!(rows.len(), events.len() + 1);
        for (seq, (row, event)) in (2..).zip(rows.iter().skip(1).zip(&events)) {
            prop_assert_eq!(&row.event, event);
            prop_assert_eq!((row.seq, row.session, row.utc.as_str()), (seq, 1, "2026-03-01T18:30:00.000001Z"));
            let line = EventLine::of(row.clone(), None);
            prop_assert_eq!((line.kind.as_str(), line.id), (event.what.word(), event.id.to_string()));
            prop_assert_eq!((line.run, line.reason, line.server_us), (event.run, event.what.says(), event.at.0));
        }
    }
}

#[test]
fn a_kind_that_is_not_known_here_is_told_by_its_word_and_never_an_error() {
    let folder = tempfile::tempdir().unwrap();
    open(folder.path()).close().unwrap();
    let db = Connection::open(folder.path().join(FILE_NAME)).unwrap();
    let rows = [
        // A newer kind; known kinds that lack what belongs to them; what is no detail.
        ("'weather', 'rain', NULL, '{\"id\":\"9-satellite-1\",\"mm\":3}'", "weather"),
        ("'hold', 'grip', NULL, NULL", "hold"),
        ("'release', NULL, NULL, NULL", "release"),
        ("'check', NULL, NULL, '{\"in_order\":false}'", "check"),
        ("'trim', 'louder', NULL, '{\"sound\":7}'", "trim"),
        ("'attendance', NULL, NULL, '[1]'", "attendance"),
    ];
    for (seq, (row, _)) in (2..).zip(&rows) {
        let sql = format!(
            "INSERT INTO events (link, seq, session, server_us, utc, kind, reason, hold, detail, seal)
             VALUES (100 + {seq}, {seq}, 1, 0, '', {row}, x'')"
        );
        db.execute(&sql, []).unwrap();
    }
    drop(db);
    let found = Reader::open(folder.path()).unwrap().events(EventFilter::default()).unwrap();
    assert_eq!(found.len(), rows.len() + 1);
    for (row, (_, word)) in found.iter().skip(1).zip(&rows) {
        assert!(matches!(&row.event.what, What::Unknown(unread) if unread.word == *word), "{row:?}");
        assert_eq!(row.event.id, EventId { session: 1, maker: Maker::Journal, number: row.seq });
    }
    let weather = EventLine::of(found[1].clone(), None);
    assert_eq!((weather.kind.as_str(), weather.reason.as_deref()), ("weather", Some("rain")));
    assert_eq!(weather.detail.unwrap()["mm"], 3);
}

#[test]
fn runs_casts_revisions_and_sessions_are_read_back() {
    let folder = tempfile::tempdir().unwrap();
    let journal = open(folder.path());
    assert_eq!((journal.opened().last_run, journal.opened().last_hold, journal.opened().closed_well), (0, 0, true));
    for record in [revision(), revision(), begun(1), hold(1, 7), ended(1)] {
        journal.record(record);
    }
    journal.close().unwrap();

    let again = open(folder.path());
    let opened = again.opened();
    assert_eq!((opened.session, opened.last_run, opened.last_hold, opened.closed_well), (2, 1, 7, true));
    assert!(opened.cut_off.is_empty());
    let reader = Reader::open(&folder.path().join(FILE_NAME)).unwrap();
    assert_eq!(reader.revisions().unwrap().len(), 1, "one text is kept once");
    let run = &reader.runs().unwrap()[0];
    assert_eq!((run.how, run.last.as_ref()), (Some(RunEnd::Complete), Some(&spot())));
    assert_eq!(run.begun.cast[0].person, "Bea Lund");
    let sessions = reader.sessions().unwrap();
    assert!(sessions[0].closed_utc.is_some() && sessions[1].closed_utc.is_none());
}

#[test]
fn people_keep_their_keys_over_a_restart() {
    let folder = tempfile::tempdir().unwrap();
    let journal = open(folder.path());
    for (member, name) in [(1, "Bea Lund"), (2, "Idris Vane")] {
        journal.record(Record::MemberJoined(MemberJoined {
            member,
            name: name.to_owned(),
            role: Role::Performer,
            part: Some("MARET".to_owned()),
            key_sha256: format!("{member:064x}"),
            utc: utc_now(),
        }));
    }
    journal.record(Record::of(utc_now(), Entry::Part { member: 1, part: Some("OSK".to_owned()) }));
    journal.record(Record::MemberRevoked { member: 2, parting: Parting::Left, utc: utc_now() });
    drop(journal);

    let known = open(folder.path()).opened().members.clone();
    let seen: Vec<_> = known.iter().map(|m| (m.member, m.name.as_str(), m.part.as_deref(), m.revoked)).collect();
    assert_eq!(seen, [(1, "Bea Lund", Some("OSK"), false), (2, "Idris Vane", Some("MARET"), true)]);
    assert_eq!(known[0].key_sha256, format!("{:064x}", 1));
}

#[test]
fn a_record_that_does_not_fit_is_kept_and_blocks_nobody() {
    let folder = tempfile::tempdir().unwrap();
    let journal = open(folder.path());
    let records = [revision(), begun(1), begun(1), hold(1, 1), ended(1)];
    record_all(&journal, &records);
    assert!(journal.health().well);
    let reader = Reader::open(folder.path()).unwrap();
    let rows = reader.events(EventFilter::default()).unwrap();
    let kinds: Vec<&str> = rows.iter().map(|row| row.event.what.word()).collect();
    assert_eq!(kinds, ["session", "misrecorded", "hold"]);
}

#[test]
fn a_done_that_panics_does_not_take_the_log_with_it() {
    let folder = tempfile::tempdir().unwrap();
    let journal = open(folder.path());
    journal.record_then(hold(1, 1), Box::new(|_| panic!("a fault in whoever waits")));
    assert_eq!(record_all(&journal, &[hold(1, 2)]), [3]);
}

#[test]
fn the_last_handle_may_be_dropped_by_the_writer_itself() {
    let folder = tempfile::tempdir().unwrap();
    let journal = open(folder.path());
    let (told, hears) = mpsc::channel();
    let (release, released) = mpsc::channel::<()>();
    let copy = journal.clone();
    journal.record_then(
        hold(1, 1),
        Box::new(move |seq| {
            let _ = released.recv();
            drop(copy);
            told.send(seq).unwrap();
        }),
    );
    // The writer's own thread holds the last copy now.
    drop(journal);
    drop(release);
    assert_eq!(hears.recv().unwrap(), 2);
}

#[test]
fn a_journal_of_a_newer_version_is_refused_and_untouched() {
    let folder = tempfile::tempdir().unwrap();
    open(folder.path()).close().unwrap();
    let file = folder.path().join(FILE_NAME);
    Connection::open(&file).unwrap().pragma_update(None, "user_version", 99).unwrap();
    let before = contents(folder.path());

    let refused = Journal::open(folder.path(), &start()).err().unwrap();
    assert!(matches!(refused, JournalError::Newer { found: 99, .. }));
    assert!(refused.to_string().contains("newer Holdfast (journal version 99; this one knows 2)"), "{refused}");
    assert!(matches!(verify(folder.path()), Err(JournalError::Newer { .. })));
    assert_eq!(contents(folder.path()), before);
}

#[test]
fn what_is_no_journal_is_refused_and_untouched() {
    let other = tempfile::tempdir().unwrap();
    Connection::open(other.path().join(FILE_NAME)).unwrap().execute_batch("CREATE TABLE t (a)").unwrap();
    let text = tempfile::tempdir().unwrap();
    fs::write(text.path().join(FILE_NAME), "dear diary, ".repeat(40)).unwrap();
    let short = tempfile::tempdir().unwrap();
    fs::write(short.path().join(FILE_NAME), "x").unwrap();
    for folder in [other, text, short] {
        let before = contents(folder.path());
        let refused = Journal::open(folder.path(), &start()).err().unwrap();
        assert!(matches!(refused, JournalError::NotAJournal(_)), "{refused}");
        assert!(matches!(verify(folder.path()), Err(JournalError::NotAJournal(_))));
        assert_eq!(contents(folder.path()), before);
    }
}

#[test]
fn two_servers_cannot_share_a_journal() {
    let folder = tempfile::tempdir().unwrap();
    let first = open(folder.path());
    let second = Journal::open(folder.path(), &start()).err().unwrap();
    assert!(matches!(second, JournalError::Locked { at: None, .. }), "{second}");
    assert!(second.to_string().contains("in use by another Holdfast server."));
    first.listens_at("http://127.0.0.1:8080");
    let second = Journal::open(folder.path(), &start()).err().unwrap().to_string();
    assert!(second.contains("which listens at http://127.0.0.1:8080: open that."), "{second}");
    drop(first);
    let third = open(folder.path());
    let fourth = Journal::open(folder.path(), &start()).err().unwrap();
    assert!(matches!(fourth, JournalError::Locked { at: None, .. }), "what stood there was another's: {fourth}");
    drop(third);
}

#[test]
fn a_folder_that_cannot_be_written_is_said() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("a-file");
    fs::write(&file, "").unwrap();
    let refused = Journal::open(&file.join("data"), &start()).err().unwrap();
    assert!(matches!(refused, JournalError::Unwritable { .. }), "{refused}");
    assert!(refused.to_string().contains("Make the folder writable"));
    assert!(matches!(Reader::open(&folder.path().join("nowhere")).err(), Some(JournalError::Missing(_))));
}

// ---- shared by the journal's tests ----

pub(crate) fn start() -> SessionStart {
    SessionStart { utc: utc_now(), server: "0.0.0-test".to_owned() }
}

pub(crate) fn open(data: &Path) -> Journal {
    Journal::open(data, &start()).unwrap()
}

/// Records all, waits until all are durable, and gives the `seq` of each event.
pub(crate) fn record_all(journal: &Journal, records: &[Record]) -> Vec<u64> {
    let (told, hears) = mpsc::channel();
    for record in records {
        let (told, is_event) = (told.clone(), record.event().is_some());
        journal.record_then(record.clone(), Box::new(move |seq| told.send((is_event, seq)).unwrap()));
    }
    drop(told);
    hears.iter().filter_map(|(is_event, seq)| is_event.then_some(seq)).collect()
}

/// Every file of a folder but the lock, with its bytes.
pub(crate) fn contents(folder: &Path) -> Vec<(String, Vec<u8>)> {
    let mut files: Vec<_> = fs::read_dir(folder)
        .unwrap()
        .map(|entry| entry.unwrap())
        .filter(|entry| entry.file_name() != "journal.lock")
        .map(|entry| (entry.file_name().into_string().unwrap(), fs::read(entry.path()).unwrap()))
        .collect();
    files.sort();
    files
}

pub(crate) fn spot() -> Spot {
    Spot {
        cue: None,
        phrase: 0,
        phrase_name: "Across the quay".to_owned(),
        beat: "4+1/2".to_owned(),
        number: Some(4),
        words: Some("MARET bind / OSK yield".to_owned()),
    }
}

/// An event of that run by somebody.
pub(crate) fn event_of(run: u32, what: What) -> Event {
    let id = EventId { session: 1, maker: Maker::Server, number: 1 };
    let who = Who { name: "Bea Lund".to_owned(), member: None, role: Some(Role::Performer) };
    Event {
        run: Some(run),
        who: Some(who),
        spot: Some(spot()),
        percent: Some(50),
        ..Event::new(id, ServerTime(1_000_000), what)
    }
}

pub(crate) fn called(hold: u32, screen: Option<Spot>) -> What {
    let reason = Some("grip slipped".to_owned());
    What::Hold { call: Called { hold: HoldId(hold), tap: None, reason, screen }, under_way: Vec::new() }
}

pub(crate) fn hold(run: u32, hold: u32) -> Record {
    Record::of(utc_now(), event_of(run, called(hold, None)))
}

pub(crate) fn release(run: u32, hold: u32) -> Record {
    Record::of(utc_now(), event_of(run, What::Release { hold: HoldId(hold) }))
}

pub(crate) fn revision() -> Record {
    let (fight, text) = ("The Salt Stair".to_owned(), "fight \"The Salt Stair\"\n".to_owned());
    Record::of(utc_now(), Revision { sha256: "ab".repeat(32), fight, text })
}

pub(crate) fn begun(run: u32) -> Record {
    let cast = Cast { part: "MARET".to_owned(), person: "Bea Lund".to_owned(), member: Some(1), covers: None };
    let begun = RunBegun {
        run,
        revision: "ab".repeat(32),
        fight: "The Salt Stair".to_owned(),
        weapons: None,
        from_phrase: 0,
        from_name: "Across the quay".to_owned(),
        from_move: None,
        to_phrase: 1,
        to_name: "The wound".to_owned(),
        percent: Some(50),
        count_in: 4,
        drive: "clock".to_owned(),
        server_us: 10,
        item: None,
        cast: vec![cast],
    };
    Record::of(utc_now(), begun)
}

pub(crate) fn ended(run: u32) -> Record {
    let (first, last) = (Some(spot()), Some(spot()));
    Record::of(utc_now(), RunEnded { run, how: RunEnd::Complete, first, last, at: ServerTime(99) })
}

/// A session's worth of records: one run with whatever may happen in it.
pub(crate) fn records() -> impl Strategy<Value = Vec<Record>> {
    let inside = prop_oneof![
        6 => event().prop_map(|event| Record::of(utc_now(), event)),
        2 => (any::<u32>(), any::<i64>(), any::<i64>(), any::<Option<i64>>()).prop_map(|(cue, due_us, fired_us, bound_us)| {
            Record::Report(Report { run: 1, member: 1, cue, due_us, fired_us, bound_us })
        }),
        1 => any::<Option<String>>().prop_map(|part| Record::of(utc_now(), Entry::Part { member: 1, part })),
        2 => (any::<i64>(), any::<String>()).prop_map(|(at, body)| Record::Came(Came { at: ServerTime(at), body })),
        1 => any::<String>().prop_map(|text| Record::Text { sha256: text.clone(), text: text.into() }),
    ];
    prop::collection::vec(inside, 1..30).prop_map(|inside| {
        let run = [revision(), begun(1)].into_iter().chain(inside);
        run.chain([ended(1)]).collect()
    })
}

/// Any event but those that refer to an earlier one.
fn event() -> impl Strategy<Value = Event> {
    let what = prop_oneof![of_people(), of_runs(), of_sound(), unknown()];
    let with = |(event, what, of_run): (Event, What, bool)| Event { what, run: of_run.then_some(1), ..event };
    (any_event(), what, any::<bool>()).prop_map(with).boxed()
}
