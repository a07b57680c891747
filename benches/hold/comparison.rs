//! The first tables: a hold through the floor, Holdfast and the brokers; and over TLS beside plain.

use super::brokers::{self, Broker};
use super::crowd::Crowd;
use super::floor::Floor;
use super::holdfast::{Door, Holdfast};
use super::options::Options;
use super::rounds::{HEADS, Measured, Started, explain, interleave};
use super::system::System;
use super::table::Table;

/// More members than this, and the brokers are left out: the files that one process may open would not do for all.
const MOST_WITH_BROKERS: usize = 2_000;

/// Prints the table of all servers.
pub(crate) fn compare(options: &Options) {
    println!("\nA HOLD, Holdfast beside a bare epoll loop and brokers that publish to subscribers\n");
    explain(options.rounds, "the epoll loop");
    brokers::missing().iter().for_each(|line| println!("{line}"));
    let mut table = Table::new(&HEADS);
    let mut verdicts = Vec::new();
    for &members in &options.sizes {
        let mut crowd = Crowd::new();
        let started = all(&mut crowd, members);
        let all = interleave(&mut crowd, started, options, members);
        all.iter().for_each(|measured| table.row(measured.row(&all[0])));
        verdicts.extend(verdict(members, &all));
    }
    println!();
    verdicts.iter().for_each(|line| println!("{line}"));
}

/// The floor, Holdfast, and the brokers that are installed, each with so many members.
pub(crate) fn all(crowd: &mut Crowd, members: usize) -> Vec<Started> {
    let mut started = vec![boxed("epoll loop", Floor::start(crowd, members)), holdfast(crowd, members, Door::Plain)];
    let brokers = if members > MOST_WITH_BROKERS { &[][..] } else { &brokers::ALL };
    for kind in brokers {
        if let Some(broker) = Broker::start(kind, crowd, members) {
            started.push(boxed(kind.name(), broker));
        }
    }
    started
}

/// Prints the table of plain and TLS.
pub(crate) fn compare_secure(options: &Options) {
    println!("\nA HOLD over plain TCP and over TLS\n");
    explain(options.rounds, "plain TCP");
    let mut table = Table::new(&HEADS);
    let mut verdicts = Vec::new();
    for &members in &options.sizes {
        let mut crowd = Crowd::new();
        let started = [Door::Plain, Door::Secure].map(|door| holdfast(&mut crowd, members, door));
        let all = interleave(&mut crowd, started.into(), options, members);
        all.iter().for_each(|measured| table.row(measured.row(&all[0])));
        if let Some(ratio) = all[1].ratio(&all[0]) {
            verdicts.push(goal(format!("N = {members}: TLS is {ratio:.2} times plain"), ratio, 1.5));
        }
    }
    println!();
    verdicts.iter().for_each(|line| println!("{line}"));
}

fn holdfast(crowd: &mut Crowd, members: usize, door: Door) -> Started {
    boxed(door.name(), Holdfast::start(crowd, members, door))
}

fn boxed<S: System + 'static>(name: &'static str, started: Result<S, super::crowd::Stuck>) -> Started {
    (name, started.map(|system| Box::new(system) as Box<dyn System>))
}

/// How Holdfast stands against the goals of this size (issue 8).
fn verdict(members: usize, all: &[Measured]) -> Vec<String> {
    let (floor, holdfast, brokers) = (&all[0], &all[1], &all[2..]);
    let Some(ratio) = holdfast.ratio(floor) else { return Vec::new() };
    let most = match members {
        0..=10 => 1.5,
        11..=50 => 1.7,
        _ => 1.1,
    };
    let mut lines = vec![goal(format!("N = {members}: Holdfast is {ratio:.2} times the epoll loop"), ratio, most)];
    for broker in brokers {
        let Some(against) = holdfast.ratio(broker) else { continue };
        lines.push(goal(format!("N = {members}: Holdfast is {against:.2} times {}", broker.name()), against, 1.0));
        if broker.name() == "Redis" {
            let cpu = holdfast.cpu_told() as f64 / broker.cpu_told().max(1) as f64;
            lines.push(goal(
                format!("N = {members}: its processor time until all are told, {cpu:.2} times Redis's"),
                cpu,
                2.0,
            ));
        }
    }
    lines
}

fn goal(sentence: String, is: f64, most: f64) -> String {
    format!("{sentence}; at the most {most} {}", if is <= most { "is met" } else { "is NOT met" })
}
