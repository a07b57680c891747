//! An evening: people with phones, a network, a disk and a server that is started again, from one seed. Chance does its
//! worst for a while, then all is well, and nobody does anything more.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;
use std::sync::atomic::{AtomicI64, Ordering::Relaxed};

use tempfile::TempDir;

use super::chance::Chance;
use super::frames::{Read, Reading, from_phone};
use super::life::{self, AtServer, Life, Seeds};
use super::network::Way;
use super::phone::{Link, Phone, Seen};
use super::rules::Rules;
use crate::call::{Fight, Role};
use crate::journal::ByHand;
use crate::member::{Act, Event};
use crate::wire::{DriveKind, Setup, Stage, ToMember, ToServer};

const SECOND: i64 = 1_000_000;
/// For so long chance does its worst.
pub(super) const CHAOS: i64 = 40 * SECOND;
/// And for so long all is well afterwards.
pub(super) const CALM: i64 = 12 * SECOND;
/// More does not happen in an evening.
const STEPS: u32 = 300_000;
/// A connection that nobody answers is refused after so long, if the phone has not given it up before.
const UNANSWERED: i64 = 5 * SECOND;

/// A connection between a phone and the server.
pub(super) struct Connection {
    pub(super) phone: usize,
    pub(super) up: Way,
    pub(super) down: Way,
    /// True while the phone has it.
    at_phone: bool,
    /// What the server writes, read as it is written.
    pub(super) watched: Reading,
    /// What was dead when the frame began that is not whole yet.
    begun: Option<u64>,
    /// The messages that are on their way up, as they were written: when they have arrived in bytes.
    sent: Vec<(usize, ToServer)>,
    sent_bytes: usize,
    arrived_bytes: usize,
}

/// The disk under the journal.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Disk {
    Well,
    /// It takes its time: nothing is written until then.
    Slow(i64),
    Full(i64),
}

/// Everything but the server.
pub(super) struct World {
    now: i64,
    seed: u64,
    /// The true time, as the network has it.
    clock: &'static AtomicI64,
    chance: Chance,
    pub(super) phones: Vec<Phone>,
    pub(super) connections: BTreeMap<usize, Connection>,
    next_connection: usize,
    /// When the next misfortune comes.
    misfortune: i64,
    disk: Disk,
    /// Until when the hub stands still, and the whole machine of the server sleeps.
    hub_stands: i64,
    server_sleeps: i64,
    /// When its machine last woke.
    server_slept: i64,
    /// When the server is started again; it is down until then.
    starts: i64,
    /// True when the server is to end now.
    ends: bool,
    /// How often anything happened.
    steps: u32,
    pub(super) rules: Rules,
}

impl World {
    pub(super) fn new(seed: u64) -> World {
        World {
            now: 0,
            seed,
            clock: Box::leak(Box::default()),
            chance: Chance::of(seed, 0),
            phones: Vec::new(),
            connections: BTreeMap::new(),
            next_connection: 0,
            misfortune: 3 * SECOND,
            disk: Disk::Well,
            hub_stands: 0,
            server_sleeps: 0,
            server_slept: 0,
            starts: 0,
            ends: false,
            steps: 0,
            rules: Rules::default(),
        }
    }

    /// Who takes part; the last has no invitation that is any good.
    fn invite(&mut self, invitations: &BTreeMap<Role, String>) {
        let people = [
            (Role::Desk, "Ines", None),
            (Role::Captain, "Bram", None),
            (Role::Performer, "Maret's Lotte", Some("MARET")),
            (Role::Performer, "Osk's Pim", Some("OSK")),
            (Role::Observer, "Ana", None),
            (Role::Desk, "Tove", None),
        ];
        for (number, (role, name, part)) in people.into_iter().enumerate() {
            let chance = Chance::of(self.seed, 100 + number as u64);
            self.phones.push(Phone::new(role, name, part, &invitations[&role], chance));
        }
        let chance = Chance::of(self.seed, 199);
        self.phones.push(Phone::new(Role::Observer, "a stranger", None, "0123456789abcdef0123456789abcdef", chance));
    }

