//! What may never happen, told as it is seen from outside of the server: at the wire, on the phones, on the disk.

mod disk;
mod evening;
mod phones;

use std::collections::{BTreeMap, BTreeSet};

use super::connection::Connection;
use super::life::{AtServer, Life};
use super::phone::{Phone, STRANGER};
use super::record::{Record, Stands};
use super::times::SECOND;
use crate::call;
use crate::event::{Event, What};
use crate::rules::SILENCE;
use crate::server::view;
use crate::wire::{Cue, HoldTap, HoldView, SubjectTold, TapOutcome, ToMember, ToServer};

/// After all is well, a phone tries within so long to come back, and has the whole state so long afterwards.
const TRIES: i64 = 3 * SECOND;
const AGREES: i64 = 2 * SECOND;
/// A cue that is due later than in so long goes out as early as it can.
const FRESH: i64 = 1_200_000;
/// A machine that slept for so long in a run has slept.
const SLEEPS: i64 = 1_200_000;
/// A sleep, and a silence, are noticed within so long.
const NOTICED: i64 = 250_000;
/// A clock that jumped may be wrong for so long.
const JUMPED: i64 = 5 * SECOND;

/// What was seen, and what it is held against.
#[derive(Debug, Default)]
pub(super) struct Rules {
    pub(super) now: i64,
    pub(super) healed: i64,
    /// The generations up to this one are dead, as the brake said before what happens now, and says now.
    dead_before: u64,
    dead: u64,
    /// What stood when it was last looked at, and what was asked for since.
    going: bool,
    held: bool,
    starts: u32,
    releases: u32,
    /// True when a release has arrived now.
    released_now: bool,
    /// True when a request has arrived that ends what lives, and the hub has not done all since.
    ended: bool,
    hub_is_done: bool,
    /// Taps that have arrived now, and those that stand at the door behind somebody's introduction.
    arrived: Vec<HoldTap>,
    at_door: Vec<(usize, String, HoldTap)>,
    /// The keys that were given away since the server was started.
    keys: BTreeSet<String>,
    /// When something was last heard over each connection, and since when a run goes.
    heard: BTreeMap<usize, i64>,
    goes_since: i64,
    /// The generation that each connection was last told to live, and the last that anybody was told to stop.
    lives: BTreeMap<usize, u64>,
    last_stop: u64,
    /// Since when each connection has been a member's line, as far as it was looked at.
    lines_since: BTreeMap<usize, i64>,
    /// How long the server's machine has slept in the run that goes, and when it woke.
    slept: (i64, i64),
    /// Those that have ever arrived.
    known: BTreeSet<String>,
    /// Of each connection the last generation that it was told is dead.
    stopped: BTreeMap<usize, u64>,
    /// Of each connection and generation the last cue that it was sent.
    cued: BTreeMap<(usize, u64), u32>,
    /// Of each generation and cue when it is due, once anybody was sent it.
    sent: BTreeMap<(u64, u32), i64>,
    /// Cues that nobody was sent yet when a line was sent a later one, and that line and the time then.
    left_out: Vec<((u64, u32), (usize, i64))>,
    /// Whose taps there are, and which nobody has to answer for: their phone was loaded anew before they were written.
    taps: BTreeMap<String, usize>,
    excused: BTreeSet<String>,
    /// The taps and the holds that were said to be on disk.
    promised: BTreeSet<String>,
    promised_holds: BTreeSet<u32>,
    /// What must stand in the record.
    record: Record,
    tried: BTreeMap<usize, i64>,
    /// How the call stands, and since when.
    stands: (u64, bool, bool),
    changed: i64,
    agreed: bool,
    /// What happened, to be said with a failure, when somebody looks at one evening alone.
    pub(super) noting: bool,
    lately: Vec<String>,
    /// How much there was of what.
    pub(super) seen: Count,
}

/// How much there was.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Count {
    pub(super) lives: u64,
    pub(super) links: u64,
    pub(super) taps: u64,
    pub(super) holds: u64,
    pub(super) runs: u64,
    pub(super) shown: u64,
    pub(super) written: u64,
    pub(super) orders: u64,
    pub(super) casts: u64,
    pub(super) absences: u64,
    pub(super) calls: u64,
    pub(super) covered: u64,
}

