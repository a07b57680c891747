//! A phone: the member's own state machine, with a clock that drifts, jumps and sleeps, and what its person has seen.

use std::collections::BTreeMap;

use super::chance::Chance;
use super::frames::Reading;
use crate::call::Role;
use crate::clock::MemberTime;
use crate::member::{Act, Event, Follower, Introduction, Known};
use crate::wire::{HoldTap, HoldView, ItemView, Stage, State, Subject, ToMember, ToServer, You};

/// The phone of somebody without an invitation that is any good.
pub(super) const STRANGER: usize = 6;
/// A second page of the member whose first is the phone of that number: both have one key.
pub(super) const SECOND_PAGE: (usize, usize) = (7, 2);

/// The phone.
pub(super) struct Phone {
    /// Its place among the phones.
    pub(super) number: usize,
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
    /// Until when it sleeps, and since when.
    pub(super) asleep: i64,
    pub(super) fell_asleep: i64,
    wakes: Option<i64>,
    /// What its screen shows of the call, and of the subjects that it asks for.
    pub(super) seen: Seen,
    pub(super) known: Known,
    /// Who is in the room, by number, and what they are.
    pub(super) room: Vec<(u32, Role)>,
    /// The order that was on the screen before the one that is, with its version.
    pub(super) earlier: Option<(u64, Vec<ItemView>)>,
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
    /// What it has in a store that outlives a reload of the page: the taps that are not settled. Some phones have none.
    store: Option<Vec<HoldTap>>,
    /// What its person says once more, and when.
    pub(super) again: Option<(i64, ToServer)>,
    /// The generation that lived when its person last tapped HOLD.
    pub(super) tapped: u64,
    pub(super) over: bool,
    /// How often its page was loaded anew.
    pages: u32,
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
    /// The member's number, and what concerns them alone.
    pub(super) you: Option<(u32, You)>,
    /// The step on the screen, behind its generation, and its cue.
    pub(super) step: Option<(u64, u32, u32)>,
    /// The generation that lives, by the messages of this connection.
    pub(super) alive: u64,
}

impl Phone {
    pub(super) fn new(
        number: usize,
        person: (Role, &str, Option<&str>),
        invitation: &str,
        mut chance: Chance,
    ) -> Phone {
        let (role, name, part) = person;
        let part = part.map(str::to_owned);
        let introduction =
            Introduction::Join { invitation: invitation.to_owned(), name: name.to_owned(), part: part.clone() };
        Phone {
            number,
            role,
            name: name.to_owned(),
            part,
            follower: Follower::new(introduction).named(format!("{number} 0")),
            pages: 0,
            offset: chance.between(-1_000_000_000, 1_000_000_000),
            // Crystals of phones are within 100 ppm of true (common practice, no source).
            rate: 1.0 + (chance.part() - 0.5) * 200e-6,
            link: Link::None,
            reading: Reading::default(),
            acts_at: chance.between(500_000, 3_000_000),
            cut: (0, 0),
            asleep: 0,
            fell_asleep: 0,
            wakes: Some(0),
            seen: Seen::default(),
            known: Known::default(),
            room: Vec::new(),
            earlier: None,
            waiting: BTreeMap::new(),
            heard: 0,
            epoch: 0,
            jumped: 0,
            key: None,
            taps: 0,
            store: chance.percent(90.0).then(Vec::new),
            again: None,
            tapped: 0,
            // A second page is opened later.
            over: number == SECOND_PAGE.0,
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
        if let Some(store) = &mut self.store {
            *store = self.follower.kept_taps();
        }
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
                let you = Some((welcome.member, welcome.you.clone()));
                let (state, hold) = (Some(welcome.state.clone()), welcome.state.hold.clone());
                self.seen = Seen { state, hold, you, step: None, alive: 0 };
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
            ToMember::You(you) => {
                self.seen.you.iter_mut().for_each(|(_, known)| *known = you.clone());
                0
            }
            ToMember::Subject { tells } => {
                let before = self.known.tonight.clone();
                self.known.take(tells);
                if self.known.tonight != before {
                    self.earlier = before;
                }
                0
            }
            _ => 0,
        };
        self.seen.alive = self.seen.alive.max(alive);
    }

    /// Where the call stands, by its screen.
    pub(super) fn stage(&self) -> Stage {
        self.seen.state.as_ref().map_or(Stage::Idle, |state| state.stage)
    }

    /// What its page shows besides the call.
    pub(super) fn shows(&self) -> Vec<Subject> {
        match self.role {
            Role::Desk | Role::Captain => vec![Subject::Tonight, Subject::Casts],
            _ => vec![Subject::Tonight],
        }
    }

    /// True when it has a store, and a key to come back with: what is in it outlives a reload.
    pub(super) fn keeps(&self) -> bool {
        self.store.is_some() && self.key.is_some()
    }

    /// The page is loaded anew: what it kept is its key, and the taps in its store.
    pub(super) fn reload(&mut self) {
        let introduction = match self.key.clone() {
            Some(key) => Introduction::Return { key },
            None => self.follower.introduction().clone(),
        };
        let kept = self.store.clone().filter(|_| self.key.is_some()).unwrap_or_default();
        self.begin(Follower::restarted(introduction, kept));
    }

    /// A page is opened with the key of another one.
    pub(super) fn open_with(&mut self, key: String) {
        self.key = Some(key);
        self.reload();
    }

    /// They come anew with an invitation, under the same name.
    pub(super) fn join_anew(&mut self, invitation: &str) {
        let (invitation, name, part) = (invitation.to_owned(), self.name.clone(), self.part.clone());
        self.key = None;
        self.begin(Follower::new(Introduction::Join { invitation, name, part }));
    }

    fn begin(&mut self, follower: Follower) {
        self.pages += 1;
        self.follower = follower.named(format!("{} {}", self.number, self.pages));
        self.wakes = Some(0);
        (self.seen, self.known, self.earlier) = (Seen::default(), Known::default(), None);
        self.waiting.clear();
        (self.over, self.again) = (false, None);
    }
}
