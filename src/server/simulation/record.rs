//! What must stand in the record: a small model of a call, which shares no code with the call. It is told what arrives at
//! the server and what the server writes down, and says at every moment at which nothing is under way whether each thing
//! that was written down was asked for, could be so, and is by whoever asked; whether what had to be done was done; and
//! how the call stands by it.

use std::collections::{BTreeMap, BTreeSet};

use crate::call::{MemberId, Role, Way};
use crate::event::{Called, DoorChange, Event, EventId, HoldId, Maker, RunEnd, What};
use crate::units::Generation;
use crate::wire::{DoorAsk, HoldTap, Stage, ToServer};

/// How the call stands.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) enum Stands {
    #[default]
    Idle,
    Places,
    Going,
    Held,
    Stopped,
    Complete,
}

impl Stands {
    /// How it stands by what members are told.
    pub(super) fn of(stage: Stage) -> Stands {
        match stage {
            Stage::Idle => Stands::Idle,
            Stage::Places => Stands::Places,
            Stage::CountIn | Stage::Running => Stands::Going,
            Stage::Held => Stands::Held,
            Stage::Stopped => Stands::Stopped,
            Stage::Complete => Stands::Complete,
        }
    }
}

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

/// The call by the record.
#[derive(Clone, Copy, Debug, Default)]
struct Call {
    stands: Stands,
    generation: u64,
    /// The last hold, and the event of its last call.
    hold: u32,
    last_call: Option<EventId>,
    /// The last event that brought the call where it stands, and the last one that changed who plays what.
    stood: Option<EventId>,
    cast: Option<EventId>,
    /// The last run that was begun, and whether any is set up.
    run: u32,
    has_run: bool,
    /// How many steps of it were taken.
    steps: u32,
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
    /// The members who play a part.
    playing: BTreeSet<u32>,
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
    pub(super) fn begin_life(&mut self, generation: u64, left: &[Event]) -> Checked {
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
        let mut call = Call::default();
        let mut of = session;
        for event in &self.story {
            call = if event.id.session == of { call } else { call.anew() };
            of = event.id.session;
            call = call.after(event);
        }
        self.call = Call { generation, stood, cast: None, ..call.anew() };
        self.known = self.story.iter().filter_map(|event| event.what.tap().map(str::to_owned)).collect();
        // Everything of earlier lives is dead.
        (self.dead, self.slept, self.introduced) = (Generation(generation).before().0, false, false);
        self.asked.clear();
        self.taps.clear();
        self.introductions.clear();
        self.performers.clear();
        self.members.clear();
        self.playing.clear();
        for event in self.story.clone() {
            self.casts(&event);
        }
        Ok(())
    }

