//! One hold, measured: from before the write of the tap to after the read that brought the stop to the last member.

use std::ops::Range;
use std::time::Duration;

use holdfast::units::{Micros, ServerTime};

use super::crowd::{Crowd, Stuck};
use super::process::own_cpu;
use super::sighting::Kind;
use super::system::System;

/// A member who has not been told after so long makes the round a stuck one.
pub(crate) const LIMIT: Duration = Duration::from_secs(10);

/// What one hold took.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Sample {
    /// From the tap to the first member who has it.
    pub(crate) first: Micros,
    /// From the tap to the last member who has it.
    pub(crate) last: Micros,
    /// From the read that held the tap to the last write, by the server's own clock, if it tells.
    pub(crate) own: Option<Micros>,
    /// Processor time of the server until then.
    pub(crate) cpu: Micros,
    /// That of its thread `sockets`, if it has one.
    pub(crate) sockets: Option<Micros>,
    /// Processor time of the server until all is at rest, and how long that took.
    pub(crate) cycle: (Micros, Micros),
    /// Processor time of the reader until the last member has it.
    pub(crate) reader: Micros,
}

/// When the members had it.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Told {
    /// The first.
    pub(crate) first: ServerTime,
    /// The last.
    pub(crate) last: ServerTime,
}

/// A member taps; waits until all have it, and until the server is ready for the next.
pub(crate) fn hold(system: &mut dyn System, crowd: &mut Crowd, tapper: usize) -> Result<Sample, Stuck> {
    crowd.quiet(Micros::millis(1));
    let tapped = tap(system, crowd, tapper)?;
    system.settle(crowd)?;
    let own = system.wrote();
    Ok(Sample { own, ..tapped.settled(system, crowd) })
}

/// A hold that all have been told of.
pub(crate) struct Tapped {
    start: ServerTime,
    cpu: Micros,
    sample: Sample,
}

/// A member taps; waits until all have it.
pub(crate) fn tap(system: &mut dyn System, crowd: &mut Crowd, tapper: usize) -> Result<Tapped, Stuck> {
    let tap = system.tap();
    let sockets = system.process().cpu_of("sockets");
    crowd.measure();
    let (cpu, reader) = (system.process().cpu(), own_cpu());
    let start = crowd.now();
    crowd.link(system.members().start + tapper % system.members().len()).write(&tap);
    let told = told(crowd, system.members(), system.stop());
    let (cpu_told, reader) = (system.process().cpu(), Micros(own_cpu().0 - reader.0));
    crowd.measured();
    let told = told?;
    let sockets = system.process().cpu_of("sockets").zip(sockets).map(|(now, then)| Micros(now.0 - then.0));
    let sample = Sample {
        first: told.first.since(start),
        last: told.last.since(start),
        cpu: Micros(cpu_told.0 - cpu.0),
        own: None,
        sockets,
        cycle: (Micros(0), Micros(0)),
        reader,
    };
    Ok(Tapped { start, cpu, sample })
}

impl Tapped {
    /// When it was tapped.
    pub(crate) fn start(&self) -> ServerTime {
        self.start
    }

    /// What it took, once all is at rest.
    pub(crate) fn settled(self, system: &dyn System, crowd: &Crowd) -> Sample {
        let cycle = (Micros(system.process().cpu().0 - self.cpu.0), crowd.now().since(self.start));
        Sample { cycle, ..self.sample }
    }
}

/// Waits until every member has a message of that kind, which may have come since it began to be measured.
pub(crate) fn told(crowd: &mut Crowd, members: Range<usize>, kind: Kind) -> Result<Told, Stuck> {
    let mut has = vec![false; members.len()];
    let mut count = 0;
    let mut told: Option<Told> = None;
    let mut read = 0;
    let all = crowd.until(LIMIT, "all are told", |crowd| {
        for seen in &crowd.seen[read..] {
            if seen.kind == kind && members.contains(&seen.link) && !has[seen.link - members.start] {
                has[seen.link - members.start] = true;
                count += 1;
                told = Some(told.map_or(Told { first: seen.at, last: seen.at }, |told| Told {
                    first: told.first.min(seen.at),
                    last: told.last.max(seen.at),
                }));
            }
        }
        read = crowd.seen.len();
        count == members.len()
    });
    match (all, told) {
        (Ok(()), Some(told)) => Ok(told),
        (Err(stuck), _) => Err(Stuck(format!("{stuck}: {count} of {} have it", members.len()))),
        (Ok(()), None) => Err(Stuck("there are no members".into())),
    }
}