    /// The whole evening. Panics where something happens that may not.
    pub(super) fn play(mut self, data: &Path, fight: &Arc<Fight>) -> Rules {
        while self.now < CHAOS + CALM {
            self.life(data, fight);
        }
        self.rules
    }

    /// One life of the server.
    fn life(&mut self, data: &Path, fight: &Arc<Fight>) {
        let clock: &'static AtomicI64 = Box::leak(Box::new(AtomicI64::new(0)));
        let slept: &'static AtomicI64 = Box::leak(Box::new(AtomicI64::new(0)));
        let mut epoch = self.now;
        let Seeds { mut work, hub, lanes, lines, keys, brake, mut disk, invitations } =
            life::open(data, fight, clock, slept);
        if self.phones.is_empty() {
            self.invite(&invitations);
        }
        let to_hub = lanes.to_hub.clone();
        let mut life = Life { reactor: work.reactor(), hub, lanes, lines, keys, brake, to_hub };
        let mut at_server = BTreeMap::new();
        self.rules.begin_life();
        self.ends = false;
        while !self.ends && self.now < CHAOS + CALM {
            let next = self.next(&mut life, epoch);
            assert!(next >= self.now, "time goes on");
            self.steps += 1;
            self.rules.must(self.steps < STEPS, || "everything goes round and round".into());
            if next > self.now && self.server_sleeps > self.now {
                // The server's clock stands still while its machine sleeps; others' do not.
                let wakes = self.server_sleeps.min(next);
                let long = wakes - self.now;
                for phone in &mut self.phones {
                    phone.jumped = wakes;
                    phone.epoch += if phone.epoch == epoch { long } else { 0 };
                }
                epoch += long;
                self.server_slept = wakes;
                slept.fetch_add(long, Relaxed);
            }
            self.now = next;
            clock.store(self.now - epoch, Relaxed);
            self.tell_time();
            self.misfortunes();
            self.end_sleep();
            self.deliver(&mut life, &mut at_server, epoch);
            self.wake_phones(&invitations);
            if self.server_sleeps <= self.now {
                life.settle(&mut at_server, self.hub_stands > self.now);
                self.write(&mut disk);
                life.settle(&mut at_server, self.hub_stands > self.now);
                self.watch(&life, &at_server, epoch);
            }
        }
        if !self.ends {
            self.rules.all_know(&life, &self.phones);
            // The evening is over: the server is closed as it should be.
            life.hub.end();
            life.settle(&mut at_server, false);
            disk.write();
        }
        self.cut_off(&at_server);
    }

    /// The next moment at which anything happens.
    fn next(&mut self, life: &mut Life<'_>, epoch: i64) -> i64 {
        let now = self.now;
        let mut next = CHAOS + CALM;
        let mut at = |moment: i64| next = next.min(moment.max(now));
        for connection in self.connections.values() {
            let phone = &self.phones[connection.phone];
            let up = connection.up.arrives().map(|arrives| arrives.max(phone.cut.0).max(self.server_sleeps));
            up.into_iter().for_each(&mut at);
        }
        self.phones_next().chain(self.arrivals_next()).for_each(&mut at);
        for phone in self.phones.iter().filter(|phone| !phone.over) {
            if now < CHAOS {
                at(phone.acts_at.max(phone.asleep));
            }
            // What slept wakes.
            if phone.asleep > now {
                at(phone.asleep);
            }
        }
        if now < CHAOS {
            at(self.misfortune);
            at(CHAOS);
        }
        match self.disk {
            Disk::Slow(until) | Disk::Full(until) if until > now => at(until),
            _ => {}
        }
        if self.hub_stands > now {
            at(self.hub_stands);
        }
        if self.server_sleeps > now {
            at(self.server_sleeps);
        } else {
            at(life.reactor.deadline().0 + epoch);
            if self.hub_stands <= now {
                at(life.hub.deadline().0 + epoch);
            }
        }
        next
    }

