//! A stand-in: a simulated person with a phone. It joins, says ready when places are called, follows, reports, and
//! calls a hold when it is told to. One task each, cheap enough for a thousand in one process.

use std::sync::{Arc, Mutex, PoisonError};
use std::time::Duration;

use tokio::sync::{mpsc, watch};

use super::{Address, Ending, Happening, HoldHeard, Introduction, Known, Member, Shown, Statistics};
use crate::call::Role;
use crate::clock::MemberTime;
use crate::time::ServerClock;
use crate::units::{Micros, ServerTime};
use crate::wire::{Stage, State, Subject, ToMember, ToServer, You};

/// What a stand-in does by itself.
#[derive(Clone, Debug)]
pub struct Behaviour {
    /// Says ready so long after it heard that places are called; nothing: never.
    pub ready_after: Option<Micros>,
    /// Calls one hold so long after the first cue it showed; nothing: never.
    pub hold_after: Option<Micros>,
    /// The reason that it gives.
    pub hold_reason: Option<String>,
    /// The subjects that it shows, and is told of.
    pub shows: Vec<Subject>,
}

impl Default for Behaviour {
    /// Says ready after 0.6 s, calls no hold, shows nothing.
    fn default() -> Behaviour {
        Behaviour { ready_after: Some(Micros::millis(600)), hold_after: None, hold_reason: None, shows: Vec::new() }
    }
}

/// What a stand-in knows now.
#[derive(Clone, Debug, Default)]
pub struct Seen {
    /// Its number, once it is welcome.
    pub member: Option<u32>,
    /// What it was told of itself, once it is welcome.
    pub you: Option<You>,
    /// True while it has a link.
    pub linked: bool,
    /// The last state it was told.
    pub state: Option<Arc<State>>,
    /// What it knows of the subjects that it shows.
    pub known: Arc<Known>,
    /// The number of the last cue it showed.
    pub cue: Option<u32>,
    /// Why it is over, once it is.
    pub ended: Option<Ending>,
    /// Why no connection came about the last time, until one does.
    pub unreachable: Option<String>,
}

/// Starts stand-ins.
pub struct StandIn {
    member: Member,
    address: Address,
    name: String,
    part: Option<String>,
    behaviour: Behaviour,
    clock: ServerClock,
    statistics: Arc<Mutex<Statistics>>,
    seen: watch::Sender<Seen>,
    ready_at: Option<(MemberTime, u64)>,
    hold_at: Option<MemberTime>,
    has_held: bool,
}

/// The hand on a running stand-in. When it is dropped, the stand-in is gone without a word, like a phone that is
/// switched off.
#[derive(Debug)]
pub struct StandInHandle {
    name: String,
    commands: mpsc::UnboundedSender<Command>,
    statistics: Arc<Mutex<Statistics>>,
    seen: watch::Receiver<Seen>,
    task: tokio::task::JoinHandle<()>,
}

#[derive(Debug)]
enum Command {
    Hold(Option<String>),
    Say(ToServer),
    Leave,
}

impl StandIn {
    /// Starts one in the current tokio runtime. If its part is refused it joins without one, as an understudy. `clock`
    /// is its own clock, and that of every time in its statistics.
    pub fn spawn(
        address: Address,
        name: impl Into<String>,
        part: Option<String>,
        behaviour: Behaviour,
        clock: ServerClock,
    ) -> StandInHandle {
        let name = name.into();
        let (commands, orders) = mpsc::unbounded_channel();
        let (seen, watched) = watch::channel(Seen::default());
        let statistics = Arc::new(Mutex::new(Statistics::default()));
        let stand_in = StandIn {
            member: member(&address, &name, &part, clock),
            address,
            name: name.clone(),
            part,
            behaviour,
            clock,
            statistics: statistics.clone(),
            seen,
            ready_at: None,
            hold_at: None,
            has_held: false,
        };
        let task = tokio::spawn(stand_in.run(orders));
        StandInHandle { name, commands, statistics, seen: watched, task }
    }
}

impl StandInHandle {
    /// What it is called.
    pub fn name(&self) -> &str {
        &self.name
    }

    /// It taps HOLD now.
    pub fn hold(&self, reason: Option<String>) {
        self.order(Command::Hold(reason));
    }

    /// It says this, if it has a link: a captain's release, for instance.
    pub fn say(&self, message: ToServer) {
        self.order(Command::Say(message));
    }

    /// What it has measured so far.
    pub fn statistics(&self) -> Statistics {
        self.statistics.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// What it knows; the receiver can wait for something to become true.
    pub fn seen(&self) -> watch::Receiver<Seen> {
        self.seen.clone()
    }

    /// It leaves for good, with a word, and is gone when this returns.
    pub async fn stop(self) {
        self.order(Command::Leave);
        // It can only have failed by being gone already.
        let _ = self.task.await;
    }

    /// A stand-in that is over takes no orders, and nothing is lost by it.
    fn order(&self, command: Command) {
        let _ = self.commands.send(command);
    }
}

fn member(address: &Address, name: &str, part: &Option<String>, clock: ServerClock) -> Member {
    let invitation = address.secret().to_owned();
    let introduction = Introduction::Join { invitation, name: name.to_owned(), part: part.clone() };
    Member::new(address.clone(), introduction, clock)
}

impl StandIn {
    async fn run(mut self, mut orders: mpsc::UnboundedReceiver<Command>) {
        loop {
            let timer = wait(self.next_timer(), self.member.now());
            tokio::select! {
                biased;
                order = orders.recv() => match order {
                    Some(Command::Hold(reason)) => drop(self.member.hold(reason)),
                    Some(Command::Say(message)) => self.member.say(message),
                    Some(Command::Leave) => {
                        if self.member.follower().linked() {
                            self.member.say(ToServer::Leave {});
                        }
                        return self.member.close().await;
                    }
                    None => return,
                },
                happening = self.member.next() => if !self.happened(happening) {
                    return;
                },
                () = timer => self.timers(),
            }
        }
    }

