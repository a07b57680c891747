//! A phone: the member's own state machine, with a clock that drifts, jumps and sleeps, and what its person has seen.

use std::collections::BTreeMap;

use super::chance::Chance;
use super::frames::Reading;
use crate::call::Role;
use crate::clock::MemberTime;
use crate::member::{Act, Event, Follower, Introduction};
use crate::wire::{HoldView, Stage, State, ToMember};

/// The phone.
pub(super) struct Phone {
    pub(super) role: Role,
    pub(super) name: String,
    pub(super) part: Option<String>,
    pub(super) follower: Follower,
    pub(super) chance: Chance,
    /// Its clock at the beginning, µs, and how fast it goes.
    offset: i64,
    rate: f64,
    pub(super) link: Link,
    pub(super) reading: Reading,
    /// When its person does something next.
    pub(super) acts_at: i64,
    /// Until when nothing reaches the server, and nothing the phone.
    pub(super) cut: (i64, i64),
    /// Until when it sleeps.
    pub(super) asleep: i64,
    wakes: Option<i64>,
    /// What its screen shows of the call.
    pub(super) seen: Seen,
    /// Cues that have come in time and wait: generation and number, and when they are due.
    pub(super) waiting: BTreeMap<(u64, u32), i64>,
    /// When something was last heard.
    pub(super) heard: i64,
    /// When the server whose connection it has began to count its time.
    pub(super) epoch: i64,
    /// When its clock last did what no clock should, or the server's did.
    pub(super) jumped: i64,
    pub(super) key: Option<String>,
    pub(super) taps: u32,
    /// The generation that lived when its person last tapped HOLD.
    pub(super) tapped: u64,
    pub(super) over: bool,
    /// When it last tried to reach the server.
    pub(super) tried: i64,
}

/// Where its connection stands.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Link {
    None,
    /// It hears then whether it has one.
    Connecting(i64),
    /// The connection of that number.
    Open(usize),
}

/// What a person can know from their screen.
#[derive(Clone, Debug, Default)]
pub(super) struct Seen {
    pub(super) state: Option<State>,
    pub(super) hold: Option<HoldView>,
    /// The generation that lives, by the messages of this connection.
    pub(super) alive: u64,
}

impl Phone {
    pub(super) fn new(role: Role, name: &str, part: Option<&str>, invitation: &str, mut chance: Chance) -> Phone {
        let part = part.map(str::to_owned);
        let introduction =
            Introduction::Join { invitation: invitation.to_owned(), name: name.to_owned(), part: part.clone() };
        Phone {
            role,
            name: name.to_owned(),
            part,
            follower: Follower::new(introduction),
            offset: chance.between(-1_000_000_000, 1_000_000_000),
            // Crystals of phones are within 100 ppm of true (common practice, no source).
            rate: 1.0 + (chance.part() - 0.5) * 200e-6,
            link: Link::None,
            reading: Reading::default(),
            acts_at: chance.between(500_000, 3_000_000),
            cut: (0, 0),
            asleep: 0,
            wakes: Some(0),
            seen: Seen::default(),
            waiting: BTreeMap::new(),
            heard: 0,
            epoch: 0,
            jumped: 0,
            key: None,
            taps: 0,
            tapped: 0,
            over: false,
            tried: 0,
            chance,
        }
    }

    /// Its own time at that true time.
    pub(super) fn time(&self, now: i64) -> MemberTime {
        MemberTime(self.offset + (now as f64 * self.rate) as i64)
    }

    /// Something happens to it.
    pub(super) fn handle(&mut self, now: i64, event: Event<'_>) -> Vec<Act> {
        let time = self.time(now);
        let acts = self.follower.handle(time, event);
        self.wakes = self.follower.deadline(time).map(|at| {
            let wait = at.since(time).0.max(0);
            now + (wait as f64 / self.rate) as i64 + i64::from(wait > 0)
        });
        acts
    }

    /// When it must be woken, if nothing happens.
    pub(super) fn wakes(&self) -> Option<i64> {
        self.wakes.map(|at| at.max(self.asleep))
    }

    /// It has slept, and its clock stood still for so long.
    pub(super) fn slept(&mut self, now: i64, long: i64) -> Vec<Act> {
        self.offset -= long;
        self.jumped = now;
        self.handle(now, Event::Slept)
    }

    /// Takes note of a message, as its person does.
    pub(super) fn sees(&mut self, message: &ToMember) {
        let alive = match message {
            ToMember::Welcome(welcome) => {
                self.seen = Seen { state: Some(welcome.state.clone()), hold: welcome.state.hold.clone(), alive: 0 };
                if let Some(key) = &welcome.key {
                    self.key = Some(key.clone());
                }
                welcome.state.generation
            }
            ToMember::State(state) => {
                self.seen.hold = state.hold.clone();
                self.seen.state = Some((**state).clone());
                state.generation
            }
            ToMember::Stop { generation, .. } => generation + 1,
            ToMember::Held(hold) => {
                self.seen.hold = Some((**hold).clone());
                hold.generation
            }
            ToMember::Pulse { generation, .. } => *generation,
            ToMember::Run(run) => run.generation,
            _ => 0,
        };
        self.seen.alive = self.seen.alive.max(alive);
    }

    /// Where the call stands, by its screen.
    pub(super) fn stage(&self) -> Stage {
        self.seen.state.as_ref().map_or(Stage::Idle, |state| state.stage)
    }

    /// The page is loaded anew, or the phone is another one: what it kept is its key.
    pub(super) fn begin_anew(&mut self) {
        let introduction = match self.key.clone() {
            Some(key) => Introduction::Return { key },
            None => self.follower.introduction().clone(),
        };
        self.follower = Follower::new(introduction);
        self.wakes = Some(0);
        self.seen = Seen::default();
        self.waiting.clear();
    }

    /// They come anew with an invitation, under the same name.
    pub(super) fn join_anew(&mut self, invitation: &str) {
        let (invitation, name, part) = (invitation.to_owned(), self.name.clone(), self.part.clone());
        self.follower = Follower::new(Introduction::Join { invitation, name, part });
        self.wakes = Some(0);
        self.seen = Seen::default();
        self.waiting.clear();
        (self.key, self.over) = (None, false);
    }
}
