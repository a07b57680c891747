//! The members' sockets, read and written by one thread that does nothing else. The handshake, the request's head and the
//! introduction are done before a socket comes here. It pulls the brake when it reads a HOLD, and writes the stop to
//! everybody before it tells the hub; it keeps every line alive and answers clocks by itself. There is no file, no log,
//! no plan on it, and no lock that others hold.
//!
//! Should it end by a fault, the brake is pulled, every socket is closed (so that every page says at once that its link
//! is gone), and it begins again with an empty table: the pages come back by themselves.

mod decoder;
mod fragments;
mod frames;
mod line;
mod lines;
mod outgoing;
mod reactor;
mod transport;

use std::io;
use std::panic::{AssertUnwindSafe, catch_unwind};
use std::sync::{Arc, mpsc};
use std::thread;

use mio::{Poll, Token, Waker};

pub use decoder::{Decoded, Decoder};
pub(super) use frames::{Framed, closing, framed};
pub(super) use lines::Lines;
pub(super) use outgoing::{Frame, Latest};
#[cfg(test)]
pub(super) use transport::Simulated;
pub(super) use transport::Transport;

use super::brake::Brake;
use super::request::{HoldLane, LineNews, ToHub};
use crate::call::{Puller, Pulling, Taps};
use crate::production::Limits;
use crate::time::SleepClock;
use lines::{Bell, Command};
pub(super) use reactor::Reactor;

/// The waker's place among the sockets.
const WAKER: Token = Token(usize::MAX);

/// Starts the thread. `known` are the taps that have pulled before this start; `sleep` tells when the machine slept.
///
/// # Errors
/// When the system gives no thread, or no way to wait for sockets.
pub(super) fn start(
    brake: Arc<Brake>,
    hub: ToHub,
    known: Taps<()>,
    (sleep, limits): (SleepClock, Limits),
) -> io::Result<Lines> {
    let (lines, work) = Work::new(brake, hub, known, (sleep, limits))?;
    thread::Builder::new().name("sockets".into()).spawn(move || work.go_on())?;
    Ok(lines)
}

/// The thread's work, and what it has at hand for every life of its loop.
pub(super) struct Work {
    poll: Poll,
    commands: mpsc::Receiver<Command>,
    bell: Arc<Bell>,
    known: Taps<()>,
    sleep: SleepClock,
    limits: Limits,
    brake: Arc<Brake>,
    hub: ToHub,
}

impl Work {
    /// The work, and the handle by which others ask it for something.
    ///
    /// # Errors
    /// When the system gives no way to wait for sockets.
    pub(super) fn new(
        brake: Arc<Brake>,
        hub: ToHub,
        known: Taps<()>,
        (sleep, limits): (SleepClock, Limits),
    ) -> io::Result<(Lines, Work)> {
        let poll = Poll::new()?;
        let waker = Arc::new(Waker::new(poll.registry(), WAKER)?);
        let (sender, commands) = mpsc::channel();
        let lines = Lines::new(sender, waker);
        let bell = lines.bell();
        Ok((lines, Work { poll, commands, bell, known, sleep, limits, brake, hub }))
    }

    /// The loop, with an empty table.
    pub(super) fn reactor(&mut self) -> Reactor<'_> {
        let Work { poll, commands, bell, known, sleep, limits, brake, hub } = self;
        Reactor::new(poll, commands, known, (sleep, *limits), (brake, hub, bell))
    }

    /// Runs until every handle is gone. A fault ends one life of it, not the thread.
    fn go_on(mut self) {
        while catch_unwind(AssertUnwindSafe(|| self.reactor().run())).is_err() {
            // The sockets went with the table. Whatever ran stands, and the hub loses every link.
            let (pull, at) = self.brake.pull();
            let by = Puller::Machine("the thread that reads the phones failed and began again".into());
            // A hub that is gone needs no telling.
            let _ = self.hub.holds.send(HoldLane::Pulled(Pulling { by, at, dead: pull.dead }));
            let _ = self.hub.lines.send(LineNews::AllClosed);
        }
    }
}
