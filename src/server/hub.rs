//! The loop that drives the call. It alone owns the call, the directory and the list of links; connections talk to it
//! over lanes, of which the hold lane is always looked at first. Every output of the call is carried out
//! before the next input is taken.

use std::collections::HashMap;
use std::future::Future;
use std::path::PathBuf;
use std::sync::Arc;
use std::time::Duration;

use bytes::Bytes;
use tokio::sync::mpsc;
use tracing::{error, info, warn};

use super::directory::Directory;
use super::keeper::Keeper;
use super::lateness::Devices;
use super::outbox::{Frame, Latest, Living, Outbox};
use super::request::{HoldLane, LinkId, Request, ToHub, Written};
use super::sound_page::{Kept, SoundPage};
use super::{close, connection, view};
use crate::call::{Act, Call, CueOut, FootSwitch, Input, MemberId, Output, Stage, TapFate};
use crate::faults::Faults;
use crate::journal::Journal;
use crate::midi::MidiEvent;
use crate::outputs::Outputs;
use crate::outputs::notes::DueSounds;
use crate::sound::{Sound, Voice, VoiceKind};
use crate::time::ServerClock;
use crate::units::{Decibels, Generation, Micros, ServerTime};
use crate::wire::{self, SoundLane, TapOutcome, ToMember};

/// Every member hears from the server so often.
const PULSE: Micros = Micros::millis(300);
/// Changes of the roster alone are told at the most so often.
const ROSTER: Micros = Micros::millis(200);
/// For so long after a hold nothing but holds and their answers is sent: a state goes to everybody and is long, and no
/// phone's hold is to wait while the state is written to another.
const HOLD_FIRST: Micros = Micros::millis(40);
/// Requests that may wait; holds wait for nobody.
const REQUESTS: usize = 1_024;

/// What the hub is made of.
pub(super) struct Parts {
    pub(super) clock: ServerClock,
    pub(super) call: Call,
    pub(super) directory: Directory,
    pub(super) production: String,
    pub(super) troubles: Vec<String>,
    pub(super) count_in: Option<u32>,
    pub(super) horizon: Micros,
    pub(super) base_url: String,
    /// The same over HTTPS, where it is served.
    pub(super) secure_url: Option<String>,
    pub(super) journal: Journal,
    pub(super) sound: Sound,
    pub(super) outputs: Outputs,
    pub(super) next_member: u32,
    /// What failed in the server's own threads and tasks.
    pub(super) faults: Faults,
    /// The folder of what the server keeps.
    pub(super) data: PathBuf,
}

/// The hub.
pub(super) struct Hub {
    pub(super) parts: Parts,
    pub(super) living: Living,
    pub(super) links: HashMap<MemberId, Linked>,
    pub(super) devices: Devices,
    pub(super) to_hub: ToHub,
    /// What the sound page needs.
    pub(super) page: SoundPage,
    /// Writes what is chosen, where nobody waits for it.
    pub(super) keeper: Keeper,
    /// Why the invitations that are in use are not on disk.
    pub(super) invitations_unkept: Option<String>,
    next_pulse: ServerTime,
    /// Until when a hold has the lines for itself.
    hold_first_until: ServerTime,
    /// Set when the state changed and has not been told.
    pub(super) untold: bool,
    last_told: Told,
    /// The health of sound and log when it was last told.
    last_health: Option<(wire::Health, wire::Health)>,
    /// The last run that was begun, and whether its end has not been written down yet.
    pub(super) begun: (u32, bool),
    /// What was wrong with the outputs, and what had failed, when it was last told.
    output_troubles: Vec<String>,
    /// Which sounds of the run have been planned.
    pub(super) sounding: DueSounds,
}

/// A member's link.
pub(super) struct Linked {
    pub(super) link: LinkId,
    pub(super) outbox: Arc<Outbox>,
}

/// What of the state is told at once when it changes, and when the rest was told.
#[derive(Default)]
struct Told {
    at: ServerTime,
    matters: Option<(std::mem::Discriminant<Stage>, Generation, bool, usize, usize)>,
}

