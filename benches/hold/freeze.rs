//! Threads of a server that are stopped from outside, wherever they stand, and go on later: what a debugger does
//! (ptrace(2), PTRACE_SEIZE and PTRACE_INTERRUPT stop one thread, not its process).

use std::time::Duration;

use nix::sys::ptrace;
use nix::sys::wait::{WaitPidFlag, WaitStatus, waitpid};
use nix::unistd::Pid;

use super::crowd::Stuck;
use super::process::Process;

/// A thread stands soon after it is asked to, unless it waits for a disk.
const PATIENCE: u32 = 5_000;

/// Stopped threads; they go on when this is dropped.
pub(crate) struct Frozen(Vec<Pid>);

/// Stops every thread whose name is picked.
pub(crate) fn freeze(process: &Process, picked: impl Fn(&str) -> bool) -> Result<Frozen, Stuck> {
    let mut frozen = Frozen(Vec::new());
    for (id, name) in process.threads() {
        if picked(&name) {
            let id = Pid::from_raw(id);
            stop(id).map_err(|error| Stuck(format!("the thread {name} cannot be stopped: {error}")))?;
            frozen.0.push(id);
        }
    }
    if frozen.0.is_empty() {
        return Err(Stuck("the server has no such thread".into()));
    }
    Ok(frozen)
}

fn stop(id: Pid) -> Result<(), String> {
    let error = |error: nix::Error| error.to_string();
    ptrace::seize(id, ptrace::Options::empty()).map_err(error)?;
    ptrace::interrupt(id).map_err(error)?;
    for _ in 0..PATIENCE {
        match waitpid(id, Some(WaitPidFlag::__WALL | WaitPidFlag::WNOHANG)).map_err(error)? {
            WaitStatus::StillAlive => std::thread::sleep(Duration::from_millis(1)),
            WaitStatus::Exited(..) | WaitStatus::Signaled(..) => return Err("it has ended".into()),
            _ => return Ok(()),
        }
    }
    Err("it does not stand".into())
}

impl Drop for Frozen {
    fn drop(&mut self) {
        for id in &self.0 {
            // A thread that has ended meanwhile needs nothing.
            let _ = ptrace::detach(*id, None);
        }
    }
}
