//! The show can always begin: a server whose log cannot be written begins when a person says so, says what it costs,
//! keeps everything else as it is, and writes the log from the moment on in which the disk takes it.

use std::fs;
use std::io::{Read, Write};
use std::os::fd::OwnedFd;
use std::path::{Path, PathBuf};
use std::process::Stdio;
use std::time::Duration;

use holdfast::event::What;
use holdfast::journal::{EventFilter, Reader, verify};
use holdfast::member::Address;
use holdfast::wire::{HoldTap, PROTOCOL, Stage, Subject, SubjectTold, TapOutcome, ToMember, ToServer};
use nix::pty::{OpenptyResult, openpty};
use tempfile::TempDir;
use tokio::io::AsyncReadExt;
use tokio::process::Child;
use tokio::sync::mpsc::{UnboundedReceiver, unbounded_channel};

use crate::support::program::{holdfast, links};
use crate::support::raw::Raw;

/// What does not come within this does not come.
const PATIENCE: Duration = Duration::from_secs(20);

/// A production, and the folder of its log.
async fn production() -> (TempDir, String, PathBuf) {
    let folder = TempDir::new().unwrap();
    let dir = folder.path().join("production");
    assert!(holdfast(&["new", dir.to_str().unwrap()]).status().await.unwrap().success());
    let data = dir.join("data");
    (folder, dir.to_str().unwrap().to_owned(), data)
}

/// A server of it, begun with these words, and the links that it prints.
async fn serve(dir: &str, words: &[&str]) -> (Child, Address, Address) {
    let mut server = holdfast(&[&["serve", dir, "--listen", "127.0.0.1:0"], words].concat()).spawn().unwrap();
    let (desk, observer) = links(&mut server).await;
    (server, desk, observer)
}

/// What a server says that does not begin.
async fn refused(dir: &str, words: &[&str]) -> String {
    let mut server = holdfast(&[&["serve", dir, "--listen", "127.0.0.1:0"], words].concat());
    let ended = server.stderr(Stdio::piped()).output().await.unwrap();
    let says = String::from_utf8(ended.stderr).unwrap();
    assert_eq!(ended.status.code(), Some(2), "{says}");
    says
}

/// Ends a server as Ctrl-C does, and waits until it is gone.
async fn stop(mut server: Child) {
    let pid = nix::unistd::Pid::from_raw(server.id().unwrap().try_into().unwrap());
    nix::sys::signal::kill(pid, nix::sys::signal::Signal::SIGINT).unwrap();
    let ended = tokio::time::timeout(PATIENCE, server.wait()).await;
    ended.expect("it ends when it is told to").unwrap();
}

fn tap(name: &str) -> ToServer {
    let (tap, reason) = (name.to_owned(), None);
    ToServer::Hold(HoldTap { tap, generation: 0, queued: false, tapped_us: None, screen_cue: None, reason })
}

/// Taps HOLD, and waits until the tap comes out like that.
async fn holds(page: &mut Raw, name: &str, wanted: TapOutcome) {
    page.say(&tap(name)).await;
    let answer = page.hear_until(
        |said| matches!(said, ToMember::TapAnswer { tap, outcome, .. } if tap == name && *outcome == wanted),
    );
    assert!(answer.await.is_some());
}

/// What the desk reads of the log, once it reads that it is so.
async fn log_is(page: &mut Raw, well: bool) -> String {
    let said = page.hear_until(|said| matches!(said, ToMember::State(state) if state.log.well == well)).await;
    let Some(ToMember::State(state)) = said else { panic!("the desk is told how the log is") };
    state.log.says
}