    /// Who plays a part, after that event.
    fn casts(&mut self, event: &Event) {
        let plays = match &event.what {
            What::Joined { part } | What::Part { part } => part.is_some(),
            What::Left { .. } => false,
            _ => return,
        };
        if let Some(member) = event.member() {
            match plays {
                true => self.playing.insert(member),
                false => self.playing.remove(&member),
            };
        }
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
            let plays = now.is_some_and(|now| self.playing.contains(now));
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
    pub(super) fn rests(&mut self, dead: u64, (stands, generation): (Stands, u64)) -> Checked {
        let fresh = std::mem::take(&mut self.fresh);
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
            if before.does(only) && !done && !other {
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
        self.story.extend(fresh);
        (self.dead, self.introduced) = (dead, false);
        Ok(())
    }

    /// Each tap that arrived is written down once: as a call where it pulls, and as late where what it was meant for was
    /// dead.
    fn every_tap(&mut self, fresh: &[Event], dead: u64) -> Checked {
        let tapped = std::mem::take(&mut self.taps);
        let ends = |event: &Event| matches!(event.what, What::Places { .. } | What::Stop { .. } | What::Complete);
        let other = |event: &Event| event.what.tap().is_none() && (is_hold(event) || ends(event));
        let alone = tapped.len() == 1 && !fresh.iter().any(other);
        for tapped in tapped {
            let Tapped { name, tap, dead: was } = &tapped;
            let of = |event: &&Event| event.what.tap() == Some(tap.tap.as_str());
            let [event] = fresh.iter().filter(of).collect::<Vec<_>>()[..] else {
                return Err(format!("{tap:?} of {name} was written down {} times", fresh.iter().filter(of).count()));
            };
            if event.name().map(of_person) != Some(name.as_str()) {
                return Err(format!("{tap:?} of {name} is written down as {event:?}"));
            }
            let late = matches!(event.what, What::HoldLate { .. });
            let was_dead = tap.queued && tap.generation <= *was;
            let lives = !tap.queued || tap.generation > dead || (alone && tap.generation > self.dead);
            if (late && lives) || (!late && was_dead) {
                return Err(format!("up to {was} was dead, up to {dead} is, and {tap:?} is {:?}", event.what.word()));
            }
        }
        Ok(())
    }

    /// Something was written down: it was asked for, and could be so as the call stood.
    fn accept(&mut self, event: &Event) -> Checked {
        use Stands::{Going, Held, Places};
        let Call { stands, generation, hold, run, .. } = self.call;
        let Call { stood, cast, steps, .. } = self.call;
        self.call = self.call.after(event);
        self.casts(event);
        let could = match &event.what {
            What::Places { .. } => {
                self.take(event, |said| matches!(said, ToServer::Places { seen, .. } if Some(*seen) >= stood))?;
                !matches!(stands, Held | Going)
            }
            What::Ready => {
                self.take(event, |message| matches!(message, ToServer::Ready { ready: true, .. }))?;
                stands == Places
            }
            What::Start { begun, .. } => {
                let of = generation;
                let last = stood.max(cast);
                let this = |generation: u64, seen: EventId| generation == of && Some(seen) >= last;
                self.take(
                    event,
                    |said| matches!(said, ToServer::Start { generation, seen, .. } if this(*generation, *seen)),
                )?;
                let number = begun.as_ref().map(|begun| begun.run);
                // Of a run that a server's death cut off, the start may be missing.
                stands == Places && event.run > Some(run) && number == event.run
            }
            What::Stop { .. } => {
                self.take(event, |message| matches!(message, ToServer::Stop { .. }))?;
                matches!(stands, Going | Places)
            }
            What::Complete => stands == Going && event.who.is_none(),
            What::Release { hold: released } => {
                self.take(event, |said| matches!(said, ToServer::Release { hold, .. } if *hold == released.0))?;
                stands == Held && released.0 == hold
            }
            What::Hold { call, .. } => {
                self.pulled(event, call)?;
                stands != Held && call.hold.0 == hold + 1
            }
            What::HoldJoined(call) => {
                self.pulled(event, call)?;
                stands == Held && call.hold.0 == hold
            }
            What::HoldLate { tap, .. } => tap.as_ref().is_some_and(|tap| self.has_arrived(tap)),
            What::Speed { .. } => {
                self.take(event, |message| matches!(message, ToServer::Speed { .. }))?;
                stands == Going
            }
            What::Step { back } => {
                let (of, way) = (generation, if *back { Way::Back } else { Way::On });
                // Each step is asked for by somebody who had the one before it on their screen.
                let asks = |said: &ToServer| *said == ToServer::Step { generation: of, from: steps, way };
                self.take(event, asks)?;
                stands == Going
            }
            What::Note { hold: noted, .. } => {
                let of = noted.map(|hold| hold.0);
                self.take(event, |said| matches!(said, ToServer::Note { hold, .. } if Some(*hold) == of))?;
                noted.is_some_and(|noted| noted.0 <= hold)
            }
            What::Reason { hold: given, of, reason } => {
                let to = given.map(|hold| hold.0);
                let same = |said: &ToServer| matches!(said, ToServer::Reason { hold, reason: why } if Some(*hold) == to && why == reason);
                self.take(event, same)?;
                self.made(*of) == *given && given.is_some_and(|given| given.0 <= hold)
            }
            What::NearMiss { reason, note } => {
                let same = |said: &ToServer| {
                    matches!(said, ToServer::NearMiss { named, reason: why, note: noted, .. }
                        if *named == event.who.is_some() && (why, noted) == (reason, note))
                };
                self.take_of(event, same)?;
                true
            }
            What::Phrase => stands == Going,
            What::Joined { .. } | What::Left { .. } | What::LinkLost | What::LinkBack => true,
            // A newcomer is who they said, by the desk's word; their part comes with it. One word settles all.
            What::Part { part: Some(_) } => stands != Going && self.says_who_is_who(),
            What::Door(DoorChange::Same { newcomer, name }) => {
                stands != Going && self.says_who_is_who() && of_person(newcomer) == of_person(name)
            }
            _ => false,
        };
        if could { Ok(()) } else { Err(format!("that could not be in {:?}", Call { stands, ..self.call })) }
    }

    /// What has pulled is a tap that has arrived, a link that was lost while a run went, or a machine that slept.
    fn pulled(&self, event: &Event, call: &Called) -> Checked {
        let machine = event.name() == Some(MemberId::MACHINE_NAME) && self.slept;
        let link = event.who.as_ref().is_some_and(|who| who.role == Some(Role::Performer))
            && call.reason.as_deref() == Some("link lost");
        match &call.tap {
            Some(tap) if self.has_arrived(tap) => Ok(()),
            None if machine || link => Ok(()),
            _ => Err("nobody has called that".to_owned()),
        }
    }

    /// True when the desk has said that newcomers are who they said.
    fn says_who_is_who(&self) -> bool {
        let says = |asked: &Asked| matches!(asked.message, ToServer::Door { ask: DoorAsk::SameAll {} });
        self.asked.iter().any(|asked| asked.role == Role::Desk && says(asked))
    }

    fn has_arrived(&self, name: &str) -> bool {
        self.taps.iter().any(|tapped| tapped.tap.tap == name)
    }

    /// The hold that an event has made.
    fn made(&self, event: EventId) -> Option<HoldId> {
        let all = self.story.iter().chain(&self.settling);
        let made = |told: &Event| match &told.what {
            What::Hold { call, .. } if told.id == event => Some(call.hold),
            _ => None,
        };
        all.filter_map(made).next()
    }

    /// The same of what may be without a name: then whoever asked is not told either.
    fn take_of(&mut self, event: &Event, is: impl Fn(&ToServer) -> bool) -> Checked {
        if event.who.is_some() {
            return self.take(event, is);
        }
        let place = self.asked.iter().position(|asked| is(&asked.message));
        self.asked.remove(place.ok_or_else(|| format!("nobody has asked for that: {:?}", self.asked))?);
        Ok(())
    }

    /// What was written down was asked for by whoever is said to have done it, and it was asked for once.
    fn take(&mut self, event: &Event, is: impl Fn(&ToServer) -> bool) -> Checked {
        let by = |asked: &Asked| {
            event.who.as_ref().is_some_and(|who| {
                of_person(&who.name) == asked.name
                    && who.role == Some(asked.role)
                    && who.member == self.members.get(&asked.connection).copied()
            })
        };
        let place = self.asked.iter().position(|asked| by(asked) && is(&asked.message));
        self.asked.remove(place.ok_or_else(|| format!("nobody has asked for that: {:?}", self.asked))?);
        Ok(())
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

/// Whoever comes under a name that is there has a number behind it until it is said who they are.
fn of_person(name: &str) -> &str {
    name.split_once(" (").map_or(name, |(name, _)| name)
}

fn is_hold(event: &Event) -> bool {
    matches!(event.what, What::Hold { .. })
}

impl Call {
    /// How it stands after that event, and what whoever decides later must have seen.
    fn after(self, event: &Event) -> Call {
        use Stands::{Complete, Going, Held, Idle, Places, Stopped};
        let last = Some(event.id);
        let stood = |stands| Call { stands, stood: last, ..self };
        let ends = |stands| Call { generation: self.generation + 1, ..stood(stands) };
        match &event.what {
            What::Hold { call, .. } => Call { hold: call.hold.0, last_call: last, ..ends(Held) },
            What::HoldJoined(_) => Call { stood: last, last_call: last, ..self },
            What::Places { .. } => Call { has_run: true, ..ends(Places) },
            What::Start { .. } => Call { run: event.run.unwrap_or(self.run), steps: 0, ..stood(Going) },
            What::Step { .. } => Call { steps: self.steps + 1, ..self },
            What::Release { .. } => stood(if self.has_run { Stopped } else { Idle }),
            What::Stop { .. } => ends(Stopped),
            What::Complete => ends(Complete),
            What::Joined { part: Some(_) } | What::Left { part: Some(_) } | What::Part { .. } => {
                Call { cast: last, ..self }
            }
            _ => self,
        }
    }

    /// How it stands after the server was started anew: a hold that stands, stands, and nothing goes on.
    fn anew(self) -> Call {
        let stands = match self.stands {
            Stands::Places | Stands::Going => Stands::Stopped,
            other => other,
        };
        Call { stands, ..self }
    }

    /// True when this is to be done as the call stands, whatever else is so.
    fn does(self, asked: &Asked) -> bool {
        let leads = matches!(asked.role, Role::Desk | Role::Captain);
        match &asked.message {
            ToServer::Start { generation, anyway: true, seen } => {
                let seen = Some(*seen) >= self.stood.max(self.cast);
                self.stands == Stands::Places && *generation == self.generation && seen
            }
            ToServer::Release { hold, seen } => {
                leads && self.stands == Stands::Held && *hold == self.hold && Some(*seen) >= self.last_call
            }
            ToServer::Stop { .. } => leads && matches!(self.stands, Stands::Going | Stands::Places),
            // A move that cannot be begun at is refused with a sentence.
            ToServer::Places { setup, .. } if setup.from_move.is_some_and(|number| number > 3) => false,
            ToServer::Places { seen, .. } => {
                !matches!(self.stands, Stands::Held | Stands::Going) && Some(*seen) >= self.stood
            }
            ToServer::Ready { generation, .. } => self.stands == Stands::Places && *generation == self.generation,
            ToServer::NearMiss { .. } => true,
            ToServer::Note { hold, .. } => leads && self.stands == Stands::Held && *hold == self.hold,
            _ => false,
        }
    }
}
