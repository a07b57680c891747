//! The loop that drives the call. It alone owns the call, the directory and the list of links; connections talk to it
//! over lanes, of which the hold lane is always looked at first. Every output of the call is carried out
//! before the next input is taken.

use std::collections::VecDeque;
use std::future::Future;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use tokio::sync::mpsc;
use tracing::debug;

use super::brake::Brake;
use super::company::Company;
use super::deed::{Deed, Goodbye};
use super::freezer::Freezer;
use super::keeper::Keeper;
use super::lateness::Devices;
use super::replay::{Left, Tape};
use super::request::{HoldLane, LineNews, LinkId, Request, ToHub, Written};
use super::sockets::{Frame, Framed, Latest, Lines, framed};
use super::sound_page::{Kept, SoundPage};
use super::told::{Matters, Telling, Told};
use super::visitors::Visitors;
use super::writer::Writer;
use super::{subjects, view};
use crate::call::{Call, CueOut, Input, MemberId, Output, Puller, Pulling, Stage, TapFate};
use crate::faults::Faults;
use crate::outputs::Outputs;
use crate::outputs::notes::DueSounds;
use crate::sound::{Sound, Voice, VoiceKind};
use crate::time::ServerClock;
use crate::units::{Decibels, Micros, ServerTime};
use crate::wire::{self, SoundLane, TapOutcome, ToMember, Welcome};

/// Sound, log and outputs are looked at so often.
const LOOK: Micros = Micros::millis(300);
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
    pub(super) troubles: Vec<String>,
    pub(super) count_in: Option<u32>,
    pub(super) horizon: Micros,
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
    /// The folder of what the server keeps.
    pub(super) data: PathBuf,
}

