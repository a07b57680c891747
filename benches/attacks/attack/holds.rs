//! Holds with long reasons, as many a second as one link may send for ever. While nothing is measured the tap is one that is
//! known already and pulls nothing, so that the desk can let go; once there is a hold, each is a new one that joins it.

use std::io::Write;

use holdfast::wire::{HoldTap, ToServer};

use super::intruder::Intruder;
use super::job::Job;
use crate::joining::said;

const A_SECOND: u32 = 90;
/// Bytes of a reason.
const REASON: usize = 2_000;

/// Taps.
pub(crate) fn long_reasons(job: &Job) {
    let mut intruder = Intruder::new(job, 0);
    let mut pace = job.pace(A_SECOND);
    let mut number = 0_u64;
    loop {
        pace.wait();
        let Ok(mut socket) = intruder.line() else { continue };
        loop {
            number += 1;
            let name = if job.is_measured() { format!("long {number}") } else { "known".to_owned() };
            let blow = socket.write_all(&tap(name)).and_then(|()| intruder.read_away(&mut socket));
            if blow.is_err() {
                break;
            }
            job.count(1);
            job.ready();
            pace.wait();
        }
        job.count_cut();
    }
}

fn tap(name: String) -> Vec<u8> {
    said(&ToServer::Hold(HoldTap {
        tap: name,
        generation: 0,
        queued: false,
        tapped_us: None,
        screen_cue: None,
        reason: Some("r".repeat(REASON)),
    }))
}
