//! The table: a row for each attack, and those with connections once more with a server that may have 256 descriptors.

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

use holdfast::units::Micros;

use super::attack::{ALL, Kind};
use super::attacker::Attacker;
use super::crowd::{Crowd, Stuck};
use super::figures::{percentile, ratio};
use super::goals::{BACK_WITHIN, MOST_TIMES_SINK, verdict};
use super::holdfast::{Company, Door, Holdfast};
use super::options::Options;
use super::phone::Phone;
use super::sink::Sink;
use super::stretch::Stretch;
use super::system::System;
use super::table::Table;
use super::usage::{self, Usage};

/// With the desk and the phone they are twenty.
const COMPANY: Company = Company { performers: 9, observers: 9 };
/// So few descriptors a server has on some machines.
const FEW: usize = 256;
/// After an attack the server has so long to let go of what it held for the attacker.
const LET_GO: Duration = Duration::from_secs(3);

/// Prints the table.
pub(crate) fn all(options: &Options) {
    println!("\nA HOLD UNDER ATTACK, Holdfast with 20 members, plain TCP; attackers from eight other addresses\n");
    println!(
        "From the tap of one member until all have the \"held\", µs: quiet, while the attacker attacks a sink, and while it\n\
         attacks the server; ratio: of the medians under attack to those beside the sink, round by round; the median of all\n\
         rounds. Stop: until all have the stop, sink and attack. Back: the slowest return of a phone whose link was cut, s. MiB and files (open descriptors): before, at most,\n\
         after. Goal: ratio at most {MOST_TIMES_SINK}, back within {} s.\n",
        BACK_WITHIN.as_seconds()
    );
    let mut table = Table::new(&[
        "no",
        "attack",
        "holds",
        "quiet p50",
        "p99",
        "sink p50",
        "p99",
        "p50",
        "p99",
        "ratio",
        "stop s/a",
        "back",
        "MiB        ",
        "files       ",
        "",
    ]);
    let few = ALL.iter().filter(|kind| kind.connections).map(|kind| (kind, Some(FEW)));
    for (kind, files) in ALL.iter().map(|kind| (kind, None)).chain(few) {
        let name = files.map_or(kind.name.to_owned(), |files| format!("{}-{files}", kind.name));
        if options.wants(&name) {
            let mut row = Row::default();
            let ended = row.measure(kind, files, options);
            table.row(row.cells(kind.number, name, ended));
        }
    }
}

/// What was measured of one attack.
#[derive(Default)]
struct Row {
    quiet: Stretch,
    sink: Stretch,
    attack: Stretch,
    back: Micros,
    usage: [Usage; 3],
    /// What the attacker of the last round has done.
    done: String,
}

impl Row {
    fn measure(&mut self, kind: &Kind, files: Option<usize>, options: &Options) -> Result<(), Stuck> {
        let mut crowd = Crowd::new();
        let sink = Sink::start()?;
        let mut holdfast = Holdfast::start_as(&mut crowd, COMPANY, Door::Plain, |dir| program(dir, files))?;
        let mut phone = Phone::join(&holdfast, &mut crowd)?;
        for round in 0..options.rounds {
            self.quiet.go(&mut holdfast, &mut crowd, options, None)?;
            let mut attacker = Attacker::begin(kind, &mut holdfast, Some(sink.port), &mut crowd)?;
            self.sink.go(&mut holdfast, &mut crowd, options, Some(&mut attacker))?;
            attacker.end();
            let before = Usage::of(holdfast.process());
            if round == 0 {
                self.usage[0] = before;
            }
            let mut attacker = Attacker::begin(kind, &mut holdfast, None, &mut crowd)?;
            let attacked = self.attack.go(&mut holdfast, &mut crowd, options, Some(&mut attacker));
            self.usage[1] = self.attack.usage.most(self.usage[1]).most(Usage::of(holdfast.process()));
            let mut back = Ok(());
            for _ in 0..options.cuts {
                back = back.and_then(|()| {
                    self.back = self.back.max(phone.cut(&mut holdfast, &mut crowd)?);
                    Ok(())
                });
            }
            self.done = attacker.end();
            // What it still holds then, it says by itself: this is no failure.
            let _ = crowd.until(LET_GO, "all is let go", |crowd| {
                holdfast.desk.read(crowd);
                holdfast.process().descriptors() <= before.descriptors
            });
            self.usage[2] = Usage::of(holdfast.process());
            attacked.and(back)?;
        }
        Ok(())
    }

    fn cells(&self, number: u8, name: String, ended: Result<(), Stuck>) -> Vec<String> {
        let at = |samples: &[i64], part: f64| percentile(samples, part);
        let [quiet, sink, attack] = [&self.quiet, &self.sink, &self.attack].map(|stretch| at(&stretch.held, 0.5));
        let [quiet_99, sink_99, attack_99] = [&self.quiet, &self.sink, &self.attack].map(|it| at(&it.held, 0.99));
        let ratio = ratio(&self.attack.rounds, &self.sink.rounds).unwrap_or(0.0);
        let verdict = match ended {
            Ok(()) => verdict(ratio, self.back),
            Err(stuck) => format!("missed: {stuck}"),
        };
        let stops = [&self.sink, &self.attack].map(|stretch| at(&stretch.stopped, 0.5).to_string()).join("/");
        let [memory, files] = usage::cells(self.usage);
        let mut cells = vec![number.to_string(), name, self.attack.held.len().to_string()];
        cells.extend([quiet, quiet_99, sink, sink_99, attack, attack_99].map(|figure| figure.to_string()));
        cells.extend([format!("{ratio:.2}"), stops, format!("{:.2}", self.back.as_seconds()), memory, files]);
        cells.push(format!("{verdict}; {}", self.done));
        cells
    }
}

/// The command that serves a production, with so many descriptors at the most: the shell sets both limits (POSIX, ulimit),
/// and becomes the program.
fn program(dir: &Path, files: Option<usize>) -> Command {
    let program = Holdfast::program(dir, Door::Plain);
    let mut command = match files {
        None => program,
        Some(files) => {
            let mut shell = Command::new("sh");
            shell.args(["-c", &format!("ulimit -n {files} && exec \"$0\" \"$@\"")]).arg(program.get_program());
            shell.args(program.get_args());
            shell
        }
    };
    command.stderr(Stdio::null());
    command
}
