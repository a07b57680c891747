//! One bad thing said over a link, and again over the next one: what a reader must refuse at once.

use std::io::Write;

use super::intruder::Intruder;
use super::job::Job;
use crate::websocket;

/// So many a second, unless the server takes longer to refuse them.
const A_SECOND: u32 = 200;
/// As deep as a frame allows (`wire::MAX_FRAME`).
const DEEP: usize = holdfast::wire::MAX_FRAME - 1;
/// What a header claims, bytes.
const CLAIMED: u64 = 100 << 20;

/// A frame whose header claims 100 MB, and the beginning of them.
pub(crate) fn long_headers(job: &Job) {
    let mut frame = vec![0x82, 0x80 | 127];
    frame.extend(CLAIMED.to_be_bytes());
    frame.resize(64 * 1024, 0);
    visit(job, || frame.clone());
}

/// Arrays in arrays (the MessagePack specification: 0x91 is an array of one).
pub(crate) fn nesting(job: &Job) {
    let frame = websocket::frame(&vec![0x91; DEEP]);
    visit(job, || frame.clone());
}

/// Random bytes: in a frame, as frames, and to the door itself in turn.
pub(crate) fn random_bytes(job: &Job) {
    let mut turn = 0;
    let random = || {
        let mut bytes = vec![0; 4_096];
        getrandom::fill(&mut bytes).unwrap();
        bytes
    };
    visit(job, || {
        turn += 1;
        if let Ok(mut stranger) = job.dial(Job::address(turn)) {
            let _ = stranger.write_all(&random());
        }
        if turn % 2 == 0 { websocket::frame(&random()) } else { random() }
    });
}

fn visit(job: &Job, mut bytes: impl FnMut() -> Vec<u8>) {
    let mut intruder = Intruder::new(job, 0);
    let mut pace = job.pace(A_SECOND);
    loop {
        pace.wait();
        let Ok(mut socket) = intruder.line() else { continue };
        // Whoever is refused in the middle of it has been refused.
        let _ = socket.write_all(&bytes());
        intruder.read_to_the_end(&mut socket);
        job.count(1);
        job.ready();
    }
}
