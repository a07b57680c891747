//! The loop that drives the call. It alone owns the call, the directory and the list of links; connections talk to it
//! over lanes, of which the hold lane is always looked at first. Every output of the call is carried out
//! before the next input is taken.

use std::future::Future;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use tokio::sync::mpsc;
use tracing::debug;

use super::brake::Brake;
use super::company::Company;
use super::deed::Deed;
use super::freezer::Freezer;
use super::keeper::Keeper;
use super::reached::Reached;
use super::replay::{Left, Tape};
use super::request::{HoldLane, LineNews, LinkId, Request, ToHub, Written};
use super::sockets::Lines;
use super::sound_page::{Kept, SoundPage};
use super::telling::Teller;
use super::visitors::Visitors;
use super::writer::Writer;
use crate::call::{Call, Input, Puller, Pulling, Stage};
use crate::faults::Faults;
use crate::outputs::Outputs;
use crate::outputs::notes::DueSounds;
use crate::sound::Sound;
use crate::time::ServerClock;
use crate::units::{Micros, ServerTime};

/// Sound, log and outputs are looked at so often.
const LOOK: Micros = Micros::millis(300);
/// And so often while nobody is here to be told.
const LOOK_ALONE: Micros = Micros::seconds(2);
/// Requests that may wait; holds wait for nobody.
const REQUESTS: usize = 1_024;

/// What the hub is made of.
pub(super) struct Parts {
    pub(super) clock: ServerClock,
    pub(super) call: Call,
    /// What the last server left for this one to do.
    pub(super) left: Left,
    /// Keeps what comes into the call.
    pub(super) tape: Tape,
    /// Who is in.
    pub(super) company: Company,
    /// What is told, when and to whom.
    pub(super) teller: Teller,
    /// What writes.
    pub(super) writer: Writer,
    pub(super) sound: Sound,
    pub(super) outputs: Outputs,
    pub(super) brake: Arc<Brake>,
    pub(super) lines: Lines,
    pub(super) freezer: Freezer,
    /// What failed in the server's own threads and tasks.
    pub(super) faults: Faults,
    /// Who is at the door.
    pub(super) visitors: Arc<Visitors>,
    /// Which limits were reached.
    pub(super) reached: Arc<Reached>,
    /// The folder of what the server keeps.
    pub(super) data: PathBuf,
}

/// The hub.
pub(super) struct Hub {
    pub(super) parts: Parts,
    /// How many pulls of the brake the call has taken.
    pub(super) taken: u64,
    /// The lines whose loss holds the run, as the sockets' thread knows them.
    pub(super) watched: Option<Vec<LinkId>>,
    pub(super) to_hub: ToHub,
    /// What the sound page needs.
    pub(super) page: SoundPage,
    /// Writes what is chosen, where nobody waits for it.
    pub(super) keeper: Keeper,
    next_look: ServerTime,
    /// Which sounds of the run have been planned.
    pub(super) sounding: DueSounds,
}

/// A hub's lanes, for those who talk to it and for itself.
pub(super) struct Lanes {
    pub(super) to_hub: ToHub,
    holds: mpsc::UnboundedReceiver<HoldLane>,
    lines: mpsc::UnboundedReceiver<LineNews>,
    written: mpsc::UnboundedReceiver<Written>,
    pub(super) requests: mpsc::Receiver<Request>,
}

impl Lanes {
    pub(super) fn new() -> Lanes {
        let (hold_sender, holds) = mpsc::unbounded_channel();
        let (line_sender, lines) = mpsc::unbounded_channel();
        let (written_sender, written) = mpsc::unbounded_channel();
        let (request_sender, requests) = mpsc::channel(REQUESTS);
        let to_hub =
            ToHub { holds: hold_sender, lines: line_sender, written: written_sender, requests: request_sender };
        Lanes { to_hub, holds, lines, written, requests }
    }
}

/// Runs the hub until the shutdown comes, then says goodbye to everybody.
pub(super) async fn run(parts: Parts, kept: Kept, mut lanes: Lanes, shutdown: impl Future<Output = ()>) {
    let keeper = Keeper::new(parts.data.clone(), lanes.to_hub.clone(), parts.faults.clone());
    let mut hub = Hub::new(parts, kept, keeper, lanes.to_hub.clone());
    tokio::pin!(shutdown);
    loop {
        if hub.parts.freezer.freezes() {
            // What waits behind the hub on this thread of the runtime is not to stand with it.
            tokio::task::yield_now().await;
        }
        hub.parts.freezer.turn("hub");
        let wait = hub.wait();
        tokio::select! {
            biased;
            Some(hold) = lanes.holds.recv() => hub.hold(hold),
            () = &mut shutdown => break,
            Some(written) = lanes.written.recv() => hub.written(written),
            Some(news) = lanes.lines.recv() => hub.line(news),
            () = tokio::time::sleep(wait) => hub.tick(),
            Some(request) = lanes.requests.recv() => hub.request(request),
        }
    }
    hub.end();
}

