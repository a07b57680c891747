//! What may never happen, told as it is seen from outside of the server: at the wire, on the phones, on the disk.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;

use super::life::{AtServer, Life};
use super::phone::Phone;
use super::world::Connection;
use crate::call::{self, MemberId};
use crate::journal::{EventFilter, Reader, verify};
use crate::member::Shown;
use crate::rules::{LATE, SILENCE};
use crate::server::view;
use crate::units::ServerTime;
use crate::wire::{Cue, HoldTap, TapOutcome, ToMember, ToServer};

const SECOND: i64 = 1_000_000;
/// After all is well, a phone tries within so long to come back, and has the whole state so long afterwards.
const TRIES: i64 = 3 * SECOND;
const AGREES: i64 = 2 * SECOND;
/// A cue that is due later than in so long goes out as early as it can.
const FRESH: i64 = 1_200_000;
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
    /// Taps that have arrived now.
    arrived: Vec<(usize, HoldTap)>,
    /// Those that have ever arrived.
    known: BTreeSet<String>,
    /// Of each connection the last generation that it was told is dead.
    stopped: BTreeMap<usize, u64>,
    /// Of each connection and generation the last cue that it was sent.
    cued: BTreeMap<(usize, u64), u32>,
    /// Of each generation and cue when it is due, once anybody was sent it.
    sent: BTreeMap<(u64, u32), i64>,
    /// Whose taps there are, and which nobody has to answer for: their phone was loaded anew before they were written.
    taps: BTreeMap<String, usize>,
    excused: BTreeSet<String>,
    /// What was said to be on disk.
    promised: BTreeSet<String>,
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

    pub(super) fn begin_life(&mut self) {
        self.seen.lives += 1;
        (self.dead, self.dead_before) = (0, 0);
        (self.going, self.held, self.starts, self.releases) = (false, false, 0, 0);
        self.arrived.clear();
    }

    /// The person tapped HOLD.
    pub(super) fn tapped(&mut self, who: usize, tap: &str) {
        self.seen.taps += 1;
        self.taps.insert(tap.to_owned(), who);
    }

    /// What a phone kept in its memory is gone.
    pub(super) fn begins_anew(&mut self, who: usize) {
        let lost = self.taps.iter().filter(|(tap, of)| **of == who && !self.promised.contains(*tap));
        let lost: Vec<String> = lost.map(|(tap, _)| tap.clone()).collect();
        self.excused.extend(lost);
        self.tried.remove(&who);
    }

    /// A phone tries to reach the server.
    pub(super) fn tries(&mut self, who: usize, now: i64) {
        if self.healed > 0 {
            self.tried.entry(who).or_insert(now);
        }
    }

    pub(super) fn opened(&mut self, _who: usize) {
        self.seen.links += 1;
    }

    /// A message has arrived at the server.
    pub(super) fn arrives(&mut self, number: usize, line: bool, message: ToServer) {
        if !matches!(message, ToServer::Pulse { .. } | ToServer::Clock { .. } | ToServer::Report(_)) {
            self.note(|| format!("{number} → {message:?}"));
        }
        match message {
            ToServer::Hold(tap) if line => self.arrived.push((number, tap)),
            ToServer::Start { .. } => self.starts += 1,
            ToServer::Release { .. } => {
                self.releases += 1;
                self.released_now = true;
            }
            _ => {}
        }
    }

    /// What the server is like after it has done what it could now.
    pub(super) fn looks(&mut self, life: &Life<'_>) {
        self.dead_before = self.dead;
        self.dead = life.brake.dead().0;
        let stage = life.hub.parts.call.stage();
        let (going, held) = (matches!(stage, call::Stage::Going(..)), matches!(stage, call::Stage::Held(..)));
        self.must(!going || self.going || self.starts > 0, || "a run has begun, and nobody has started it".into());
        self.must(held || !self.held || self.releases > 0, || "a hold is over, and nobody has released it".into());
        if going && !self.going {
            self.starts = 0;
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
        let stopped = self.stopped.entry(number).or_default();
        match message {
            ToMember::Stop { generation, .. } => *stopped = (*stopped).max(*generation),
            ToMember::Cue(cue) => {
                let dead = dead.max(*stopped);
                self.must(cue.generation > dead, || {
                    format!("a cue of the dead generation {} goes out", cue.generation)
                });
                self.cued(number, cue, server);
            }
            ToMember::TapAnswer { tap, outcome: TapOutcome::Written, .. } => {
                self.promised.insert(tap.clone());
            }
            _ => {}
        }
        let stranger = who == 6;
        self.must(!stranger || matches!(message, ToMember::Goodbye { .. }), || {
            format!("somebody without an invitation is told {message:?}")
        });
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
            let due = self.sent.get(&of(left_out)).copied().unwrap_or(due);
            self.must(due <= server, || {
                format!("{left_out} is due at {due}, it is {server}, and {number} has {}", cue.cue)
            });
        }
    }

    /// Whether everybody was told whom it concerns.
    pub(super) fn looked(
        &mut self,
        life: &Life<'_>,
        connections: &BTreeMap<usize, Connection>,
        at_server: &BTreeMap<usize, AtServer>,
    ) {
        let released = std::mem::take(&mut self.released_now);
        for (_, tap) in std::mem::take(&mut self.arrived) {
            let first = self.known.insert(tap.tap.clone());
            let pulls = first && (!tap.queued || tap.generation > self.dead_before);
            self.must(!pulls || released || life.brake.pulled(), || {
                format!("the tap {:?} has arrived and nothing stands", tap.tap)
            });
        }
        if !life.brake.pulled() {
            return;
        }
        for (number, connection) in connections {
            let line = at_server.get(number).is_some_and(AtServer::is_line);
            if !line || connection.down.is_full() || connection.down.is_finished() {
                continue;
            }
            let told = self.stopped.get(number).copied().unwrap_or(0);
            self.must(told >= self.dead, || {
                let (pulls, stage) = (life.brake.pulls(), view::stage(&life.hub.parts.call));
                let name = &connection.phone;
                format!("everything up to {} is dead after {pulls} pulls in {stage:?}, and connection {number} of {name} was told of {told}", self.dead)
            });
        }
    }

    /// A phone has heard something.
    pub(super) fn heard(&mut self, who: usize, phone: &Phone, message: &ToMember) {
        let stranger = who == 6;
        self.must(!stranger || matches!(message, ToMember::Goodbye { .. }), || {
            format!("{} hears {message:?}", phone.name)
        });
    }

    /// What a phone believes of the time is true, whenever it learns something of it.
    pub(super) fn knows_the_time(&mut self, phone: &Phone, message: &ToMember) {
        let ToMember::Clock { sent_us, received_us, answered_us } = message else { return };
        let name = &phone.name;
        let time = phone.time(self.now);
        let server = self.now - phone.epoch;
        self.note(|| {
            format!("{name} asked at {sent_us}, answered {received_us} {answered_us}, came at {} {server}", time.0)
        });
        let Some(known) = phone.follower.clock().estimate(time) else { return };
        if self.now - phone.jumped >= JUMPED {
            let error = (time.0 + known.offset.0 - server).abs();
            self.must(error <= known.bound.0 + 1, || format!("the clock of {name} is wrong by {error} µs: {known:?}"));
        }
    }

    /// A phone shows a cue.
    pub(super) fn shown(&mut self, phone: &Phone, shown: &Shown) {
        self.seen.shown += 1;
        let (name, cue) = (&phone.name, &shown.cue);
        self.must(cue.generation >= phone.seen.alive, || {
            format!("{name} shows a cue of {}, and knows that {} lives", cue.generation, phone.seen.alive)
        });
        let hushed = phone.follower.untold_taps() > 0 && cue.generation <= phone.tapped;
        self.must(!hushed, || format!("{name} shows a cue after their own tap"));
        // Its second may be a little longer than ours.
        let silent = self.now - phone.heard;
        self.must(silent <= SILENCE.0 + 1_000, || format!("{name} goes on counting {silent} µs after the last word"));
        let server = ServerTime(self.now - phone.epoch);
        let (Some(at), Some(bound)) = (shown.at, shown.bound) else { return };
        if self.now - phone.jumped < JUMPED {
            return;
        }
        let error = at.since(server).0.abs();
        self.must(error <= bound.0 + 1, || {
            format!("the clock of {name} is wrong by {error} µs, its bound is {bound:?}")
        });
        if let Some(due) = cue.due_us.filter(|_| shown.sounds()) {
            let late = server.0 - due;
            let within = -bound.0 - 1..=bound.0 + LATE.0 + 1;
            self.must(within.contains(&late), || format!("{name} sounds a cue {late} µs after its time"));
        }
    }

    /// Whether everybody knows what is so, in time after all was well.
    pub(super) fn agree(&mut self, life: &Life<'_>, phones: &[Phone]) {
        if self.agreed || self.healed == 0 || self.now < self.healed.max(self.changed) + TRIES + AGREES {
            return;
        }
        self.agreed = true;
        self.all_know(life, phones);
        for (who, phone) in phones.iter().enumerate().filter(|(_, phone)| !phone.over) {
            if let Some(tried) = self.tried.get(&who) {
                let after = tried - self.healed;
                self.must(after <= TRIES, || format!("{} tries to come back after {after} µs", phone.name));
            }
        }
    }

    /// Everybody who is not a stranger has a link, and sees what is so.
    pub(super) fn all_know(&self, life: &Life<'_>, phones: &[Phone]) {
        let call = &life.hub.parts.call;
        let (stage, generation) = (view::stage(call), call.generation().0);
        for phone in phones.iter().filter(|phone| !phone.over) {
            let name = &phone.name;
            self.must(phone.follower.linked(), || format!("{name} has no link: {:?}", phone.link));
            self.must(phone.seen.alive == generation, || {
                format!("{name} believes that {} lives, and it is {generation}", phone.seen.alive)
            });
            self.must(phone.stage() == stage, || format!("{name} sees {:?}, and it is {stage:?}", phone.stage()));
        }
        let linked = |id: MemberId| call.roster().get(id).is_some_and(|member| member.linked);
        let count = call.roster().iter().filter(|(id, _)| linked(*id)).count();
        let here = phones.iter().filter(|phone| !phone.over).count();
        self.must(count == here, || format!("{here} are here, and the server knows of {count}"));
    }

    /// What is on disk in the end.
    pub(super) fn read(&self, data: &Path) {
        let events = Reader::open(data).and_then(|reader| reader.events(EventFilter::default()));
        let events = events.unwrap_or_else(|error| self.fail(format!("the journal cannot be read: {error}")));
        let mut written: BTreeMap<&str, u32> = BTreeMap::new();
        for tap in events.iter().filter_map(|row| row.event.what.tap()) {
            *written.entry(tap).or_default() += 1;
        }
        for tap in self.taps.keys() {
            let times = written.get(tap.as_str()).copied().unwrap_or(0);
            self.must(times <= 1, || format!("the tap {tap:?} is in the log {times} times"));
            let owed = self.promised.contains(tap) || !self.excused.contains(tap);
            self.must(times == 1 || !owed, || {
                let promised = self.promised.contains(tap);
                format!("the tap {tap:?} is not in the log (said to be written: {promised})")
            });
        }
        let whole = verify(data);
        let whole = whole.unwrap_or_else(|error| self.fail(format!("the journal cannot be verified: {error}")));
        self.must(whole.findings.is_empty(), || format!("the journal is not whole: {:?}", whole.findings));
    }
}
