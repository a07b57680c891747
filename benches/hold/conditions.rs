//! A hold while something else in the server is stuck, dead or flooded: each condition beside a hold without it, in the
//! same rounds, with a server of its own, because not every server survives.

use std::io::Write;
use std::ops::Range;
use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

use holdfast::call::Role;
use holdfast::units::Micros;
use holdfast::wire::ToServer;

use super::crowd::{Crowd, Stuck};
use super::figures::{median, percentile};
use super::hold::{LIMIT, Sample, hold, tap};
use super::holdfast::{Door, Holdfast, hold_tap};
use super::joining::said;
use super::options::Options;
use super::pipe::FullPipe;
use super::system::System;
use super::table::Table;

/// The word that starts this program as the server whose threads can be frozen.
pub(crate) const SERVER: &str = "server";
/// The threads of that server's runtime; what freezes the runtime freezes them all.
pub(crate) const WORKERS: usize = 2;
/// Holds in a round, and rounds, of each condition.
const HOLDS: usize = 3;
/// What a healthy member may wait besides twice the quiet figure (issue 8).
const ALLOWED: Micros = Micros::millis(5);
/// More requests than the server lets wait (`REQUESTS` in src/server/hub.rs is 1,024).
const REQUESTS: usize = 1_200;
/// So many others tap, together a hundred times a second.
const TAPPERS: usize = 10;
const TAP_EVERY: Micros = Micros::millis(10);

/// A condition.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Condition {
    /// These threads stand while the tap comes.
    Frozen(&'static [&'static str]),
    /// The journal's thread stands for ten seconds, as it would in an fsync; holds come and go meanwhile.
    SlowDisk,
    /// The hub stands and as many requests wait as may.
    FullLanes,
    /// The journal's thread is gone.
    NoJournal,
    /// Standard error is a pipe that nobody reads, and it is full.
    StandardError,
    /// Others tap a hundred times a second.
    Taps,
}

const ALL: &[(Condition, &str)] = &[(Condition::StandardError, "stderr blocked"), (Condition::Taps, "100 taps a s")];

/// Prints the table.
pub(crate) fn conditions(options: &Options) {
    println!("\nA HOLD WHILE the rest of the server is stuck, Holdfast with N observers, plain TCP\n");
    println!(
        "Quiet: the median with nothing the matter, in the same rounds. Within: how many of the holds were told to all within"
    );
    println!("twice that and {} ms.\n", ALLOWED.0 / 1_000);
    let mut table = Table::new(&["N", "while", "holds", "quiet", "p50", "worst", "within", ""]);
    for &members in options.sizes.iter().filter(|members| **members <= options.most_with_conditions()) {
        for &(condition, name) in ALL {
            let mut crowd = Crowd::new();
            let mut measured = Measured::default();
            let ended = measured.measure(options, &mut crowd, members, condition);
            table.row(measured.row(members, name, ended));
        }
    }
}

#[derive(Default)]
struct Measured {
    quiet: Vec<Sample>,
    during: Vec<Sample>,
}

impl Measured {
    fn measure(
        &mut self,
        options: &Options,
        crowd: &mut Crowd,
        members: usize,
        condition: Condition,
    ) -> Result<(), Stuck> {
        let mut patient = Patient::start(crowd, members, condition)?;
        for round in 0..options.rounds {
            for number in 0..HOLDS {
                // What is dead stays dead: all that is quiet comes before.
                let ill = condition == Condition::NoJournal && round > 0;
                if !ill {
                    self.quiet.push(hold(&mut patient.holdfast, crowd, (round * HOLDS + number) * 7)?);
                }
            }
            patient.round(crowd, round, &mut self.during)?;
        }
        Ok(())
    }

