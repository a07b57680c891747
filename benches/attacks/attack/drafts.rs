//! Drafts as long as they may be, over HTTP, by one member with a key: a bit more often than one member may ask.

use std::io::{self, Read, Write};
use std::time::Duration;

use holdfast::wire::{Draft, MAX_DRAFT};

use super::intruder::Intruder;
use super::job::Job;

/// Requests a second in all, and those who send them beside each other.
const A_SECOND: u32 = 12;
const HANDS: u32 = 4;
/// An answer may take so long.
const ANSWER: Duration = Duration::from_secs(30);

/// The head of a fight and one phrase of it, which is repeated.
const HEAD: &str = "fight \"Long\"\nbeats 4\ntempo 60\n\nfighters\n  ALDER   rapier  right\n  BRYONY  rapier  right\n";
const LINES: &str =
    "  1  ALDER   thrust belly  / BRYONY  parry 4  ! steel\n  3  BRYONY  cut head  / ALDER   parry 5  ! steel\n";

/// Asks for the checks of such a draft.
pub(crate) fn at_the_limit(job: &Job) {
    let mut intruder = Intruder::new(job, 0);
    // The link may go: the key stays.
    while intruder.line().is_err() {}
    let request = request(intruder.key().unwrap_or("none"));
    std::thread::scope(|scope| {
        for hand in 0..HANDS {
            let request = &request;
            scope.spawn(move || ask(job, hand as usize, request));
        }
    });
}

fn ask(job: &Job, hand: usize, request: &[u8]) {
    let mut pace = job.pace(A_SECOND / HANDS);
    loop {
        pace.wait();
        match once(job, hand, request) {
            Ok(true) => job.count(1),
            // It was too much for one member.
            Ok(false) | Err(_) => job.count_cut(),
        }
        job.ready();
    }
}

/// True when the draft was checked, or dropped by a sink.
fn once(job: &Job, hand: usize, request: &[u8]) -> io::Result<bool> {
    let mut socket = job.dial(Job::address(hand))?;
    socket.write_all(request)?;
    if job.at_sink() {
        return Ok(true);
    }
    socket.set_read_timeout(Some(ANSWER))?;
    let mut answer = Vec::new();
    socket.read_to_end(&mut answer)?;
    Ok(answer.starts_with(b"HTTP/1.1 200"))
}

fn request(key: &str) -> Vec<u8> {
    let mut text = HEAD.to_owned();
    for phrase in 0.. {
        let more = format!("\nphrase \"{phrase}\"\n{}", LINES);
        if text.len() + more.len() > MAX_DRAFT {
            break;
        }
        text.push_str(&more);
    }
    let body = serde_json::to_string(&Draft { file: "scores/first-steps.fight".into(), text }).unwrap();
    format!(
        "POST /api/scores/check HTTP/1.1\r\nHost: 127.0.0.1\r\nConnection: close\r\nAuthorization: Bearer {key}\r\n\
         Content-Type: application/json\r\nContent-Length: {}\r\n\r\n{body}",
        body.len()
    )
    .into_bytes()
}
