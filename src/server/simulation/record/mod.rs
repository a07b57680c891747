//! What must stand in the record: a small model of a call, which shares no code with the call. It is told what arrives at
//! the server and what the server writes down, and says at every moment at which nothing is under way whether each thing
//! that was written down was asked for, could be so, and is by whoever asked; whether what had to be done was done; and
//! how the call stands by it.

mod call;
mod judge;
mod tonight;

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use self::call::Call;
pub(super) use self::call::Stands;
use self::judge::is_hold;
pub(super) use self::tonight::{Item, Tonight, Up};
use crate::call::{self as server, Role};
use crate::event::{Event, EventId, Maker, RunEnd, What};
use crate::units::Generation;
use crate::wire::{HoldTap, PlannedView, ToServer};

/// So often it is remembered how tonight was before.
const TIMES_BEFORE: usize = 12;

/// Somebody's request that has arrived.
#[derive(Clone, Debug)]
struct Asked {
    connection: usize,
    name: String,
    role: Role,
    message: ToServer,
}

/// A tap that has arrived and is not written down yet.
#[derive(Clone, Debug)]
struct Tapped {
    name: String,
    tap: HoldTap,
    /// What was dead when nothing was under way last before it came.
    dead: u64,
}

/// The model.
#[derive(Debug, Default)]
pub(super) struct Record {
    call: Call,
    /// What has arrived since nothing was under way.
    asked: Vec<Asked>,
    taps: Vec<Tapped>,
    introduced: bool,
    /// What was dead then.
    dead: u64,
    /// True once the machine has slept since this life began.
    slept: bool,
    /// The taps that are known: they are written down already.
    known: BTreeSet<String>,
    /// On which connection each person has made themselves known last, and the number of the member it belongs to.
    introductions: BTreeMap<String, usize>,
    /// Every connection on which a performer has made themselves known, oldest first.
    performers: BTreeMap<String, Vec<usize>>,
    members: BTreeMap<usize, u32>,
    /// Tonight, and as it was the last times before it changed: what is told of it may be under way to a slow phone.
    tonight: Tonight,
    before: VecDeque<Tonight>,
    /// True when it has changed since, and once it was looked whether the call of this life says the same of tonight.
    moved: bool,
    looked: bool,
    /// What was set up by the events that called places.
    placed: BTreeMap<EventId, Up>,
    /// The order that each version of it is, as it was told to anybody, and the version that is the order of now.
    versions: BTreeMap<u64, Vec<(u32, PlannedView)>>,
    newest: Option<u64>,
    /// What was written down since nothing was under way.
    fresh: Vec<Event>,
    /// What is being looked at.
    settling: Vec<Event>,
    /// All that was written down and has not been lost, in order.
    story: Vec<Event>,
    /// What is on disk, in order, and how the runs among it ended.
    on_disk: Vec<Event>,
}

/// Nothing, or what is not as it must be.
type Checked = Result<(), String>;

impl Record {
    /// A life of the server begins. It goes on from what is on disk and from what it wrote down first, `left`: what the
    /// one before it had not come to write.
    pub(super) fn begin_life(&mut self, generation: u64, left: &[Event], roster: &server::Roster) -> Checked {
        let after = self.call.generation;
        if generation <= after {
            return Err(format!("a server begins with the generation {generation} after {after}"));
        }
        self.story.append(&mut self.fresh);
        let written: BTreeSet<EventId> = self.on_disk.iter().map(|event| event.id).collect();
        let kept = self.story.iter().rposition(|event| written.contains(&event.id)).map_or(0, |last| last + 1);
        let unwritten = self.story.split_off(kept);
        for (event, was) in left.iter().zip(&unwritten) {
            // Its time is told by another clock.
            let is = |event: &Event| (event.id, event.what.kind(), event.who.clone(), event.run);
            if is(event) != is(was) {
                return Err(format!("written down late is {event:?}, and it was {was:?}"));
            }
        }
        self.story.extend_from_slice(left);
        // What was seen of another server does not count.
        let session = Generation(generation).epoch();
        let stood = Some(EventId { session, maker: Maker::Call, number: 0 });
        let (mut call, mut tonight) = (Call::default(), Tonight::default());
        let mut of = session;
        for event in &self.story {
            if event.id.session != of {
                call = call.anew();
                tonight.anew();
            }
            of = event.id.session;
            call = call.after(event);
            tonight.after(event, self.placed.get(&event.id));
        }
        tonight.anew();
        tonight.people_are(roster);
        self.before = VecDeque::from([tonight.clone()]);
        self.tonight = tonight;
        (self.newest, self.moved, self.looked) = (None, false, false);
        self.call = Call { generation, stood, cast: None, ..call.anew() };
        self.known = self.story.iter().filter_map(|event| event.what.tap().map(str::to_owned)).collect();
        // Everything of earlier lives is dead.
        (self.dead, self.slept, self.introduced) = (Generation(generation).before().0, false, false);
        self.asked.clear();
        self.taps.clear();
        self.introductions.clear();
        self.performers.clear();
        self.members.clear();
        Ok(())
    }

