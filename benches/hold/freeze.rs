//! Threads of a server that are stopped from outside, wherever they stand, and go on later: what a debugger does
//! (ptrace(2), PTRACE_SEIZE and PTRACE_INTERRUPT stop one thread, not its process). And threads that end there.

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

/// Ends the threads of that name, wherever they wait, without a word to the rest of the program: each is made to call
/// exit(2) in the place of the system call that it waits in.
pub(crate) fn end(process: &Process, name: &str) -> Result<(), Stuck> {
    let threads = process.threads().into_iter().filter(|(_, is)| is == name);
    let failed = |why: String| Stuck(format!("the thread {name} cannot be ended: {why}"));
    let ended = threads.map(|(id, _)| exit(Pid::from_raw(id)).map_err(failed)).collect::<Result<Vec<_>, _>>()?;
    match ended.len() {
        0 => Err(failed("the server has none".into())),
        _ if process.threads().iter().any(|(_, is)| is == name) => Err(failed("it lives on".into())),
        _ => Ok(()),
    }
}

#[cfg(target_arch = "x86_64")]
fn exit(id: Pid) -> Result<(), String> {
    /// The instruction `syscall`, and the number of exit(2).
    const SYSCALL: i64 = 0x050f;
    const EXIT: u64 = 60;
    let error = |error: nix::Error| error.to_string();
    stop(id)?;
    let mut registers = ptrace::getregs(id).map_err(error)?;
    let call = registers.rip - 2;
    if ptrace::read(id, call as ptrace::AddressType).map_err(error)? & 0xffff != SYSCALL {
        return Err("it does not wait in a system call".into());
    }
    // Without a call to go back to, the kernel does not begin the one again that was interrupted.
    (registers.rip, registers.rax, registers.orig_rax, registers.rdi) = (call, EXIT, u64::MAX, 0);
    ptrace::setregs(id, registers).map_err(error)?;
    ptrace::cont(id, None).map_err(error)?;
    match waitpid(id, Some(WaitPidFlag::__WALL)).map_err(error)? {
        WaitStatus::Exited(..) => Ok(()),
        status => Err(format!("{status:?}")),
    }
}

#[cfg(not(target_arch = "x86_64"))]
fn exit(_: Pid) -> Result<(), String> {
    Err("only written for x86_64".into())
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