/// A hub's lanes, for those who talk to it and for itself.
pub(super) struct Lanes {
    pub(super) to_hub: ToHub,
    holds: mpsc::UnboundedReceiver<HoldLane>,
    written: mpsc::UnboundedReceiver<Written>,
    pub(super) requests: mpsc::Receiver<Request>,
}

impl Lanes {
    pub(super) fn new() -> Lanes {
        let (hold_sender, holds) = mpsc::unbounded_channel();
        let (written_sender, written) = mpsc::unbounded_channel();
        let (request_sender, requests) = mpsc::channel(REQUESTS);
        let to_hub = ToHub { holds: hold_sender, written: written_sender, requests: request_sender };
        Lanes { to_hub, holds, written, requests }
    }
}

/// Runs the hub until the shutdown comes, then says goodbye to everybody.
pub(super) async fn run(
    parts: Parts,
    kept: Kept,
    living: Living,
    mut lanes: Lanes,
    shutdown: impl Future<Output = ()>,
) {
    let mut hub = Hub {
        page: SoundPage::new(kept),
        keeper: Keeper::new(parts.data.clone(), lanes.to_hub.clone(), parts.faults.clone()),
        invitations_unkept: None,
        living,
        links: HashMap::new(),
        devices: Devices::default(),
        to_hub: lanes.to_hub.clone(),
        next_pulse: parts.clock.now(),
        hold_first_until: ServerTime::default(),
        untold: false,
        last_told: Told::default(),
        last_health: None,
        begun: (parts.journal.opened().last_run, false),
        output_troubles: Vec::new(),
        sounding: DueSounds::default(),
        parts,
    };
    hub.silence(hub.parts.call.generation());
    let (_never, silent) = mpsc::unbounded_channel();
    let mut foot = hub.parts.outputs.take_events().unwrap_or(silent);
    tokio::pin!(shutdown);
    loop {
        let wait = hub.wait();
        tokio::select! {
            biased;
            Some(hold) = lanes.holds.recv() => hub.hold(hold),
            Some(event) = foot.recv() => hub.foot(event),
            () = &mut shutdown => break,
            Some(Written { hold, tap }) = lanes.written.recv() => hub.give(Input::HoldWritten { hold, tap }),
            () = tokio::time::sleep(wait) => hub.tick(),
            Some(request) = lanes.requests.recv() => hub.request(request),
        }
    }
    for linked in hub.links.values() {
        connection::goodbye(
            &linked.outbox,
            "The server is stopping. This page comes back by itself.",
            close::GOING_AWAY,
            false,
        );
    }
}

impl Hub {
    /// How long until time alone gives the hub something to do.
    fn wait(&self) -> Duration {
        let now = self.parts.clock.now();
        let first = self.hold_first_until;
        let told = self.untold.then_some(if first > now { first } else { self.last_told.at + ROSTER });
        let deadlines = [Some(self.next_pulse), self.parts.call.deadline(), self.page.deadline(), told];
        let next = deadlines.into_iter().flatten().min();
        let micros = next.map_or(0, |at| at.since(now).0.max(0));
        Duration::from_micros(u64::try_from(micros).unwrap_or(0))
    }

    fn hold(&mut self, HoldLane { member, tap }: HoldLane) {
        self.give(Input::From(member, Act::Hold(tap)));
    }

    fn foot(&mut self, event: MidiEvent) {
        match event {
            MidiEvent::Hold => self.give(Input::FootSwitch(FootSwitch::Hold)),
            MidiEvent::Step => self.give(Input::FootSwitch(FootSwitch::Step)),
            MidiEvent::Learned(trigger) => {
                info!("MIDI in: \"{trigger}\" was pressed. To make it HOLD, write hold = \"{trigger}\" under [midi]");
            }
        }
    }

    fn tick(&mut self) {
        let now = self.parts.clock.now();
        if self.parts.call.deadline().is_some_and(|at| at <= now) {
            self.give(Input::Tick);
        }
        if now >= self.next_pulse {
            self.pulse(now);
        }
        if self.page.deadline().is_some_and(|at| at <= now) {
            self.sound_tick(now);
        }
        self.tell_state_in_time();
    }

