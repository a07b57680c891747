//! A server as a process of its own: started here, measured from outside, and ended by its id whatever happens.

use std::fs;
use std::process::{Child, Command};

use holdfast::units::Micros;
use nix::time::{ClockId, clock_getcpuclockid, clock_gettime};
use nix::unistd::Pid;

/// A process that ends when this is dropped.
pub(crate) struct Process {
    pub(crate) child: Child,
    clock: Option<ClockId>,
}

impl Process {
    /// Starts it.
    pub(crate) fn start(command: &mut Command) -> std::io::Result<Process> {
        let child = command.spawn()?;
        let clock = clock_getcpuclockid(Pid::from_raw(child.id() as i32)).ok();
        Ok(Process { child, clock })
    }

    pub(crate) fn id(&self) -> u32 {
        self.child.id()
    }

    /// Processor time of all its threads, a running one included.
    pub(crate) fn cpu(&self) -> Micros {
        self.clock.map_or(Micros(0), clock_us)
    }

    /// Its threads: number and name.
    pub(crate) fn threads(&self) -> Vec<(i32, String)> {
        let Ok(tasks) = fs::read_dir(format!("/proc/{}/task", self.id())) else { return Vec::new() };
        let thread = |task: fs::DirEntry| {
            let name = fs::read_to_string(task.path().join("comm")).ok()?;
            Some((task.file_name().to_str()?.parse().ok()?, name.trim_end().to_owned()))
        };
        tasks.flatten().filter_map(thread).collect()
    }

    /// Processor time of its threads of that name, up to when each last stopped running; nothing when there is none.
    pub(crate) fn cpu_of(&self, name: &str) -> Option<Micros> {
        let threads = self.threads().into_iter().filter(|(_, is)| is == name);
        let nanos = threads.map(|(id, _)| {
            let text = fs::read_to_string(format!("/proc/{}/task/{id}/schedstat", self.id())).unwrap_or_default();
            // The first figure is the time on the processor in nanoseconds (Linux, Documentation/scheduler/sched-stats).
            text.split_whitespace().next().and_then(|word| word.parse::<i64>().ok()).unwrap_or(0)
        });
        nanos.reduce(|one, other| one + other).map(|nanos| Micros(nanos / 1_000))
    }

    /// Memory that it holds now, KiB.
    pub(crate) fn memory(&self) -> u64 {
        let status = fs::read_to_string(format!("/proc/{}/status", self.id())).unwrap_or_default();
        let line = status.lines().find_map(|line| line.strip_prefix("VmRSS:")).unwrap_or_default();
        line.split_whitespace().next().and_then(|word| word.parse().ok()).unwrap_or(0)
    }

    /// How many files and sockets it has open now.
    pub(crate) fn descriptors(&self) -> usize {
        fs::read_dir(format!("/proc/{}/fd", self.id())).map_or(0, Iterator::count)
    }

    /// True while it runs.
    pub(crate) fn lives(&mut self) -> bool {
        matches!(self.child.try_wait(), Ok(None))
    }
}

impl Drop for Process {
    fn drop(&mut self) {
        let _ = self.child.kill();
        let _ = self.child.wait();
    }
}

/// Processor time of the calling thread.
pub(crate) fn own_cpu() -> Micros {
    clock_us(ClockId::CLOCK_THREAD_CPUTIME_ID)
}

fn clock_us(clock: ClockId) -> Micros {
    clock_gettime(clock).map_or(Micros(0), |time| Micros(time.tv_sec() * 1_000_000 + time.tv_nsec() / 1_000))
}
