//! A member on a real link: drives a [`Follower`] with a WebSocket, a clock and a timer, and tells its owner what
//! happens.

use std::collections::VecDeque;
use std::future::{Future, poll_fn};
use std::pin::Pin;
use std::task::{Context, Poll};
use std::time::Duration;

use tokio::time::Sleep;

use super::socket::{Heard, Opening, Socket};
use super::{Act, Address, Ending, Event, Follower, Introduction, Shown};
use crate::clock::{Estimate, MemberTime};
use crate::hex;
use crate::rules::ASLEEP;
use crate::time::{ServerClock, SleepWatch};
use crate::wire::{ToMember, ToServer};

/// Something that the owner of a member may want to know.
#[derive(Debug)]
pub enum Happening {
    /// A message arrived, at this time of the member's clock. It is told before what comes of it.
    Heard(MemberTime, Box<ToMember>),
    /// A message arrived that this wire does not know: the two programs are of different versions.
    Unreadable(MemberTime, String),
    /// A cue is shown now.
    Shown(Box<Shown>),
    /// The link is up and the whole state is known.
    Linked,
    /// The link is lost; the member comes back by itself.
    Lost,
    /// No connection came about; why, in words. The member tries again by itself.
    Unreachable(String),
    /// This could not be said, because there was no link.
    Unsaid(ToServer),
    /// It is over. Nothing follows, unless HOLD is tapped.
    Over(Ending),
}

/// A member: what a phone does, minus the screen. It moves only while [`Member::next`] is awaited.
pub struct Member {
    follower: Follower,
    address: Address,
    clock: ServerClock,
    asleep: SleepWatch,
    connection: Connection,
    outbox: VecDeque<ToServer>,
    happened: VecDeque<Happening>,
    sleep: Pin<Box<Sleep>>,
}

enum Connection {
    None,
    Opening(Opening),
    Open(Box<Socket>),
}

/// What the world did.
enum Woken {
    Time,
    Opened(Box<Socket>),
    Failed(String),
    Heard(Heard),
}

impl Member {
    /// A member that will connect when it is first awaited. `clock` is the member's own: any clock will do, and inside
    /// the server's process the server's own shows how wrong the estimate is.
    ///
    /// # Panics
    /// Outside a tokio runtime, which its timer needs.
    pub fn new(address: Address, introduction: Introduction, clock: ServerClock) -> Member {
        Member {
            follower: Follower::new(introduction).named(fresh_id()),
            address,
            clock,
            asleep: SleepWatch::begin(),
            connection: Connection::None,
            outbox: VecDeque::new(),
            happened: VecDeque::new(),
            sleep: Box::pin(tokio::time::sleep(Duration::ZERO)),
        }
    }

    /// What happens next. Can be dropped at any moment without losing anything, so that it may stand in a `select!`.
    /// After [`Happening::Over`] it returns only when HOLD is tapped.
    pub async fn next(&mut self) -> Happening {
        loop {
            if let Some(happening) = self.happened.pop_front() {
                return happening;
            }
            let now = self.now();
            let deadline = self.follower.deadline(now);
            if let Some(deadline) = deadline {
                let wait = u64::try_from(deadline.since(now).0).unwrap_or(0);
                self.sleep.set(tokio::time::sleep(Duration::from_micros(wait)));
            }
            let woken = poll_fn(|context| self.poll(context, deadline.is_some())).await;
            self.woken(woken);
        }
    }

    /// The person taps HOLD. It is sent at once, or over the next link. The id comes back of the newest tap that nobody has
    /// answered: tapped again, it is the same tap.
    pub fn hold(&mut self, reason: Option<String>) -> String {
        let tap = fresh_id();
        self.step(Event::Hold { tap: tap.clone(), reason });
        let kept = self.follower.kept_taps();
        if kept.iter().any(|kept| kept.tap == tap) {
            tap
        } else {
            kept.into_iter().next_back().map_or(tap, |kept| kept.tap)
        }
    }

    /// Says something; [`Happening::Unsaid`] comes back when there is no link.
    pub fn say(&mut self, message: ToServer) {
        self.step(Event::Say(message));
    }

    /// Says what is still to be said, closes the link and is gone.
    pub async fn close(mut self) {
        if let Connection::Open(socket) = &mut self.connection {
            let farewell = socket.close(&mut self.outbox);
            // A server that does not take it within a second will notice by itself.
            let _ = tokio::time::timeout(Duration::from_secs(1), farewell).await;
        }
    }

    /// The state machine inside.
    pub fn follower(&self) -> &Follower {
        &self.follower
    }

    /// The member's own time.
    pub fn now(&self) -> MemberTime {
        MemberTime(self.clock.now().0)
    }