    /// The server's machine has slept.
    pub(super) fn server_sleeps(&mut self) {
        self.slept = true;
    }

    /// A connection is that member's.
    pub(super) fn welcomed(&mut self, connection: usize, member: u32) {
        self.members.insert(connection, member);
    }

    /// A tap has arrived, over a line or with a key.
    pub(super) fn tap_arrives(&mut self, name: &str, tap: HoldTap) {
        if self.known.insert(tap.tap.clone()) {
            self.taps.push(Tapped { name: name.to_owned(), tap, dead: self.dead });
        }
    }

    /// Somebody makes themselves known.
    pub(super) fn introduction_arrives(&mut self, connection: usize, (name, role): (&str, Role)) {
        self.introduced = true;
        if role == Role::Performer {
            self.performers.entry(name.to_owned()).or_default().push(connection);
        }
        self.introductions.insert(name.to_owned(), connection);
    }

    /// Something else has arrived.
    pub(super) fn arrives(&mut self, connection: usize, (name, role): (&str, Role), message: ToServer) {
        self.asked.push(Asked { connection, name: name.to_owned(), role, message });
    }

    /// That was written down; it is on disk later.
    pub(super) fn recorded(&mut self, events: Vec<Event>) {
        self.fresh.extend(events);
    }

    /// That is on disk.
    pub(super) fn on_disk(&mut self, events: Vec<Event>) {
        self.on_disk.extend(events);
    }

    /// The connections over which each performer who plays a part is known now: those of the member who they were last.
    pub(super) fn performers(&self) -> impl Iterator<Item = Vec<usize>> {
        let member = |connection: &usize| self.members.get(connection);
        self.performers.values().map(move |connections| {
            let now = connections.iter().rev().find_map(member);
            let plays = now.is_some_and(|now| self.tonight.plays(*now));
            connections.iter().copied().filter(|connection| plays && member(connection) == now).collect()
        })
    }

    /// True when a tap is on disk.
    pub(super) fn has_tap(&self, tap: &str) -> bool {
        self.on_disk.iter().any(|event| event.what.tap() == Some(tap))
    }

    /// True when a hold is on disk.
    pub(super) fn has_hold(&self, hold: u32) -> bool {
        self.on_disk.iter().any(|event| matches!(&event.what, What::Hold { call, .. } if call.hold.0 == hold))
    }

    /// Nothing is under way any more, that is dead now, and so the call stands: everything that was written down has its
    /// reason, and everything that had to be done was.
    pub(super) fn rests(&mut self, dead: u64, (stands, generation): (Stands, u64), call: &server::Call) -> Checked {
        let fresh = std::mem::take(&mut self.fresh);
        if self.moved {
            self.before.push_back(self.tonight.clone());
            let old = self.before.len().saturating_sub(TIMES_BEFORE);
            self.before.drain(..old);
        }
        self.moved = !fresh.is_empty();
        let asked = self.asked.clone();
        let before = self.call;
        let alone = self.taps.is_empty() && !self.introduced;
        self.settling.clone_from(&fresh);
        for event in &fresh {
            self.accept(event).map_err(|why| format!("{why}: {event:?}"))?;
        }
        self.every_tap(&fresh, dead)?;
        if let [only] = asked.as_slice()
            && alone
            && self.introductions.get(&only.name) == Some(&only.connection)
            && self.members.contains_key(&only.connection)
        {
            let done = self.asked.is_empty();
            let other = fresh.iter().any(|event| matches!(event.what, What::Complete | What::Hold { .. }));
            if (before.does(only) || self.does(only, before.stands)) && !done && !other {
                return Err(format!("in {before:?} this was asked and not done: {only:?}"));
            }
        }
        // The end of a run is taken back by a pull of an earlier instant; the generation that it had begun is not.
        let held = fresh.iter().any(is_hold);
        if held && generation > self.call.generation {
            self.call.generation = generation;
        }
        if (self.call.stands, self.call.generation) != (stands, generation) {
            return Err(format!("the call stands at {stands:?} in {generation}, and by its record: {:?}", self.call));
        }
        self.asked.clear();
        if self.moved || !std::mem::replace(&mut self.looked, true) {
            self.tonight.is_so(call)?;
            self.moved = true;
        }
        self.story.extend(fresh);
        (self.dead, self.introduced) = (dead, false);
        Ok(())
    }