    /// When phones do something by themselves.
    fn phones_next(&self) -> impl Iterator<Item = i64> {
        self.phones.iter().filter(|phone| !phone.over).filter_map(|phone| match phone.link {
            Link::Connecting(answer) => phone.wakes().into_iter().chain([answer.max(phone.asleep)]).min(),
            Link::None | Link::Open(_) => phone.wakes(),
        })
    }

    /// When something arrives at phones.
    fn arrivals_next(&self) -> impl Iterator<Item = i64> {
        self.connections.values().filter_map(|connection| {
            let phone = &self.phones[connection.phone];
            connection.down.arrives().map(|arrives| arrives.max(phone.cut.1).max(phone.asleep))
        })
    }

    fn tell_time(&mut self) {
        self.clock.store(self.now, Relaxed);
        self.rules.now = self.now;
    }

    /// What goes wrong now, and what is well again.
    fn misfortunes(&mut self) {
        if self.now >= CHAOS {
            self.heal();
            return;
        }
        if self.now < self.misfortune {
            return;
        }
        self.misfortune = self.now + self.chance.between(200_000, 4 * SECOND);
        let who = self.chance.between(0, self.phones.len() as i64 - 1) as usize;
        let (now, long) = (self.now, self.chance.between(50_000, 6 * SECOND));
        let what = self.chance.between(0, 100);
        self.rules.note(|| format!("misfortune {what} of {who} for {long}"));
        match what {
            0..=24 => self.phones[who].cut = (now + long, now + long),
            25..=34 => self.phones[who].cut.0 = now + long,
            35..=44 => self.phones[who].cut.1 = now + long,
            45..=52 => (self.phones[who].fell_asleep, self.phones[who].asleep) = (now, now + long),
            53..=60 => self.disk = Disk::Slow(now + long),
            61..=66 => self.disk = Disk::Full(now + long),
            67..=74 => self.hub_stands = now + long / 2,
            75..=79 => self.server_sleeps = now + long,
            80..=87 => {
                self.ends = true;
                self.starts = now + long / 4;
            }
            88..=93 => self.phones.iter_mut().for_each(|phone| phone.cut = (now + long, now + long)),
            _ => {
                // Half open: the phone has lost its connection, and the server does not know.
                let phone = &mut self.phones[who];
                if let Link::Open(number) = phone.link
                    && phone.asleep == 0
                    && let Some(connection) = self.connections.get_mut(&number)
                {
                    connection.at_phone = false;
                    phone.link = Link::None;
                    let chance = phone.chance.part();
                    let acts = phone.handle(self.now, Event::Closed { chance });
                    phone.waiting.clear();
                    self.perform(who, acts);
                }
            }
        }
    }

    /// All is well from now on.
    fn heal(&mut self) {
        if self.misfortune == i64::MAX {
            return;
        }
        self.misfortune = i64::MAX;
        self.rules.healed = self.now;
        self.rules.note(|| "all is well".into());
        self.disk = Disk::Well;
        (self.hub_stands, self.server_sleeps) = (0, 0);
        let now = self.now;
        for phone in &mut self.phones {
            phone.cut = (0, 0);
            phone.asleep = phone.asleep.min(now);
            if let Link::Connecting(answer) = phone.link {
                // The next of the packets that ask for a connection arrives.
                phone.link = Link::Connecting(answer.min(now + SECOND));
            }
        }
    }

    /// The server is gone, with what it had not written; what is on its way still arrives.
    fn cut_off(&mut self, at_server: &BTreeMap<usize, AtServer>) {
        for number in at_server.keys() {
            if let Some(connection) = self.connections.get(number) {
                connection.down.finish();
            }
        }
        while self.now < self.starts {
            // Phones knock in vain meanwhile.
            let next = self.phones_next().chain(self.arrivals_next()).min().unwrap_or(self.starts);
            self.now = next.clamp(self.now, self.starts);
            self.tell_time();
            if self.now == self.starts {
                break;
            }
            self.end_sleep();
            self.deliver_down();
            self.knock_in_vain();
        }
    }

