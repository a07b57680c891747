//! Evenings made up by chance, played through the call, a real journal and the review, beside a second statement of what
//! their record must be: who was there and who was not, who covered for whom, what was checked, the order and what of it was
//! done, the runs, the holds with their reasons and releases, who ended and who signed. The statement is made of what was
//! asked and refused alone and shares no code with the call.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::Arc;

use holdfast::call::*;
use holdfast::event::Entry;
use holdfast::journal::{Journal, MemberJoined, Reader, Record, SessionStart};
use holdfast::review::{CallRecord, Filter, House, Review};
use holdfast::units::{Micros, ServerTime};
use proptest::prelude::*;

use crate::support::fights::duel;

const FIGHTS: [(&str, [&str; 2]); 3] =
    [("The Quay", ["MARET", "OSK"]), ("The Stair", ["OSK", "TILDA"]), ("The Cellar", ["MARET", "TILDA"])];
const PARTS: [&str; 3] = ["MARET", "OSK", "TILDA"];
const PHRASES: [&str; 2] = ["phrase 1", "phrase 2"];
/// Everybody with a phone, by number from 1, and the part they came with.
const PEOPLE: [(&str, Role, Option<&str>); 6] = [
    ("Ines", Role::Desk, None),
    ("Zan", Role::Captain, None),
    ("Bea", Role::Performer, Some("MARET")),
    ("Cem", Role::Performer, Some("OSK")),
    ("Ute", Role::Performer, Some("TILDA")),
    ("Dag", Role::Performer, None),
];
/// Two more whom the desk knows by name alone.
const NAMES: [&str; 8] = ["Ines", "Zan", "Bea", "Cem", "Ute", "Dag", "Oda", "Pim"];
const CHECKS: [&str; 2] = ["floor", "weapons"];
const REASONS: [&str; 2] = ["distance", "footing"];

/// What somebody does.
#[derive(Clone, Debug)]
enum Does {
    Attend(usize, bool),
    Give(usize, Option<usize>),
    Cast(usize, usize, Option<usize>),
    Add {
        fight: usize,
        from: usize,
        to: usize,
        percent: Option<u16>,
        stale: bool,
    },
    TakeOut(usize),
    Move(usize, usize),
    Faster(usize),
    Tick(usize, bool),
    PlacesFor(usize),
    Places {
        fight: usize,
        first: usize,
        last: usize,
        percent: u16,
    },
    Start,
    Wait(i64),
    ToItsEnd,
    /// It comes to its end, and a hold of just before arrives behind that.
    HeldAtItsEnd(usize),
    Hold(usize),
    Reason(usize),
    Release(bool),
    Stop,
    Sign(usize, bool),
    NearMiss(usize),
    Lost(usize),
    Back(usize),
    End(bool),
}

fn does() -> impl Strategy<Value = Does> {
    let somebody = || 0usize..6;
    let percent = || prop_oneof![Just(50u16), Just(80), Just(100)];
    prop_oneof![
        6 => (0usize..8, prop::bool::weighted(0.4)).prop_map(|(who, there)| Does::Attend(who, there)),
        2 => (0usize..6, prop::option::of(0usize..3)).prop_map(|(who, part)| Does::Give(who, part)),
        6 => (0usize..3, 0usize..3, prop::option::weighted(0.8, 1usize..6)).prop_map(|(fight, part, who)| Does::Cast(fight, part, who)),
        3 => (0usize..3, 0usize..2, 0usize..2, prop::option::weighted(0.8, percent()), prop::bool::weighted(0.2))
            .prop_map(|(fight, from, to, percent, stale)| Does::Add { fight, from, to, percent, stale }),
        1 => (0usize..5).prop_map(Does::TakeOut),
        2 => (0usize..5, 0usize..5).prop_map(|(from, to)| Does::Move(from, to)),
        1 => (0usize..5).prop_map(Does::Faster),
        2 => (0usize..5, any::<bool>()).prop_map(|(at, done)| Does::Tick(at, done)),
        8 => (0usize..5).prop_map(Does::PlacesFor),
        3 => (0usize..3, 0usize..2, 0usize..2, percent()).prop_map(|(fight, first, last, percent)| Does::Places { fight, first, last, percent }),
        9 => Just(Does::Start),
        2 => (1i64..3_000).prop_map(Does::Wait),
        7 => Just(Does::ToItsEnd),
        1 => somebody().prop_map(Does::HeldAtItsEnd),
        2 => somebody().prop_map(Does::Hold),
        2 => (0usize..2).prop_map(Does::Reason),
        4 => any::<bool>().prop_map(Does::Release),
        1 => Just(Does::Stop),
        1 => (0usize..2, any::<bool>()).prop_map(|(check, in_order)| Does::Sign(check, in_order)),
        1 => somebody().prop_map(Does::NearMiss),
        1 => somebody().prop_map(Does::Lost),
        1 => somebody().prop_map(Does::Back),
        1 => any::<bool>().prop_map(Does::End),
    ]
}

