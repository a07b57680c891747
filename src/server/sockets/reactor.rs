//! The loop of the sockets' thread. A turn is: what is ready is read, a few frames from each; then what waits is
//! written, stops first, to thirty-two lines at the most before it looks for taps again; then commands; then, ten times
//! a second, what time alone does: pulses, silence, lines that take nothing, a machine that slept.

use std::collections::{HashMap, VecDeque};
use std::io;
use std::sync::Arc;
use std::sync::mpsc::{Receiver, TryRecvError};
use std::time::Duration;

use bytes::Bytes;
use mio::{Events, Poll, Token};
use slab::Slab;

use super::decoder::Decoded;
use super::frames::{Framed, closing, framed, stop};
use super::line::{Line, Wrote};
use super::lines::{Bell, Command};
use super::outgoing::{Frame, Latest, TooSlow};
use super::{Decoder, Transport, WAKER};
use crate::brake::{By, Pull, Pulled, TapName, pulls};
use crate::call::{MemberId, Puller, Pulling, Tap, Taps};
use crate::server::brake::Brake;
use crate::server::close;
use crate::server::ending::End;
use crate::server::request::{HoldLane, LineNews, LinkId, ToHub, request_of, tap_of};
use crate::time::SleepWatch;
use crate::units::{Micros, ServerTime};
use crate::wire::{HoldTap, TapOutcome, ToMember, ToServer};

/// Between two looks for taps so many lines are written.
const LINES_A_LOOK: usize = 32;
/// From one line so many frames are taken a turn.
const FRAMES_A_TURN: usize = 8;
/// And so many bytes are read.
const BYTES_A_TURN: usize = 4 * 1024;
/// Commands that are carried out between two looks for taps.
const COMMANDS_A_LOOK: usize = 64;
/// What time alone does is done so often.
const TICK: Micros = Micros::millis(100);
/// Every line has a pulse every third tick.
const PULSE_TICKS: u64 = 3;
/// A member who has not been heard for so long is silent: the desk is told.
const SILENCE: Micros = Micros::seconds(1);
/// A silent line is closed after so long.
const DEAD: Micros = Micros::seconds(30);
/// A line that takes nothing for so long is given up.
const SLOW: Micros = Micros::seconds(3);
/// The other side of a line that was closed has so long to close it.
const LEAVE: Micros = Micros::seconds(2);
/// This machine was asleep when it stood still for so long.
const ASLEEP: Micros = Micros::seconds(1);

/// The thread's whole state.
pub(super) struct Reactor<'a> {
    poll: &'a mut Poll,
    commands: &'a Receiver<Command>,
    brake: &'a Arc<Brake>,
    hub: &'a ToHub,
    bell: &'a Arc<Bell>,
    lines: Slab<Line>,
    places: HashMap<LinkId, usize>,
    /// Lines that may have something to read.
    to_read: VecDeque<usize>,
    /// Lines that have something to write: with a stop among it, and without.
    to_stop: VecDeque<usize>,
    to_write: VecDeque<usize>,
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
    buffer: Box<[u8]>,
    over: bool,
}

impl<'a> Reactor<'a> {
    pub(super) fn new(
        poll: &'a mut Poll,
        commands: &'a Receiver<Command>,
        known: &'a mut Taps<()>,
        (brake, hub, bell): (&'a Arc<Brake>, &'a ToHub, &'a Arc<Bell>),
    ) -> Reactor<'a> {
        Reactor {
            poll,
            commands,
            brake,
            hub,
            bell,
            lines: Slab::new(),
            places: HashMap::new(),
            to_read: VecDeque::new(),
            to_stop: VecDeque::new(),
            to_write: VecDeque::new(),
            to_answer: Vec::new(),
            to_hub: Vec::new(),
            known,
            pulled: Pulled::default(),
            stop: None,
            going: false,
            next_tick: brake.now(),
            ticks: 0,
            sleep: SleepWatch::begin(),
            buffer: vec![0; BYTES_A_TURN].into(),
            over: false,
        }
    }