    fn knock_in_vain(&mut self) {
        for number in 0..self.phones.len() {
            let phone = &mut self.phones[number];
            if phone.over || phone.asleep > self.now {
                continue;
            }
            match phone.link {
                Link::Connecting(answer) if answer <= self.now => {
                    phone.link = Link::None;
                    let chance = phone.chance.part();
                    let acts = phone.handle(self.now, Event::Closed { chance });
                    self.perform(number, acts);
                }
                _ => {
                    if phone.wakes().is_some_and(|at| at <= self.now) {
                        let acts = phone.handle(self.now, Event::Time);
                        self.perform(number, acts);
                    }
                }
            }
        }
    }

    /// The disk writes what waits, or does not.
    fn write(&mut self, disk: &mut ByHand) {
        match self.disk {
            Disk::Slow(until) if until > self.now => {}
            Disk::Full(until) if until > self.now => disk.fail(),
            _ => {
                self.disk = Disk::Well;
                disk.write();
            }
        }
    }
}

/// The network.
impl World {
    /// What arrives now, up and down.
    fn deliver(&mut self, life: &mut Life<'_>, at_server: &mut BTreeMap<usize, AtServer>, epoch: i64) {
        self.answer_connecting(at_server, epoch);
        let numbers: Vec<usize> = self.connections.keys().copied().collect();
        for number in numbers {
            let Some(connection) = self.connections.get_mut(&number) else { continue };
            let awake = self.server_sleeps <= self.now;
            let Some(at) = at_server.get_mut(&number) else {
                // That server is gone: nobody reads what comes.
                while connection.up.take(self.now).is_some() {}
                continue;
            };
            if awake && self.phones[connection.phone].cut.0 <= self.now {
                while let Some(segment) = connection.up.take(self.now) {
                    connection.arrived_bytes += segment.bytes.len();
                    life.arrives(at, &segment.bytes);
                    while connection.sent.first().is_some_and(|(end, _)| *end <= connection.arrived_bytes) {
                        let (_, message) = connection.sent.remove(0);
                        // What the server has closed reads nothing more; the phone brings its taps with its key.
                        let line = at.is_line() && !connection.down.is_finished();
                        self.rules.arrives(number, line, message);
                    }
                }
                if connection.up.is_over() {
                    life.ends(at);
                }
            }
            if connection.down.has_room_again() {
                life.reactor.link_is_ready(at.link, false, true);
            }
        }
        self.deliver_down();
        self.bury(at_server);
    }

    /// What arrives at the phones.
    fn deliver_down(&mut self) {
        let numbers: Vec<usize> = self.connections.keys().copied().collect();
        for number in numbers {
            let Some(connection) = self.connections.get_mut(&number) else { continue };
            let who = connection.phone;
            let phone = &mut self.phones[who];
            if phone.cut.1 > self.now || phone.asleep > self.now {
                continue;
            }
            let mut came = false;
            while let Some(segment) = connection.down.take(self.now) {
                if connection.at_phone {
                    phone.reading.feed(&segment.bytes);
                    came = true;
                }
            }
            let over = connection.down.is_over();
            if came {
                self.read(who);
            }
            let still = self.connections.get(&number).is_some_and(|connection| connection.at_phone);
            if over && still {
                self.lose(who, number);
            }
        }
    }

    /// A phone reads what has come.
    fn read(&mut self, who: usize) {
        while let Link::Open(number) = self.phones[who].link {
            let Some(read) = self.phones[who].reading.next() else { return };
            match read {
                Read::Closing => return self.lose(who, number),
                Read::Message(message) => self.hear(who, &message),
            }
        }
    }

    fn hear(&mut self, who: usize, message: &ToMember) {
        let phone = &mut self.phones[who];
        let time = phone.time(self.now);
        phone.sees(message);
        phone.heard = self.now;
        self.rules.heard(who, phone, message);
        if let ToMember::Cue(cue) = message
            && let Some(due) = cue.due_us
            && phone.follower.clock().to_server(time).is_some_and(|server| server.0 + 300_000 < due)
        {
            phone.waiting.insert((cue.generation, cue.cue), due);
        }
        let acts = phone.handle(self.now, Event::Heard(message));
        self.rules.knows_the_time(&self.phones[who], message);
        self.perform(who, acts);
    }

