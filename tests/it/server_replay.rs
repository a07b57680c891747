//! A server that begins goes on with the call of the one before it: what stands, stands, what was signed is signed, and
//! everything that was recorded comes out as it was told. Where that cannot be, a hold stands until a person has looked.

use std::path::Path;
use std::process::Command;

use holdfast::call::Role;
use holdfast::event::What;
use holdfast::journal::{EventFilter, FILE_NAME, Reader, verify};
use holdfast::server::replay::{Replayed, replay};
use holdfast::wire::{HoldTap, Stage, ToServer};
use rusqlite::Connection;
use tempfile::TempDir;

use crate::support::house::House;

fn tap(name: &str, generation: u64) -> ToServer {
    ToServer::Hold(HoldTap {
        tap: name.into(),
        generation,
        queued: false,
        tapped_us: None,
        screen_cue: None,
        reason: Some("a strap broke".into()),
    })
}

fn production(folder: &TempDir) -> std::path::PathBuf {
    let dir = folder.path().join("production");
    holdfast::production::start(&dir).unwrap();
    dir
}

/// Every start of the server comes out as it was told.
fn comes_out(data: &Path) -> Vec<Replayed> {
    let starts = replay(data, None).unwrap();
    for start in &starts {
        assert_eq!((&start.differs, &start.failed, start.same_build), (&None, &None, true), "{start:?}");
        assert!(start.inputs > 0 && start.states > 0, "{start:?}");
    }
    assert!(verify(data).unwrap().whole);
    starts
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_hold_that_stands_stands_after_a_restart_and_the_rest_comes_back_with_it() {
    let folder = TempDir::new().unwrap();
    let dir = production(&folder);
    let house = House::of_folder(&dir).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let lotte = house.join(Role::Performer, "Lotte", Some("ALDER")).await;
    desk.say(ToServer::Attend { person: "Ayo".into(), present: false });
    desk.until("sees who is absent", |seen| seen.known.attendance.as_ref().is_some_and(|noted| noted.len() == 1)).await;
    desk.call_places(100).await;
    let generation = desk.start_anyway().await;
    lotte.until_stage(Stage::CountIn).await;
    lotte.say(tap("one", generation));
    let before = desk
        .until("sees it written", |seen| seen.state.as_ref().unwrap().hold.as_ref().is_some_and(|hold| hold.written));
    let before = before.await.state.unwrap().hold.clone().unwrap();
    house.stop().await;

    let house = House::of_folder(&dir).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let seen = desk.until_stage(Stage::Held).await;
    let hold = seen.state.as_ref().unwrap().hold.clone().unwrap();
    assert_eq!((hold.hold, &hold.spot, hold.last_event), (before.hold, &before.spot, before.last_event));
    assert_eq!(hold.callers[0].name, "Lotte");
    assert!(hold.written && hold.at_us < house.clock.now().0);
    assert_eq!(seen.known.attendance.as_ref().unwrap().len(), 1, "who is absent is known");
    // A start is not to be had while it stands; a release lets go of it, and nothing starts by itself.
    desk.say(ToServer::Release { hold: hold.hold, seen: hold.last_event });
    let seen = desk.until_stage(Stage::Stopped).await;
    assert!(seen.state.as_ref().unwrap().generation > generation, "a new server is a new epoch");
    house.stop().await;
    assert_eq!(comes_out(&dir).len(), 2);
    let holds = Reader::open(&dir).unwrap().events(EventFilter::default()).unwrap();
    assert_eq!(holds.iter().filter(|row| matches!(row.event.what, What::Hold { .. })).count(), 1, "it is one hold");

    // As a person asks for it.
    let said = Command::new(env!("CARGO_BIN_EXE_holdfast")).arg("replay").arg(&dir).output().unwrap();
    let text = String::from_utf8(said.stdout).unwrap();
    assert!(said.status.success(), "{text}");
    assert_eq!(
        text.lines().filter(|line| line.contains("all of them come out as they were told")).count(),
        2,
        "{text}"
    );
}

/// A production whose server was stopped while a run was counted in.
async fn stopped_in_a_count_in() -> (TempDir, std::path::PathBuf) {
    let folder = TempDir::new().unwrap();
    let dir = production(&folder);
    let house = House::of_folder(&dir).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    desk.call_places(100).await;
    desk.start_anyway().await;
    desk.until_stage(Stage::CountIn).await;
    house.stop().await;
    (folder, dir)
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_run_that_went_is_stopped_by_a_restart() {
    let (_folder, dir) = stopped_in_a_count_in().await;

    let house = House::of_folder(&dir).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let state = desk.until_stage(Stage::Stopped).await.state.unwrap();
    assert!(state.because.as_ref().unwrap().contains("started anew"));
    house.stop().await;
    comes_out(&dir);
}

/// Nobody ran what lies between the end of a server and the next start.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_run_does_not_go_on_while_there_is_no_server() {
    let (_folder, dir) = stopped_in_a_count_in().await;
    // That server began an hour ago, by its own word.
    let db = Connection::open(dir.join("data").join(FILE_NAME)).unwrap();
    let began: String = db.query_row("SELECT utc FROM sessions", [], |row| row.get(0)).unwrap();
    let earlier = began.parse::<jiff::Timestamp>().unwrap() - jiff::SignedDuration::from_hours(1);
    db.execute_batch("DROP TRIGGER sessions_no_update").unwrap();
    db.execute("UPDATE sessions SET utc = ?", [format!("{earlier:.6}")]).unwrap();
    drop(db);

    let house = House::of_folder(&dir).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let state = desk.until_stage(Stage::Stopped).await.state.unwrap();
    assert!(state.because.as_ref().unwrap().contains("started anew"));
    house.stop().await;
    let events = Reader::open(&dir).unwrap().events(EventFilter::default()).unwrap();
    let went_on = events.iter().find(|row| matches!(row.event.what, What::Phrase | What::Complete));
    assert!(went_on.is_none(), "{went_on:?}");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_call_that_cannot_be_brought_back_is_a_hold_that_says_so() {
    let folder = TempDir::new().unwrap();
    let house = House::open(folder.path(), Vec::new()).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    desk.say(ToServer::Attend { person: "Ayo".into(), present: true });
    desk.until("sees who is there", |seen| seen.known.attendance.as_ref().is_some_and(|noted| noted.len() == 1)).await;
    house.stop().await;

    // It takes too long.
    let house = House::open_impatient(folder.path(), Vec::new()).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let hold = desk.until_stage(Stage::Held).await.state.unwrap().hold.clone().unwrap();
    assert_eq!(hold.callers[0].name, "the desk's machine");
    let reason = hold.callers[0].reason.clone().unwrap();
    assert!(
        reason.starts_with("what stood before this start is not known") && reason.contains("took longer"),
        "{reason}"
    );
    desk.say(ToServer::Release { hold: hold.hold, seen: hold.last_event });
    desk.until_stage(Stage::Idle).await;
    house.stop().await;

    // It cannot be read.
    let file = folder.path().join(FILE_NAME);
    let db = Connection::open(&file).unwrap();
    db.execute_batch("DROP TRIGGER inputs_no_update; UPDATE inputs SET body = '{\"nonsense\":1}' WHERE link = (SELECT max(link) FROM inputs);").unwrap();
    db.close().unwrap();
    let house = House::open(folder.path(), Vec::new()).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let hold = desk.until_stage(Stage::Held).await.state.unwrap().hold.clone().unwrap();
    let reason = hold.callers[0].reason.clone().unwrap();
    assert!(reason.contains("cannot be read by this Holdfast"), "{reason}");
    house.stop().await;
    let starts = replay(folder.path(), None).unwrap();
    let failed: Vec<_> = starts.iter().map(|start| start.failed.is_some()).collect();
    assert_eq!(failed, [false, true, false]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_state_that_was_told_otherwise_is_named() {
    let folder = TempDir::new().unwrap();
    let house = House::open(folder.path(), Vec::new()).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    desk.say(ToServer::Attend { person: "Ayo".into(), present: true });
    desk.until("sees who is there", |seen| seen.known.attendance.as_ref().is_some_and(|noted| noted.len() == 1)).await;
    house.stop().await;
    let [start] = &comes_out(folder.path())[..] else { panic!("one start") };

    // Another name came in than was recorded: what was told after it was something else.
    let db = Connection::open(folder.path().join(FILE_NAME)).unwrap();
    db.execute_batch("DROP TRIGGER inputs_no_update; UPDATE inputs SET body = replace(body, 'Ayo', 'Aya');").unwrap();
    db.close().unwrap();
    let [changed] = &replay(folder.path(), Some(1)).unwrap()[..] else { panic!("one start") };
    let differs = changed.differs.clone().unwrap();
    assert_eq!((changed.inputs, changed.states), (start.inputs, start.states));
    assert!(differs.state > 1 && differs.state <= changed.states, "what was told before is as it was: {differs:?}");

    // Where another program recorded it, that is named beside the state.
    let db = Connection::open(folder.path().join(FILE_NAME)).unwrap();
    let build = "UPDATE inputs SET body = replace(body, '\"build\":\"', '\"build\":\"0.0 of another day, ')";
    db.execute_batch(build).unwrap();
    db.close().unwrap();
    let said = Command::new(env!("CARGO_BIN_EXE_holdfast")).arg("replay").arg(folder.path()).output().unwrap();
    let text = String::from_utf8(said.stdout).unwrap();
    let state = format!("state {} of {}, told ", differs.state, changed.states);
    assert!(text.contains(&state) && text.contains("another program, 0.0 of another day, "), "{text}");
    assert_eq!(said.status.code(), Some(1));
}

/// `data/before/` holds a journal of the version that kept no inputs.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_journal_of_before_is_gone_on_with_and_keeps_inputs_from_then_on() {
    let folder = TempDir::new().unwrap();
    let before = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/it/data/before");
    for file in [FILE_NAME, "journal.head"] {
        std::fs::copy(before.join(file), folder.path().join(file)).unwrap();
    }
    let house = House::open(folder.path(), Vec::new()).await;
    let desk = house.join(Role::Desk, "Maud", None).await;
    assert_eq!(
        desk.hand.seen().borrow().state.as_ref().unwrap().stage,
        Stage::Idle,
        "nothing of it is held against anybody"
    );
    house.stop().await;
    let starts = replay(folder.path(), None).unwrap();
    let kept: Vec<bool> = starts.iter().map(|start| start.build.is_some()).collect();
    assert_eq!(kept, [false, false, false, true]);
    assert!(starts.iter().all(|start| start.failed.is_none() && start.differs.is_none()), "{starts:?}");
    assert!(verify(folder.path()).unwrap().whole);
}
