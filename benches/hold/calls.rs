//! How many system calls a hold costs a server, counted by strace from outside, with all that follows the hold up to the
//! next one, less what the server does in the same time when nothing happens. A traced server is many times slower, and
//! gathers more into one call than it would otherwise: the counts are for comparison with each other.

use std::path::Path;
use std::process::{Command, Stdio};
use std::time::Duration;

use holdfast::units::Micros;
use nix::sys::signal::{Signal, kill};
use nix::unistd::Pid;

use super::comparison;
use super::crowd::{Crowd, Stuck};
use super::hold::{LIMIT, hold};
use super::options::Options;
use super::process::Process;
use super::system::System;
use super::table::Table;

/// Holds that are counted.
const HOLDS: usize = 10;

/// Prints the table.
pub(crate) fn calls(options: &Options) {
    println!(
        "\nSYSTEM CALLS a hold costs the server, with all that follows, less those of the same time without a hold\n"
    );
    if Command::new("strace").arg("-V").stdout(Stdio::null()).stderr(Stdio::null()).status().is_err() {
        println!("Not counted: strace is not installed.");
        return;
    }
    let mut table = Table::new(&["N", "server", "holds", "calls a hold", ""]);
    for &members in options.sizes.iter().filter(|members| **members <= 200) {
        let mut crowd = Crowd::new();
        for (name, system) in comparison::all(&mut crowd, members) {
            let counted = system.and_then(|mut system| count(&mut *system, &mut crowd));
            let cells = match counted {
                Ok(calls) => vec![HOLDS.to_string(), format!("{calls:.0}"), String::new()],
                Err(stuck) => vec![stuck.to_string()],
            };
            table.row([vec![members.to_string(), name.to_owned()], cells].concat());
        }
    }
}

fn count(system: &mut dyn System, crowd: &mut Crowd) -> Result<f64, Stuck> {
    let folder = tempfile::tempdir().map_err(|error| Stuck(error.to_string()))?;
    let tracer = Tracer::attach(system.process().id(), folder.path(), crowd)?;
    let start = crowd.now();
    for number in 0..HOLDS {
        hold(system, crowd, number * 7)?;
    }
    let time = crowd.now().since(start);
    let held = tracer.detach()?;
    crowd.rest(Duration::from_millis(300));
    let tracer = Tracer::attach(system.process().id(), folder.path(), crowd)?;
    crowd.rest(Duration::from_micros(time.0.max(0) as u64));
    let idle = tracer.detach()?;
    Ok((held as f64 - idle as f64) / HOLDS as f64)
}

/// A strace that counts. Should it be dropped before it is told to detach, it is ended, and its server goes on.
struct Tracer {
    process: Process,
    file: std::path::PathBuf,
}

impl Tracer {
    fn attach(id: u32, folder: &Path, crowd: &mut Crowd) -> Result<Tracer, Stuck> {
        let file = folder.join("calls");
        let mut command = Command::new("strace");
        command.args(["-f", "-q", "-c", "-o"]).arg(&file).args(["-p", &id.to_string()]);
        command.stdin(Stdio::null()).stdout(Stdio::null()).stderr(Stdio::null());
        let process = Process::start(&mut command).map_err(|error| Stuck(error.to_string()))?;
        crowd.until(LIMIT, "strace may look at the server", |_| traced(id))?;
        crowd.quiet(Micros::millis(50));
        Ok(Tracer { process, file })
    }

    /// Ends the counting; returns the count.
    fn detach(mut self) -> Result<u64, Stuck> {
        let stuck = |error: &dyn std::fmt::Display| Stuck(format!("strace: {error}"));
        kill(Pid::from_raw(self.process.id() as i32), Signal::SIGINT).map_err(|error| stuck(&error))?;
        self.process.child.wait().map_err(|error| stuck(&error))?;
        let text = std::fs::read_to_string(&self.file).map_err(|error| stuck(&error))?;
        // Nothing is printed of a server that does nothing at all.
        if text.trim().is_empty() {
            return Ok(0);
        }
        // The last line is: percent, seconds, microseconds a call, calls, errors if any, "total" (strace(1), -c).
        let total = text.lines().find(|line| line.trim_end().ends_with("total"));
        let calls = total.and_then(|line| line.split_whitespace().nth(3)).and_then(|word| word.parse().ok());
        calls.ok_or_else(|| stuck(&"it printed no total"))
    }
}

/// True when every thread of the process has a tracer.
fn traced(id: u32) -> bool {
    let Ok(tasks) = std::fs::read_dir(format!("/proc/{id}/task")) else { return false };
    tasks.flatten().all(|task| {
        let status = std::fs::read_to_string(task.path().join("status")).unwrap_or_default();
        status.lines().any(|line| line.strip_prefix("TracerPid:").is_some_and(|tracer| tracer.trim() != "0"))
    })
}