    fn row(&self, members: usize, name: &str, ended: Result<(), Stuck>) -> Vec<String> {
        let quiet = median(self.quiet.iter().map(|sample| sample.last));
        let last: Vec<i64> = self.during.iter().map(|sample| sample.last.0).collect();
        let within = last.iter().filter(|last| **last <= 2 * quiet + ALLOWED.0).count();
        vec![
            members.to_string(),
            name.to_owned(),
            last.len().to_string(),
            quiet.to_string(),
            percentile(&last, 0.5).to_string(),
            percentile(&last, 1.0).to_string(),
            format!("{within}/{}", last.len()),
            ended.err().map_or(String::new(), |stuck| format!("stuck: {stuck}")),
        ]
    }
}

/// A server with something the matter.
struct Patient {
    holdfast: Holdfast,
    condition: Condition,
    pipe: Option<FullPipe>,
}

impl Patient {
    fn start(crowd: &mut Crowd, members: usize, condition: Condition) -> Result<Patient, Stuck> {
        let program = std::env::current_exe().map_err(|error| Stuck(error.to_string()))?;
        if condition == Condition::Taps {
            let mut holdfast = Holdfast::start(crowd, members, Door::Plain)?;
            flood_once(&mut holdfast, crowd)?;
            return Ok(Patient { holdfast, condition, pipe: None });
        }
        let own = |dir: &Path| {
            let mut command = Command::new(program);
            command.arg(SERVER).arg(dir).stderr(Stdio::null());
            command
        };
        if condition != Condition::StandardError {
            let holdfast = Holdfast::start_as(crowd, members, Door::Plain, own)?;
            return Ok(Patient { holdfast, condition, pipe: None });
        }
        let (pipe, end) = FullPipe::new().map_err(|error| Stuck(error.to_string()))?;
        let holdfast = Holdfast::start_as(crowd, members, Door::Plain, |dir| {
            let mut command = Holdfast::program(dir, Door::Plain);
            command.env("RUST_LOG", "holdfast=debug").stderr(end);
            command
        })?;
        Ok(Patient { holdfast, condition, pipe: Some(pipe) })
    }

    /// Some holds under the condition.
    fn round(&mut self, crowd: &mut Crowd, round: usize, samples: &mut Vec<Sample>) -> Result<(), Stuck> {
        match self.condition {
            Condition::SlowDisk if round > 0 => return Ok(()),
            Condition::SlowDisk => {
                let start = crowd.now();
                self.freeze(crowd, &["journal"])?;
                while crowd.now().since(start) < Micros::seconds(10) {
                    samples.push(hold(&mut self.holdfast, crowd, samples.len() * 7)?);
                }
                return self.thaw(&["journal"]);
            }
            Condition::NoJournal if round == 0 => self.order("break journal")?,
            Condition::StandardError if round == 0 => self.block_standard_error(crowd)?,
            Condition::Taps => crowd.flood(self.tappers(), flood_frames(), TAP_EVERY),
            _ => {}
        }
        for number in 0..HOLDS {
            let tapper = self.holdfast.members().len() - 1 - (round * HOLDS + number) % 3;
            match self.condition {
                Condition::Frozen(threads) => self.frozen_hold(crowd, threads, tapper, samples)?,
                Condition::FullLanes => {
                    crowd.rest(Duration::from_millis(1_300));
                    self.order("freeze hub")?;
                    self.fill_lanes(crowd);
                    self.frozen_hold(crowd, &["hub"], tapper, samples)?;
                }
                _ => samples.push(hold(&mut self.holdfast, crowd, tapper)?),
            }
        }
        crowd.ebb();
        Ok(())
    }

    fn frozen_hold(
        &mut self,
        crowd: &mut Crowd,
        threads: &[&str],
        tapper: usize,
        samples: &mut Vec<Sample>,
    ) -> Result<(), Stuck> {
        self.freeze(crowd, threads)?;
        let tapped = tap(&mut self.holdfast, crowd, tapper);
        self.thaw(threads)?;
        let tapped = tapped?;
        self.holdfast.settle(crowd)?;
        samples.push(tapped.settled(&self.holdfast, crowd));
        Ok(())
    }