/// The hold's number, who called first, why, who released it.
type Broke = (Option<u32>, String, Option<String>, Option<String>);

/// What stands in a record, as far as it is said here.
#[derive(Clone, Debug, Default, PartialEq)]
struct Said {
    present: BTreeMap<String, Option<String>>,
    /// With the part, and whether they had run before.
    absent: BTreeMap<String, (Option<String>, bool)>,
    /// Who performs, of whom nothing was noted and nobody has seen anything.
    unseen: BTreeSet<String>,
    /// Fight, part, who, for whom.
    covers: BTreeSet<(String, String, String, String)>,
    checks: BTreeMap<String, bool>,
    /// What, whether it is done, and its runs.
    order: Vec<(String, bool, Vec<u32>)>,
    /// Number, fight, speed, and how it came.
    runs: Vec<(u32, String, Option<u16>, String)>,
    breaks: Vec<Broke>,
    near_misses: usize,
    ended: bool,
    signed_by: Option<String>,
}

impl Said {
    fn of(record: &CallRecord) -> Said {
        let of_absent = |it: &holdfast::review::Person| (it.who.clone(), (it.part.clone(), it.since.is_some()));
        Said {
            present: record.present.iter().map(|it| (it.who.clone(), it.part.clone())).collect(),
            absent: record.absent.iter().map(of_absent).collect(),
            unseen: BTreeSet::new(),
            // Who usually plays what by the runs of before is another matter.
            covers: BTreeSet::new(),
            checks: record.checks.iter().map(|it| (it.check.clone(), it.in_order)).collect(),
            order: record.order.iter().map(|it| (it.says.clone(), it.done, it.runs.clone())).collect(),
            runs: record
                .runs
                .iter()
                .map(|it| (it.run, it.fight.clone(), it.speed, it.how.words().to_owned()))
                .collect(),
            breaks: record
                .breaks
                .iter()
                .map(|it| (it.hold, it.callers[0].who.clone(), it.reason.clone(), it.released_by.clone()))
                .collect(),
            near_misses: record.near_misses.len(),
            ended: record.ended_by.is_some(),
            signed_by: record.signed_by.clone(),
        }
    }
}

/// An item of the order, as this statement has it.
#[derive(Clone, Debug, PartialEq)]
struct Line {
    planned: Planned,
    done: bool,
    runs: Vec<u32>,
}

/// A run that is set up or goes.
#[derive(Clone, Debug)]
struct Up {
    fight: usize,
    percent: Option<u16>,
    /// Its item, and whether it goes to the end of it.
    item: Option<(u32, bool)>,
    going: bool,
    /// Its number, once it was started.
    number: Option<u32>,
}

/// The second statement.
struct Ledger {
    own: BTreeMap<String, String>,
    linked: BTreeSet<String>,
    seen: BTreeSet<String>,
    /// Present or not, and the part of whoever is not.
    noted: BTreeMap<String, (bool, Option<String>)>,
    cast: BTreeMap<(usize, &'static str), String>,
    /// The order as the call says it, by the number of an item; what is done of it is said here.
    lines: BTreeMap<u32, Line>,
    order: Vec<u32>,
    /// True once the order must be on record.
    on_record: bool,
    /// Who ran what last in this call.
    ran: BTreeMap<String, String>,
    up: Option<Up>,
    held: Option<u32>,
    next_run: u32,
    next_hold: u32,
    /// Everybody in each run, with for whom: checked against the events.
    casts: BTreeMap<u32, Vec<(String, String, Option<String>)>>,
    now: Said,
    calls: Vec<Said>,
}

impl Ledger {
    fn is_away(&self, name: &str) -> bool {
        self.noted.get(name).is_some_and(|(there, _)| !there)
    }

    /// Who plays a part of a fight, found person by person: whoever was cast and is there, else whoever has it, is there and
    /// was not cast for the other part.
    fn plays(&self, fight: usize, part: &str) -> Option<String> {
        let chosen = |part: &str| {
            let found = self.cast.iter().find(|((of, it), _)| *of == fight && *it == part);
            found.map(|(_, name)| name.clone()).filter(|name| !self.is_away(name))
        };
        chosen(part).or_else(|| {
            let other = FIGHTS[fight].1.into_iter().find(|it| *it != part)?;
            let has = self.own.iter().find(|(_, own)| *own == part).map(|(name, _)| name.clone())?;
            (!self.is_away(&has) && chosen(other).as_ref() != Some(&has)).then_some(has)
        })
    }

    fn covers(&self, part: &str, player: &str) -> Option<String> {
        let absent = self.noted.iter().find(|(_, (there, had))| !there && had.as_deref() == Some(part));
        let absent = absent.map(|(name, _)| name.clone()).filter(|name| name != player);
        let has = self.own.iter().find(|(name, own)| *own == part && *name != player).map(|(name, _)| name.clone());
        absent.or(has)
    }