    fn pulse(&mut self, now: ServerTime) {
        self.next_pulse = now + PULSE;
        let pulse = ToMember::Pulse { now_us: now.0, generation: self.parts.call.generation().0 };
        if let Some(bytes) = encoded(&pulse) {
            self.send_all(&Frame::Latest(Latest::Pulse, bytes));
        }
        let health = Some(self.health());
        if self.last_health != health {
            self.last_health = health;
            self.untold = true;
        }
        self.take_up_recordings();
        let troubles = self.parts_troubles();
        if self.output_troubles != troubles {
            self.output_troubles = troubles;
            self.untold = true;
        }
    }

    /// What is wrong with the outputs, and what has failed in any thread.
    fn parts_troubles(&self) -> Vec<String> {
        let parts = &self.parts;
        [parts.outputs.troubles(), parts.sound.faults(), parts.journal.faults(), parts.faults.sentences()].concat()
    }

    fn health(&self) -> (wire::Health, wire::Health) {
        let sound = self.parts.sound.status();
        let log = self.parts.journal.health();
        let sound = match &self.page.muted_by {
            Some(name) => wire::Health { well: false, says: format!("{name} has muted sound, MIDI and OSC.") },
            None => match self.page.off_sentence() {
                Some(off) => wire::Health { well: false, says: format!("{off} {}", sound.says) },
                None => wire::Health { well: sound.well, says: sound.says },
            },
        };
        (sound, wire::Health { well: log.well, says: log.says })
    }

    /// Gives the call an input and does what it wants done.
    pub(super) fn give(&mut self, input: Input) {
        let outputs = self.parts.call.handle(self.parts.clock.now(), input);
        for output in outputs {
            self.carry_out(output);
        }
        self.tell_state_in_time();
    }

