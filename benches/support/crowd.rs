//! The load generator: every member of every server, on one thread, over one epoll. It says "I am here" for those who
//! must, reads what arrives, and notes what it sees in it and when.

use std::fmt;
use std::ops::Range;
use std::time::Duration;

use holdfast::time::ServerClock;
use holdfast::units::{Micros, ServerTime};
use mio::{Events, Interest, Poll, Token};

use super::link::Link;
use super::sighting::{Kind, Scanner, Sighting};

/// Room for one read: more than the longest state.
const BUFFER: usize = 256 * 1024;
/// How often a member says that it is there.
const PULSE: Micros = Micros::millis(300);
/// While something is measured, nobody says so, unless it takes so long.
const HELD_BACK: Micros = Micros::millis(100);
/// Without a state for so long, a call is calm.
const CALM: Micros = Micros::millis(500);
/// How often a slow member reads.
const SIP: Micros = Micros::millis(5);

/// Something did not happen in time; what, in a sentence.
#[derive(Debug)]
pub(crate) struct Stuck(pub(crate) String);

impl fmt::Display for Stuck {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// Makes the next frame; it is told whether something is being measured.
pub(crate) type Frames = Box<dyn FnMut(bool) -> Vec<u8>>;

/// Members who say something again and again, one after the other, each in their turn.
struct Talk {
    members: Range<usize>,
    frames: Frames,
    /// From one member to the next.
    step: Micros,
    /// Whether they go on while something is measured.
    always: bool,
    next: usize,
    due: ServerTime,
}

/// A member who reads slowly.
struct Sipper {
    link: usize,
    read: ServerTime,
    owed: f64,
}

/// Everybody.
pub(crate) struct Crowd {
    poll: Poll,
    events: Events,
    links: Vec<Link>,
    talks: Vec<Talk>,
    sippers: Vec<Sipper>,
    buffer: Vec<u8>,
    scanner: Scanner,
    clock: ServerClock,
    measuring_since: Option<ServerTime>,
    read: u64,
    /// What was seen since it was last cleared.
    pub(crate) seen: Vec<Sighting>,
}

impl Crowd {
    pub(crate) fn new() -> Crowd {
        Crowd {
            poll: Poll::new().unwrap(),
            events: Events::with_capacity(1024),
            links: Vec::new(),
            talks: Vec::new(),
            sippers: Vec::new(),
            buffer: vec![0; BUFFER],
            scanner: Scanner::new(),
            clock: ServerClock::new(),
            measuring_since: None,
            read: 0,
            seen: Vec::new(),
        }
    }

    pub(crate) fn now(&self) -> ServerTime {
        self.clock.now()
    }

    /// How many links there are; the number of the next one.
    pub(crate) fn len(&self) -> usize {
        self.links.len()
    }

    pub(crate) fn link(&mut self, number: usize) -> &mut Link {
        &mut self.links[number]
    }

    /// Takes a link in; returns its number.
    pub(crate) fn add(&mut self, mut link: Link) -> usize {
        let number = self.links.len();
        if link.pace().is_some() {
            self.sippers.push(Sipper { link: number, read: self.now(), owed: 0.0 });
        } else {
            self.poll.registry().register(link.socket(), Token(number), Interest::READABLE).unwrap();
        }
        self.links.push(link);
        number
    }

    /// From now on these members send this frame every 300 ms, spread out, but not while something is measured. A later call
    /// for the same first member is about a crowd that has grown.
    pub(crate) fn keep_alive(&mut self, members: Range<usize>, frame: Vec<u8>) {
        let step = Micros(PULSE.0 / members.len().max(1) as i64);
        match self.talks.iter_mut().find(|talk| !talk.always && talk.members.start == members.start) {
            Some(talk) => (talk.members, talk.step) = (members, step),
            None => self.talk(members, Box::new(move |_| frame.clone()), step, false),
        }
    }

    /// From now on one of these members after the other sends such a frame, whatever is measured.
    pub(crate) fn flood(&mut self, members: Range<usize>, frames: Frames, step: Micros) {
        self.talk(members, frames, step, true);
    }

    /// Ends every flood.
    pub(crate) fn ebb(&mut self) {
        self.talks.retain(|talk| !talk.always);
    }

    fn talk(&mut self, members: Range<usize>, frames: Frames, step: Micros, always: bool) {
        let (due, next) = (self.now(), members.start);
        self.talks.push(Talk { members, frames, step, always, next, due });
    }

    /// How many of these links the other end has closed.
    pub(crate) fn closed(&self, links: Range<usize>) -> usize {
        self.links[links].iter().filter(|link| link.closed()).count()
    }