    fn end_of_run(&mut self, how: &str) {
        let Some(up) = self.up.as_mut().filter(|up| up.going) else { return };
        up.going = false;
        let number = up.number.unwrap();
        if how == "to its end"
            && let Some((item, true)) = up.item
            && let Some(line) = self.lines.get_mut(&item)
        {
            line.done = true;
        }
        self.now.runs.iter_mut().find(|run| run.0 == number).unwrap().3 = how.to_owned();
    }

    /// This call is over.
    fn close(&mut self) {
        let mut said = std::mem::take(&mut self.now);
        for (name, role, _) in PEOPLE {
            let there = self.ran.contains_key(name)
                || self.noted.get(name).map_or(self.seen.contains(name), |(present, _)| *present);
            // Parts that changed hands later are those of the members as they are in the end: put in there.
            if there {
                said.present.insert(name.to_owned(), self.ran.get(name).cloned());
            }
            match self.noted.get(name) {
                Some((false, had)) => {
                    let ran = self.ran.get(name).cloned();
                    said.absent.insert(name.to_owned(), (had.clone().or(ran.clone()), ran.is_some()));
                }
                _ if !there && role == Role::Performer => {
                    said.unseen.insert(name.to_owned());
                }
                _ => {}
            }
        }
        for (name, (present, had)) in self.noted.iter().filter(|(name, _)| PEOPLE.iter().all(|it| it.0 != **name)) {
            match present {
                true => drop(said.present.insert(name.clone(), None)),
                false => drop(said.absent.insert(name.clone(), (had.clone(), false))),
            }
        }
        if self.on_record {
            let lines = self.order.iter().map(|id| &self.lines[id]);
            said.order = lines.map(|line| (says(&line.planned), line.done, line.runs.clone())).collect();
        }
        if !said.runs.is_empty() || !said.breaks.is_empty() || said.near_misses > 0 || !said.checks.is_empty() {
            self.calls.push(said);
        }
        self.seen = self.linked.clone();
        (self.on_record, self.up) = (false, None);
        self.noted.clear();
        self.cast.clear();
        self.ran.clear();
        self.lines.clear();
    }
}

/// What is to be done, written out again.
fn says(planned: &Planned) -> String {
    let speed = planned.percent.map_or("walk-through".to_owned(), |percent| format!("{percent} %"));
    match (&planned.from, &planned.to) {
        (Some(from), Some(to)) if from == to => format!("{}, {from}, {speed}", planned.fight),
        (Some(from), Some(to)) => format!("{}, {from} to {to}, {speed}", planned.fight),
        _ => format!("{}, {speed}", planned.fight),
    }
}

fn usual() -> UsualEvening {
    let whole = |fight: usize, percent| Planned {
        fight: FIGHTS[fight].0.into(),
        weapons: None,
        from: None,
        to: None,
        percent,
        count_in: Some(0),
    };
    let order = vec![whole(0, Some(50)), whole(1, None), whole(2, Some(100))];
    UsualEvening { order, covers: BTreeMap::new(), count_in: None }
}

/// An evening that is played.
struct Evening {
    call: Call,
    now: ServerTime,
    journal: Journal,
    ledger: Ledger,
    taps: u32,
}

impl Evening {
    fn open(folder: &Path) -> Evening {
        let utc = "2026-10-04T18:00:00Z".parse().unwrap();
        let journal = Journal::open(folder, &SessionStart { utc, server: "0.0.0-test".into() }).unwrap();
        let settings = Settings {
            horizon: Micros::millis(1_500),
            lead: Micros::millis(500),
            hold_on_lost_link: Vec::new(),
            before_call: Vec::new(),
            why: Why { reasons: REASONS.map(str::to_owned).into(), ..Why::default() },
            evening: usual(),
        };
        let settings = Settings { before_call: CHECKS.map(str::to_owned).into(), ..settings };
        let digits = ['1', '2', '3'];
        let fights =
            FIGHTS.iter().zip(digits).map(|((name, two), digit)| duel(name, *two, digit, 120.0, &[&[0, 1], &[0, 2]]));
        let call = Call::new(settings, fights.collect(), Before { sessions: 1, last_run: 0, last_hold: 0 });
        let ledger = Ledger {
            own: BTreeMap::new(),
            linked: BTreeSet::new(),
            seen: BTreeSet::new(),
            noted: BTreeMap::new(),
            cast: BTreeMap::new(),
            lines: BTreeMap::new(),
            order: Vec::new(),
            on_record: false,
            ran: BTreeMap::new(),
            up: None,
            held: None,
            next_run: 1,
            next_hold: 1,
            casts: BTreeMap::new(),
            now: Said::default(),
            calls: Vec::new(),
        };
        let mut evening = Evening { call, now: ServerTime(1_000_000), journal, ledger, taps: 0 };
        for (number, (name, role, part)) in (1..).zip(PEOPLE) {
            let (name, part) = (name.to_owned(), part.map(str::to_owned));
            evening.journal.record(Record::MemberJoined(MemberJoined {
                member: number,
                name: name.clone(),
                role,
                part: part.clone(),
                key_sha256: format!("{number:064}"),
                utc,
            }));
            evening.ledger.own.extend(part.clone().map(|part| (name.clone(), part)));
            evening.ledger.linked.insert(name.clone());
            evening.ledger.seen.insert(name.clone());
            assert!(evening.give(Input::Joined { member: MemberId(number), name, role, part, instead_of: None }));
        }
        evening.look_at_the_order();
        evening
    }