    /// Freezes threads and waits until they stand. A thread that has nothing to do is given something.
    fn freeze(&mut self, crowd: &mut Crowd, threads: &[&str]) -> Result<(), Stuck> {
        for thread in threads {
            self.order(&format!("freeze {thread}"))?;
        }
        let mut waiting: Vec<String> = threads
            .iter()
            .flat_map(|thread| {
                let times = if *thread == "runtime" { WORKERS } else { 1 };
                vec![format!("frozen {thread}"); times]
            })
            .collect();
        // What the hub does makes the journal and the keeper do something.
        let stirred = crowd.now();
        let mut stir = 0;
        crowd.until(LIMIT, "what is to be frozen stands", |crowd| {
            if crowd.now().since(stirred) >= Micros::millis(50 * stir) {
                stir += 1;
                self.holdfast.stir(crowd);
            }
            for line in self.holdfast.printed() {
                if let Some(at) = waiting.iter().position(|waiting| *waiting == line) {
                    waiting.swap_remove(at);
                }
            }
            waiting.is_empty()
        })
    }

    fn thaw(&mut self, threads: &[&str]) -> Result<(), Stuck> {
        threads.iter().try_for_each(|thread| self.order(&format!("thaw {thread}")))?;
        // What was said of this frost is not taken for the next.
        self.holdfast.printed();
        Ok(())
    }

    fn order(&mut self, order: &str) -> Result<(), Stuck> {
        self.holdfast.order(order).map_err(|error| Stuck(format!("the server takes no orders: {error}")))
    }

    fn fill_lanes(&self, crowd: &mut Crowd) {
        let members = self.holdfast.members();
        let asks = said(&ToServer::Attend { person: "Somebody".into(), present: true });
        for number in 0..REQUESTS {
            crowd.link(members.start + number % members.len()).write(&asks);
        }
        crowd.rest(Duration::from_millis(100));
    }

    /// Fills the pipe, and gives the server something to write to it: people with a wrong invitation.
    fn block_standard_error(&mut self, crowd: &mut Crowd) -> Result<(), Stuck> {
        if let Some(pipe) = &mut self.pipe {
            pipe.fill().map_err(|error| Stuck(error.to_string()))?;
        }
        for _ in 0..4 {
            // A server that is stuck already hears nobody.
            let _ = self.holdfast.observer.knock();
        }
        crowd.rest(Duration::from_millis(500));
        Ok(())
    }

    fn tappers(&self) -> Range<usize> {
        let members = self.holdfast.members();
        members.start..members.start + TAPPERS.min(members.len() - 3)
    }
}

/// The taps that are repeated are made known: each of the others taps once, under one name, and is let go.
fn flood_once(holdfast: &mut Holdfast, crowd: &mut Crowd) -> Result<(), Stuck> {
    let members = holdfast.members();
    for member in members.start..members.start + TAPPERS.min(members.len() - 3) {
        crowd.link(member).write(&hold_tap("known"));
    }
    crowd.rest(Duration::from_millis(300));
    holdfast.settle(crowd)
}

/// While nothing is measured, the tap that is known and pulls nothing; then new ones, which join the hold.
fn flood_frames() -> super::crowd::Frames {
    let mut number = 0;
    Box::new(move |measuring| {
        number += 1;
        hold_tap(&if measuring { format!("flood {number}") } else { "known".to_owned() })
    })
}

/// Says something to the server's standard input.
impl Holdfast {
    fn order(&mut self, order: &str) -> std::io::Result<()> {
        let input = self.process_mut().child.stdin.as_mut();
        input.map_or(Err(std::io::ErrorKind::BrokenPipe.into()), |input| writeln!(input, "{order}"))
    }

    /// Gives hub, journal and keeper something to do that changes nothing for the members.
    fn stir(&self, crowd: &mut Crowd) {
        let present = crowd.now().0 % 2 == 0;
        self.desk.say(crowd, &ToServer::Attend { person: "Somebody".into(), present });
        self.desk.say(crowd, &ToServer::Revoke { role: Role::Director, members: false });
    }
}