    /// A phone's connection is gone.
    fn lose(&mut self, who: usize, number: usize) {
        if let Some(connection) = self.connections.get_mut(&number) {
            connection.at_phone = false;
            connection.up.finish();
        }
        self.rules.note(|| format!("{who} has lost {number}"));
        let phone = &mut self.phones[who];
        phone.link = Link::None;
        phone.waiting.clear();
        let chance = phone.chance.part();
        let acts = phone.handle(self.now, Event::Closed { chance });
        self.perform(who, acts);
    }

    /// Who asked for a connection hears whether they have one.
    fn answer_connecting(&mut self, at_server: &mut BTreeMap<usize, AtServer>, epoch: i64) {
        for who in 0..self.phones.len() {
            let phone = &mut self.phones[who];
            let Link::Connecting(answer) = phone.link else { continue };
            if answer > self.now || phone.asleep > self.now || phone.over {
                continue;
            }
            let cut = phone.cut.0 > self.now || phone.cut.1 > self.now;
            if cut || self.server_sleeps > self.now {
                phone.link = Link::None;
                let chance = phone.chance.part();
                let acts = phone.handle(self.now, Event::Closed { chance });
                self.perform(who, acts);
                continue;
            }
            let number = self.next_connection;
            self.next_connection += 1;
            let name = 1_000 + 2 * number as u64;
            let way = |room, name| Way::new(self.clock, room, Chance::of(self.seed, name));
            // Some phones take little at a time.
            let room = *self.phones[who].chance.one(&[1_500, 4_000, 24_000]);
            let (up, down) = (way(24_000, name), way(room, name + 1));
            at_server.insert(number, AtServer::new(number as u64, down.clone()));
            let watched = Reading::default();
            let (sent, sent_bytes, arrived_bytes) = (Vec::new(), 0, 0);
            let connection = Connection {
                phone: who,
                up,
                down,
                at_phone: true,
                watched,
                begun: None,
                sent,
                sent_bytes,
                arrived_bytes,
            };
            self.connections.insert(number, connection);
            let phone = &mut self.phones[who];
            phone.link = Link::Open(number);
            phone.reading = Reading::default();
            if self.server_slept > phone.heard {
                // What it believes of the server's clock is from before that slept.
                phone.jumped = self.now;
            }
            (phone.heard, phone.epoch, phone.seen.alive) = (self.now, epoch, 0);
            self.rules.opened(who);
            let acts = phone.handle(self.now, Event::Opened);
            self.perform(who, acts);
        }
    }

    /// Connections that both sides have done with are forgotten.
    fn bury(&mut self, at_server: &mut BTreeMap<usize, AtServer>) {
        self.connections.retain(|number, connection| {
            let gone = !connection.at_phone
                && connection.down.is_over()
                && (connection.up.is_over() || !at_server.contains_key(number));
            if gone {
                at_server.remove(number);
            }
            !gone
        });
    }
}

/// The people and their phones.
impl World {
    /// Phones that have slept wake, before anything reaches them; some have a clock that stood still meanwhile.
    fn end_sleep(&mut self) {
        for who in 0..self.phones.len() {
            let phone = &mut self.phones[who];
            if phone.asleep == 0 || phone.asleep > self.now {
                continue;
            }
            phone.asleep = 0;
            let stood = if phone.chance.percent(70.0) { self.now - phone.fell_asleep } else { 0 };
            let acts = phone.slept(self.now, stood);
            self.perform(who, acts);
        }
    }

    fn wake_phones(&mut self, invitations: &BTreeMap<Role, String>) {
        for who in 0..self.phones.len() {
            let phone = &mut self.phones[who];
            if phone.over && self.now < CHAOS && phone.key.is_some() && phone.chance.percent(20.0) {
                phone.join_anew(&invitations[&phone.role]);
            }
            if phone.asleep > self.now {
                phone.waiting.clear();
                continue;
            }
            if !phone.over && phone.wakes().is_some_and(|at| at <= self.now) {
                let acts = phone.handle(self.now, Event::Time);
                self.perform(who, acts);
            }
            let phone = &mut self.phones[who];
            if self.now < CHAOS && phone.acts_at <= self.now {
                phone.acts_at = self.now + phone.chance.between(100_000, 3 * SECOND);
                if !phone.over {
                    self.act(who, invitations);
                }
            }
        }
    }