    /// Gives something to the call, and what it says to the journal. True when nothing was refused.
    fn give(&mut self, input: Input) -> bool {
        let outputs = self.call.handle(self.now, input);
        let taken = !outputs.iter().any(|output| matches!(output, Output::Refused { .. }));
        self.keep(outputs);
        taken
    }

    fn keep(&mut self, outputs: Vec<Output>) {
        let begin: jiff::Timestamp = "2026-10-04T18:00:00Z".parse().unwrap();
        let utc = jiff::Timestamp::from_microsecond(begin.as_microsecond() + self.now.0).unwrap();
        for output in outputs {
            if let Output::Journal(entry) = output {
                if let Entry::Event(event) = &entry {
                    assert!(event.at <= self.now);
                }
                self.journal.record(Record::of(utc, entry));
            }
        }
    }

    /// No pull can come any more for what is over by now.
    fn settle(&mut self) {
        let settled = self.call.settle(self.now);
        self.keep(settled);
    }

    fn act(&mut self, by: usize, act: Act) -> bool {
        self.ledger.seen.insert(PEOPLE[by].0.to_owned());
        self.ledger.linked.insert(PEOPLE[by].0.to_owned());
        self.now = self.now + Micros::millis(5);
        self.give(Input::From(MemberId(by as u32 + 1), act))
    }

    /// What the call says of its order, for what is not said here: which numbers its items have.
    fn look_at_the_order(&mut self) {
        let items = self.call.evening().items();
        self.ledger.order = items.iter().map(|item| item.id).collect();
        for item in items {
            let new = || Line { planned: item.planned.clone(), done: false, runs: Vec::new() };
            let line = self.ledger.lines.entry(item.id).or_insert_with(new);
            assert_eq!(line.planned, item.planned, "the same number is the same thing to be done");
        }
    }

    fn asked(&self) -> Vec<Ordered> {
        let items = self.call.evening().items().iter();
        items.map(|item| Ordered { id: Some(item.id), planned: item.planned.clone(), done: None }).collect()
    }

    /// The desk gives the order.
    fn order(&mut self, items: Vec<Ordered>, stale: bool) -> bool {
        let what = |items: &[Ordered]| items.iter().map(|it| (it.id, it.planned.clone())).collect::<Vec<_>>();
        let says =
            |it: &Ordered| it.done.is_some_and(|done| it.id.is_none_or(|id| self.ledger.lines[&id].done != done));
        let asked = what(&self.asked()) != what(&items) || items.iter().any(says);
        let seen = self.call.evening().version();
        let taken = self.act(0, Act::Order { items, seen: if stale { seen.wrapping_sub(1) } else { seen } });
        assert_eq!(taken, !stale, "an order is given by who has seen the one before");
        self.ledger.on_record |= taken && asked;
        self.look_at_the_order();
        taken
    }