impl Count {
    /// Both together.
    pub(super) fn and(self, other: Count) -> Count {
        Count {
            lives: self.lives + other.lives,
            links: self.links + other.links,
            taps: self.taps + other.taps,
            holds: self.holds + other.holds,
            runs: self.runs + other.runs,
            shown: self.shown + other.shown,
            written: self.written + other.written,
            orders: self.orders + other.orders,
            casts: self.casts + other.casts,
            absences: self.absences + other.absences,
            calls: self.calls + other.calls,
            covered: self.covered + other.covered,
        }
    }

    /// Something of tonight was written down.
    fn count(&mut self, what: &What) {
        match what {
            What::Order { .. } => self.orders += 1,
            What::Cast { .. } => self.casts += 1,
            What::Attendance { present: false, .. } => self.absences += 1,
            What::End { .. } => self.calls += 1,
            What::Start { begun: Some(begun), .. } => {
                self.covered += u64::from(begun.cast.iter().any(|it| it.covers.is_some()));
            }
            _ => {}
        }
    }
}

impl Rules {
    /// It has happened.
    pub(super) fn fail(&self, what: impl AsRef<str>) -> ! {
        self.lately.iter().for_each(|line| eprintln!("{line}"));
        panic!("after {:.6} s: {}", self.now as f64 / 1e6, what.as_ref())
    }

    /// Something happened that may be of use to whoever looks at a failure.
    pub(super) fn note(&mut self, what: impl FnOnce() -> String) {
        if !self.noting {
            return;
        }
        self.lately.push(format!("{:>10.6} {}", self.now as f64 / 1e6, what()));
    }

    pub(super) fn must(&self, so: bool, what: impl FnOnce() -> String) {
        if !so {
            self.fail(what());
        }
    }

    /// Something that a part of the rules has looked at is as it must be.
    fn holds(&self, checked: Result<(), String>) {
        if let Err(why) = checked {
            self.fail(why);
        }
    }

    /// A life of the server begins, and has written that down.
    pub(super) fn begin_life(&mut self, life: &Life<'_>, written: Vec<Event>) {
        self.seen.lives += 1;
        (self.dead, self.dead_before) = (0, 0);
        let held = matches!(life.hub.parts.call.stage(), call::Stage::Held(..));
        (self.going, self.held, self.starts, self.releases) = (false, held, 0, 0);
        self.arrived.clear();
        self.at_door.clear();
        self.keys.clear();
        self.slept = (0, 0);
        let generation = life.hub.parts.call.generation();
        let (left, own): (Vec<_>, Vec<_>) =
            written.into_iter().partition(|event| event.id.session < generation.epoch());
        left.iter().for_each(|event| self.note(|| format!("written late: {:?}", event.what)));
        let checked = self.record.begin_life(generation.0, &left, life.hub.parts.call.roster());
        self.holds(checked);
        self.recorded(own);
    }

    /// The person tapped HOLD.
    pub(super) fn tapped(&mut self, who: usize, tap: &str) {
        self.seen.taps += 1;
        self.taps.insert(tap.to_owned(), who);
    }

    /// What a phone kept is gone.
    pub(super) fn forgets(&mut self, who: usize) {
        let lost = self.taps.iter().filter(|(tap, of)| **of == who && !self.promised.contains(*tap));
        let lost: Vec<String> = lost.map(|(tap, _)| tap.clone()).collect();
        self.excused.extend(lost);
        self.tried.remove(&who);
    }

    /// A page is opened or loaded anew.
    pub(super) fn opens(&mut self, who: usize) {
        self.tried.remove(&who);
    }

    /// The server's machine sleeps.
    pub(super) fn server_sleeps(&mut self, long: i64) {
        self.record.server_sleeps();
        self.heard.clear();
        self.slept = if self.going { (self.slept.0 + long, self.now + long) } else { (0, 0) };
    }

    /// The server has written that down; it is on disk later.
    pub(super) fn recorded(&mut self, events: Vec<Event>) {
        for event in &events {
            self.note(|| format!("recorded: {:?}", event.what));
            self.seen.count(&event.what);
        }
        self.record.recorded(events);
    }