    /// A person does what somebody in their place might.
    fn act(&mut self, who: usize, invitations: &BTreeMap<Role, String>) {
        let phone = &mut self.phones[who];
        let role = phone.role;
        if phone.chance.percent(4.0) {
            self.rules.begins_anew(who);
            self.rules.note(|| format!("{who} begins anew"));
            if let Link::Open(number) = phone.link
                && let Some(connection) = self.connections.get_mut(&number)
            {
                connection.at_phone = false;
                connection.up.finish();
            }
            phone.link = Link::None;
            if phone.chance.percent(80.0) {
                phone.begin_anew();
            } else {
                phone.join_anew(&invitations[&role]);
            }
            return;
        }
        if phone.chance.percent(if phone.stage() == Stage::Running { 9.0 } else { 3.0 }) {
            phone.taps += 1;
            let tap = format!("{} {}", phone.name, phone.taps);
            self.rules.note(|| format!("{who} taps {tap:?}"));
            phone.tapped = phone.follower.generation().0;
            let before = phone.follower.untold_taps();
            let acts = phone.handle(self.now, Event::Hold { tap: tap.clone(), reason: None });
            // Tapped again while nobody has answered, it is the same tap.
            if phone.follower.untold_taps() > before {
                self.rules.tapped(who, &tap);
            }
            return self.perform(who, acts);
        }
        let said = match (role, phone.stage()) {
            (Role::Desk, stage) => Self::steer(phone, stage),
            (Role::Captain, Stage::Held) if phone.chance.percent(30.0) => Self::release(phone),
            (Role::Captain, Stage::Running) if phone.chance.percent(8.0) => {
                Some(ToServer::Stop { reason: "an ankle".into() })
            }
            (Role::Performer, Stage::Places) => {
                phone.seen.state.as_ref().map(|state| ToServer::Ready { ready: true, generation: state.generation })
            }
            (_, Stage::Held) if phone.chance.percent(20.0) => {
                phone.seen.hold.as_ref().map(|hold| ToServer::Note { hold: hold.hold, text: "slipped".into() })
            }
            _ => None,
        };
        if let Some(said) = said {
            let acts = phone.handle(self.now, Event::Say(said));
            self.perform(who, acts);
        }
    }

    fn steer(phone: &mut Phone, stage: Stage) -> Option<ToServer> {
        let (generation, seen) = phone.seen.state.as_ref().map(|state| (state.generation, state.last_event))?;
        match stage {
            Stage::Idle | Stage::Stopped | Stage::Complete => {
                let setup = Setup {
                    fight: "The Quay".into(),
                    from: 0,
                    to: phone.chance.between(0, 2) as u32,
                    percent: *phone.chance.one(&[50, 100, 100, 120]),
                    count_in: 4,
                    drive: if phone.chance.percent(20.0) { DriveKind::Step } else { DriveKind::Clock },
                };
                Some(ToServer::Places { setup, seen })
            }
            Stage::Places => Some(ToServer::Start { generation, anyway: phone.chance.percent(90.0), seen }),
            Stage::CountIn | Stage::Running => match phone.chance.between(0, 100) {
                0..=5 => Some(ToServer::Stop { reason: "lunch".into() }),
                6..=15 => Some(ToServer::Speed { percent: *phone.chance.one(&[60, 100, 110]) }),
                16..=60 => Some(ToServer::Step { generation }),
                _ => None,
            },
            Stage::Held => Self::release(phone),
        }
    }

    fn release(phone: &Phone) -> Option<ToServer> {
        phone.seen.hold.as_ref().map(|hold| ToServer::Release { hold: hold.hold, seen: hold.last_event })
    }

