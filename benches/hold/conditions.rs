//! A hold while something else in the server is stuck or flooded, each beside holds with nothing the matter in the same
//! rounds.

use std::time::Duration;

use holdfast::units::Micros;
use holdfast::wire::ToServer;

use super::crowd::{Crowd, Frames, Stuck};
use super::figures::{median, percentile};
use super::freeze::{end, freeze};
use super::hold::{Sample, hold, tap};
use super::holdfast::{Company, Door, Holdfast, hold_tap};
use super::joining::said;
use super::options::Options;
use super::pipe::FullPipe;
use super::system::System;
use super::table::Table;

/// Holds in a round.
const HOLDS: usize = 3;
/// What a healthy member may wait besides twice the quiet figure (issue 8).
const ALLOWED: Micros = Micros::millis(5);
/// More requests than the server lets wait (`REQUESTS` in src/server/hub.rs is 1,024).
const REQUESTS: usize = 1_200;
/// So many others tap, together a hundred times a second.
const TAPPERS: usize = 5;
const TAP_EVERY: Micros = Micros::millis(10);
/// The thread that may not stand, and the one in which the hub runs: the program's first.
const SOCKETS: &str = "sockets";
const HUB: &str = "holdfast";

/// Prints the table.
pub(crate) fn conditions(options: &Options) {
    println!("\nA HOLD WHILE the rest of the server is stuck, Holdfast with N observers, plain TCP\n");
    println!(
        "Quiet: the median with nothing the matter, in the same rounds. Within: how many of the holds were told to all within"
    );
    println!(
        "twice that and {} ms. A frozen thread is stopped from outside while the tap comes, wherever it stands.\n",
        ALLOWED.0 / 1_000
    );
    let mut table = Table::new(&["N", "while", "holds", "quiet", "p50", "worst", "within", ""]);
    for &members in options.sizes.iter().filter(|members| **members <= options.most_with_conditions()) {
        for kind in [frozen, slow_disk, dead_journal, full_lanes, flooded, blocked] {
            let mut crowd = Crowd::new();
            let mut all = Vec::new();
            let ended = kind(options, &mut crowd, members, &mut all);
            all.iter().for_each(|measured: &Measured| table.row(measured.row(members)));
            if let Err(stuck) = ended {
                let name = all.last().map_or("(start)".to_owned(), |measured| measured.name.clone());
                table.row(vec![members.to_string(), name, format!("stuck: {stuck}")]);
            }
        }
    }
}

/// Holds under one condition, and beside it.
struct Measured {
    name: String,
    quiet: Vec<Sample>,
    during: Vec<Sample>,
}

impl Measured {
    fn new(name: impl Into<String>) -> Measured {
        Measured { name: name.into(), quiet: Vec::new(), during: Vec::new() }
    }

    /// Some holds with nothing the matter.
    fn quiet(&mut self, holdfast: &mut Holdfast, crowd: &mut Crowd) -> Result<(), Stuck> {
        for number in 0..HOLDS {
            self.quiet.push(hold(holdfast, crowd, (self.quiet.len() + number) * 7)?);
        }
        Ok(())
    }

    /// A hold while something is the matter; `over` puts an end to that before the call goes on.
    fn during<T>(&mut self, holdfast: &mut Holdfast, crowd: &mut Crowd, over: T) -> Result<(), Stuck> {
        let tapper = holdfast.members().len() - 1 - self.during.len() % 3;
        let tapped = tap(holdfast, crowd, tapper);
        drop(over);
        crowd.ebb();
        let tapped = tapped?;
        holdfast.settle(crowd)?;
        self.during.push(tapped.settled(holdfast, crowd));
        Ok(())
    }

    fn row(&self, members: usize) -> Vec<String> {
        let quiet = median(self.quiet.iter().map(|sample| sample.last));
        let last: Vec<i64> = self.during.iter().map(|sample| sample.last.0).collect();
        let within = last.iter().filter(|last| **last <= 2 * quiet + ALLOWED.0).count();
        vec![
            members.to_string(),
            self.name.clone(),
            last.len().to_string(),
            quiet.to_string(),
            percentile(&last, 0.5).to_string(),
            percentile(&last, 1.0).to_string(),
            format!("{within}/{}", last.len()),
            String::new(),
        ]
    }
}

/// Each thread but that of the sockets stands while the tap comes; then all of them.
fn frozen(options: &Options, crowd: &mut Crowd, members: usize, all: &mut Vec<Measured>) -> Result<(), Stuck> {
    let mut holdfast = Holdfast::start(crowd, members, Door::Plain)?;
    let mut names: Vec<String> = holdfast.process().threads().into_iter().map(|(_, name)| name).collect();
    names.sort_unstable();
    names.dedup();
    if !names.iter().any(|name| name == SOCKETS) {
        return Err(Stuck("no thread of this server has the sockets to itself".into()));
    }
    let mut others = Measured::new("all frozen");
    names.retain(|name| name != SOCKETS);
    all.extend(
        names
            .iter()
            .map(|name| Measured::new(if name == HUB { "hub frozen".into() } else { format!("{name} frozen") })),
    );
    for _ in 0..options.rounds {
        others.quiet(&mut holdfast, crowd)?;
        for (name, measured) in names.iter().zip(all.iter_mut()) {
            measured.quiet.clone_from(&others.quiet);
            if !holdfast.process().threads().iter().any(|(_, living)| living == name) {
                // Its work is done: one that computes the sounds, say.
                continue;
            }
            for _ in 0..options.few() {
                let over = freeze(holdfast.process(), |thread| thread == name)?;
                measured.during(&mut holdfast, crowd, over)?;
            }
        }
        for _ in 0..options.few() {
            let over = freeze(holdfast.process(), |thread| thread != SOCKETS)?;
            others.during(&mut holdfast, crowd, over)?;
        }
    }
    all.push(others);
    Ok(())
}

