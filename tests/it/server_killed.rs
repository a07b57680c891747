//! The server is killed in the middle of a run, a hundred times, at random moments: every hold that was acknowledged as
//! written is in the log, once, and the log is whole. A kill -9 takes the program away between any two instructions;
//! what survives a power cut is SQLite's promise for WAL with synchronous=FULL (sqlite.org, "PRAGMA synchronous").

use std::collections::BTreeSet;
use std::path::Path;
use std::time::Duration;

use holdfast::event::What;
use holdfast::journal::{EventFilter, Reader};
use holdfast::wire::{DriveKind, HoldTap, Setup, Stage, Subject, SubjectTold, TapOutcome, ToMember, ToServer};
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;
use tempfile::TempDir;

use crate::support::program::{holdfast, links};
use crate::support::raw::Raw;

const KILLS: usize = 100;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn what_was_acknowledged_as_written_is_there_after_a_hundred_kills() {
    let folder = TempDir::new().unwrap();
    let dir = folder.path().join("production");
    assert!(holdfast(&["new", dir.to_str().unwrap()]).status().await.unwrap().success());
    let mut runner = TestRunner::new(ProptestConfig::default());
    let mut written = BTreeSet::new();
    let mut runs_cut_off = 0;
    for kill in 0..KILLS {
        let (calm, delay) = (0u64..120, 0u64..160).new_tree(&mut runner).unwrap().current();
        let (calm, killed_after) = (Duration::from_millis(calm), Duration::from_millis(delay));
        let acknowledged = one_life(&dir, kill, calm, killed_after).await;
        written.extend(acknowledged);
        let events = Reader::open(&dir).unwrap().events(EventFilter::default()).unwrap();
        let logged: Vec<_> = events.iter().filter_map(|row| row.event.what.tap().map(str::to_owned)).collect();
        for tap in &written {
            let times = logged.iter().filter(|logged| *logged == tap).count();
            assert_eq!(times, 1, "{tap} was acknowledged as written before kill {kill} (after {delay} ms)");
        }
        runs_cut_off += events.iter().filter(|row| matches!(row.event.what, What::CutOff { .. })).count();
    }
    assert!(written.len() >= KILLS, "the kills hit a server that was writing: {} holds", written.len());
    assert!(runs_cut_off > 0, "runs that were under way are marked");
    for look in ["verify", "replay"] {
        let verdict = holdfast(&[look, dir.to_str().unwrap()]).output().await.unwrap();
        assert!(verdict.status.success(), "{look}: {}", String::from_utf8_lossy(&verdict.stdout));
    }
}

/// One life of the server: a run is started, after a calm holds are called as fast as they are answered, then it is killed.
/// Returns the taps that were acknowledged as written.
async fn one_life(dir: &Path, life: usize, calm: Duration, killed_after: Duration) -> Vec<String> {
    let mut server = holdfast(&["serve", dir.to_str().unwrap(), "--listen", "127.0.0.1:0"]).spawn().unwrap();
    let (desk, observer) = links(&mut server).await;
    let (mut desk, _) = Raw::join(&desk, &format!("desk {life}")).await;
    let (mut phone, _) = Raw::join(&observer, &format!("phone {life}")).await;
    // The hold that stood when the last one was killed stands still.
    desk.release().await;
    start_a_run(&mut desk).await;
    let calling = tokio::spawn(async move {
        tokio::time::sleep(calm).await;
        let mut written = Vec::new();
        for number in 0.. {
            let tap = HoldTap {
                tap: format!("life {life} tap {number}"),
                generation: 0,
                queued: false,
                tapped_us: None,
                screen_cue: None,
                reason: None,
            };
            phone.say(&ToServer::Hold(tap.clone())).await;
            let mine = |message: &ToMember| matches!(message, ToMember::TapAnswer { tap: answered, outcome: TapOutcome::Written, .. } if *answered == tap.tap);
            match phone.hear_until(mine).await {
                Some(_) => written.push(tap.tap),
                None => break,
            }
        }
        written
    });
    tokio::time::sleep(killed_after).await;
    server.kill().await.unwrap();
    calling.await.unwrap()
}

async fn start_a_run(desk: &mut Raw) {
    desk.say(&ToServer::Show { subjects: vec![Subject::Fights] }).await;
    let told = desk.hear_until(|message| matches!(message, ToMember::Subject { .. })).await;
    let Some(ToMember::Subject { tells: SubjectTold::Fights { fights } }) = told else { panic!("no fights") };
    let fight = fights[0].fight.clone();
    let setup = Setup {
        fight,
        weapons: None,
        from: 0,
        from_move: None,
        to: 0,
        percent: 100,
        count_in: 4,
        drive: DriveKind::Clock,
    };
    desk.say(&ToServer::Places { setup, seen: desk.seen() }).await;
    let places = |message: &ToMember| matches!(message, ToMember::State(state) if state.stage == Stage::Places);
    let Some(ToMember::State(state)) = desk.hear_until(places).await else { panic!("no places") };
    desk.say(&ToServer::Start { generation: state.generation, anyway: true, seen: state.last_event }).await;
    let started = |message: &ToMember| matches!(message, ToMember::Run(run) if run.start_us.is_some());
    assert!(desk.hear_until(started).await.is_some());
}
