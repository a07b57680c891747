//! A server that is killed, and a disk that is full. The writer is this very test binary, started again with a variable
//! set, so that it can be killed and limited like a real one; what it was told is on disk it prints.
//!
//! Killing a process does not cut the power. For that the journal relies on SQLite's documented guarantee for write-ahead
//! logging with synchronous=FULL (sqlite.org/pragma.html#pragma_synchronous); a test beside `journal::store` sees that
//! this is what is asked for.

use std::io::{BufRead, BufReader, Lines, Write};
use std::path::Path;
use std::process::{Child, ChildStdin, ChildStdout, Command, Stdio};
use std::time::Duration;

use holdfast::event::{Called, HoldId, RunEnd, What};
use holdfast::journal::{EventFilter, JournalError, Reader, Record, verify};
use holdfast::time::utc_now;

use crate::journal::{begun, event_of, hold, open, revision};

const DATA: &str = "HOLDFAST_TEST_DATA";
const TASK: &str = "HOLDFAST_TEST_TASK";

#[test]
fn whatever_was_acknowledged_survives_a_kill() {
    let folder = tempfile::tempdir().unwrap();
    let mut acknowledged: Vec<u64> = Vec::new();
    for round in 0..20u32 {
        let mut writer = Writer::start(folder.path(), "hold-for-ever", None);
        assert_eq!(writer.wait_for("cut-off"), u64::from(round), "every run before was marked as cut off");
        // Another moment each round: after so many holds, wherever the writer is by then.
        let enough = 1 + (round * 29) % 97;
        for _ in 0..enough {
            acknowledged.push(writer.wait_for("written"));
        }
        writer.child.kill().unwrap();
        writer.child.wait().unwrap();
        acknowledged.extend(writer.rest("written"));

        let events = Reader::open(folder.path()).unwrap().events(EventFilter::default()).unwrap();
        let there: std::collections::HashSet<u64> =
            events.iter().filter(|e| matches!(e.event.what, What::Hold { .. })).map(|e| e.seq).collect();
        let lost: Vec<&u64> = acknowledged.iter().filter(|seq| !there.contains(seq)).collect();
        assert!(lost.is_empty(), "round {round}: acknowledged and lost: {lost:?}");
        let verdict = verify(folder.path()).unwrap();
        assert!(verdict.whole, "round {round}: {:?}", verdict.findings);
    }

    let journal = open(folder.path());
    assert!(!journal.opened().closed_well);
    assert_eq!(journal.opened().cut_off, [20]);
    let reader = Reader::open(folder.path()).unwrap();
    let runs = reader.runs().unwrap();
    assert!(runs.iter().all(|run| run.how == Some(RunEnd::CutOff)));
    let events = reader.events(EventFilter { run: Some(20), kind: None }).unwrap();
    let [.., last, cut_off] = &events[..] else { panic!("{events:?}") };
    assert!(matches!(cut_off.event.what, What::CutOff { .. }), "{cut_off:?}");
    assert_eq!((&cut_off.utc, &cut_off.event.spot), (&last.utc, &last.event.spot));
    assert_eq!(runs[19].ended_utc.as_ref(), Some(&last.utc));
}

#[test]
fn a_full_disk_keeps_holds_in_memory_until_there_is_room() {
    let folder = tempfile::tempdir().unwrap();
    let mut writer = Writer::start(folder.path(), "fill", Some(Blocks(400)));
    let before = writer.wait_for("in-trouble");
    let events = Reader::open(folder.path()).unwrap().events(EventFilter::default()).unwrap();
    assert_eq!(
        events.iter().filter(|row| matches!(row.event.what, What::Hold { .. })).count() as u64,
        before,
        "acknowledged is what is there"
    );

    writer.say("more");
    assert_eq!(writer.wait_for("kept"), before, "nothing is acknowledged while nothing can be written");
    // `prlimit` (util-linux) takes the limit away, as somebody does who makes room.
    let room = Command::new("prlimit").args(["--fsize=unlimited", "--pid", &writer.child.id().to_string()]).status();
    assert!(room.unwrap().success());
    writer.say("room");
    let recorded = writer.wait_for("well");
    assert!(recorded > before);
    assert!(writer.child.wait().unwrap().success());

    let events = Reader::open(folder.path()).unwrap().events(EventFilter::default()).unwrap();
    let holds: Vec<u32> = events.iter().filter_map(|row| row.event.what.hold().map(|hold| hold.0)).collect();
    assert_eq!(holds, (1..=recorded as u32).collect::<Vec<_>>(), "every hold, once, in order");
    assert!(verify(folder.path()).unwrap().whole);
}

#[test]
fn closing_on_a_full_disk_says_what_is_lost() {
    let folder = tempfile::tempdir().unwrap();
    let mut writer = Writer::start(folder.path(), "fill", Some(Blocks(400)));
    let before = writer.wait_for("in-trouble");
    writer.say("close");
    assert!(writer.wait_for("unwritten") > 0);
    assert!(writer.child.wait().unwrap().success());
    let verdict = verify(folder.path()).unwrap();
    assert!(verdict.whole, "{:?}", verdict.findings);
    assert_eq!(verdict.holds, before);
}