    /// From here to [`Crowd::measured`] nothing is sent that need not be.
    pub(crate) fn measure(&mut self) {
        self.seen.clear();
        self.measuring_since = Some(self.now());
    }

    pub(crate) fn measured(&mut self) {
        self.measuring_since = None;
    }

    /// Waits for something to arrive, so long at the most, and reads all that has.
    pub(crate) fn turn(&mut self, at_most: Duration) {
        let now = self.now();
        let talk = self.talks(now);
        let sip = self.sips(now);
        let wait = [talk, sip].into_iter().flatten().map(|wait| Duration::from_micros(wait.0.max(0) as u64));
        let wait = wait.fold(at_most, Duration::min);
        if self.poll.poll(&mut self.events, Some(wait)).is_err() {
            return; // Interrupted: the next turn is the same.
        }
        for event in &self.events {
            let number = event.token().0;
            let (clock, seen) = (&self.clock, &mut self.seen);
            let found = |kind| seen.push(Sighting { link: number, kind, at: clock.now() });
            let count = self.links[number].read(&mut self.buffer, usize::MAX, &self.scanner, found);
            self.read += count as u64;
        }
    }

    /// Takes turns until it is so; the sentence says what did not happen in time.
    pub(crate) fn until(
        &mut self,
        limit: Duration,
        what: &str,
        mut is_so: impl FnMut(&mut Crowd) -> bool,
    ) -> Result<(), Stuck> {
        let start = self.now();
        while !is_so(self) {
            let waited = self.now().since(start);
            if waited.0 >= limit.as_micros() as i64 {
                return Err(Stuck(format!("{what}: not within {} s", limit.as_secs_f64())));
            }
            self.turn(Duration::from_millis(20));
        }
        Ok(())
    }

    /// Lets time pass.
    pub(crate) fn rest(&mut self, time: Duration) {
        let start = self.now();
        while self.now().since(start).0 < time.as_micros() as i64 {
            self.turn(Duration::from_millis(1));
        }
    }

    /// Takes turns until nothing has arrived for `calm`; gives up after a second, because a busy call is never quiet.
    pub(crate) fn quiet(&mut self, calm: Micros) {
        let start = self.now();
        let (mut read, mut since) = (self.read, start);
        loop {
            self.turn(Duration::from_millis(1));
            let now = self.now();
            if self.read != read {
                (read, since) = (self.read, now);
            }
            if now.since(since) >= calm || now.since(start) > Micros::seconds(1) {
                return;
            }
        }
    }

    /// Takes turns until no state has arrived at `links` for as long as a roster that changes would be told twice.
    pub(crate) fn calm(&mut self, links: Range<usize>, limit: Duration) {
        let start = self.now();
        let mut since = start;
        while self.now().since(since) < CALM && self.now().since(start).0 < limit.as_micros() as i64 {
            self.seen.clear();
            self.turn(Duration::from_millis(20));
            if self.seen.iter().any(|seen| seen.kind == Kind::State && links.contains(&seen.link)) {
                since = self.now();
            }
        }
    }

    /// Says what is due to be said; says how long until something is again.
    fn talks(&mut self, now: ServerTime) -> Option<Micros> {
        let measuring = self.measuring_since.is_some();
        let held_back = self.measuring_since.is_some_and(|since| now.since(since) < HELD_BACK);
        let mut next = None;
        for talk in &mut self.talks {
            if held_back && !talk.always {
                continue;
            }
            while talk.due <= now {
                self.links[talk.next].write(&(talk.frames)(measuring));
                talk.next = if talk.next + 1 < talk.members.end { talk.next + 1 } else { talk.members.start };
                talk.due = talk.due + talk.step;
            }
            let wait = talk.due.since(now);
            next = Some(next.map_or(wait, |next: Micros| next.min(wait)));
        }
        next
    }

    /// Lets the slow ones read what they may by now.
    fn sips(&mut self, now: ServerTime) -> Option<Micros> {
        for sipper in &mut self.sippers {
            let passed = now.since(sipper.read);
            if passed < SIP {
                continue;
            }
            sipper.read = now;
            let pace = self.links[sipper.link].pace().unwrap_or_default();
            sipper.owed += passed.as_seconds() * f64::from(pace);
            let (clock, seen) = (&self.clock, &mut self.seen);
            let found = |kind| seen.push(Sighting { link: sipper.link, kind, at: clock.now() });
            let most = sipper.owed as usize;
            let count = self.links[sipper.link].read(&mut self.buffer, most, &self.scanner, found);
            // Nobody saves up: when there was less to read than might have been, the rest is not read faster later.
            sipper.owed = if count < most { 0.0 } else { sipper.owed - count as f64 };
            self.read += count as u64;
        }
        (!self.sippers.is_empty()).then_some(SIP)
    }
}