    /// Runs until every handle is gone.
    pub(super) fn run(mut self) {
        let mut events = Events::with_capacity(1_024);
        while !self.over {
            self.look(&mut events);
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
    }

    /// Waits for sockets, or only looks when there is something to do.
    fn look(&mut self, events: &mut Events) {
        let busy = !(self.to_read.is_empty() && self.to_stop.is_empty() && self.to_write.is_empty());
        let left = self.next_tick.since(self.brake.now()).0.max(0);
        let wait = if busy { 0 } else { u64::try_from(left).unwrap_or(0) };
        if let Err(error) = self.poll.poll(events, Some(Duration::from_micros(wait))) {
            // A signal; anything else would be a poll that is gone, and panicking begins anew with another life.
            assert!(error.kind() == io::ErrorKind::Interrupted, "sockets cannot be waited for: {error}");
        }
        for event in events.iter().filter(|event| event.token() != WAKER) {
            let Token(place) = event.token();
            let Some(line) = self.lines.get_mut(place) else { continue };
            let reads = event.is_readable() || event.is_read_closed() || event.is_error();
            line.readable |= reads;
            line.writable |= event.is_writable();
            if reads {
                self.list(place);
            }
            self.queue(place);
        }
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

/// What comes in.
impl Reactor<'_> {
    fn read_ready(&mut self) {
        for _ in 0..self.to_read.len() {
            let Some(place) = self.to_read.pop_front() else { return };
            if let Some(line) = self.lines.get_mut(place) {
                line.listed = false;
            }
            if let Err(end) = self.read(place) {
                self.end(place, end);
            }
            let Some(line) = self.lines.get(place) else { continue };
            if line.readable || line.undecoded {
                self.list(place);
            }
        }
    }

    /// Reads one line, no more than its share.
    fn read(&mut self, place: usize) -> Result<(), End> {
        let now = self.brake.now();
        let Some(line) = self.lines.get_mut(place) else { return Ok(()) };
        let Some((socket, decoder)) = &mut line.socket else { return Ok(()) };
        if !line.undecoded {
            match socket.read(&mut self.buffer) {
                Ok(0) => return Err(End::Closed),
                Ok(bytes) => decoder.feed(&self.buffer[..bytes]),
                Err(error) if error.kind() == io::ErrorKind::WouldBlock => {
                    line.readable = false;
                    return Ok(());
                }
                Err(error) => return Err(End::Broken(error.to_string())),
            }
        }
        if line.left.is_some() || line.out.is_closing() {
            // It has been told that it is over: what it still says is read away.
            line.undecoded = false;
            return Ok(());
        }
        line.heard = now;
        if std::mem::take(&mut line.silent) {
            let news = LineNews::Heard(line.member, line.link);
            let _ = self.hub.lines.send(news);
        }
        self.decode(place, now)
    }

    fn decode(&mut self, place: usize, now: ServerTime) -> Result<(), End> {
        for _ in 0..FRAMES_A_TURN {
            let Some(line) = self.lines.get_mut(place) else { return Ok(()) };
            let Some((_, decoder)) = &mut line.socket else { return Ok(()) };
            let decoded = decoder.next();
            if let Some(pong) = decoder.answer() {
                line.out.pong(pong);
                self.queue(place);
            }
            let Some(line) = self.lines.get_mut(place) else { return Ok(()) };
            match decoded? {
                None => {
                    line.undecoded = false;
                    return Ok(());
                }
                Some(Decoded::Control) if line.pace.allows(now) => {}
                Some(Decoded::Control) => return Err(too_many()),
                Some(Decoded::Message(message)) => {
                    let hold = matches!(*message, ToServer::Hold(_));
                    if !(line.pace.allows(now) || (hold && line.pace.allows_hold(now))) {
                        return Err(too_many());
                    }
                    let member = line.member;
                    self.take(place, member, *message, now)?;
                }
            }
        }
        if let Some(line) = self.lines.get_mut(place) {
            line.undecoded = true;
        }
        Ok(())
    }

    fn take(&mut self, place: usize, member: MemberId, message: ToServer, now: ServerTime) -> Result<(), End> {
        match message {
            ToServer::Hold(tap) => self.tap(Some(place), member, tap),
            ToServer::Clock { sent_us } => {
                let answered_us = self.brake.now().0;
                let answer = ToMember::Clock { sent_us, received_us: now.0, answered_us };
                if let Some(framed) = framed(&answer) {
                    self.push(place, Frame::Message(framed));
                }
            }
            message => {
                let asked = message.asks_for();
                let Some(request) = request_of(member, message) else { return Ok(()) };
                let full = self.hub.requests.try_send(request).is_err();
                if let Some(asked) = asked.filter(|_| full) {
                    let reason = "The desk's machine is busy, so this was not done. Try again.".to_owned();
                    let refused = ToMember::Refused { asked: asked.to_owned(), reason };
                    if let Some(framed) = framed(&refused) {
                        self.push(place, Frame::Message(framed));
                    }
                }
            }
        }
        Ok(())
    }
}

/// HOLD.
impl Reactor<'_> {
    /// A tap: it pulls the brake, unless it has done so already or was kept for a generation that has ended.
    fn tap(&mut self, from: Option<usize>, member: MemberId, tap: HoldTap) {
        let tap = tap_of(tap);
        if !self.is_pulling(member, &tap) {
            self.to_hub.push(HoldLane::Tap(member, tap));
            return;
        }
        let (pull, at) = self.brake.pull();
        let name = TapName { member, tap: tap.id.clone() };
        self.stop_everybody(pull, at, By::Tap(name));
        self.to_answer.extend(from.map(|place| (place, tap.id.clone())));
        self.forward(pull, at, Puller::Member(member, tap));
    }

    /// Whoever's tap pulled is told that it did.
    fn answer_taps(&mut self) {
        for (place, tap) in std::mem::take(&mut self.to_answer) {
            if let Some(framed) = framed(&ToMember::TapAnswer { tap, outcome: TapOutcome::Held, hold: None }) {
                self.push(place, Frame::Urgent(framed));
            }
        }
    }

    /// Whether a tap pulls the brake: each does once at the most, however often and over whatever line it comes.
    fn is_pulling(&mut self, member: MemberId, tap: &Tap) -> bool {
        let known = self.known.put(member, &tap.id, ()).is_some();
        !known && pulls(tap, self.brake.dead())
    }

    /// The stop for everybody, unless they have it: next on every line, after the frame that it has begun.
    fn stop_everybody(&mut self, pull: Pull, at: ServerTime, by: By) {
        let one = Pulled::one(by, pull.dead, at);
        if !pull.first {
            self.pulled = std::mem::take(&mut self.pulled).join(one);
            return;
        }
        self.pulled = one;
        let stop = stop(self.pulled.dead(), self.pulled.since().unwrap_or(at));
        let Some(frame) = self.stop.insert(stop).frame(0) else { return };
        for (place, line) in &mut self.lines {
            line.out.stop(frame.clone());
            if line.writable && line.socket.is_some() {
                self.to_stop.push_back(place);
            }
        }
    }

    fn forward(&mut self, pull: Pull, at: ServerTime, by: Puller) {
        self.to_hub.push(HoldLane::Pulled(Pulling { by, at, dead: pull.dead }));
    }

    /// The hub learns of taps once everybody has the stop.
    fn tell_hub(&mut self) {
        for hold in self.to_hub.drain(..) {
            // A hub that is gone has stopped everything.
            let _ = self.hub.holds.send(hold);
        }
    }

    /// The brake is pulled by something that has no line to be answered on.
    fn pull(&mut self, puller: Puller) {
        let (pull, at) = self.brake.pull();
        let by = match &puller {
            Puller::Member(member, tap) => By::Tap(TapName { member: *member, tap: tap.id.clone() }),
            Puller::LostLink(member) => By::LostLink(*member, at),
            Puller::FootSwitch => By::FootSwitch(at),
            Puller::Machine(_) => By::Machine(at),
        };
        self.stop_everybody(pull, at, by);
        self.forward(pull, at, puller);
    }
}

/// What goes out.
impl Reactor<'_> {
    /// Puts something into a line's outgoing.
    fn push(&mut self, place: usize, frame: Frame) {
        let dead = self.brake.dead();
        let Some(line) = self.lines.get_mut(place) else { return };
        let welcome = matches!(frame, Frame::Welcome(_));
        match line.out.push(frame, dead) {
            Ok(()) => {
                self.queue(place);
                // Whoever comes while the brake is pulled has the stop behind their welcome.
                if let Some(stop) = self.stop.clone().filter(|_| welcome && self.brake.pulled()) {
                    self.push(place, Frame::Urgent(stop));
                }
            }
            Err(TooSlow) => self.end(place, too_slow()),
        }
    }