/// The names of the taps in a log.
fn taps(data: &Path) -> Vec<String> {
    let events = Reader::open(data).unwrap().events(EventFilter::default()).unwrap();
    events.iter().filter_map(|row| row.event.what.tap().map(str::to_owned)).collect()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_show_begins_without_a_log_and_takes_it_up_when_the_disk_is_well() {
    let (_folder, dir, data) = production().await;
    // A folder that cannot be made, for root as well: something else has its name.
    fs::write(&data, "in the way").unwrap();
    let says = refused(&dir, &[]).await;
    assert!(says.contains("cannot be written at") && says.contains("--without-log"), "{says}");

    let (server, desk, observer) = serve(&dir, &["--without-log"]).await;
    let (mut desk, _) = Raw::join(&desk, "Ines").await;
    let (mut phone, _) = Raw::join(&observer, "Lotte").await;
    holds(&mut phone, "before", TapOutcome::Unkept).await;
    assert!(desk.hear_until(|said| matches!(said, ToMember::Stop { .. })).await.is_some());
    let says = log_is(&mut desk, false).await;
    assert!(says.starts_with("The log cannot be written:") && says.contains("kept in memory"), "{says}");

    fs::remove_file(&data).unwrap();
    assert_eq!(log_is(&mut desk, true).await, "The log is being written.");
    holds(&mut phone, "after", TapOutcome::Written).await;
    stop(server).await;
    // Nothing of what was recorded before is missing, and nothing is there twice.
    assert_eq!(taps(&data), ["before", "after"]);
    assert!(verify(&data).unwrap().whole);

    // The next start knows who came.
    let (server, ..) = serve(&dir, &[]).await;
    stop(server).await;
    let joined = Reader::open(&data).unwrap().members().unwrap();
    assert_eq!(joined.iter().map(|member| member.name.as_str()).collect::<Vec<_>>(), ["Ines", "Lotte"]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_damaged_log_and_one_of_tomorrow_are_left_as_they_are_and_the_show_begins() {
    type Harm = fn(&mut Vec<u8>);
    let damaged: Harm = |bytes| bytes[100..4_000].fill(0xA5);
    // The version of a journal stands at 60 to 63 of a SQLite file (sqlite.org/fileformat.html, "user version").
    let of_tomorrow: Harm = |bytes| bytes[60..64].copy_from_slice(&900u32.to_be_bytes());
    for (harm, why) in [(damaged, "is damaged"), (of_tomorrow, "was written by a newer Holdfast")] {
        let (folder, dir, data) = production().await;
        let (server, desk, _) = serve(&dir, &[]).await;
        let (mut page, _) = Raw::join(&desk, "Ines").await;
        holds(&mut page, "first", TapOutcome::Written).await;
        stop(server).await;
        let journal = data.join("journal.sqlite");
        let mut bytes = fs::read(&journal).unwrap();
        harm(&mut bytes);
        fs::write(&journal, &bytes).unwrap();
        let says = refused(&dir, &[]).await;
        assert!(says.contains(why) && says.contains("--without-log") && says.contains("--second-log"), "{says}");

        // Without a log: what stood before is not known, so a hold stands, and it is the desk that releases it.
        let (server, desk, observer) = serve(&dir, &["--without-log"]).await;
        let (mut page, _) = Raw::join(&desk, "Ines").await;
        let (mut phone, _) = Raw::join(&observer, "Lotte").await;
        page.release().await;
        holds(&mut phone, "second", TapOutcome::Unkept).await;
        let says = log_is(&mut page, false).await;
        assert!(says.starts_with("Nothing of this call is kept.") && says.contains(why), "{says}");
        stop(server).await;
        assert_eq!(fs::read(&journal).unwrap(), bytes, "it was left as it was");

        // With a log elsewhere.
        let second = folder.path().join("stick");
        let (server, desk, _) = serve(&dir, &["--second-log", second.to_str().unwrap()]).await;
        let (mut page, _) = Raw::join(&desk, "Ines").await;
        page.release().await;
        holds(&mut page, "third", TapOutcome::Written).await;
        let other = folder.path().join("other stick");
        let says = refused(&dir, &["--second-log", other.to_str().unwrap()]).await;
        assert!(says.contains("in use by another Holdfast server"), "{says}");
        stop(server).await;
        assert_eq!(taps(&second), ["third"]);
        assert!(verify(&second).unwrap().whole);
        assert_eq!(fs::read(&journal).unwrap(), bytes, "it was left as it was");
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn of_a_log_that_can_only_be_read_everybody_is_known_and_the_call_goes_on() {
    let (_folder, dir, data) = production().await;
    let (mut server, desk, observer) = serve(&dir, &[]).await;
    let (mut page, _) = Raw::join(&desk, "Ines").await;
    let (mut phone, key) = Raw::join(&observer, "Lotte").await;
    holds(&mut phone, "stands", TapOutcome::Written).await;
    assert!(
        page.hear_until(|said| matches!(said, ToMember::State(state) if state.stage == Stage::Held)).await.is_some()
    );
    server.kill().await.unwrap();
    let before = taps(&data);

    // A lock that cannot be taken is a journal that cannot be written, for root as well.
    let lock = data.join("journal.lock");
    fs::remove_file(&lock).unwrap();
    fs::create_dir(&lock).unwrap();
    let (server, desk, observer) = serve(&dir, &["--without-log"]).await;
    let mut phone = Raw::connect(&observer).await;
    phone.say(&ToServer::Return { protocol: PROTOCOL, key, page: None, taps: Vec::new() }).await;
    let Some(ToMember::Welcome(welcome)) = phone.hear_until(|said| matches!(said, ToMember::Welcome(_))).await else {
        panic!("whoever was in is known");
    };
    assert_eq!(welcome.you.name, "Lotte");
    assert_eq!(welcome.state.stage, Stage::Held, "the hold stands");
    let (mut page, _) = Raw::join(&desk, "Bram").await;
    assert!(!log_is(&mut page, false).await.is_empty());
    assert_eq!(taps(&data), before);

    // Nobody else may have it meanwhile, with a log or without.
    for words in [&[][..], &["--without-log"]] {
        let says = refused(&dir, words).await;
        assert!(says.contains("in use by another Holdfast server") || words.is_empty(), "{says}");
    }

    // The disk is well again: the same start goes on in the log, and the hold is released there.
    fs::remove_dir(&lock).unwrap();
    log_is(&mut page, true).await;
    page.release().await;
    holds(&mut phone, "after", TapOutcome::Written).await;
    stop(server).await;
    assert_eq!(taps(&data), [before, vec!["after".to_owned()]].concat());
    let events = Reader::open(&data).unwrap().events(EventFilter::default()).unwrap();
    let releases = events.iter().filter(|row| matches!(row.event.what, What::Release { .. })).count();
    assert_eq!(releases, 1);
    assert!(verify(&data).unwrap().whole);
    let replayed = holdfast(&["replay", &dir]).output().await.unwrap();
    assert!(replayed.status.success(), "{}", String::from_utf8_lossy(&replayed.stdout));
}

/// A terminal with somebody at it.
struct Terminal {
    hand: fs::File,
    says: UnboundedReceiver<String>,
    said: String,
}

impl Terminal {
    /// A terminal, and its end for a program.
    fn open() -> (Terminal, OwnedFd) {
        let OpenptyResult { master, slave } = openpty(None, None).unwrap();
        let mut eye = fs::File::from(master.try_clone().unwrap());
        let (shown, says) = unbounded_channel();
        std::thread::spawn(move || {
            let mut some = [0; 4_096];
            // Whoever had the other end is gone when it cannot be read any more.
            while let Ok(read @ 1..) = eye.read(&mut some) {
                let _ = shown.send(String::from_utf8_lossy(&some[..read]).into_owned());
            }
        });
        (Terminal { hand: fs::File::from(master), says, said: String::new() }, slave)
    }

    /// Waits until that is shown.
    async fn shows(&mut self, wanted: &str) {
        while !self.said.contains(wanted) {
            let more = tokio::time::timeout(PATIENCE, self.says.recv()).await.ok().flatten();
            self.said.push_str(&more.unwrap_or_else(|| panic!("{wanted} is not shown: {}", self.said)));
        }
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_terminal_asks_and_only_yes_begins() {
    let (_folder, dir, data) = production().await;
    fs::write(&data, "in the way").unwrap();
    for (answer, begins) in [("\n", false), ("no\n", false), ("yes\n", true)] {
        let (mut terminal, end) = Terminal::open();
        let mut command = holdfast(&["serve", &dir, "--listen", "127.0.0.1:0"]);
        let mut server = command.stdin(end.try_clone().unwrap()).stderr(end).spawn().unwrap();
        // What the command keeps of the terminal would keep it open.
        drop(command);
        terminal.shows("Type yes").await;
        assert!(terminal.said.contains("cannot be written at") && terminal.said.contains("it forgets who came"));
        terminal.hand.write_all(answer.as_bytes()).unwrap();
        if begins {
            terminal.shows("Begun without a log.").await;
            let (_, observer) = links(&mut server).await;
            Raw::join(&observer, "Lotte").await;
            stop(server).await;
        } else {
            terminal.shows("To begin all the same:").await;
            let ended = tokio::time::timeout(PATIENCE, server.wait()).await.expect("it ends").unwrap();
            assert_eq!(ended.code(), Some(2), "{}", terminal.said);
        }
    }
}

async fn read_until(words: &mut (impl AsyncReadExt + Unpin), says: &mut String, wanted: &str) {
    let mut some = [0; 4_096];
    while !says.contains(wanted) {
        let read = words.read(&mut some).await.unwrap();
        assert!(read > 0, "it ends before it says {wanted}: {says}");
        says.push_str(&String::from_utf8_lossy(&some[..read]));
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn keys_that_cannot_be_read_are_made_anew_in_memory_and_the_file_is_left() {
    let (_folder, dir, data) = production().await;
    fs::create_dir_all(&data).unwrap();
    let kept = data.join("invitations.toml");
    fs::write(&kept, "desk = [what\n").unwrap();
    let mut command = holdfast(&["serve", &dir, "--listen", "127.0.0.1:0"]);
    let mut server = command.stderr(Stdio::piped()).spawn().unwrap();
    let (mut words, mut says) = (server.stderr.take().unwrap(), String::new());
    read_until(&mut words, &mut says, "The invitations are not kept.").await;
    let (desk, _) = links(&mut server).await;
    let mut page = Raw::connect(&desk).await;
    let invitation = desk.secret().to_owned();
    page.say(&ToServer::Look { protocol: PROTOCOL, invitation }).await;
    assert!(page.hear_until(|said| matches!(said, ToMember::Invited { .. })).await.is_some());
    assert_eq!(fs::read_to_string(&kept).unwrap(), "desk = [what\n");
    stop(server).await;
}

/// Ctrl-C in the very moment in which the links are there.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_server_that_is_stopped_as_soon_as_it_is_there_closes_its_log() {
    const TIMES: usize = 12;
    let (_folder, dir, data) = production().await;
    for _ in 0..TIMES {
        let (server, ..) = serve(&dir, &[]).await;
        stop(server).await;
    }
    let sessions = Reader::open(&data).unwrap().sessions().unwrap();
    assert_eq!(sessions.iter().filter(|session| session.closed_utc.is_some()).count(), TIMES);
}

/// `verify` looks at the journal while it is written, and the desk reads what it finds.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_desk_is_told_what_is_damaged_in_a_log_that_is_written() {
    let (_folder, dir, data) = production().await;
    let (server, desk, _) = serve(&dir, &[]).await;
    let (mut page, _) = Raw::join(&desk, "Ines").await;
    holds(&mut page, "first", TapOutcome::Written).await;
    stop(server).await;
    let db = rusqlite::Connection::open(data.join("journal.sqlite")).unwrap();
    db.execute_batch("DROP TRIGGER events_no_update; UPDATE events SET who = 'Nobody' WHERE kind = 'hold'").unwrap();
    drop(db);

    let (server, desk, _) = serve(&dir, &[]).await;
    let (mut page, _) = Raw::join(&desk, "Bram").await;
    page.say(&ToServer::Show { subjects: vec![Subject::Troubles] }).await;
    let named = |said: &ToMember| match said {
        ToMember::Subject { tells: SubjectTold::Troubles { troubles } } => {
            troubles.iter().any(|trouble| trouble.starts_with("In the log, ") && trouble.contains("holdfast verify"))
        }
        _ => false,
    };
    assert!(page.hear_until(named).await.is_some());
    stop(server).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn another_port_is_taken_only_on_request() {
    let (_folder, dir, _) = production().await;
    let other = tokio::net::TcpListener::bind("127.0.0.1:0").await.unwrap();
    let taken = other.local_addr().unwrap();
    let mut server = holdfast(&["serve", &dir, "--listen", &taken.to_string()]);
    let ended = server.stderr(Stdio::piped()).output().await.unwrap();
    let says = String::from_utf8(ended.stderr).unwrap();
    assert!(ended.status.code() == Some(2) && says.contains("--any-port"), "{says}");

    let mut command = holdfast(&["serve", &dir, "--listen", &taken.to_string(), "--any-port"]);
    let mut server = command.stderr(Stdio::piped()).spawn().unwrap();
    let (mut words, mut says) = (server.stderr.take().unwrap(), String::new());
    read_until(&mut words, &mut says, "lead elsewhere").await;
    let (desk, _) = links(&mut server).await;
    assert_ne!(desk.place(), taken.to_string());
    let (_page, _) = Raw::join(&desk, "Ines").await;
    stop(server).await;
}