    /// Does what a phone's machine wants done.
    fn perform(&mut self, who: usize, acts: Vec<Act>) {
        for act in acts {
            match act {
                Act::Connect => {
                    let phone = &mut self.phones[who];
                    phone.tried = self.now;
                    self.rules.tries(who, self.now);
                    self.rules.note(|| format!("{who} knocks"));
                    let cut = phone.cut.0 > self.now || phone.cut.1 > self.now || self.server_sleeps > self.now;
                    let wait = if cut { UNANSWERED } else { phone.chance.between(2_000, 80_000) };
                    phone.link = Link::Connecting(self.now + wait);
                }
                Act::Disconnect => {
                    let phone = &mut self.phones[who];
                    match phone.link {
                        Link::Open(number) => self.lose(who, number),
                        Link::Connecting(_) | Link::None => {
                            phone.link = Link::None;
                            let chance = phone.chance.part();
                            let acts = phone.handle(self.now, Event::Closed { chance });
                            self.perform(who, acts);
                        }
                    }
                }
                Act::Send(message) => self.send(who, message),
                Act::Show(shown) => {
                    let phone = &mut self.phones[who];
                    phone.waiting.remove(&(shown.cue.generation, shown.cue.cue));
                    self.rules.shown(phone, &shown);
                }
                Act::Lost => self.phones[who].waiting.clear(),
                Act::Over(ending) => {
                    self.rules.note(|| format!("{who} is over: {ending:?}"));
                    let phone = &mut self.phones[who];
                    phone.over = true;
                    phone.seen = Seen::default();
                    self.rules.begins_anew(who);
                }
                Act::Linked | Act::Unsaid(_) => {}
            }
        }
    }

    fn send(&mut self, who: usize, message: ToServer) {
        let Link::Open(number) = self.phones[who].link else { return };
        let Some(connection) = self.connections.get_mut(&number) else { return };
        let frame = from_phone(&message);
        // A phone has a large buffer: what it says waits there.
        if connection.up.put(&frame) == frame.len() {
            connection.sent_bytes += frame.len();
            connection.sent.push((connection.sent_bytes, message));
        } else {
            self.lose(who, number);
        }
    }

    /// Looks at what the server has done.
    fn watch(&mut self, life: &Life<'_>, at_server: &BTreeMap<usize, AtServer>, epoch: i64) {
        self.rules.looks(life);
        for (number, connection) in &mut self.connections {
            let Some(at) = at_server.get(number) else { continue };
            connection.watched.feed(&at.written());
            while let Some(read) = connection.watched.next() {
                let dead = connection.begun.take().unwrap_or(self.rules.dead_before());
                if let Read::Message(message) = read {
                    self.rules.written(*number, (connection.phone, self.now - epoch), dead, &message);
                }
            }
            // A frame that was begun is finished, whatever died meanwhile.
            let within = connection.watched.is_within();
            connection.begun = connection.begun.or(Some(self.rules.dead_before())).filter(|_| within);
        }
        self.rules.looked(life, &self.connections, at_server);
        self.rules.agree(life, &self.phones);
        for phone in &mut self.phones {
            let alive = phone.follower.generation().0;
            let server = self.now - epoch;
            let may = phone.follower.linked() && phone.follower.untold_taps() == 0 && !phone.over;
            let lately = self.now - phone.jumped < 5 * SECOND;
            phone.waiting.retain(|(generation, _), _| may && !lately && *generation >= alive);
            if let Some((cue, due)) = phone.waiting.iter().find(|(_, due)| **due + 500_000 < server) {
                self.rules.fail(format!("{} was not shown {cue:?}, due at {due}, and it is {server}", phone.name));
            }
        }
    }
}

/// Plays the evening of that seed; with `noting`, a failure says what came before it.
pub(super) fn evening(seed: u64, fight: &Arc<Fight>, noting: bool) -> Rules {
    let folder = ["/dev/shm", "/tmp"].into_iter().find_map(|place| TempDir::new_in(place).ok()).unwrap();
    let mut world = World::new(seed);
    world.rules.noting = noting;
    let rules = world.play(folder.path(), fight);
    rules.read(folder.path());
    rules
}