    /// Writes to some lines, those with a stop first.
    fn write_some(&mut self) {
        for _ in 0..LINES_A_LOOK {
            let stop = self.to_stop.pop_front();
            let Some(place) = stop.or_else(|| self.to_write.pop_front()) else { return };
            self.write(place, stop.is_some());
        }
    }

    fn write(&mut self, place: usize, stop: bool) {
        let (dead, now) = (self.brake.dead(), self.brake.now());
        let Some(line) = self.lines.get_mut(place) else { return };
        if !stop {
            line.queued = false;
        }
        match line.write(dead, now, stop) {
            Ok(Wrote::Everything | Wrote::Blocked) => {}
            Ok(Wrote::Turn) => self.queue(place),
            Err(error) => self.end(place, End::Broken(error.to_string())),
        }
    }
}

/// What is asked of the thread.
impl Reactor<'_> {
    fn obey(&mut self) {
        self.bell.answer();
        for _ in 0..COMMANDS_A_LOOK {
            match self.commands.try_recv() {
                Ok(command) => {
                    self.command(command);
                    if self.to_write.len() >= LINES_A_LOOK {
                        break;
                    }
                }
                Err(TryRecvError::Empty) => return,
                Err(TryRecvError::Disconnected) => {
                    self.over = true;
                    return;
                }
            }
        }
        // There may be more: look for taps, and come back at once.
        self.bell.ring();
    }

    fn command(&mut self, command: Command) {
        match command {
            Command::Open { link, member } => {
                let place = self.lines.insert(Line::new(link, member, self.brake.now()));
                self.places.insert(link, place);
            }
            Command::Take { link, transport, decoder } => {
                if let Some(place) = self.place(link) {
                    self.begin(place, *transport, *decoder);
                }
            }
            Command::Abandon(link) => {
                if let Some(place) = self.place(link) {
                    self.end(place, End::Closed);
                }
            }
            Command::One(link, frame) => {
                if let Some(place) = self.place(link) {
                    self.push(place, frame);
                }
            }
            Command::Some(links, frame) => {
                for place in links.into_iter().filter_map(|link| self.places.get(&link).copied()).collect::<Vec<_>>() {
                    self.push(place, frame.clone());
                }
            }
            Command::All(frame) => self.push_all(&frame),
            Command::Close { link, farewell, closing } => {
                if let Some(place) = self.place(link) {
                    self.close(place, farewell, closing);
                }
            }
            Command::Watch(holding) => {
                self.going = holding.is_some();
                let holding = holding.unwrap_or_default();
                for (_, line) in &mut self.lines {
                    line.holding = holding.contains(&line.link);
                }
            }
            Command::Taps { member, taps, done } => {
                for tap in taps {
                    self.tap_kept(member, tap);
                }
                // A newcomer who has gone needs no answer.
                let _ = done.send(());
            }
            Command::Pulled { pull, at, by, puller } => {
                self.stop_everybody(pull, at, by);
                self.forward(pull, at, puller);
            }
        }
    }

    fn place(&self, link: LinkId) -> Option<usize> {
        self.places.get(&link).copied()
    }

    fn push_all(&mut self, frame: &Frame) {
        let places: Vec<usize> = self.lines.iter().map(|(place, _)| place).collect();
        for place in places {
            self.push(place, frame.clone());
        }
    }

    /// A tap that came with a key instead of over a line.
    fn tap_kept(&mut self, member: MemberId, tap: Tap) {
        match self.is_pulling(member, &tap) {
            true => self.pull(Puller::Member(member, tap)),
            false => self.to_hub.push(HoldLane::Tap(member, tap)),
        }
    }

    fn begin(&mut self, place: usize, mut transport: Transport, decoder: Decoder) {
        let Some(line) = self.lines.get_mut(place) else { return };
        if let Err(error) = transport.register(self.poll.registry(), Token(place)) {
            return self.end(place, End::Broken(error.to_string()));
        }
        let now = self.brake.now();
        line.socket = Some((transport, decoder));
        (line.heard, line.moved) = (now, now);
        // What came together with the introduction waits in the decoder; the socket tells of the rest.
        (line.writable, line.undecoded) = (true, true);
        self.list(place);
        self.queue(place);
    }

    fn close(&mut self, place: usize, farewell: Option<Framed>, closing: Bytes) {
        let Some(line) = self.lines.get_mut(place) else { return };
        if line.socket.is_none() {
            // Its socket has not come: it is not waited for.
            line.out.close(farewell, closing);
            return;
        }
        line.out.close(farewell, closing);
        self.queue(place);
    }

    /// A line ends: for a reason that its member is told, or because its socket is gone. The hub knows at once.
    fn end(&mut self, place: usize, end: End) {
        let Some(line) = self.lines.get_mut(place) else { return };
        let (member, link, was_closing) = (line.member, line.link, line.out.is_closing());
        let holds = std::mem::take(&mut line.holding) && !was_closing;
        match &end {
            End::Refused { .. } | End::Silent if !was_closing && line.socket.is_some() => {
                let farewell = ToMember::Goodbye { reason: end.reason(), for_good: end.for_good() };
                let closing = closing(end.code(), &close::short(&end.reason()));
                let farewell = framed(&farewell);
                self.close(place, farewell, closing);
            }
            _ => self.remove(place),
        }
        if !was_closing {
            let _ = self.hub.lines.send(LineNews::Closed(member, link, end.to_string()));
        }
        if holds {
            self.pull(Puller::LostLink(member));
        }
    }

    fn remove(&mut self, place: usize) {
        let Some(mut line) = self.lines.try_remove(place) else { return };
        self.places.remove(&line.link);
        self.to_read.retain(|other| *other != place);
        self.to_stop.retain(|other| *other != place);
        self.to_write.retain(|other| *other != place);
        if let Some((transport, _)) = &mut line.socket {
            transport.deregister(self.poll.registry());
        }
    }
}