    /// What is known of the server's clock now.
    pub fn estimate(&self) -> Option<Estimate> {
        self.follower.clock().estimate(self.now())
    }
}

impl Member {
    /// Before anything is believed of the time, it is asked whether the clock stood still.
    fn notice_sleep(&mut self) {
        if self.asleep.slept() >= ASLEEP {
            let acts = self.follower.handle(self.now(), Event::Slept);
            self.perform(acts);
        }
    }

    fn step(&mut self, event: Event<'_>) {
        self.notice_sleep();
        let acts = self.follower.handle(self.now(), event);
        self.perform(acts);
    }

    fn perform(&mut self, acts: Vec<Act>) {
        for act in acts {
            match act {
                Act::Connect => self.connection = Connection::Opening(Socket::open(self.address.clone())),
                Act::Send(ToServer::Hold(tap)) => self.send_first(ToServer::Hold(tap)),
                Act::Send(message) => self.outbox.push_back(message),
                Act::Unsaid(message) => self.happened.push_back(Happening::Unsaid(message)),
                Act::Show(shown) => self.happened.push_back(Happening::Shown(shown)),
                Act::Linked => self.happened.push_back(Happening::Linked),
                Act::Lost => self.happened.push_back(Happening::Lost),
                Act::Over(ending) => self.happened.push_back(Happening::Over(ending)),
                Act::Disconnect => self.disconnect(),
            }
        }
    }

    /// A tap overtakes whatever is not on its way yet, but for the introduction and the taps before it.
    fn send_first(&mut self, tap: ToServer) {
        let first =
            |said: &ToServer| matches!(said, ToServer::Join { .. } | ToServer::Return { .. } | ToServer::Hold(_));
        let place = self.outbox.iter().rposition(first).map_or(0, |place| place + 1);
        self.outbox.insert(place, tap);
    }

    fn disconnect(&mut self) {
        if matches!(self.connection, Connection::Opening(_)) {
            self.happened.push_back(Happening::Unreachable(format!("{} does not answer", self.address.place())));
        }
        self.disconnected();
    }

    fn disconnected(&mut self) {
        self.connection = Connection::None;
        self.outbox.clear();
        self.step(Event::Closed { chance: chance() });
    }

    fn woken(&mut self, woken: Woken) {
        match woken {
            Woken::Time => self.step(Event::Time),
            Woken::Opened(socket) => {
                self.connection = Connection::Open(socket);
                self.step(Event::Opened);
            }
            Woken::Failed(why) => {
                self.happened.push_back(Happening::Unreachable(why));
                self.disconnected();
            }
            Woken::Heard(Heard::Message(message)) => self.heard(*message),
            Woken::Heard(Heard::Piece) => self.step(Event::Alive),
            Woken::Heard(Heard::Unreadable(why)) => {
                self.step(Event::Alive);
                self.happened.push_back(Happening::Unreadable(self.now(), why));
            }
            Woken::Heard(Heard::Closed) => self.disconnected(),
        }
    }

    fn heard(&mut self, message: ToMember) {
        self.notice_sleep();
        let now = self.now();
        let acts = self.follower.handle(now, Event::Heard(&message));
        self.happened.push_back(Happening::Heard(now, Box::new(message)));
        self.perform(acts);
    }

    /// What arrived is read before the timer is looked at: a hold overtakes a cue that is due in the same instant.
    fn poll(&mut self, context: &mut Context<'_>, timed: bool) -> Poll<Woken> {
        match &mut self.connection {
            Connection::None => {}
            Connection::Opening(opening) => {
                if let Poll::Ready(opened) = opening.as_mut().poll(context) {
                    return Poll::Ready(opened.map_or_else(Woken::Failed, |socket| Woken::Opened(Box::new(socket))));
                }
            }
            Connection::Open(socket) => {
                if let Poll::Ready(heard) = socket.poll(context, &mut self.outbox) {
                    return Poll::Ready(Woken::Heard(heard));
                }
            }
        }
        if timed && self.sleep.as_mut().poll(context).is_ready() {
            return Poll::Ready(Woken::Time);
        }
        Poll::Pending
    }
}

/// An id that was never used before: 128 random bits.
fn fresh_id() -> String {
    let mut bits = [0; 16];
    // Without randomness from the system the id is the same each time, and the worst is that two taps count as one.
    let _ = getrandom::fill(&mut bits);
    hex::encode(&bits)
}

/// A random number from 0 to 1.
fn chance() -> f64 {
    getrandom::u32().map_or(1.0, |bits| f64::from(bits) / f64::from(u32::MAX))
}