/// Not a test of its own: the writer that the tests above start.
#[test]
fn child_writer() {
    let (Ok(data), Ok(task)) = (std::env::var(DATA), std::env::var(TASK)) else { return };
    let journal = open(Path::new(&data));
    let cut_off = Reader::open(Path::new(&data)).unwrap().runs().unwrap();
    println!("\ncut-off {}", cut_off.iter().filter(|run| run.how == Some(RunEnd::CutOff)).count());
    let run = journal.opened().last_run + 1;
    journal.record(revision());
    journal.record(begun(run));
    match task.as_str() {
        "hold-for-ever" => hold_for_ever(&journal, run),
        _ => fill(&journal, run),
    }
}

fn hold_for_ever(journal: &holdfast::journal::Journal, run: u32) {
    let (told, hears) = std::sync::mpsc::sync_channel(8);
    for number in journal.opened().last_hold + 1.. {
        let told = told.clone();
        journal.record_then(
            hold(run, number),
            Box::new(move |seq| {
                println!("written {seq}");
                let _ = told.try_send(());
            }),
        );
        // A few are always under way, so that the kill falls into batches of every length.
        if number % 5 == 0 {
            let _ = hears.recv();
        }
    }
}

fn fill(journal: &holdfast::journal::Journal, run: u32) {
    let written = std::sync::Arc::new(std::sync::atomic::AtomicU64::new(0));
    let count = || written.load(std::sync::atomic::Ordering::SeqCst);
    let mut recorded = 0;
    let mut record = || {
        recorded += 1;
        let call = Called { hold: HoldId(recorded), tap: None, reason: Some("x".repeat(1000)), screen: None };
        let hold = event_of(run, What::Hold { call, under_way: Vec::new() });
        let written = std::sync::Arc::clone(&written);
        journal.record_then(
            Record::of(utc_now(), hold),
            Box::new(move |_| {
                written.fetch_add(1, std::sync::atomic::Ordering::SeqCst);
            }),
        );
        recorded
    };
    while journal.health().well {
        let recorded = record();
        wait_until(|| count() == u64::from(recorded) || !journal.health().well);
    }
    assert!(journal.health().says.contains("kept in memory"), "{}", journal.health().says);
    println!("in-trouble {}", count());
    let orders = std::io::stdin().lines().map(Result::unwrap);
    for order in orders {
        match order.as_str() {
            "more" => {
                for _ in 0..50 {
                    record();
                }
                println!("kept {}", count());
            }
            "room" => {
                wait_until(|| journal.health().well);
                let recorded = record();
                wait_until(|| count() == u64::from(recorded));
                println!("well {recorded}");
                journal.close().unwrap();
                return;
            }
            _ => {
                let Err(JournalError::Unwritten { records, .. }) = journal.close() else { panic!("closed well") };
                println!("unwritten {records}");
                return;
            }
        }
    }
}

/// Waits for something that this process itself brings about.
fn wait_until(mut met: impl FnMut() -> bool) {
    while !met() {
        std::thread::sleep(Duration::from_millis(1));
    }
}

/// The size that a file of the writer may have, in blocks of 512 bytes.
struct Blocks(u32);

struct Writer {
    child: Child,
    says: Lines<BufReader<ChildStdout>>,
    hears: ChildStdin,
}

impl Writer {
    fn start(data: &Path, task: &str, limit: Option<Blocks>) -> Writer {
        let this = std::env::current_exe().unwrap();
        let limit = limit.map_or("unlimited".to_owned(), |Blocks(blocks)| blocks.to_string());
        // The shell's trap lets a write beyond the limit fail instead of killing the writer; `exec` keeps both.
        let script = format!("trap '' XFSZ; ulimit -S -f {limit}; exec \"$0\" \"$@\"");
        let mut child = Command::new("sh")
            .args(["-c", &script])
            .arg(this)
            .args(["--exact", "journal_crash::child_writer", "--nocapture", "--test-threads=1"])
            .env(DATA, data)
            .env(TASK, task)
            .stdin(Stdio::piped())
            .stdout(Stdio::piped())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let says = BufReader::new(child.stdout.take().unwrap()).lines();
        let hears = child.stdin.take().unwrap();
        Writer { child, says, hears }
    }

    fn say(&mut self, order: &str) {
        writeln!(self.hears, "{order}").unwrap();
    }

    /// The number after the next line that begins with `word`.
    fn wait_for(&mut self, word: &str) -> u64 {
        let lines = self.says.by_ref().map(Result::unwrap);
        number_after(lines, word).next().unwrap_or_else(|| panic!("the writer never said {word}"))
    }

    /// All the numbers after lines that begin with `word`, to the end.
    fn rest(&mut self, word: &str) -> Vec<u64> {
        number_after(self.says.by_ref().map_while(Result::ok), word).collect()
    }
}

fn number_after(lines: impl Iterator<Item = String>, word: &str) -> impl Iterator<Item = u64> {
    lines.filter_map(move |line| line.strip_prefix(word)?.trim().parse().ok())
}

impl Drop for Writer {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}