/// What time alone does.
impl Reactor<'_> {
    fn tick(&mut self, now: ServerTime) {
        self.next_tick = now + TICK;
        self.ticks += 1;
        if self.sleep.slept() >= ASLEEP && self.going {
            self.pull(Puller::Machine("this machine was asleep"));
        }
        let pulse = ToMember::Pulse { now_us: now.0, generation: self.brake.dead().next().0 };
        let pulse = framed(&pulse).map(|framed| Frame::Latest(Latest::Pulse, framed));
        let places: Vec<usize> = self.lines.iter().map(|(place, _)| place).collect();
        for place in places {
            self.watch(place, now);
            let turn = place as u64 % PULSE_TICKS == self.ticks % PULSE_TICKS;
            if let Some(pulse) = pulse.as_ref().filter(|_| turn) {
                self.push(place, pulse.clone());
            }
        }
    }

    /// A line that is silent, takes nothing, or was closed and stays.
    fn watch(&mut self, place: usize, now: ServerTime) {
        let Some(line) = self.lines.get_mut(place) else { return };
        if line.left.is_some_and(|left| now.since(left) >= LEAVE) {
            return self.remove(place);
        }
        if line.waits() && now.since(line.moved) >= SLOW {
            // What would tell it why does not reach it either.
            let end = End::Broken("it takes nothing that is sent".to_owned());
            return self.end(place, end);
        }
        let silence = now.since(line.heard);
        if line.left.is_some() || line.socket.is_none() || silence < SILENCE {
            return;
        }
        if silence >= DEAD {
            return self.end(place, End::Silent);
        }
        if !std::mem::replace(&mut line.silent, true) {
            let (member, link) = (line.member, line.link);
            let holds = std::mem::take(&mut line.holding);
            let _ = self.hub.lines.send(LineNews::Silent(member, link));
            if holds {
                self.pull(Puller::LostLink(member));
            }
        }
    }
}

fn too_many() -> End {
    End::refused("Too many messages in too short a time. Reload the page.", close::TOO_MANY, false)
}

fn too_slow() -> End {
    let reason = "This link takes too long to read what is sent. Reload the page nearer to the router.";
    End::refused(reason, close::TOO_SLOW, false)
}
