//! Interleaved rounds: one hold after the other through several systems, all connected at once, each in its turn, so that
//! whatever the machine does meanwhile happens to all of them.

use std::time::Duration;

use holdfast::units::Micros;

use super::crowd::{Crowd, Stuck};
use super::figures::{median, percentile, ratio};
use super::hold::{Sample, hold};
use super::options::Options;
use super::system::System;

/// Above this part of the time the reader is the bound.
const BUSY: f64 = 0.7;

/// A system that was to be measured, by name.
pub(crate) type Started = (&'static str, Result<Box<dyn System>, Stuck>);

/// What was measured of one system.
pub(crate) struct Measured {
    name: &'static str,
    members: usize,
    /// Processor time a second while nothing happens, µs.
    background: f64,
    /// Memory for each member, KiB.
    memory: f64,
    rounds: Vec<Vec<Sample>>,
    stuck: Option<Stuck>,
}

/// The heads of the columns of [`Measured::row`].
pub(crate) const HEADS: [&str; 14] = [
    "N", "server", "holds", "first", "p50", "p99", "ratio", "own", "CPU told", "sockets", "CPU all", "KiB", "reader",
    "",
];

/// What the columns mean, for above the table; `reference` is what the ratio is to.
pub(crate) fn explain(rounds: usize, reference: &str) {
    println!(
        "From the tap to the first and to the last of N members who have the stop, µs. Ratio: of the medians to those of\n\
         {reference}, round by round; the median of {rounds} rounds. CPU: the server's processor time for one hold, µs: until all\n\
         are told, of that what its thread \"sockets\" took (where it has one), and with all that follows until the next.\n\
         Own: the server's own part, by its clock: from before the read that held the tap to after the last write (median).\n\
         KiB: memory for each member. Reader: how busy the one thread of the load generator was until all were told; where it\n\
         is the bound, the server's own part counts.\n"
    );
}

/// Measures them against each other. Who gets stuck is left out from there on.
pub(crate) fn interleave(crowd: &mut Crowd, started: Vec<Started>, options: &Options, members: usize) -> Vec<Measured> {
    let (mut systems, mut all) = (Vec::new(), Vec::new());
    for (name, system) in started {
        let (system, stuck) = match system {
            Ok(system) => (Some(system), None),
            Err(stuck) => (None, Some(stuck)),
        };
        systems.push(system);
        all.push(Measured { name, members, background: 0.0, memory: 0.0, rounds: Vec::new(), stuck });
    }
    rest(crowd, &mut systems, &mut all);
    let holds = options.holds(members);
    for round in 0..options.rounds {
        all.iter_mut().for_each(|measured| measured.rounds.push(Vec::new()));
        for number in 0..holds {
            for (system, measured) in systems.iter_mut().zip(&mut all) {
                let Some(system) = system.as_mut().filter(|_| measured.stuck.is_none()) else { continue };
                match hold(&mut **system, crowd, (round * holds + number) * 7) {
                    Ok(sample) => measured.rounds[round].push(sample),
                    Err(stuck) => measured.stuck = Some(stuck),
                }
            }
        }
    }
    all
}

/// Nothing happens for a while: what each needs then is no part of a hold.
fn rest(crowd: &mut Crowd, systems: &mut [Option<Box<dyn System>>], all: &mut [Measured]) {
    crowd.rest(Duration::from_secs(1));
    let cpu = |system: &Option<Box<dyn System>>| system.as_ref().map_or(Micros(0), |system| system.process().cpu());
    let before: Vec<Micros> = systems.iter().map(cpu).collect();
    let start = crowd.now();
    crowd.rest(Duration::from_secs(2));
    let seconds = crowd.now().since(start).as_seconds();
    for ((system, measured), before) in systems.iter().zip(all).zip(before) {
        measured.background = (cpu(system).0 - before.0) as f64 / seconds;
        if let Some(system) = system {
            let memory = system.process().memory().saturating_sub(system.empty());
            measured.memory = memory as f64 / measured.members as f64;
        }
    }
}

impl Measured {
    /// The median of each round in which there is one.
    pub(crate) fn medians(&self) -> Vec<i64> {
        let full = self.rounds.iter().filter(|round| !round.is_empty());
        full.map(|round| median(round.iter().map(|sample| sample.last))).collect()
    }

    /// How it compares with another, round by round.
    pub(crate) fn ratio(&self, reference: &Measured) -> Option<f64> {
        ratio(&self.medians(), &reference.medians())
    }

    /// The name it was measured under.
    pub(crate) fn name(&self) -> &'static str {
        self.name
    }

    /// The samples of all rounds.
    fn samples(&self) -> impl Iterator<Item = &Sample> + Clone {
        self.rounds.iter().flatten()
    }

    /// The median processor time of its thread `sockets` until all are told, or of all its threads where none is named so.
    pub(crate) fn cpu_told(&self) -> i64 {
        median(self.samples().map(|sample| sample.sockets.unwrap_or(sample.cpu)))
    }

    /// Its row.
    pub(crate) fn row(&self, reference: &Measured) -> Vec<String> {
        if self.samples().next().is_none() {
            let why = self.stuck.as_ref().map_or("nothing measured".to_owned(), Stuck::to_string);
            return vec![self.members.to_string(), self.name.to_owned(), why];
        }
        let last: Vec<i64> = self.samples().map(|sample| sample.last.0).collect();
        let all = self.samples().map(|sample| {
            let (cpu, time) = sample.cycle;
            Micros(cpu.0 - (self.background * time.as_seconds()) as i64)
        });
        let sockets: Vec<Micros> = self.samples().filter_map(|sample| sample.sockets).collect();
        let own: Vec<Micros> = self.samples().filter_map(|sample| sample.own).collect();
        let reader: i64 = self.samples().map(|sample| sample.reader.0).sum();
        let busy = reader as f64 / last.iter().sum::<i64>().max(1) as f64;
        let bounded = (busy > BUSY).then(|| "bounded by the reader".to_owned());
        let stuck = self.stuck.as_ref().map(|stuck| format!("stuck: {stuck}"));
        vec![
            self.members.to_string(),
            self.name.to_owned(),
            last.len().to_string(),
            median(self.samples().map(|sample| sample.first)).to_string(),
            percentile(&last, 0.5).to_string(),
            percentile(&last, 0.99).to_string(),
            self.ratio(reference).map_or(String::new(), |ratio| format!("{ratio:.2}")),
            if own.is_empty() { "-".to_owned() } else { median(own).to_string() },
            median(self.samples().map(|sample| sample.cpu)).to_string(),
            if sockets.is_empty() { "-".to_owned() } else { median(sockets).to_string() },
            median(all).to_string(),
            format!("{:.1}", self.memory),
            format!("{:.0} %", busy * 100.0),
            [bounded, stuck].into_iter().flatten().collect::<Vec<_>>().join("; "),
        ]
    }
}