    fn carry_out(&mut self, output: Output) {
        match output {
            Output::Silence(generation) => self.silence(generation),
            Output::Held => self.tell_hold(),
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
                self.parts.outputs.state(&self.parts.call);
            }
            Output::RunChanged => self.tell_run(),
            Output::Refused { member, asked, reason } => self.refuse(member, asked.word(), reason),
            Output::Journal(entry) => self.write_down(*entry),
        }
    }

    /// Every older cue and every older sound is dead, in every queue; a hold is called out. Nothing in here waits.
    fn silence(&self, lives: Generation) {
        self.living.raise(lives);
        match self.parts.call.stage() {
            Stage::Held(hold, _) => self.parts.sound.hold(lives, u64::from(hold.id.0)),
            _ => self.parts.sound.silence(lives),
        }
        self.parts.outputs.silence(lives);
    }

    fn tell_hold(&mut self) {
        self.hold_first_until = self.parts.clock.now() + HOLD_FIRST;
        let Stage::Held(hold, _) = self.parts.call.stage() else { return };
        if let Some(bytes) = encoded(&ToMember::Held(Box::new(view::hold(hold)))) {
            for linked in self.links.values() {
                linked.outbox.push_urgent(Frame::Message(bytes.clone()));
            }
        }
    }

    fn answer_tap(&self, member: MemberId, tap: String, fate: TapFate) {
        let (outcome, hold) = match fate {
            TapFate::Held(hold) => (TapOutcome::Held, Some(hold.0)),
            TapFate::Written(hold) => (TapOutcome::Written, Some(hold.0)),
            TapFate::Late => (TapOutcome::Late, None),
        };
        let answer = encoded(&ToMember::TapAnswer { tap, outcome, hold });
        if let (Some(bytes), Some(linked)) = (answer, self.links.get(&member)) {
            linked.outbox.push_urgent(Frame::Message(bytes));
        }
    }

    /// Encodes a cue once for each kind of reader and hands it to all of them.
    fn send_cue(&mut self, out: &CueOut) {
        let mut slow = Vec::new();
        for (reader, members) in &out.readers {
            let cue = self.parts.call.run().and_then(|run| view::cue(run, out, *reader));
            let Some(bytes) = cue.and_then(|cue| encoded(&ToMember::Cue(Box::new(cue)))) else { continue };
            for member in members {
                let Some(linked) = self.links.get(member) else { continue };
                if linked.outbox.push(Frame::Cue(out.generation, bytes.clone())).is_err() {
                    slow.push(*member);
                }
            }
        }
        self.cut_off(&slow);
    }

    fn tell_run(&mut self) {
        let Some(run) = self.parts.call.run() else { return };
        if matches!(self.parts.call.stage(), Stage::Going(..)) {
            self.parts.outputs.run(run, self.parts.call.generation());
        }
        if let Some(bytes) = encoded(&ToMember::Run(Box::new(view::run_sheet(run, &self.parts.call)))) {
            self.send_all(&Frame::Latest(Latest::Run, bytes));
        }
    }

    pub(super) fn refuse(&mut self, member: MemberId, asked: &str, reason: String) {
        self.send(member, &ToMember::Refused { asked: asked.to_owned(), reason });
    }

    /// Tells the state at once when the run is concerned, and otherwise when it was not told just now.
    fn tell_state_in_time(&mut self) {
        if !self.untold {
            return;
        }
        let call = &self.parts.call;
        let now = self.parts.clock.now();
        if now < self.hold_first_until {
            return;
        }
        let standing = match call.stage() {
            Stage::Held(hold, _) => hold.callers.len() * 2 + usize::from(hold.written),
            _ => 0,
        };
        let notes = call.past_holds().iter().map(|hold| hold.notes.len() + 1).sum();
        let matters = (std::mem::discriminant(call.stage()), call.generation(), call.counts_in(), standing, notes);
        if self.last_told.matters == Some(matters) && now < self.last_told.at + ROSTER {
            return;
        }
        self.untold = false;
        self.last_told = Told { at: now, matters: Some(matters) };
        if let Some(bytes) = encoded(&ToMember::State(Box::new(self.state()))) {
            self.send_all(&Frame::Latest(Latest::State, bytes));
        }
    }

    pub(super) fn state(&self) -> wire::State {
        let (sound, log) = self.health();
        let library = self.parts.sound.library();
        let recordings = library.as_ref().map_or(&[][..], |library| library.troubles());
        let keeping: Vec<String> = self.page.troubles().chain(self.invitations_unkept.clone()).collect();
        let troubles = [self.parts.troubles.as_slice(), recordings, &keeping, &self.output_troubles].concat();
        let around = view::Around {
            production: &self.parts.production,
            troubles: &troubles,
            count_in: self.parts.count_in,
            devices: &self.devices,
            sound,
            hold_call: self.parts.sound.says_hold(),
            log,
        };
        view::state(&self.parts.call, self.parts.clock.now(), around)
    }

    pub(super) fn send(&mut self, member: MemberId, message: &ToMember) {
        let (Some(bytes), Some(linked)) = (encoded(message), self.links.get(&member)) else { return };
        if linked.outbox.push(Frame::Message(bytes)).is_err() {
            self.cut_off(&[member]);
        }
    }

    fn send_all(&mut self, frame: &Frame) {
        let mut slow = Vec::new();
        for (member, linked) in &self.links {
            if linked.outbox.push(frame.clone()).is_err() {
                slow.push(*member);
            }
        }
        self.cut_off(&slow);
    }

    pub(super) fn cut_off(&mut self, slow: &[MemberId]) {
        for member in slow {
            let Some(linked) = self.links.remove(member) else { continue };
            let name = self.parts.call.roster().get(*member).map(|member| member.name.clone()).unwrap_or_default();
            warn!(name, "reads too slowly and is cut off; the page comes back by itself");
            connection::goodbye(&linked.outbox, "This link is too slow. The page tries again.", close::TOO_SLOW, false);
            self.give(Input::LinkLost(*member));
        }
    }
}

/// A message's bytes, ready to be shared by everybody it goes to.
pub(super) fn encoded(message: &ToMember) -> Option<Bytes> {
    match wire::encode(message) {
        Ok(bytes) => Some(Bytes::from(bytes)),
        Err(defect) => {
            error!("{defect}");
            None
        }
    }
}