/// The journal's thread stands for ten seconds, as it would in an fsync; holds come and go meanwhile.
fn slow_disk(_: &Options, crowd: &mut Crowd, members: usize, all: &mut Vec<Measured>) -> Result<(), Stuck> {
    all.push(Measured::new("fsync of 10 s"));
    let measured = &mut all[0];
    let mut holdfast = Holdfast::start(crowd, members, Door::Plain)?;
    for _ in 0..HOLDS {
        measured.quiet(&mut holdfast, crowd)?;
    }
    let over = freeze(holdfast.process(), |thread| thread == "journal")?;
    let start = crowd.now();
    while crowd.now().since(start) < Micros::seconds(10) {
        // The desk releases each: whoever sends a hundred messages a second for long is cut off.
        crowd.rest(Duration::from_millis(30));
        measured.during(&mut holdfast, crowd, ())?;
    }
    drop(over);
    measured.quiet(&mut holdfast, crowd)
}

/// The journal's thread has ended without a word: nothing begins it anew. (One that panics begins again: `src/faults.rs`.)
fn dead_journal(options: &Options, crowd: &mut Crowd, members: usize, all: &mut Vec<Measured>) -> Result<(), Stuck> {
    all.push(Measured::new("journal dead"));
    let measured = &mut all[0];
    let mut holdfast = Holdfast::start(crowd, members, Door::Plain)?;
    for _ in 0..HOLDS {
        measured.quiet(&mut holdfast, crowd)?;
    }
    end(holdfast.process(), "journal")?;
    for _ in 0..options.rounds * HOLDS {
        crowd.rest(Duration::from_millis(30));
        measured.during(&mut holdfast, crowd, ())?;
    }
    Ok(())
}

/// The hub stands, and as many requests wait for it as may.
fn full_lanes(options: &Options, crowd: &mut Crowd, members: usize, all: &mut Vec<Measured>) -> Result<(), Stuck> {
    all.push(Measured::new("lanes full"));
    let measured = &mut all[0];
    let mut holdfast = Holdfast::start(crowd, members, Door::Plain)?;
    let asks = said(&ToServer::Attend { person: "Somebody".into(), present: true });
    for _ in 0..options.rounds {
        measured.quiet(&mut holdfast, crowd)?;
        // Who asks too much is cut off: a link may send 300 messages at once, and 100 a second for ever.
        crowd.rest(Duration::from_millis(1_500));
        let over = freeze(holdfast.process(), |thread| thread == HUB)?;
        let members = holdfast.members();
        for number in 0..REQUESTS {
            crowd.link(members.start + number % members.len()).write(&asks);
        }
        crowd.rest(Duration::from_millis(100));
        measured.during(&mut holdfast, crowd, over)?;
    }
    Ok(())
}

/// Others tap a hundred times a second: a tap that is known, which pulls nothing; once there is a hold, new ones that join.
fn flooded(options: &Options, crowd: &mut Crowd, members: usize, all: &mut Vec<Measured>) -> Result<(), Stuck> {
    all.push(Measured::new("100 taps a s"));
    let measured = &mut all[0];
    let mut holdfast = Holdfast::start(crowd, members, Door::Plain)?;
    let others = holdfast.members().start..holdfast.members().start + TAPPERS;
    others.clone().for_each(|member| crowd.link(member).write(&hold_tap("known")));
    crowd.rest(Duration::from_millis(300));
    holdfast.settle(crowd)?;
    for _ in 0..options.rounds {
        measured.quiet(&mut holdfast, crowd)?;
        for _ in 0..HOLDS {
            // A hold's own turns are twenty a second and sixty at once for each link.
            crowd.rest(Duration::from_millis(500));
            crowd.flood(others.clone(), flood(measured.during.len()), TAP_EVERY);
            crowd.rest(Duration::from_millis(500));
            measured.during(&mut holdfast, crowd, ())?;
        }
    }
    Ok(())
}

fn flood(number: usize) -> Frames {
    let mut tap = 0;
    Box::new(move |measuring| {
        tap += 1;
        hold_tap(&if measuring { format!("flood {number} {tap}") } else { "known".to_owned() })
    })
}

/// Standard error is a pipe that nobody reads, it is full, and the server has had something to say.
fn blocked(options: &Options, crowd: &mut Crowd, members: usize, all: &mut Vec<Measured>) -> Result<(), Stuck> {
    all.push(Measured::new("stderr blocked"));
    let measured = &mut all[0];
    let failed = |error: std::io::Error| Stuck(error.to_string());
    let (mut pipe, end) = FullPipe::new().map_err(failed)?;
    let mut holdfast = Holdfast::start_as(crowd, Company { performers: 0, observers: members }, Door::Plain, |dir| {
        let mut command = Holdfast::program(dir, Door::Plain);
        command.env("RUST_LOG", "holdfast=debug").stderr(end);
        command
    })?;
    for _ in 0..HOLDS {
        measured.quiet(&mut holdfast, crowd)?;
    }
    pipe.fill().map_err(failed)?;
    for _ in 0..options.rounds {
        // People with a wrong invitation are worth a line. A server that is stuck already hears nobody.
        let _ = holdfast.observer.knock();
        crowd.rest(Duration::from_millis(200));
        measured.during(&mut holdfast, crowd, ())?;
    }
    Ok(())
}