    /// That is on disk.
    pub(super) fn on_disk(&mut self, events: Vec<Event>) {
        self.record.on_disk(events);
    }

    /// A phone tries to reach the server.
    pub(super) fn tries(&mut self, who: usize, now: i64) {
        if self.healed > 0 {
            self.tried.entry(who).or_insert(now);
        }
    }

    /// A connection is open.
    pub(super) fn opened(&mut self) {
        self.seen.links += 1;
    }

    /// A message has arrived at the server, over a line or from somebody at the door.
    pub(super) fn arrives(&mut self, number: usize, phone: &Phone, (line, life): (bool, &Life<'_>), message: ToServer) {
        let by_itself = matches!(
            message,
            ToServer::Pulse { .. } | ToServer::Clock { .. } | ToServer::Report(_) | ToServer::Show { .. }
        );
        if !by_itself {
            self.note(|| format!("{number} → {message:?}"));
        }
        if line && !by_itself {
            self.record.arrives(number, (&phone.name, phone.role), message.clone());
        }
        self.heard.insert(number, self.now);
        match message {
            ToServer::Hold(tap) if line => self.tap_arrives(&phone.name, tap),
            ToServer::Hold(tap) => self.at_door.push((number, phone.name.clone(), tap)),
            ToServer::Return { key, taps, .. } => {
                self.record.introduction_arrives(number, (&phone.name, phone.role));
                let known = life.knows(&key) || self.keys.contains(&key);
                taps.into_iter().filter(|_| known).for_each(|tap| self.tap_arrives(&phone.name, tap));
            }
            ToServer::Join { .. } => self.record.introduction_arrives(number, (&phone.name, phone.role)),
            ToServer::Start { .. } => self.starts += 1,
            ToServer::Release { .. } => {
                self.releases += 1;
                self.released_now = true;
            }
            ToServer::Places { .. } | ToServer::PlacesFor { .. } | ToServer::Stop { .. } | ToServer::EndCall { .. } => {
                self.ended = true
            }
            _ => {}
        }
    }

    fn tap_arrives(&mut self, name: &str, tap: HoldTap) {
        self.record.tap_arrives(name, tap.clone());
        self.arrived.push(tap);
    }

    /// Whoever was let in is heard now: what stood at the door behind their introduction has arrived.
    pub(super) fn let_in(&mut self, at_server: &BTreeMap<usize, AtServer>) {
        let in_now = |number: &usize| at_server.get(number).is_some_and(AtServer::is_line);
        let (heard, at_door) = std::mem::take(&mut self.at_door).into_iter().partition(|(number, ..)| in_now(number));
        self.at_door = at_door;
        let heard: Vec<(usize, String, HoldTap)> = heard;
        heard.into_iter().for_each(|(_, name, tap)| self.tap_arrives(&name, tap));
    }

    /// What the server is like after it has done what it could now; everything, if its hub turns.
    pub(super) fn looks(&mut self, life: &Life<'_>, all_done: bool) {
        self.hub_is_done = all_done;
        if all_done {
            let call = &life.hub.parts.call;
            let stands = (Stands::of(view::stage(call)), call.generation().0);
            let checked = self.record.rests(life.brake.dead().0, stands, call);
            self.holds(checked);
        }
        self.dead_before = self.dead;
        self.dead = life.brake.dead().0;
        let stage = life.hub.parts.call.stage();
        let (going, held) = (matches!(stage, call::Stage::Going(..)), matches!(stage, call::Stage::Held(..)));
        self.must(!going || self.going || self.starts > 0, || "a run has begun, and nobody has started it".into());
        self.must(held || !self.held || self.releases > 0, || "a hold is over, and nobody has released it".into());
        if going && !self.going {
            (self.starts, self.goes_since, self.slept) = (0, self.now, (0, 0));
            self.seen.runs += 1;
        }
        if held && !self.held {
            self.releases = 0;
            self.seen.holds += 1;
        }
        (self.going, self.held) = (going, held);
        let stands = (life.hub.parts.call.generation().0, going, held);
        if self.stands != stands {
            (self.stands, self.changed) = (stands, self.now);
        }
    }

    /// What was dead before what happens now.
    pub(super) fn dead_before(&self) -> u64 {
        self.dead_before
    }

    /// The server has written a message to a phone; `dead` was dead before it began to.
    pub(super) fn written(&mut self, number: usize, (who, server): (usize, i64), dead: u64, message: &ToMember) {
        self.seen.written += 1;
        match message {
            ToMember::Pulse { .. } | ToMember::Clock { .. } | ToMember::You(_) | ToMember::Subject { .. } => {}
            ToMember::State(state) => self.note(|| format!("{number} ← state {:?} {}", state.stage, state.generation)),
            ToMember::Cue(cue) => self.note(|| format!("{number} ← cue {} of {}", cue.cue, cue.generation)),
            ToMember::Run(_) => {}
            ToMember::Welcome(_) => self.note(|| format!("{number} ← welcome {who}")),
            other => self.note(|| format!("{number} ← {other:?}")),
        }
        self.lives_told(number, message);
        let stopped = self.stopped.entry(number).or_default();
        match message {
            ToMember::Stop { generation, .. } => {
                *stopped = (*stopped).max(*generation);
                self.last_stop = self.last_stop.max(*generation);
            }
            ToMember::Cue(cue) => {
                let dead = dead.max(*stopped);
                self.must(cue.generation > dead, || {
                    format!("a cue of the dead generation {} goes out", cue.generation)
                });
                self.cued(number, cue, server);
                self.is_theirs(number, cue);
            }
            ToMember::Subject { tells: SubjectTold::Tonight { version, items } } => self.order_told(*version, items),
            ToMember::TapAnswer { tap, outcome: TapOutcome::Written | TapOutcome::Late, .. } => {
                self.must(self.record.has_tap(tap), || format!("{tap:?} is not on disk, and said to be settled"));
                self.promised.insert(tap.clone());
            }
            ToMember::Welcome(welcome) => {
                self.record.welcomed(number, welcome.member);
                self.keys.extend(welcome.key.clone());
                self.hold_told(welcome.state.hold.as_ref());
            }
            ToMember::State(state) => self.hold_told(state.hold.as_ref()),
            ToMember::Held(hold) => self.hold_told(Some(hold)),
            _ => {}
        }
        let stranger = who == STRANGER;
        self.must(!stranger || matches!(message, ToMember::Goodbye { .. }), || {
            format!("somebody without an invitation is told {message:?}")
        });
    }

    /// A hold that is said to be written is on disk.
    fn hold_told(&mut self, hold: Option<&HoldView>) {
        let Some(HoldView { hold, .. }) = hold.filter(|hold| hold.written) else { return };
        self.must(self.record.has_hold(*hold), || format!("hold {hold} is not on disk, and said to be written"));
        self.promised_holds.insert(*hold);
    }

    /// Nothing due is left out: not for everybody, and for one line only what was due while it was silent.
    fn cued(&mut self, number: usize, cue: &Cue, server: i64) {
        let Some(due) = cue.due_us else { return };
        let of = |cue_number: u32| (cue.generation, cue_number);
        // What goes out as early as it can follows another cue; whoever has just come is sent what is still to come.
        let follows = due - server > FRESH && self.sent.range(of(0)..of(cue.cue)).next().is_some();
        self.sent.insert(of(cue.cue), due);
        let before = cue.cue.checked_sub(1).is_none_or(|before| self.sent.contains_key(&of(before)));
        self.must(before || !follows, || format!("nobody was cued before {} of {}", cue.cue, cue.generation));
        let last = self.cued.insert((number, cue.generation), cue.cue).unwrap_or(cue.cue);
        for left_out in last + 1..cue.cue {
            // What nobody has yet may be on its way to others: it is judged when its time is known.
            match self.sent.get(&of(left_out)).copied() {
                Some(due) => self.may_be_left_out(of(left_out), due, (number, server)),
                None => self.left_out.push((of(left_out), (number, server))),
            }
        }
        let known = |(cue_left, _): &mut ((u64, u32), (usize, i64))| *cue_left == of(cue.cue);
        for (cue_left, line) in self.left_out.extract_if(.., known).collect::<Vec<_>>() {
            self.may_be_left_out(cue_left, due, line);
        }
    }

    /// A line was sent a later cue and not that one: it was silent when that one was due.
    fn may_be_left_out(&self, (generation, cue): (u64, u32), due: i64, (number, server): (usize, i64)) {
        self.must(due <= server, || {
            format!("cue {cue} of {generation} is due at {due}, and at {server} {number} had a later one")
        });
    }

    /// Whether everybody was told whom it concerns.
    pub(super) fn looked(
        &mut self,
        life: &Life<'_>,
        connections: &BTreeMap<usize, Connection>,
        at_server: &BTreeMap<usize, AtServer>,
    ) {
        let (released, ended) = (std::mem::take(&mut self.released_now), self.ended);
        self.ended &= !self.hub_is_done;
        for tap in std::mem::take(&mut self.arrived) {
            let first = self.known.insert(tap.tap.clone());
            // Of a kept tap and a request that ends what it was meant for, either may come first.
            let alive = tap.generation > if ended { self.dead } else { self.dead_before };
            let pulls = first && (!tap.queued || alive);
            self.must(!pulls || released || life.brake.pulled(), || {
                format!("the tap {:?} has arrived and nothing stands", tap.tap)
            });
        }
        if !life.brake.pulled() {
            return self.may_go_on(connections, at_server);
        }
        for (number, connection) in connections {
            let line = at_server.get(number).is_some_and(AtServer::is_line);
            if !line || connection.down.is_full() || connection.down.is_finished() {
                continue;
            }
            // What the call ends besides the pull itself is told with the hold.
            let stopped = self.stopped.get(number).copied().unwrap_or(0);
            let told = self.lives.get(number).map_or(0, |lives| lives.saturating_sub(1)).max(stopped);
            self.must(stopped >= self.last_stop && told >= self.dead, || {
                let (pulls, stage) = (life.brake.pulls(), view::stage(&life.hub.parts.call));
                let name = &connection.phone;
                format!("everything up to {} is dead after {pulls} pulls in {stage:?}, and connection {number} of {name} was told of {told}", self.dead)
            });
        }
    }

    /// No run goes on without the link of somebody who fights, nor over a sleep of the server's machine.
    fn may_go_on(&mut self, connections: &BTreeMap<usize, Connection>, at_server: &BTreeMap<usize, AtServer>) {
        if !self.going {
            return;
        }
        let (long, woke) = self.slept;
        self.must(long < SLEEPS || self.now < woke + NOTICED, || format!("a run goes on over a sleep of {long} µs"));
        let is_line =
            |number: &usize| connections.contains_key(number) && at_server.get(number).is_some_and(AtServer::is_line);
        for lines in self.record.performers().collect::<Vec<_>>() {
            let lines: Vec<usize> = lines.into_iter().filter(is_line).collect();
            // Of several pages one that is heard is enough.
            let silent = lines.iter().filter_map(|number| self.silent(*number)).min();
            let lost = silent.is_some_and(|silent| silent > SILENCE.0 + NOTICED);
            self.must(!lost, || format!("nothing was heard of {lines:?} for {silent:?} µs, and the run goes on"));
        }
    }

    /// For how long nothing was heard of a line since it is one; nothing where that began before the run went.
    fn silent(&mut self, number: usize) -> Option<i64> {
        let heard = *self.heard.get(&number).filter(|heard| **heard > self.goes_since)?;
        // What a newcomer said before they were let in is the door's.
        let since = *self.lines_since.entry(number).or_insert(self.now);
        Some(self.now - heard.max(since))
    }

    /// Whoever is told which generation lives knows that what was before it is dead.
    fn lives_told(&mut self, number: usize, message: &ToMember) {
        let lives = match message {
            ToMember::Held(hold) => hold.generation,
            ToMember::State(state) => state.generation,
            ToMember::Welcome(welcome) => welcome.state.generation,
            _ => return,
        };
        let told = self.lives.entry(number).or_default();
        *told = lives.max(*told);
    }
}
