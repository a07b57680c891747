//! The handle of the sockets' thread: what the hub and the newcomers' tasks ask of it. No call waits.

use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering::AcqRel, Ordering::Release};
use std::sync::mpsc::Sender;

use mio::Waker;
use tokio::sync::oneshot;

use super::decoder::Decoder;
use super::frames::{Framed, closing, framed};
use super::outgoing::Frame;
use super::transport::Transport;
use crate::brake::{By, Pull};
use crate::call::{MemberId, Puller, Tap};
use crate::server::close;
use crate::server::request::LinkId;
use crate::units::ServerTime;
use crate::wire::{Back, ToMember};

/// What the thread is asked to do.
#[derive(Debug)]
pub(super) enum Command {
    /// A line begins; what is sent to it waits until its socket comes.
    Open { link: LinkId, member: MemberId },
    /// The socket of a line that was opened.
    Take { link: LinkId, transport: Box<Transport>, decoder: Box<Decoder> },
    /// A line's socket does not come any more.
    Abandon(LinkId),
    /// To some lines.
    Some(Vec<LinkId>, Frame),
    /// To every line.
    All(Frame),
    /// A line ends: what is said before, and the closing frame.
    Close { link: LinkId, farewell: Option<Framed>, closing: bytes::Bytes },
    /// The lines whose loss holds the run that goes, and that a run goes.
    Watch(Option<Vec<LinkId>>),
    /// Taps that a member kept without a link; answered once each has pulled or is known not to.
    Taps { member: MemberId, taps: Vec<Tap>, done: oneshot::Sender<()> },
    /// Somebody else has pulled the brake: everybody is to have the stop.
    Pulled { pull: Pull, at: ServerTime, by: By, puller: Puller },
}

/// Wakes the thread, once for whatever was put in before it looks.
#[derive(Debug)]
pub(super) struct Bell {
    waker: Arc<Waker>,
    rung: AtomicBool,
}

impl Bell {
    /// The thread is to look at its commands.
    pub(super) fn ring(&self) {
        if !self.rung.swap(true, AcqRel) {
            // Without a waker the thread looks up ten times a second by itself.
            let _ = self.waker.wake();
        }
    }

    /// True when there may be commands.
    #[cfg(test)]
    pub(super) fn is_rung(&self) -> bool {
        self.rung.load(std::sync::atomic::Ordering::Acquire)
    }

    /// The thread looks at its commands now: the next ring wakes it again.
    pub(super) fn answer(&self) {
        self.rung.store(false, Release);
    }
}

/// The handle. The thread ends with the last of them.
#[derive(Clone, Debug)]
pub(in crate::server) struct Lines {
    commands: Sender<Command>,
    bell: Arc<Bell>,
}

impl Lines {
    pub(super) fn new(commands: Sender<Command>, waker: Arc<Waker>) -> Lines {
        Lines { commands, bell: Arc::new(Bell { waker, rung: AtomicBool::new(false) }) }
    }

    pub(super) fn bell(&self) -> Arc<Bell> {
        Arc::clone(&self.bell)
    }

    /// A line begins. Whatever is sent to it from now on reaches it, in order, once its socket is there.
    pub(in crate::server) fn open(&self, link: LinkId, member: MemberId) {
        self.ask(Command::Open { link, member });
    }

    /// The socket of a line.
    pub(in crate::server) fn take(&self, link: LinkId, transport: Transport, decoder: Decoder) {
        self.ask(Command::Take { link, transport: Box::new(transport), decoder: Box::new(decoder) });
    }

    /// The socket of a line does not come.
    pub(in crate::server) fn abandon(&self, link: LinkId) {
        self.ask(Command::Abandon(link));
    }

    /// Sends to some lines.
    pub(in crate::server) fn send_some(&self, links: Vec<LinkId>, frame: Frame) {
        if !links.is_empty() {
            self.ask(Command::Some(links, frame));
        }
    }

    /// Sends to every line.
    pub(in crate::server) fn send_all(&self, frame: Frame) {
        self.ask(Command::All(frame));
    }

    /// Closes a line after telling why.
    pub(in crate::server) fn goodbye(&self, link: LinkId, reason: &str, code: u16, back: Back) {
        let farewell = framed(&ToMember::Goodbye { reason: reason.to_owned(), back });
        self.ask(Command::Close { link, farewell, closing: closing(code, &close::short(reason)) });
    }

    /// While a run goes: the lines whose loss holds it. Nothing while none goes.
    pub(in crate::server) fn watch(&self, holding: Option<Vec<LinkId>>) {
        self.ask(Command::Watch(holding));
    }

    /// Taps that a member kept: the answer comes once each that pulls has pulled, or with the end of the thread.
    pub(in crate::server) async fn taps(&self, member: MemberId, taps: Vec<Tap>) {
        let (done, answered) = oneshot::channel();
        self.ask(Command::Taps { member, taps, done });
        let _ = answered.await;
    }

    /// Somebody else has pulled the brake.
    pub(in crate::server) fn pulled(&self, pull: Pull, at: ServerTime, by: By, puller: Puller) {
        self.ask(Command::Pulled { pull, at, by, puller });
    }

    fn ask(&self, command: Command) {
        // A thread that is gone closed every socket, and the hub is ending.
        let _ = self.commands.send(command);
        self.bell.ring();
    }
}
