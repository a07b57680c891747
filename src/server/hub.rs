//! The loop that drives the call. It alone owns the call, the directory and the list of links; connections talk to it
//! over lanes, of which the hold lane is always looked at first. Every output of the call is carried out
//! before the next input is taken.

use std::collections::{BTreeSet, HashMap};
use std::future::Future;
use std::sync::Arc;
use std::time::Duration;

use bytes::Bytes;
use tokio::sync::mpsc;
use tracing::{error, info, warn};

use super::directory::Directory;
use super::lateness::Devices;
use super::outbox::{Frame, Latest, Living, Outbox};
use super::request::{HoldLane, LinkId, Request, ToHub, Written};
use super::sound_page::{Kept, SoundPage};
use super::told::{Matters, Telling, Told};
use super::{close, connection, subjects, view};
use crate::call::{Act, Call, CueOut, FootSwitch, HoldId, Input, MemberId, Output, Stage, TapFate};
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
/// For so long after a hold nothing but holds and their answers is sent: a state goes to everybody and is long, and no
/// phone's hold is to wait while the state is written to another.
const HOLD_FIRST: Micros = Micros::millis(40);
/// Requests that may wait; holds wait for nobody.
const REQUESTS: usize = 1_024;

/// Saves the invitations; the error is a sentence for a person.
pub(super) type KeepSecrets = Box<dyn Fn(&Directory) -> Result<(), String> + Send>;

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
    pub(super) keep_secrets: KeepSecrets,
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
    next_pulse: ServerTime,
    /// Until when a hold has the lines for itself.
    hold_first_until: ServerTime,
    /// The number of the hold that was told last.
    told_hold: Option<HoldId>,
    /// Set when something that is told changed, and `told` does not know of it yet.
    pub(super) untold: bool,
    /// Who is told what, and when.
    pub(super) told: Told,
    /// The health of sound and log when it was last told.
    last_health: Option<(wire::Health, wire::Health)>,
    /// The last run that was begun, and whether its end has not been written down yet.
    pub(super) begun: (u32, bool),
    /// What was wrong with the outputs when it was last told.
    output_troubles: Vec<String>,
    /// Which sounds of the run have been planned.
    pub(super) sounding: DueSounds,
}

/// A member's link.
pub(super) struct Linked {
    pub(super) link: LinkId,
    pub(super) outbox: Arc<Outbox>,
}

/// A hub's lanes, for those who talk to it and for itself.
pub(super) struct Lanes {
    pub(super) to_hub: ToHub,
    holds: mpsc::UnboundedReceiver<HoldLane>,
    written: mpsc::UnboundedReceiver<Written>,
    requests: mpsc::Receiver<Request>,
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
        page: SoundPage::new(kept, lanes.to_hub.clone()),
        living,
        links: HashMap::new(),
        devices: Devices::default(),
        to_hub: lanes.to_hub.clone(),
        next_pulse: parts.clock.now(),
        hold_first_until: ServerTime::default(),
        told_hold: None,
        untold: false,
        told: Told::default(),
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
    fn wait(&mut self) -> Duration {
        if std::mem::take(&mut self.untold) {
            self.told.changed();
        }
        let now = self.parts.clock.now();
        let told = self.told.deadline().map(|at| at.max(self.hold_first_until));
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
        let troubles = self.parts.outputs.troubles();
        if self.output_troubles != troubles {
            self.output_troubles = troubles;
            self.untold = true;
        }
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

    /// Every older cue and every older sound is dead, in every queue. Nothing in here waits.
    fn silence(&self, lives: Generation) {
        self.living.raise(lives);
        self.parts.sound.silence(lives);
        self.parts.outputs.silence(lives);
    }

    /// Tells a hold past every queue, once. Who calls it as well is told with the state, gathered: a flood of taps would
    /// keep the lines from everything else.
    fn tell_hold(&mut self) {
        let Stage::Held(hold, _) = self.parts.call.stage() else { return };
        if self.told_hold.replace(hold.id) == Some(hold.id) {
            return;
        }
        self.hold_first_until = self.parts.clock.now() + HOLD_FIRST;
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
        if now < self.hold_first_until || !self.told.is_due(now, matters) {
            return;
        }
        let around =
            subjects::Around { devices: &self.devices, troubles: self.troubles(), count_in: self.parts.count_in };
        let present = subjects::present(call, self.state(), around, &self.told.shown());
        let tellings = self.told.tell(now, matters, &present);
        // Nobody is cut off before all of it is on its way: what comes of that is told after it, not between.
        let slow: BTreeSet<MemberId> = tellings.iter().flat_map(|telling| self.tell(telling)).collect();
        self.cut_off(&Vec::from_iter(slow));
    }

    /// Says something to some members. Gives those who do not take it.
    fn tell(&self, Telling { to, message }: &Telling) -> Vec<MemberId> {
        let Some(bytes) = encoded(message) else { return Vec::new() };
        let frame = match message {
            ToMember::State(_) => Frame::Latest(Latest::State, bytes),
            _ => Frame::Message(bytes),
        };
        let is_slow = |member: &&MemberId| {
            self.links.get(*member).is_some_and(|linked| linked.outbox.push(frame.clone()).is_err())
        };
        to.iter().filter(is_slow).copied().collect()
    }

    /// What is wrong with files and outputs, a sentence each.
    fn troubles(&self) -> Vec<String> {
        let library = self.parts.sound.library();
        let recordings = library.as_ref().map_or(&[][..], |library| library.troubles());
        let keeping: Vec<String> = self.page.troubles().collect();
        [self.parts.troubles.as_slice(), recordings, &keeping, &self.output_troubles].concat()
    }

    pub(super) fn state(&self) -> wire::State {
        let (sound, log) = self.health();
        let around = view::Around { production: &self.parts.production, devices: &self.devices, sound, log };
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
            self.told.unlinked(*member);
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