    /// True when this was to be done as tonight stood before it.
    fn does(&self, Asked { role, message, .. }: &Asked, stands: Stands) -> bool {
        let newest = matches!(message, ToServer::Order { seen, .. } if Some(*seen) == self.newest);
        let seen = match message {
            ToServer::PlacesFor { seen, .. } => {
                !matches!(stands, Stands::Going | Stands::Held) && Some(*seen) >= self.call.stood
            }
            _ => true,
        };
        let before = self.before.back().unwrap_or(&self.tonight);
        *role == Role::Desk && seen && before.does(message, stands, newest)
    }

    /// Somebody was told of an order, by its version. A version is one order, whoever is told of it and whenever, and what
    /// is told is the order of now.
    pub(super) fn order_told(&mut self, version: u64, order: Vec<(u32, PlannedView)>) -> Checked {
        let now = self.tonight.shown();
        // Of a call that was ended twice at once nobody has looked at the numbers in between.
        if order != now && !tonight::is_usual(&order) && !self.before.iter().any(|before| before.shown() == order) {
            return Err(format!("the order is told as {order:?}, and it is {now:?}"));
        }
        if order == now {
            self.newest = Some(version);
        }
        match self.versions.insert(version, order.clone()) {
            Some(known) if known != order => Err(format!("the version {version} is {known:?}, and {order:?} as well")),
            _ => Ok(()),
        }
    }

    /// Tonight, by the record.
    pub(super) fn tonight(&self) -> &Tonight {
        &self.tonight
    }

    /// The member to whom a connection belongs.
    pub(super) fn member(&self, connection: usize) -> Option<u32> {
        self.members.get(&connection).copied()
    }

    /// What the member of a connection plays in a run: now, and before.
    pub(super) fn plays(&self, connection: usize, run: u32) -> impl Iterator<Item = Option<&'static str>> {
        let member = self.member(connection);
        let part = move |tonight: &Tonight| tonight.part_in_run(run, member?);
        [&self.tonight].into_iter().chain(self.before.iter().rev()).filter_map(part)
    }

    /// What is on disk, in order, with what was set up by each event that called places.
    pub(super) fn kept(&self) -> impl Iterator<Item = (&Event, Option<&Up>)> {
        self.on_disk.iter().map(|event| (event, self.placed.get(&event.id)))
    }

    /// The journal's events, as they are read back: those that were given to the disk, each once and in that order.
    pub(super) fn equals(&self, read: &[Event]) -> Checked {
        let different = self.on_disk.iter().zip(read).find(|(one, other)| one != other);
        if let Some((written, read)) = different {
            return Err(format!("written was {written:?}, and read is {read:?}"));
        }
        match (self.on_disk.len(), read.len()) {
            (written, read) if written == read => Ok(()),
            (written, read) => Err(format!("{written} events were written, and {read} are read")),
        }
    }

    /// How each run that is on disk ended, by what is on disk after its start. A server that dies may leave its end out.
    pub(super) fn ends(&self) -> BTreeMap<u32, Option<RunEnd>> {
        let mut ends = BTreeMap::new();
        let mut goes = None;
        for event in &self.on_disk {
            let how = match &event.what {
                What::Start { .. } => {
                    goes = event.run;
                    ends.extend(event.run.map(|run| (run, None)));
                    continue;
                }
                What::Hold { .. } => RunEnd::Held,
                What::Stop { .. } => RunEnd::Stopped,
                What::Complete => RunEnd::Complete,
                _ => continue,
            };
            ends.extend(goes.take().filter(|run| event.run == Some(*run)).map(|run| (run, Some(how))));
        }
        ends
    }
}