    fn does(&mut self, does: Does) {
        self.settle();
        let going = self.ledger.up.as_ref().is_some_and(|up| up.going);
        match does {
            Does::Attend(who, present) => self.attend(NAMES[who], present),
            Does::Give(who, part) => self.give_part(who, part.map(|part| PARTS[part]), going),
            Does::Cast(fight, part, who) => self.cast(fight, PARTS[part], who, going),
            Does::Add { fight, from, to, percent, stale } => {
                let (from, to) = (from.min(to), from.max(to));
                let mut items = self.asked();
                let planned = Planned {
                    fight: FIGHTS[fight].0.into(),
                    weapons: None,
                    from: Some(PHRASES[from].into()),
                    to: Some(PHRASES[to].into()),
                    percent,
                    count_in: Some(0),
                };
                items.push(Ordered { id: None, planned, done: None });
                self.order(items, stale);
            }
            Does::TakeOut(at) => {
                let mut items = self.asked();
                if at < items.len() {
                    items.remove(at);
                    self.order(items, false);
                }
            }
            Does::Move(from, to) => {
                let mut items = self.asked();
                if from < items.len() && to < items.len() && from != to {
                    let item = items.remove(from);
                    items.insert(to, item);
                    self.order(items, false);
                }
            }
            Does::Faster(at) => {
                let mut items = self.asked();
                if let Some(item) = items.get_mut(at) {
                    item.planned.percent = Some(item.planned.percent.map_or(50, |percent| percent + 1));
                    self.order(items, false);
                }
            }
            Does::Tick(at, done) => {
                let mut items = self.asked();
                if let Some(item) = items.get_mut(at) {
                    item.done = Some(done);
                    let id = item.id.unwrap();
                    self.order(items, false);
                    self.ledger.lines.get_mut(&id).unwrap().done = done;
                }
            }
            Does::PlacesFor(at) => self.places_for(at, going),
            Does::Places { fight, first, last, percent } => {
                self.places(fight, (first.min(last), first.max(last)), percent, going)
            }
            Does::Start => self.start(),
            Does::Wait(ms) => {
                self.now = self.now + Micros::millis(ms);
                self.give(Input::Tick);
                self.look_whether_it_is_over();
                self.settle();
            }
            Does::ToItsEnd => {
                self.play_out();
                self.settle();
            }
            Does::HeldAtItsEnd(by) => {
                let end = self.call.run().and_then(Run::end).filter(|_| going);
                if let Some(end) = end {
                    self.now = end + Micros::millis(3);
                    self.give(Input::Tick);
                    self.hold(by, end - Micros(1));
                }
            }
            Does::Hold(by) => self.hold(by, self.now),
            Does::Reason(which) => self.reason(which),
            Does::Release(by_desk) => self.release(by_desk),
            Does::Stop => {
                let at_places = matches!(self.call.stage(), Stage::Places(_));
                let taken = self.act(0, Act::Stop("a strap".into()));
                assert_eq!(taken, going || at_places);
                if taken {
                    self.ledger.end_of_run("stopped");
                    self.ledger.now.breaks.push((None, "Ines".into(), Some("a strap".into()), None));
                }
            }
            Does::Sign(check, in_order) => {
                let check = CHECKS[check].to_owned();
                assert!(self.act(1, Act::Sign { check: check.clone(), in_order, note: None, by: None }));
                self.ledger.now.checks.insert(check, in_order);
            }
            Does::NearMiss(by) => {
                let reported = Reported { by: None, run: None, at: None, reason: None, note: Some(format!("{by}")) };
                self.give(Input::Reported(reported));
                self.ledger.now.near_misses += 1;
            }
            Does::Lost(who) => {
                if self.call.roster().get(MemberId(who as u32 + 1)).unwrap().linked {
                    self.give(Input::LinkLost(MemberId(who as u32 + 1)));
                    self.ledger.linked.remove(PEOPLE[who].0);
                }
            }
            Does::Back(who) => {
                if !self.call.roster().get(MemberId(who as u32 + 1)).unwrap().linked {
                    self.give(Input::LinkBack(MemberId(who as u32 + 1)));
                    self.ledger.linked.insert(PEOPLE[who].0.to_owned());
                    self.ledger.seen.insert(PEOPLE[who].0.to_owned());
                }
            }
            Does::End(signed) => self.end(signed, going),
        }
        self.nobody_plays_twice();
    }

    fn attend(&mut self, name: &str, present: bool) {
        let ledger = &mut self.ledger;
        if ledger.noted.get(name).map(|(there, _)| *there) != Some(present) {
            let had = ledger.own.get(name).cloned().filter(|_| !present);
            ledger.noted.insert(name.to_owned(), (present, had));
        }
        assert!(self.act(0, Act::Attend { person: name.to_owned(), present }));
    }

    fn give_part(&mut self, who: usize, part: Option<&'static str>, going: bool) {
        let (name, role, _) = PEOPLE[who];
        let may = !going && role == Role::Performer && (part.is_none() || !self.ledger.is_away(name));
        let act = Act::TakePart { member: MemberId(who as u32 + 1), part: part.map(str::to_owned) };
        assert_eq!(self.act(0, act), may, "{name} gets {part:?}");
        if may {
            self.ledger.own.retain(|has, own| has != name && Some(own.as_str()) != part);
            if let Some(part) = part {
                self.ledger.own.insert(name.to_owned(), part.to_owned());
                self.ledger.cast.retain(|(_, it), _| *it != part);
            }
        }
    }

    fn cast(&mut self, fight: usize, part: &'static str, who: Option<usize>, going: bool) {
        let ledger = &self.ledger;
        let has_part = FIGHTS[fight].1.contains(&part);
        let other = FIGHTS[fight].1.into_iter().find(|it| *it != part);
        let same = |name: &str| ledger.cast.get(&(fight, part)).is_some_and(|cast| cast == name);
        let fits = |who: usize| {
            let (name, role, _) = PEOPLE[who];
            let twice = other.is_some_and(|other| ledger.plays(fight, other).as_deref() == Some(name));
            same(name) || role == Role::Performer && !ledger.is_away(name) && !twice
        };
        let may = !going && has_part && who.is_none_or(fits);
        let member = who.map(|who| MemberId(who as u32 + 1));
        let act = Act::Cast { fight: FIGHTS[fight].0.into(), part: part.into(), member };
        assert_eq!(self.act(0, act), may, "{who:?} plays {part} in {}", FIGHTS[fight].0);
        if may {
            match who {
                None => drop(self.ledger.cast.remove(&(fight, part))),
                Some(who) => {
                    let name = PEOPLE[who].0;
                    self.ledger.cast.retain(|(of, _), cast| *of != fight || cast != name);
                    self.ledger.cast.insert((fight, part), name.to_owned());
                }
            }
        }
    }