impl Hub {
    pub(super) fn new(mut parts: Parts, kept: Kept, keeper: Keeper, to_hub: ToHub) -> Hub {
        let left = std::mem::take(&mut parts.left);
        let mut hub = Hub {
            page: SoundPage::new(kept),
            keeper,
            taken: 0,
            watched: None,
            to_hub,
            next_look: parts.clock.now(),
            sounding: DueSounds::default(),
            parts,
        };
        let generation = hub.parts.call.generation();
        match hub.parts.call.stage() {
            // Its generation lives once the hold is released.
            Stage::Held(..) => hub.parts.brake.kill(generation),
            _ => hub.parts.brake.admit(generation, hub.taken),
        }
        hub.take_over(left);
        hub
    }

    /// Goes on from what the last server left: what it did not come to write down stands before the beginning of this one.
    fn take_over(&mut self, Left { owed, begun, unknown }: Left) {
        owed.into_iter().for_each(|entry| self.parts.writer.late(entry));
        self.parts.tape.begin();
        begun.into_iter().for_each(|entry| self.parts.writer.entry(entry));
        let pull = |why: String| {
            let dead = self.parts.call.generation().before();
            Input::Pulled(Pulling { by: Puller::Machine(why.into()), at: self.parts.clock.now(), dead })
        };
        let pulled = unknown.map(pull).map(Deed::Give);
        self.carry_out(pulled);
    }

    /// Whatever pulls from here on is nothing's that goes on: what stands is written, and everybody is told.
    pub(super) fn end(&mut self) {
        let goodbyes = self.parts.company.end();
        self.carry_out([Deed::Settle(Some(ServerTime(i64::MAX)))].into_iter().chain(goodbyes));
    }

    /// How long until time alone gives the hub something to do.
    fn wait(&mut self) -> Duration {
        let now = self.parts.clock.now();
        let told = self.parts.teller.deadline();
        let deadlines = [Some(self.next_look), self.parts.call.deadline(), self.page.deadline(), told];
        let next = deadlines.into_iter().flatten().min();
        let micros = next.map_or(0, |at| at.since(now).0.max(0));
        Duration::from_micros(u64::try_from(micros).unwrap_or(0))
    }

    fn hold(&mut self, hold: HoldLane) {
        let input = match self.parts.company.shortened(&self.parts.call, hold) {
            HoldLane::Pulled(pulling) => {
                self.taken += 1;
                Input::Pulled(pulling)
            }
            HoldLane::Tap(member, tap) => Input::Tap(member, tap),
            HoldLane::Stopped { lines, took } => {
                return debug!(lines, "the stop was written within {} µs", took.0);
            }
        };
        self.carry_out([Deed::Give(input)]);
    }

    fn written(&mut self, written: Written) {
        self.carry_out([Deed::Give(written.input())]);
    }

    fn line(&mut self, news: LineNews) {
        let deeds = self.parts.company.line(&self.parts.call, news);
        self.carry_out(deeds);
    }

    fn request(&mut self, request: Request) {
        let deeds = self.asked(request);
        self.carry_out(deeds);
    }

    fn tick(&mut self) {
        let now = self.parts.clock.now();
        if self.parts.call.deadline().is_some_and(|at| at <= now) {
            self.carry_out([Deed::Give(Input::Tick)]);
        }
        if now >= self.next_look {
            self.look_after(now);
        }
        if self.page.deadline().is_some_and(|at| at <= now) {
            let deeds = self.sound_tick(now);
            self.carry_out(deeds);
        }
        self.carry_out([Deed::Tell]);
    }

    /// Somebody comes who is to be told how things are now.
    pub(super) fn look_at_once(&mut self) {
        self.next_look = self.parts.clock.now();
    }

    fn look_after(&mut self, now: ServerTime) {
        self.next_look = now + if self.parts.company.is_empty() { LOOK_ALONE } else { LOOK };
        let mut deeds = vec![Deed::Settle(self.settled())];
        deeds.extend(self.take_up_recordings());
        self.carry_out(deeds);
        let around = self.surroundings();
        self.parts.teller.look(around);
    }
}

/// For a simulation, which does without a runtime.
#[cfg(test)]
impl Hub {
    /// Takes one thing from the lanes, in the order in which [`run`] looks at them. False when there is nothing to do now.
    pub(super) fn turn(&mut self, lanes: &mut Lanes) -> bool {
        if let Ok(hold) = lanes.holds.try_recv() {
            self.hold(hold);
        } else if let Ok(written) = lanes.written.try_recv() {
            self.written(written);
        } else if let Ok(news) = lanes.lines.try_recv() {
            self.line(news);
        } else if self.wait().is_zero() {
            self.tick();
        } else if let Ok(request) = lanes.requests.try_recv() {
            self.request(request);
        } else {
            return false;
        }
        true
    }

    /// When time alone gives it something to do.
    pub(super) fn deadline(&mut self) -> ServerTime {
        let wait = i64::try_from(self.wait().as_micros()).unwrap_or(i64::MAX);
        self.parts.clock.now() + Micros(wait)
    }
}
