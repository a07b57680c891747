//! The attacks. This part runs in the attacker's process: it begins one of them, says once that it is under way, listens
//! for whether a hold is being measured, and ends with its standard input.

mod connections;
mod drafts;
mod entering;
mod floods;
mod holds;
mod intruder;
mod job;
mod visits;

use std::thread;

use super::joining::Invitation;
use job::Job;

/// The word that starts this program as the attacker.
pub(crate) const WORD: &str = "attacker";
/// What it says once its attack is under way.
pub(crate) const READY: &str = "ready";
/// What it is told.
pub(crate) const MEASURING: &str = "measuring";
pub(crate) const MEASURED: &str = "measured";

/// One attack.
pub(crate) struct Kind {
    /// Its number in the table.
    pub(crate) number: u8,
    /// Its name there.
    pub(crate) name: &'static str,
    /// True for those that are tried with few descriptors too.
    pub(crate) connections: bool,
    /// True for one that begins with a hold.
    pub(crate) holds: bool,
    /// Attacks until the process ends.
    attack: fn(&Job),
}

const fn kind(number: u8, name: &'static str, connections: bool, attack: fn(&Job)) -> Kind {
    Kind { number, name, connections, holds: false, attack }
}

/// All of them.
pub(crate) const ALL: [Kind; 15] = [
    kind(1, "frames", false, floods::frames),
    kind(2, "never-reads", false, floods::never_reads),
    kind(3, "slow-bytes", true, connections::slow_bytes),
    kind(4, "idle", true, connections::idle),
    kind(5, "half-requests", true, connections::half_requests),
    kind(6, "no-hello", true, connections::no_hello),
    kind(7, "100-MB-headers", false, visits::long_headers),
    kind(8, "nesting", false, visits::nesting),
    kind(9, "fragments", false, floods::fragments),
    kind(10, "pings", false, floods::pings),
    kind(11, "random-bytes", false, visits::random_bytes),
    kind(12, "joins", false, entering::joins),
    kind(13, "returns", false, entering::returns),
    Kind { holds: true, ..kind(14, "long-holds", false, holds::long_reasons) },
    kind(15, "drafts", false, drafts::at_the_limit),
];

/// Runs the attack that the words name, until standard input ends.
pub(crate) fn run(words: &[String]) {
    let [name, observer, performer, sink] = words else { panic!("an attacker is told four things") };
    let kind = ALL.iter().find(|kind| kind.name == name).unwrap();
    let invitation = |link: &str| Invitation::parse(link).unwrap();
    let sink: u16 = sink.parse().unwrap();
    // It lives as long as the process.
    let job: &'static Job =
        Box::leak(Box::new(Job::new(invitation(observer), invitation(performer), (sink != 0).then_some(sink))));
    thread::spawn(|| (kind.attack)(job));
    for line in std::io::stdin().lines().map_while(Result::ok) {
        job.measure(line == MEASURING);
    }
    println!("{}", job.done());
    std::process::exit(0);
}