    fn places_for(&mut self, at: usize, going: bool) {
        let Some(id) = self.ledger.order.get(at).copied() else { return };
        let seen = self.call.last_event();
        let may = !going && self.ledger.held.is_none();
        assert_eq!(self.act(0, Act::PlacesFor { item: id, seen }), may);
        if may {
            let planned = self.ledger.lines[&id].planned.clone();
            let fight = FIGHTS.iter().position(|it| it.0 == planned.fight).unwrap();
            let (item, percent) = (Some((id, true)), planned.percent);
            self.ledger.up = Some(Up { fight, percent, item, going: false, number: None });
            self.ledger.on_record = true;
        }
    }

    fn places(&mut self, fight: usize, (first, last): (usize, usize), percent: u16, going: bool) {
        let (name, seen) = (FIGHTS[fight].0.to_owned(), self.call.last_event());
        let request = SetupRequest {
            fight: name.clone(),
            weapons: None,
            first,
            from_move: None,
            last,
            percent,
            count_in: 0,
            drive: Drive::Clock,
        };
        let may = !going && self.ledger.held.is_none();
        assert_eq!(self.act(0, Act::Places { request, seen }), may);
        if may {
            let before = self.ledger.up.as_ref().and_then(|up| up.item).map(|(id, _)| id);
            let item = before.filter(|id| self.ledger.order.contains(id)).and_then(|id| {
                let line = &self.ledger.lines[&id];
                let place = |phrase: &Option<String>, whole| {
                    phrase.as_ref().map_or(whole, |name| PHRASES.iter().position(|it| it == name).unwrap())
                };
                let of = (place(&line.planned.from, 0), place(&line.planned.to, 1));
                let inside = line.planned.fight == name && of.0 <= first && last <= of.1 && !line.done;
                inside.then_some((id, last == of.1))
            });
            self.ledger.up = Some(Up { fight, percent: Some(percent), item, going: false, number: None });
        }
    }

    fn start(&mut self) {
        if !matches!(self.call.stage(), Stage::Places(_)) {
            return;
        }
        let (generation, seen) = (self.call.generation(), self.call.last_event());
        assert!(self.act(0, Act::Start { generation, anyway: true, seen }));
        let ledger = &mut self.ledger;
        let number = ledger.next_run;
        ledger.next_run += 1;
        let fight = ledger.up.as_ref().unwrap().fight;
        let cast: Vec<(String, String, Option<String>)> = FIGHTS[fight]
            .1
            .into_iter()
            .filter_map(|part| {
                let player = ledger.plays(fight, part)?;
                let covers = ledger.covers(part, &player);
                Some((part.to_owned(), player, covers))
            })
            .collect();
        for (part, player, covers) in &cast {
            ledger.ran.insert(player.clone(), part.clone());
            let cover = |whom: &String| (FIGHTS[fight].0.to_owned(), part.clone(), player.clone(), whom.clone());
            ledger.now.covers.extend(covers.as_ref().map(cover));
        }
        ledger.casts.insert(number, cast);
        let up = ledger.up.as_mut().unwrap();
        (up.going, up.number) = (true, Some(number));
        if let Some(line) = up.item.and_then(|(id, _)| ledger.lines.get_mut(&id)) {
            line.runs.push(number);
        }
        ledger.now.runs.push((number, FIGHTS[fight].0.to_owned(), up.percent, "cut off or under way".into()));
    }

    fn play_out(&mut self) {
        while let Stage::Going(run, _) = self.call.stage() {
            if let Some(end) = run.end() {
                self.now = end.max(self.now);
                self.give(Input::Tick);
            } else {
                let (generation, from) = (self.call.generation(), self.call.steps());
                let step = Step { generation, from, way: Way::On };
                assert!(self.act(0, Act::Step(step)));
            }
            self.look_whether_it_is_over();
        }
    }

    fn look_whether_it_is_over(&mut self) {
        if matches!(self.call.stage(), Stage::Complete(_)) {
            self.ledger.end_of_run("to its end");
        }
    }

    fn hold(&mut self, by: usize, at: ServerTime) {
        self.taps += 1;
        let (id, generation) = (format!("tap {}", self.taps), self.call.generation());
        let tap = Tap { id, generation, queued: false, screen_cue: None, reason: None };
        let pulling = Pulling { by: Puller::Member(MemberId(by as u32 + 1), tap), at, dead: generation };
        assert!(self.give(Input::Pulled(pulling)));
        let name = PEOPLE[by].0.to_owned();
        let ledger = &mut self.ledger;
        ledger.seen.insert(name.clone());
        ledger.linked.insert(name.clone());
        if ledger.held.is_none() {
            ledger.end_of_run("held");
            ledger.held = Some(ledger.next_hold);
            ledger.now.breaks.push((Some(ledger.next_hold), name, None, None));
            ledger.next_hold += 1;
        }
    }

