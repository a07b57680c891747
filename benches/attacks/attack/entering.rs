//! Coming in without end: always as somebody new, and always as the same one.

use super::intruder::Intruder;
use super::job::Job;

/// So many a second, unless the server takes longer to let them in.
const A_SECOND: u32 = 200;

/// Joins, each under another name, with a performer's invitation.
pub(crate) fn joins(job: &Job) {
    let mut pace = job.pace(A_SECOND);
    for number in 0.. {
        pace.wait();
        let mut intruder = Intruder::performer(job, number);
        match intruder.line() {
            Ok(_) => job.count(1),
            Err(_) => job.count_cut(),
        }
        job.ready();
    }
}

/// Returns with one key.
pub(crate) fn returns(job: &Job) {
    let mut intruder = Intruder::new(job, 0);
    let mut pace = job.pace(A_SECOND);
    loop {
        pace.wait();
        match intruder.line() {
            Ok(_) => job.count(1),
            Err(_) => job.count_cut(),
        }
        job.ready();
    }
}
