//! What an attack goes by: whom it attacks, at which pace, and what it has done.

use std::net::{Ipv4Addr, TcpStream};
use std::sync::atomic::{AtomicBool, AtomicU64, Ordering::Relaxed};
use std::thread;
use std::time::Duration;

use holdfast::time::ServerClock;
use holdfast::units::{Micros, ServerTime};

use super::READY;
use crate::joining::Invitation;
use crate::system::dial;

/// The last numbers of the attackers' addresses, 127.0.0.2 to 127.0.0.9.
const ADDRESSES: u8 = 8;

/// One attack on one target.
pub(crate) struct Job {
    pub(crate) observer: Invitation,
    pub(crate) performer: Invitation,
    /// What is attacked in place of the server.
    sink: Option<u16>,
    clock: ServerClock,
    measuring: AtomicBool,
    ready: AtomicBool,
    done: AtomicU64,
    cut: AtomicU64,
}

impl Job {
    pub(crate) fn new(observer: Invitation, performer: Invitation, sink: Option<u16>) -> Job {
        Job {
            observer,
            performer,
            sink,
            clock: ServerClock::new(),
            measuring: AtomicBool::new(false),
            ready: AtomicBool::new(false),
            done: AtomicU64::new(0),
            cut: AtomicU64::new(0),
        }
    }

    /// The address of the attacker of that number.
    pub(crate) fn address(number: usize) -> Ipv4Addr {
        Ipv4Addr::new(127, 0, 0, 2 + (number % usize::from(ADDRESSES)) as u8)
    }

    /// A connection to whatever is attacked.
    pub(crate) fn dial(&self, from: Ipv4Addr) -> std::io::Result<TcpStream> {
        dial(from, self.sink.unwrap_or(self.observer.port()))
    }

    /// True when a sink is attacked, which answers nothing.
    pub(crate) fn at_sink(&self) -> bool {
        self.sink.is_some()
    }

    /// The attack is under way.
    pub(crate) fn ready(&self) {
        if !self.ready.swap(true, Relaxed) {
            println!("{READY}");
        }
    }

    pub(crate) fn measure(&self, is: bool) {
        self.measuring.store(is, Relaxed);
    }

    /// True while a hold is being measured.
    pub(crate) fn is_measured(&self) -> bool {
        self.measuring.load(Relaxed)
    }

    /// So many blows more.
    pub(crate) fn count(&self, blows: u64) {
        self.done.fetch_add(blows, Relaxed);
    }

    /// A connection more that the other side has ended.
    pub(crate) fn count_cut(&self) {
        self.cut.fetch_add(1, Relaxed);
    }

    /// What it has done, in words.
    pub(crate) fn done(&self) -> String {
        format!("{} blows, cut off {} times", self.done.load(Relaxed), self.cut.load(Relaxed))
    }

    /// A pace of so many a second.
    pub(crate) fn pace(&self, a_second: u32) -> Pace<'_> {
        Pace { clock: &self.clock, due: self.clock.now(), step: Micros(1_000_000 / i64::from(a_second)) }
    }
}

/// Lets something happen so often and no more.
pub(crate) struct Pace<'a> {
    clock: &'a ServerClock,
    due: ServerTime,
    step: Micros,
}

impl Pace<'_> {
    /// Waits for the next turn. One who is late does not hurry afterwards.
    pub(crate) fn wait(&mut self) {
        let now = self.clock.now();
        let left = self.due.since(now).0;
        if left > 0 {
            thread::sleep(Duration::from_micros(left.unsigned_abs()));
        }
        self.due = self.due.max(now) + self.step;
    }
}