    fn reason(&mut self, which: usize) {
        let Some(number) = self.ledger.now.breaks.iter().rev().find_map(|it| it.0) else { return };
        let reason = REASONS[which].to_owned();
        assert!(self.act(1, Act::Reason { hold: HoldId(number), reason: reason.clone() }));
        let broke = self.ledger.now.breaks.iter_mut().find(|it| it.0 == Some(number)).unwrap();
        broke.2 = Some(reason);
    }

    fn release(&mut self, by_desk: bool) {
        let Stage::Held(hold, _) = self.call.stage() else { return };
        let (hold, seen) = (hold.id, hold.last_event);
        let by = usize::from(!by_desk);
        assert!(self.act(by, Act::Release { hold, seen }));
        self.ledger.held = None;
        let broke = self.ledger.now.breaks.iter_mut().find(|it| it.0 == Some(hold.0)).unwrap();
        broke.3 = Some(PEOPLE[by].0.to_owned());
    }

    fn end(&mut self, signed: bool, going: bool) {
        let signed_by = signed.then(|| "Ines Vale".to_owned());
        let may = !going && self.ledger.held.is_none();
        assert_eq!(self.act(0, Act::EndCall { signed_by: signed_by.clone() }), may);
        if may {
            self.settle();
            (self.ledger.now.ended, self.ledger.now.signed_by) = (true, signed_by);
            self.ledger.close();
            assert!(self.call.is_over(), "everybody is told that they may go");
            self.look_at_the_order();
        }
    }

    /// In no fight has anybody two parts, and nobody who is noted as absent has one that could be run next.
    fn nobody_plays_twice(&self) {
        for fight in self.call.fights() {
            let cast = self.call.cast_of(fight);
            let players: Vec<MemberId> = fight.parts().filter_map(|part| cast.player(part)).collect();
            let once: BTreeSet<MemberId> = players.iter().copied().collect();
            assert_eq!(players.len(), once.len());
            let name = |id: &MemberId| self.call.roster().get(*id).unwrap().name.clone();
            let going = matches!(self.call.stage(), Stage::Going(..));
            assert!(going || !once.iter().any(|id| self.ledger.is_away(&name(id))));
        }
    }
}

/// The record of an evening, and the second statement of it.
fn compare(plays: Vec<Does>) {
    let folder = tempfile::tempdir().unwrap();
    let mut evening = Evening::open(folder.path());
    plays.into_iter().for_each(|does| evening.does(does));
    evening.settle();
    let Evening { journal, mut ledger, .. } = evening;
    ledger.close();
    journal.close().unwrap();
    let reader = Reader::open(folder.path()).unwrap();
    let house = House { before_call: Vec::new(), ..House::default() };
    let review = Review::of(&reader, &house, &Filter::default()).unwrap();
    let mut calls = ledger.calls;
    assert_eq!(review.calls.len(), calls.len(), "{:#?}", review.calls);
    for (record, said) in review.calls.iter().zip(&mut calls) {
        let covers = std::mem::take(&mut said.covers);
        let told: BTreeSet<_> = record
            .understudies
            .iter()
            .map(|it| (it.fight.clone(), it.part.clone(), it.who.clone(), it.usually.clone()))
            .collect();
        assert!(told.is_superset(&covers), "{told:?} says nothing of {covers:?}");
        // Of whoever did not play, the members' list says the part that they have in the end.
        for (name, part) in &mut said.present {
            let own = ledger.own.get(name).filter(|_| PEOPLE.iter().any(|it| it.0 == name)).cloned();
            *part = part.take().or(own);
        }
        for (name, (part, _)) in &mut said.absent {
            let own = ledger.own.get(name).filter(|_| PEOPLE.iter().any(|it| it.0 == name)).cloned();
            *part = part.take().or(own);
        }
        for name in std::mem::take(&mut said.unseen) {
            let own = ledger.own.get(&name).cloned();
            said.absent.extend(own.map(|own| (name, (Some(own), false))));
        }
        assert_eq!(&Said::of(record), said);
    }
    let mut casts = BTreeMap::new();
    let starts = reader.events(holdfast::journal::EventFilter::default()).unwrap();
    for row in starts {
        if let holdfast::event::What::Start { begun: Some(begun), .. } = row.event.what {
            let cast = begun.cast.into_iter().map(|it| (it.part, it.person, it.covers)).collect::<Vec<_>>();
            casts.insert(begun.run, cast);
        }
    }
    assert_eq!(casts, ledger.casts, "who played, and for whom");
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 60, ..ProptestConfig::default() })]
    #[test]
    fn the_record_of_any_evening_is_right(plays in prop::collection::vec(does(), 1..70)) {
        compare(plays);
    }
}

