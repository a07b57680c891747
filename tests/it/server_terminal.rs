//! A terminal that stands still (Ctrl-S, or a pipe that nobody reads) holds up nothing: the real program is started with
//! a standard error that is full to the last byte, and joins, holds and their places in the log are answered.

use std::process::Stdio;

use holdfast::wire::{HoldTap, TapOutcome, ToMember, ToServer};
use tempfile::TempDir;
use tokio::io::AsyncReadExt;
use tokio::net::unix::pipe::{Receiver, Sender};

use crate::support::program::{holdfast, links};
use crate::support::raw::Raw;

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn joins_and_holds_are_answered_while_standard_error_takes_nothing() {
    let folder = TempDir::new().unwrap();
    let dir = folder.path().join("production");
    assert!(holdfast(&["new", dir.to_str().unwrap()]).status().await.unwrap().success());
    let (mut terminal, stderr, filled) = full_pipe().await;
    let mut server = holdfast(&["serve", dir.to_str().unwrap(), "--listen", "127.0.0.1:0"]);
    let mut server = server.stderr(stderr).spawn().unwrap();
    let (desk, observer) = links(&mut server).await;

    // Each of these is a line of the log, and each answer is waited for.
    let (mut desk, _) = Raw::join(&desk, "desk").await;
    let mut phones = Vec::new();
    for number in 0..20 {
        phones.push(Raw::join(&observer, &format!("phone {number}")).await.0);
    }
    for (number, phone) in phones.iter_mut().enumerate() {
        let tap = format!("tap {number}");
        phone.say(&ToServer::Hold(tap_named(&tap))).await;
        let written = |message: &ToMember| matches!(message, ToMember::TapAnswer { tap: answered, outcome: TapOutcome::Written, .. } if *answered == tap);
        assert!(phone.hear_until(written).await.is_some(), "{tap} is written");
    }
    assert!(desk.hear_until(|message| matches!(message, ToMember::Held(_))).await.is_some(), "the desk is told");

    // The terminal takes lines again: first what was on it, then all that was said meanwhile.
    let mut before = vec![0; filled];
    terminal.read_exact(&mut before).await.unwrap();
    let mut log = String::new();
    while !log.contains("phone 19") {
        let mut some = [0; 4096];
        let read = terminal.read(&mut some).await.unwrap();
        assert_ne!(read, 0, "the log ends early:\n{log}");
        log.push_str(&String::from_utf8_lossy(&some[..read]));
    }
    for number in 0..20 {
        assert!(log.contains(&format!("phone {number}")), "phone {number} is missing in the log:\n{log}");
    }
    server.kill().await.unwrap();
}

fn tap_named(tap: &str) -> HoldTap {
    HoldTap { tap: tap.into(), generation: 0, queued: false, tapped_us: None, screen_cue: None, reason: None }
}

/// A pipe that takes no byte more: its end to read from, its end for a program to write to, and what is in it.
async fn full_pipe() -> (Receiver, Stdio, usize) {
    let (reader, writer) = std::io::pipe().unwrap();
    let sender = Sender::from_owned_fd(writer.into()).unwrap();
    sender.writable().await.unwrap();
    let mut filled = 0;
    // What is left at the end may be less than a page: it is filled byte by byte.
    for size in [4096, 1] {
        while let Ok(written) = sender.try_write(&vec![b'.'; size]) {
            filled += written;
        }
        assert!(filled > 0);
    }
    let writer = sender.into_blocking_fd().unwrap();
    (Receiver::from_owned_fd(reader.into()).unwrap(), Stdio::from(writer), filled)
}
