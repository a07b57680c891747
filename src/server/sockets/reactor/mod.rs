//! The loop of the sockets' thread. A turn is: what is ready is read, a few frames from each; then what waits is
//! written, stops first, to thirty-two lines at the most before it looks for taps again; then commands; then, ten times
//! a second, what time alone does: pulses, silence, lines that take nothing, a machine that slept.

mod commands;
mod holding;
mod reading;
mod time;
mod writing;

use std::collections::{HashMap, VecDeque};
use std::io;
use std::sync::mpsc::Receiver;
use std::time::Duration;

use mio::{Events, Poll, Token};
use slab::Slab;

use self::holding::Stopping;
use super::WAKER;
use super::frames::Framed;
use super::line::Line;
use super::lines::{Bell, Command};
use crate::brake::Pulled;
use crate::call::Taps;
use crate::production::Limits;
use crate::server::brake::Brake;
use crate::server::request::{HoldLane, LinkId, ToHub};
use crate::time::{SleepClock, SleepWatch};
use crate::units::{Micros, ServerTime};

/// From one line so many bytes are read a turn.
const BYTES_A_TURN: usize = 4 * 1024;

/// The thread's whole state.
pub(in crate::server) struct Reactor<'a> {
    poll: &'a mut Poll,
    commands: &'a Receiver<Command>,
    brake: &'a Brake,
    hub: &'a ToHub,
    limits: Limits,
    bell: &'a Bell,
    lines: Slab<Line>,
    places: HashMap<LinkId, usize>,
    /// Lines that may have something to read.
    to_read: VecDeque<usize>,
    /// Lines that have something to write: with a stop among it, and without.
    to_stop: VecDeque<usize>,
    to_write: VecDeque<usize>,
    /// When the line was read that is looked at now.
    read_at: ServerTime,
    /// The stop that is being written.
    stopping: Option<Stopping>,
    /// Whose tap pulled, and its name: they are answered behind the first stops.
    to_answer: Vec<(usize, String)>,
    /// What the hub is told once everybody has the stop.
    to_hub: Vec<HoldLane>,
    /// The taps of late, those that did not pull among them.
    known: &'a mut Taps<()>,
    /// What has pulled since the brake was free.
    pulled: Pulled,
    /// The stop that everybody has of it.
    stop: Option<Framed>,
    /// True while a run goes, as the hub last said.
    going: bool,
    next_tick: ServerTime,
    ticks: u64,
    sleep: SleepWatch,
    /// For how long this machine has slept since the start.
    stood: Micros,
    buffer: Box<[u8]>,
    over: bool,
}

impl<'a> Reactor<'a> {
    pub(super) fn new(
        poll: &'a mut Poll,
        commands: &'a Receiver<Command>,
        known: &'a mut Taps<()>,
        (sleep, limits): (&SleepClock, Limits),
        (brake, hub, bell): (&'a Brake, &'a ToHub, &'a Bell),
    ) -> Reactor<'a> {
        Reactor {
            poll,
            commands,
            brake,
            hub,
            limits,
            bell,
            lines: Slab::new(),
            places: HashMap::new(),
            to_read: VecDeque::new(),
            to_stop: VecDeque::new(),
            to_write: VecDeque::new(),
            read_at: brake.now(),
            stopping: None,
            to_answer: Vec::new(),
            to_hub: Vec::new(),
            known,
            pulled: Pulled::default(),
            stop: None,
            going: false,
            next_tick: brake.now(),
            ticks: 0,
            sleep: SleepWatch::of(sleep.clone()),
            stood: Micros::ZERO,
            buffer: vec![0; BYTES_A_TURN].into(),
            over: false,
        }
    }

    /// Runs until every handle is gone.
    pub(super) fn run(mut self) {
        let mut events = Events::with_capacity(1_024);
        while !self.over {
            self.look(&mut events);
            self.turn();
        }
    }

    /// One turn, after looking at what is ready. Waits for nothing.
    pub(super) fn turn(&mut self) {
        self.read_ready();
        self.write_some();
        self.answer_taps();
        if self.to_stop.is_empty() {
            self.tell_hub();
            self.obey();
        }
        let now = self.brake.now();
        if now >= self.next_tick {
            self.tick(now);
        }
    }

    /// True when the next turn has something to do at once.
    pub(super) fn is_busy(&self) -> bool {
        let rests = self.to_read.is_empty() && self.to_stop.is_empty() && self.to_write.is_empty();
        !(rests && self.to_hub.is_empty())
    }

    /// Waits for sockets, or only looks when there is something to do.
    fn look(&mut self, events: &mut Events) {
        let left = self.next_tick.since(self.brake.now()).0.max(0);
        let wait = if self.is_busy() { 0 } else { u64::try_from(left).unwrap_or(0) };
        if let Err(error) = self.poll.poll(events, Some(Duration::from_micros(wait))) {
            // A signal; anything else would be a poll that is gone, and panicking begins anew with another life.
            assert!(error.kind() == io::ErrorKind::Interrupted, "sockets cannot be waited for: {error}");
        }
        for event in events.iter().filter(|event| event.token() != WAKER) {
            let Token(place) = event.token();
            let reads = event.is_readable() || event.is_read_closed() || event.is_error();
            self.is_ready(place, reads, event.is_writable());
        }
    }

    /// A line's socket can be read, or written, again.
    fn is_ready(&mut self, place: usize, reads: bool, writes: bool) {
        let Some(line) = self.lines.get_mut(place) else { return };
        line.readable |= reads;
        line.writable |= writes;
        if reads {
            self.list(place);
        }
        self.queue(place);
    }

    /// Puts a line onto the list of those to be read, once.
    fn list(&mut self, place: usize) {
        if let Some(line) = self.lines.get_mut(place).filter(|line| !line.listed) {
            line.listed = true;
            self.to_read.push_back(place);
        }
    }

    /// Puts a line into the queue of those to be written, once.
    fn queue(&mut self, place: usize) {
        let Some(line) = self.lines.get_mut(place) else { return };
        if !line.queued && line.writable && line.socket.is_some() && line.waits() {
            line.queued = true;
            self.to_write.push_back(place);
        }
    }
}

/// For a simulation, which does without a poll.
#[cfg(test)]
impl Reactor<'_> {
    /// The socket of that link can be read, or written, again.
    pub(in crate::server) fn link_is_ready(&mut self, link: LinkId, reads: bool, writes: bool) {
        if let Some(place) = self.places.get(&link).copied() {
            self.is_ready(place, reads, writes);
        }
    }

    /// True once the server closes that link: its member has been told, or is being told, that it is over.
    pub(in crate::server) fn is_closing(&self, link: LinkId) -> bool {
        let line = self.places.get(&link).and_then(|place| self.lines.get(*place));
        line.is_some_and(|line| line.left.is_some() || line.out.is_closing())
    }

    /// Turns until there is nothing more to do now.
    pub(in crate::server) fn settle(&mut self) -> bool {
        let mut turned = false;
        while self.is_busy() || self.bell.is_rung() || self.brake.now() >= self.next_tick {
            self.turn();
            turned = true;
        }
        turned
    }

    /// When time alone gives it something to do.
    pub(in crate::server) fn deadline(&self) -> ServerTime {
        self.next_tick
    }
}