#[test]
fn an_absence_stays_in_the_record_when_the_part_is_given_away() {
    // Bea is not there; Dag gets her part, the Quay is run to its end, and the call is signed.
    let given = vec![
        Does::Attend(2, false),
        Does::Give(5, Some(0)),
        Does::PlacesFor(0),
        Does::Start,
        Does::ToItsEnd,
        Does::End(true),
    ];
    compare(given);
    // She is not there; Dag covers for tonight, twice; in the Stair Dag plays another part.
    compare(vec![
        Does::Attend(2, false),
        Does::Cast(0, 0, Some(5)),
        Does::Cast(2, 0, Some(5)),
        Does::Cast(1, 2, Some(5)),
        Does::PlacesFor(0),
        Does::Start,
        Does::Attend(3, false),
        Does::ToItsEnd,
        Does::PlacesFor(1),
        Does::Start,
        Does::HeldAtItsEnd(1),
        Does::End(true),
    ]);
}

#[test]
fn what_comes_to_its_end_and_was_held_before_it_is_not_done() {
    let folder = tempfile::tempdir().unwrap();
    let mut evening = Evening::open(folder.path());
    for does in [Does::PlacesFor(0), Does::Start, Does::HeldAtItsEnd(2)] {
        evening.does(does);
    }
    assert!(!evening.call.evening().items()[0].is_done());
    assert_eq!(evening.call.item_under_way().map(|item| item.id), Some(evening.ledger.order[0]));
}

/// Scores change until an order is run: what is asked that is not there is said with what to choose.
#[test]
fn an_order_of_what_is_not_there_is_refused_in_words() {
    let fights: Vec<Arc<Fight>> = vec![duel("The Quay", ["MARET", "OSK"], '1', 120.0, &[&[0], &[1]])];
    let whole =
        Planned { fight: "The Quay".into(), weapons: None, from: None, to: None, percent: None, count_in: None };
    let rows = [
        (Planned { fight: "The Pier".into(), ..whole.clone() }, "no fight called “The Pier”"),
        (Planned { from: Some("phrase 9".into()), ..whole.clone() }, "no phrase called “phrase 9”"),
        (
            Planned { from: Some("phrase 2".into()), to: Some("phrase 1".into()), ..whole.clone() },
            "the phrase “phrase 2” comes after “phrase 1”",
        ),
        (Planned { percent: Some(300), ..whole.clone() }, "300 %"),
        (Planned { weapons: Some("wood".into()), ..whole.clone() }, "no weapons called “wood”"),
    ];
    for (planned, says) in rows {
        let error = planned.request(&fights, None).unwrap_err();
        assert!(error.contains(says), "{error}");
    }
    let request = whole.request(&fights, Some(3)).unwrap();
    assert_eq!((request.first, request.last, request.drive, request.count_in), (0, 1, Drive::Step, 3));
}

#[test]
fn an_order_from_a_screen_of_before_the_end_of_the_call_changes_nothing() {
    let folder = tempfile::tempdir().unwrap();
    let mut evening = Evening::open(folder.path());
    let seen = evening.call.evening().version();
    evening.does(Does::End(true));
    assert!(!evening.act(0, Act::Order { items: Vec::new(), seen }), "that was the order of the call before");
    assert_eq!(evening.call.evening().items().len(), 3);
    // Nor does one of another start of the server: what it told last may not have come to the disk.
    let seen = evening.call.evening().version();
    let before = Before { sessions: 2, last_run: 0, last_hold: 0 };
    let fights = evening.call.fights().to_vec();
    let settings = Settings {
        horizon: Micros::millis(1_500),
        lead: Micros::millis(500),
        hold_on_lost_link: Vec::new(),
        before_call: Vec::new(),
        why: Why::default(),
        evening: usual(),
    };
    assert!(evening.call.is_under_way(evening.now), "that the call is over is told until another begins");
    evening.call.restart(evening.now, settings, fights, before);
    assert!(evening.call.is_over());
    assert!(!evening.act(0, Act::Order { items: Vec::new(), seen }));
}

#[test]
fn whoever_comes_with_another_device_plays_what_they_were_cast_for() {
    let folder = tempfile::tempdir().unwrap();
    let mut evening = Evening::open(folder.path());
    evening.does(Does::Cast(0, 0, Some(5)));
    let (member, before) = (MemberId(7), MemberId(6));
    let joins =
        |instead_of| Input::Joined { member, name: "Dag".into(), role: Role::Performer, part: None, instead_of };
    evening.give(joins(Some(before)));
    let quay = Arc::clone(&evening.call.fights()[0]);
    assert_eq!(evening.call.cast_of(&quay).player("MARET"), Some(member));
    assert!(evening.call.roster().get(before).is_none());
}