    /// False when it is over.
    fn happened(&mut self, happening: Happening) -> bool {
        match happening {
            Happening::Heard(now, message) => self.heard(now, &message),
            // What was shown before counts once.
            Happening::Shown(shown) if shown.again => {}
            Happening::Shown(shown) => self.shown(*shown),
            Happening::Linked => {
                // A new link is told nothing that it has not asked for.
                if !self.behaviour.shows.is_empty() {
                    self.member.say(ToServer::Show { subjects: self.behaviour.shows.clone() });
                }
                self.note(|statistics| statistics.linked = true);
                self.seen.send_modify(|seen| {
                    seen.linked = true;
                    seen.unreachable = None;
                });
            }
            Happening::Lost => {
                self.note(|statistics| {
                    statistics.linked = false;
                    statistics.losses += 1;
                });
                self.seen.send_modify(|seen| seen.linked = false);
            }
            Happening::Unreachable(why) => self.seen.send_modify(|seen| seen.unreachable = Some(why)),
            Happening::Over(Ending::Refused(_)) if self.part.take().is_some() => {
                self.member = member(&self.address, &self.name, &None, self.clock);
            }
            Happening::Over(ending) => {
                self.seen.send_modify(|seen| seen.ended = Some(ending));
                return false;
            }
            Happening::Unreadable(..) | Happening::Unsaid(_) => {}
        }
        true
    }

    fn heard(&mut self, now: MemberTime, message: &ToMember) {
        match message {
            ToMember::Welcome(welcome) => {
                self.seen.send_modify(|seen| {
                    (seen.member, seen.you) = (Some(welcome.member), Some(welcome.you.clone()));
                });
                self.told(now, &welcome.state);
            }
            ToMember::State(state) => self.told(now, state),
            ToMember::You(you) => {
                self.seen.send_modify(|seen| seen.you = Some(you.clone()));
                self.get_ready(now);
            }
            ToMember::Subject { tells } => {
                self.seen.send_modify(|seen| Arc::make_mut(&mut seen.known).take(tells));
            }
            ToMember::Held(hold) => self.note(|statistics| {
                let received = ServerTime(now.0);
                statistics.holds.push(HoldHeard { hold: hold.hold, generation: hold.generation, received });
            }),
            ToMember::Pulse { .. } => {
                let known = self.member.estimate();
                self.note(|statistics| {
                    statistics.bound = known.map(|known| known.bound).or(statistics.bound);
                    statistics.offset = known.map(|known| known.offset).or(statistics.offset);
                });
            }
            _ => {}
        }
    }

    fn told(&mut self, now: MemberTime, state: &State) {
        self.seen.send_modify(|seen| seen.state = Some(Arc::new(state.clone())));
        self.get_ready(now);
    }

    /// Ready is said once for each calling of places, and again if the server does not know of it.
    fn get_ready(&mut self, now: MemberTime) {
        let (places, waits) = {
            let seen = self.seen.borrow();
            let waits = seen.you.as_ref().is_some_and(|you| you.role == Role::Performer && !you.ready);
            let state = seen.state.as_ref().filter(|state| state.stage == Stage::Places);
            (state.map(|state| state.generation), waits)
        };
        self.ready_at = match (self.behaviour.ready_after, self.ready_at, places.filter(|_| waits)) {
            (Some(_), waiting @ Some((_, generation)), Some(called)) if generation == called => waiting,
            (Some(after), _, Some(called)) => Some((now + after, called)),
            _ => None,
        };
    }

    fn shown(&mut self, shown: Shown) {
        if let (Some(after), None, false) = (self.behaviour.hold_after, self.hold_at, self.has_held) {
            self.hold_at = Some(self.member.now() + after);
        }
        let error = shown.cue.due_us.and_then(|due| Some(shown.at?.since(ServerTime(due))));
        self.note(|statistics| {
            match shown.sounds() {
                true => statistics.fired += 1,
                false => statistics.late += 1,
            }
            error.into_iter().for_each(|error| statistics.error(error));
            statistics.bound = shown.bound.or(statistics.bound);
        });
        self.seen.send_modify(|seen| seen.cue = Some(shown.cue.cue));
    }

    fn next_timer(&self) -> Option<MemberTime> {
        self.ready_at.map(|(at, _)| at).into_iter().chain(self.hold_at).min()
    }

    fn timers(&mut self) {
        let now = self.member.now();
        if let Some((_, generation)) = self.ready_at.take_if(|(at, _)| *at <= now) {
            self.member.say(ToServer::Ready { ready: true, generation });
        }
        if self.hold_at.take_if(|at| *at <= now).is_some() {
            self.has_held = true;
            self.member.hold(self.behaviour.hold_reason.clone());
        }
    }

    fn note(&self, change: impl FnOnce(&mut Statistics)) {
        change(&mut self.statistics.lock().unwrap_or_else(PoisonError::into_inner));
    }
}

/// Waits until that time; for ever if there is none.
async fn wait(until: Option<MemberTime>, now: MemberTime) {
    match until {
        Some(until) => {
            tokio::time::sleep(Duration::from_micros(u64::try_from(until.since(now).0).unwrap_or(0))).await;
        }
        None => std::future::pending().await,
    }
}