/// The hub.
pub(super) struct Hub {
    pub(super) parts: Parts,
    /// How many pulls of the brake the call has taken.
    taken: u64,
    /// The lines whose loss holds the run, as the sockets' thread knows them.
    watched: Option<Vec<LinkId>>,
    pub(super) devices: Devices,
    pub(super) to_hub: ToHub,
    /// What the sound page needs.
    pub(super) page: SoundPage,
    /// Writes what is chosen, where nobody waits for it.
    pub(super) keeper: Keeper,
    next_look: ServerTime,
    /// Set when something that is told changed, and `told` does not know of it yet.
    pub(super) untold: bool,
    /// Who is told what, and when.
    pub(super) told: Told,
    /// The health of sound and log when it was last told.
    last_health: Option<(wire::Health, wire::Health)>,
    /// What was wrong with the outputs, and what had failed, when it was last told.
    output_troubles: Vec<String>,
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
            devices: Devices::default(),
            to_hub,
            next_look: parts.clock.now(),
            untold: false,
            told: Told::default(),
            last_health: None,
            output_troubles: Vec::new(),
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
        if std::mem::take(&mut self.untold) {
            self.told.changed();
        }
        let now = self.parts.clock.now();
        let told = self.told.deadline();
        let deadlines = [Some(self.next_look), self.parts.call.deadline(), self.page.deadline(), told];
        let next = deadlines.into_iter().flatten().min();
        let micros = next.map_or(0, |at| at.since(now).0.max(0));
        Duration::from_micros(u64::try_from(micros).unwrap_or(0))
    }

    fn hold(&mut self, hold: HoldLane) {
        let input = match hold {
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

    fn look_after(&mut self, now: ServerTime) {
        self.next_look = now + LOOK;
        self.carry_out([Deed::Settle(self.settled())]);
        let health = Some(self.health());
        if self.last_health != health {
            self.last_health = health;
            self.untold = true;
        }
        let deeds = self.take_up_recordings();
        self.carry_out(deeds);
        let troubles = self.parts_troubles();
        if self.output_troubles != troubles {
            self.output_troubles = troubles;
            self.untold = true;
        }
    }

    /// What is wrong with the outputs, and what has failed in any thread.
    fn parts_troubles(&self) -> Vec<String> {
        let parts = &self.parts;
        [
            parts.outputs.troubles(),
            parts.sound.faults(),
            parts.writer.journal().faults(),
            parts.faults.sentences(),
            parts.visitors.sentences(),
        ]
        .concat()
    }

    fn health(&self) -> (wire::Health, wire::Health) {
        let sound = self.parts.sound.status();
        let log = self.parts.writer.journal().health();
        let sound = match &self.page.muted_by {
            Some(name) => wire::Health { well: false, says: format!("{name} has muted sound, MIDI and OSC.") },
            None => match self.page.off_sentence() {
                Some(off) => wire::Health { well: false, says: format!("{off} {}", sound.says) },
                None => wire::Health { well: sound.well, says: sound.says },
            },
        };
        (sound, wire::Health { well: log.well, says: log.says })
    }

    /// Does what is wanted, in order; whatever follows from a deed is done before the next one.
    pub(super) fn carry_out(&mut self, deeds: impl IntoIterator<Item = Deed>) {
        let mut waiting: VecDeque<Deed> = deeds.into_iter().collect();
        while let Some(deed) = waiting.pop_front() {
            for follows in self.perform(deed).into_iter().rev() {
                waiting.push_front(follows);
            }
        }
    }

    /// Does one thing, and says what follows from it.
    fn perform(&mut self, deed: Deed) -> Vec<Deed> {
        match deed {
            Deed::Give(input) => return self.give(input),
            Deed::Of(output) => self.output(output),
            Deed::Settle(settled) => return self.settle(settled),
            Deed::Tell => self.tell_state_in_time(),
            Deed::Record(record) => self.parts.writer.record(record),
            Deed::Note(who, what) => self.parts.writer.note(who, what),
            Deed::Keep(keep) => self.keeper.keep(keep),
            Deed::Open(link, member) => self.parts.lines.open(link, member),
            Deed::Goodbye(Goodbye { link, reason, code, for_good }) => {
                self.parts.lines.goodbye(link, &reason, code, for_good);
            }
            Deed::Unlinked(member) => {
                // Another page may have come back: it says so if it is a sound page.
                self.page.watchers.remove(&member);
                self.told.unlinked(member);
            }
            Deed::Forget(member) => self.devices.forget(member),
            Deed::Watch => self.watch_lines(),
            Deed::Welcome(member, key) => self.welcome(member, key),
            Deed::Answer(member, taps) => self.answer_taps(member, taps),
            Deed::Say(member, message) => self.send(member, &message),
            Deed::Refuse(member, asked, reason) => self.refuse(member, asked, reason),
            Deed::TellWatchers(tells) => self.tell_watchers(&tells),
            Deed::FindOut(member, find_out) => self.find_out(member, find_out),
            Deed::BeginLoop(asked) => return self.begin_loop(asked),
            Deed::Changed => self.untold = true,
            Deed::Reply(reply) => reply(),
        }
        Vec::new()
    }

    /// Gives the call an input: what it wants done follows, in order, and then whoever is to be told is told.
    fn give(&mut self, input: Input) -> Vec<Deed> {
        let settled = self.settled();
        let now = settled.unwrap_or_else(|| self.parts.clock.now());
        self.parts.tape.input(now, &input);
        let outputs = self.parts.call.handle(now, input);
        outputs.into_iter().map(Deed::Of).chain([Deed::Settle(settled), Deed::Tell]).collect()
    }

    /// The moment for which no pull can arrive any more; nothing while one is on its way. The pulls are looked at before
    /// the clock: a later one has a later instant.
    fn settled(&self) -> Option<ServerTime> {
        let all_taken = self.parts.brake.pulls() == self.taken;
        all_taken.then(|| self.parts.clock.now())
    }

    fn settle(&mut self, settled: Option<ServerTime>) -> Vec<Deed> {
        let Some(settled) = settled else { return Vec::new() };
        self.parts.call.settle(settled).into_iter().map(Deed::Of).collect()
    }

    /// Tells the sockets' thread which lines' loss holds the run that goes.
    fn watch_lines(&mut self) {
        let call = &self.parts.call;
        let going = matches!(call.stage(), Stage::Going(..));
        let watched = going.then(|| {
            let holding = call.roster().iter().filter(|(_, member)| call.holds_if_lost(member));
            holding.filter_map(|(id, _)| self.parts.company.link(id)).collect()
        });
        if self.watched != watched {
            self.watched.clone_from(&watched);
            self.parts.lines.watch(watched);
        }
    }

    fn output(&mut self, output: Output) {
        match output {
            Output::Silence(generation) => self.parts.brake.kill(generation),
            Output::Lives(generation) => self.parts.brake.admit(generation, self.taken),
            Output::Free => self.parts.brake.free(self.taken),
            Output::Held => self.tell_hold(),
            Output::Try { trial, by, members } => self.try_hold(trial, by, &members),
            Output::TapAnswer { member, tap, fate } => self.answer_tap(member, tap, fate),
            Output::Cue(cue) => {
                self.plan_sounds(&cue);
                self.send_cue(&cue);
                if let Some(run) = self.parts.call.run() {
                    self.parts.outputs.cue(run, &cue);
                }
            }
            Output::Click { due, accent, generation } => {
                let kind = if accent { VoiceKind::Accent } else { VoiceKind::Click };
                self.parts.outputs.click(due, accent, generation);
                if self.page.goes_out(SoundLane::Click) {
                    self.parts.sound.plan(Voice { due, kind, level: Decibels::default(), generation });
                }
            }
            Output::Changed => {
                self.untold = true;
                self.watch_lines();
                self.parts.outputs.state(&self.parts.call);
            }
            Output::RunChanged => self.tell_run(),
            Output::Refused { member, asked, reason } => self.refuse(member, asked.word(), reason),
            Output::Journal(entry) => self.parts.writer.entry(entry),
        }
    }

    fn tell_hold(&self) {
        let Stage::Held(hold, _) = self.parts.call.stage() else { return };
        if let Some(framed) = framed(&ToMember::Held(Box::new(view::hold(hold)))) {
            self.parts.lines.send_all(Frame::Urgent(framed));
        }
    }

    fn try_hold(&self, trial: u32, by: String, members: &[MemberId]) {
        self.parts.brake.try_hold();
        let links = self.parts.company.lines(members);
        if let Some(framed) = framed(&ToMember::Trial { trial, by }) {
            self.parts.lines.send_some(links, Frame::Urgent(framed));
        }
    }

    /// What became of these taps, as far as the call knows.
    fn answer_taps(&self, member: MemberId, taps: Vec<String>) {
        for tap in taps {
            if let Some(fate) = self.parts.call.fate_of(member, &tap) {
                self.answer_tap(member, tap, fate);
            }
        }
    }

    /// The whole present state in one message, before anything else on this link.
    fn welcome(&mut self, member: MemberId, key: Option<String>) {
        let Some(you) = self.parts.call.roster().get(member).map(subjects::you) else { return };
        let (call, state) = (&self.parts.call, self.state());
        self.told.linked(member, you.clone(), &state);
        let welcome = ToMember::Welcome(Box::new(Welcome {
            member: member.0,
            key,
            you,
            horizon_us: self.parts.horizon.0,
            state,
            run: call.run().map(|run| view::run_sheet(run, call.generation())),
        }));
        self.send_as(member, &welcome, Frame::Welcome);
    }

    fn answer_tap(&self, member: MemberId, tap: String, fate: TapFate) {
        let (outcome, hold) = match fate {
            TapFate::Held(hold) => (TapOutcome::Held, Some(hold.0)),
            TapFate::Written(hold) => (TapOutcome::Written, Some(hold.0)),
            TapFate::Late => (TapOutcome::Late, None),
        };
        self.send_as(member, &ToMember::TapAnswer { tap, outcome, hold }, Frame::Urgent);
    }

    /// Encodes a cue once for each kind of reader and hands it to all of them.
    fn send_cue(&mut self, out: &CueOut) {
        for (reader, members) in &out.readers {
            let cue = self.parts.call.run().and_then(|run| view::cue(run, out, *reader));
            let Some(framed) = cue.and_then(|cue| framed(&ToMember::Cue(Box::new(cue)))) else { continue };
            let links = self.parts.company.lines(members);
            self.parts.lines.send_some(links, Frame::Cue(out.generation, framed));
        }
    }

    fn tell_run(&mut self) {
        let Some(run) = self.parts.call.run() else { return };
        if matches!(self.parts.call.stage(), Stage::Going(..)) {
            self.parts.outputs.run(run, self.parts.call.generation());
        }
        if let Some(framed) = framed(&ToMember::Run(Box::new(view::run_sheet(run, self.parts.call.generation())))) {
            self.parts.lines.send_all(Frame::Latest(Latest::Run, framed));
        }
    }

    pub(super) fn refuse(&mut self, member: MemberId, asked: &str, reason: String) {
        self.send(member, &ToMember::Refused { asked: asked.to_owned(), reason });
    }

    /// Tells what has changed to those whom it concerns: at once when the run is concerned, and otherwise gathered.
    fn tell_state_in_time(&mut self) {
        if std::mem::take(&mut self.untold) {
            self.told.changed();
        }
        let now = self.parts.clock.now();
        let call = &self.parts.call;
        let hold = match call.stage() {
            Stage::Held(hold, _) => Some(hold.id),
            _ => None,
        };
        let matters = Matters { stage: view::stage(call), generation: call.generation(), hold };
        if !self.told.is_due(now, matters) {
            return;
        }
        let around =
            subjects::Around { devices: &self.devices, troubles: self.troubles(), count_in: self.parts.count_in };
        let present = subjects::present(call, self.state(), around, &self.told.shown());
        for telling in self.told.tell(now, matters, &present) {
            self.tell(&telling);
        }
        // Nobody waits for the mark of what they were told.
        self.parts.tape.told(&self.parts.call);
    }

    /// Says something to some members.
    fn tell(&self, Telling { to, message }: &Telling) {
        let Some(framed) = framed(message) else { return };
        let frame = match message {
            ToMember::State(_) => Frame::Latest(Latest::State, framed),
            _ => Frame::Message(framed),
        };
        let links = self.parts.company.lines(to);
        self.parts.lines.send_some(links, frame);
    }

    /// What is wrong with files and outputs, a sentence each.
    fn troubles(&self) -> Vec<String> {
        let library = self.parts.sound.library();
        let recordings = library.as_ref().map_or(&[][..], |library| library.troubles());
        let keeping: Vec<String> = self.page.troubles().chain(self.parts.company.unkept().cloned()).collect();
        [self.parts.troubles.as_slice(), recordings, &keeping, &self.output_troubles].concat()
    }

    pub(super) fn state(&self) -> wire::State {
        let (sound, log) = self.health();
        let hold_call = self.parts.sound.says_hold();
        let around =
            view::Around { production: self.parts.company.production(), devices: &self.devices, sound, hold_call, log };
        view::state(&self.parts.call, self.parts.clock.now(), around)
    }

    pub(super) fn send(&self, member: MemberId, message: &ToMember) {
        self.send_as(member, message, Frame::Message);
    }

    pub(super) fn send_as(&self, member: MemberId, message: &ToMember, frame: impl FnOnce(Framed) -> Frame) {
        if let (Some(framed), Some(link)) = (framed(message), self.parts.company.link(member)) {
            self.parts.lines.send(link, frame(framed));
        }
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
