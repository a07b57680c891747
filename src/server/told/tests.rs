//! For any sequence of joins, leaves, reports, notes and links that come, go and ask at any time: whoever puts together
//! what they are told has exactly what is so, soon, and whoever shows nothing is told nothing of the others. The reader is
//! the one of [`crate::member`], and what it reads has gone over the wire.

use proptest::prelude::*;

use super::*;
use crate::call::Role;
use crate::event::{EventId, Maker};
use crate::member::Known;
use crate::wire::{
    self, AttendanceView, CheckView, DeviceView, FightChoice, Health, HoldRecord, HoldView, Lack, Link as LinkView,
    MemberView, MissingPart,
};

const MOST_MEMBERS: u32 = 6;
/// So many pages a member has open at the most.
const PAGES: u32 = 3;

#[derive(Clone, Debug)]
enum Event {
    Wait(i64),
    Join(u32),
    Leave(u32),
    Link(u32, u32),
    Unlink(u32, u32),
    Show(u32, u32, Vec<Subject>),
    Ready(u32, bool),
    Part(u32, Option<u8>),
    Device(u32, i64),
    Note(u32),
    Hold,
    Attend(u8, bool),
    NobodyNoted,
    Fights(u8),
    Trouble(bool),
    Check(u8),
    Missed(u32),
    Sound(bool),
    Spot(u32),
    Nothing,
}

fn event() -> impl Strategy<Value = Event> {
    let who = || 1..=MOST_MEMBERS;
    let page = || 0..PAGES;
    prop_oneof![
        6 => (0i64..400_000).prop_map(Event::Wait),
        3 => who().prop_map(Event::Join),
        1 => who().prop_map(Event::Leave),
        4 => (who(), page()).prop_map(|(who, page)| Event::Link(who, page)),
        1 => (who(), page()).prop_map(|(who, page)| Event::Unlink(who, page)),
        6 => (who(), page(), prop::sample::subsequence(&Subject::ALL[..], 0..=8))
            .prop_map(|(who, page, subjects)| Event::Show(who, page, subjects)),
        2 => (who(), any::<bool>()).prop_map(|(who, ready)| Event::Ready(who, ready)),
        1 => (who(), prop::option::of(0u8..3)).prop_map(|(who, part)| Event::Part(who, part)),
        3 => (who(), 0i64..9).prop_map(|(who, bound)| Event::Device(who, bound)),
        1 => (1u32..4).prop_map(Event::Note),
        1 => Just(Event::Hold),
        1 => (0u8..4, any::<bool>()).prop_map(|(who, present)| Event::Attend(who, present)),
        1 => Just(Event::NobodyNoted),
        1 => (0u8..3).prop_map(Event::Fights),
        1 => any::<bool>().prop_map(Event::Trouble),
        1 => (0u8..3).prop_map(Event::Check),
        1 => (0u32..3).prop_map(Event::Missed),
        1 => any::<bool>().prop_map(Event::Sound),
        1 => (0u32..3).prop_map(Event::Spot),
        1 => Just(Event::Nothing),
    ]
}

/// The link of a member's page.
fn link(who: u32, page: u32) -> LinkId {
    LinkId(u64::from(who * PAGES + page))
}

fn member(number: u32) -> MemberView {
    let (role, part) = (Role::Performer, None);
    let (joined, device, notes_taken) = (String::new(), None, true);
    let (name, link, ready) = (format!("Member {number:05}"), LinkView::Linked, false);
    MemberView { member: number, name, role, part, link, ready, joined, device, notes_taken, claims: None }
}

fn state() -> State {
    let well = Health { well: true, says: "Well.".into() };
    State {
        hold_call: true,
        now_us: 0,
        generation: 1,
        production: "The Harbour Company".into(),
        last_event: EventId { session: 1, maker: Maker::Call, number: 1 },
        stage: Stage::Idle,
        because: None,
        setup: None,
        run: None,
        over: false,
        next_speed: None,
        ready: None,
        hold: None,
        released: None,
        spot: None,
        sound: well.clone(),
        log: well,
    }
}

fn hold(number: u32) -> HoldRecord {
    let hold = HoldView {
        hold: number,
        generation: u64::from(number) + 1,
        at_us: 0,
        spot: None,
        percent: None,
        also: Vec::new(),
        calls: 1,
        last_event: EventId { session: 1, maker: Maker::Call, number: 1 },
        caller_count: 1,
        callers: Vec::new(),
        written: false,
        reason: None,
        released_by: None,
    };
    HoldRecord { hold, notes: Vec::new(), earlier_notes: 0 }
}

/// Somebody who reads what is told.
struct Reader {
    member: u32,
    you: You,
    state: State,
    known: Known,
    shows: BTreeSet<Subject>,
    asked: bool,
    heard: usize,
}

/// Everything that is so, and everybody who is told of it.
struct World {
    now: ServerTime,
    told: Told,
    present: Present,
    readers: BTreeMap<LinkId, Reader>,
    /// When it was last told, and how the call stood then.
    last: Option<(ServerTime, Matters)>,
    /// When the first change came that has not been told.
    waits_since: Option<ServerTime>,
    /// True while somebody waits for the first subjects that their new page shows.
    newcomer: bool,
}

impl World {
    fn new() -> World {
        World::told_at_most(1e9)
    }

    /// One in which each page is told so many bytes a second.
    fn told_at_most(bytes_a_second: f64) -> World {
        World {
            now: ServerTime(0),
            told: Told::new(bytes_a_second),
            present: Present::of(state()),
            readers: BTreeMap::new(),
            last: None,
            waits_since: None,
            newcomer: false,
        }
    }

    fn happens(&mut self, event: Event) {
        match event {
            Event::Wait(micros) => return self.wait(Micros(micros)),
            Event::Link(who, page) => self.link(who, page),
            Event::Unlink(who, page) => self.unlink(link(who, page)),
            Event::Show(who, page, subjects) => {
                self.told.show(link(who, page), &subjects);
                if let Some(reader) = self.readers.get_mut(&link(who, page)) {
                    self.newcomer |= !std::mem::replace(&mut reader.asked, true);
                    reader.shows = subjects.into_iter().collect();
                    self.waits_since.get_or_insert(self.now);
                }
            }
            change => {
                self.change(change);
                self.told.changed();
                self.waits_since.get_or_insert(self.now);
            }
        }
        self.tell_if_due();
    }

    fn wait(&mut self, micros: Micros) {
        let until = self.now + micros;
        while let Some(at) = self.told.deadline().filter(|at| *at <= until) {
            self.now = self.now.max(at);
            self.tell_if_due();
        }
        self.now = until;
    }

    fn unlink(&mut self, link: LinkId) {
        self.told.unlinked(link);
        self.readers.remove(&link);
    }

    fn link(&mut self, who: u32, page: u32) {
        let Some(member) = self.present.roster.iter().find(|member| member.member == who) else { return };
        let (you, state) = (self.own(member), self.present.state.clone());
        let link = link(who, page);
        self.told.linked(Speaker { member: MemberId(who), link }, you.clone(), &state);
        let shows = BTreeSet::new();
        let reader = Reader { member: who, you, state, known: Known::default(), shows, asked: false, heard: 0 };
        self.readers.insert(link, reader);
    }

    fn change(&mut self, change: Event) {
        let present = &mut self.present;
        match change {
            Event::Join(who) if present.roster.iter().all(|member| member.member != who) => {
                present.roster.push(member(who));
                present.roster.sort_by_key(|member| member.member);
                present.devices.push(DeviceView { member: who, visible: true, bound_us: None, late_us: None });
                present.missing.1.push(MissingPart { part: who.to_string(), name: None, lack: Lack::NotReady });
            }
            Event::Leave(who) => {
                present.roster.retain(|member| member.member != who);
                present.devices.retain(|device| device.member != who);
                present.missing.1.retain(|part| part.part != who.to_string());
                (0..PAGES).for_each(|page| self.unlink(link(who, page)));
            }
            Event::Ready(who, ready) => self.of(who, |member| member.ready = ready),
            Event::Part(who, part) => self.of(who, |member| member.part = part.map(|part| part.to_string())),
            Event::Device(who, bound) => {
                let devices = present.devices.iter_mut().filter(|device| device.member == who);
                devices.for_each(|device| device.bound_us = Some(bound));
            }
            Event::Note(number) => {
                let holds = present.holds.iter_mut().filter(|record| record.hold.hold == number);
                holds.for_each(|record| record.notes.push("a note".into()));
            }
            Event::Hold => {
                let number = present.holds.last().map_or(1, |record| record.hold.hold + 1);
                present.holds.push(hold(number));
                // Only the last ones are told.
                let old = present.holds.len().saturating_sub(3);
                present.holds.drain(..old);
                (present.state.stage, present.state.hold) = (Stage::Held, Some(hold(number).hold));
                present.state.generation += 1;
                present.missing.0 += 1;
            }
            Event::Attend(who, here) => {
                present.attendance.retain(|noted| noted.person != who.to_string());
                present.attendance.push(AttendanceView { person: who.to_string(), present: here });
            }
            Event::NobodyNoted => present.attendance.clear(),
            Event::Fights(many) => present.fights = (0..many).map(fight).collect(),
            Event::Trouble(there) => {
                present.troubles = there.then(|| "salt.fight cannot be read".into()).into_iter().collect()
            }
            Event::Check(many) => {
                present.checks =
                    (0..many).map(|check| CheckView { check: check.to_string(), trial: false, signed: None }).collect();
            }
            Event::Missed(count) => {
                present.near_misses.0 = count;
                present.why.0 = (0..count).map(|reason| reason.to_string()).collect();
            }
            Event::Sound(well) => present.state.sound.well = well,
            Event::Spot(phrase) => {
                let (phrase_name, beat) = ("one".to_owned(), "1".to_owned());
                present.state.spot = Some(wire::Spot { cue: 0, phrase, phrase_name, beat, r#move: None, words: None });
            }
            _ => {}
        }
    }

    fn of(&mut self, who: u32, change: impl Fn(&mut MemberView)) {
        self.present.roster.iter_mut().filter(|member| member.member == who).for_each(change);
    }

    fn matters(&self) -> Matters {
        let state = &self.present.state;
        let hold = state.hold.as_ref().map(|hold| HoldId(hold.hold));
        Matters { stage: state.stage, generation: Generation(state.generation), hold }
    }

    fn tell_if_due(&mut self) {
        let matters = self.matters();
        if !self.told.is_due(self.now, matters) {
            let late = self.waits_since.is_some_and(|since| self.now.since(since) >= GATHERED);
            assert!(!late || self.told.deadline().is_none(), "what has changed waits no longer than it is gathered");
            return;
        }
        if let Some((at, before)) = self.last {
            let gathered = if self.newcomer { FIRST } else { GATHERED };
            assert!(self.now.since(at) >= gathered || before != matters, "told again too soon");
        }
        self.last = Some((self.now, matters));
        self.waits_since = None;
        self.newcomer = false;
        self.present.state.now_us = self.now.0;
        // What nobody shows need not be there.
        let shown = self.told.shown();
        let mut present = self.present.clone();
        if !shown.contains(&Subject::Devices) {
            present.devices.clear();
        }
        if !shown.contains(&Subject::Fights) {
            present.fights.clear();
        }
        for telling in self.told.tell(self.now, matters, &present) {
            assert!(!telling.to.is_empty());
            self.told.spent(&telling.to, wire::encode(&telling.message).unwrap().len());
            for link in telling.to {
                self.hears(link, &telling.message);
            }
        }
        self.everybody_knows();
    }

    fn hears(&mut self, link: LinkId, message: &ToMember) {
        let bytes = wire::encode(message).unwrap();
        let reader = self.readers.get_mut(&link).expect("only those who are linked are told");
        reader.heard += bytes.len();
        match wire::decode(&bytes).unwrap() {
            ToMember::You(you) => reader.you = you,
            ToMember::State(state) => reader.state = *state,
            ToMember::Subject { tells } => {
                assert!(reader.shows.contains(&subject(&tells)), "told of what is not shown: {tells:?}");
                reader.known.take(&tells);
            }
            other => panic!("told something else: {other:?}"),
        }
    }

    fn own(&self, member: &MemberView) -> You {
        let newcomers = self.present.roster.iter().filter(|newcomer| newcomer.claims == Some(member.member));
        let of = self.present.roster.iter().find(|of| member.claims == Some(of.member));
        you(member, newcomers, of)
    }

    fn everybody_knows(&self) {
        for (link, reader) in &self.readers {
            let who = reader.member;
            let own = self.present.roster.iter().find(|member| member.member == who).map(|member| self.own(member));
            assert_eq!(own.as_ref(), Some(&reader.you), "member {who}");
            assert!(is_same(&reader.state, &self.present.state), "member {who} has another state");
            let waits = self.told.links.get(link).is_some_and(|link| link.waits);
            for subject in reader.shows.iter().filter(|_| !waits) {
                self.knows(reader, *subject);
            }
        }
    }

    fn knows(&self, reader: &Reader, subject: Subject) {
        let (known, present) = (&reader.known, &self.present);
        match subject {
            Subject::Roster => assert_eq!(values(&known.roster), present.roster),
            Subject::Devices => {
                let mut devices = present.devices.clone();
                devices.sort_by_key(|device| device.member);
                assert_eq!(values(&known.devices), devices);
            }
            Subject::Holds => assert_eq!(values(&known.holds), present.holds),
            Subject::Attendance => {
                let mut noted = present.attendance.clone();
                noted.sort_by(|a, b| a.person.cmp(&b.person));
                assert_eq!(values(&known.attendance), noted);
            }
            Subject::Fights => assert_eq!(known.fights.as_ref(), Some(&present.fights)),
            Subject::Troubles => assert_eq!(known.troubles.as_ref(), Some(&present.troubles)),
            Subject::Checks => assert_eq!(known.checks.as_ref(), Some(&present.checks)),
            Subject::Missing => assert_eq!(known.missing.as_ref(), Some(&present.missing)),
            Subject::Why => assert_eq!(known.why.as_ref(), Some(&present.why)),
            Subject::NearMisses => assert_eq!(known.near_misses.as_ref(), Some(&present.near_misses)),
            Subject::Tonight => assert_eq!(known.tonight.as_ref(), Some(&present.tonight)),
            Subject::Casts => assert_eq!(known.casts.as_ref(), Some(&present.casts)),
        }
    }
}

fn values<K, V: Clone>(known: &Option<BTreeMap<K, V>>) -> Vec<V> {
    known.as_ref().expect("it was told").values().cloned().collect()
}

fn subject(tells: &SubjectTold) -> Subject {
    match tells {
        SubjectTold::Roster { .. } => Subject::Roster,
        SubjectTold::Devices { .. } => Subject::Devices,
        SubjectTold::Holds { .. } => Subject::Holds,
        SubjectTold::Attendance { .. } => Subject::Attendance,
        SubjectTold::Fights { .. } => Subject::Fights,
        SubjectTold::Troubles { .. } => Subject::Troubles,
        SubjectTold::Checks { .. } => Subject::Checks,
        SubjectTold::Missing { .. } => Subject::Missing,
        SubjectTold::Why { .. } => Subject::Why,
        SubjectTold::NearMisses { .. } => Subject::NearMisses,
        SubjectTold::Tonight { .. } => Subject::Tonight,
        SubjectTold::Casts { .. } => Subject::Casts,
    }
}

fn fight(number: u8) -> FightChoice {
    FightChoice {
        fight: format!("Fight {number}"),
        revision: String::new(),
        phrases: Vec::new(),
        fighters: Vec::new(),
        bystanders: Vec::new(),
        beats_per_bar: 4,
        count_in: 4,
        errors: 0,
        warnings: 0,
        sets: Vec::new(),
        drill: false,
    }
}

proptest! {
    #[test]
    fn whoever_reads_has_what_is_so(events in prop::collection::vec(event(), 0..120)) {
        let mut world = World::new();
        for event in events {
            world.happens(event);
        }
        world.wait(GATHERED);
        prop_assert_eq!(world.told.deadline(), None, "nothing is left to tell");
        world.everybody_knows();
        prop_assert_eq!(
            world.told.links.len(),
            world.readers.len(),
            "nobody is kept who has gone"
        );
    }
}

proptest! {
    /// Whoever is told too much waits, is told no more than that for long, and has all of it in the end.
    #[test]
    fn whoever_is_told_too_much_has_it_later(events in prop::collection::vec(event(), 0..120), budget in 200u32..2_000) {
        let mut world = World::told_at_most(f64::from(budget));
        let mut waited = 0;
        for event in events {
            world.happens(event);
            waited += world.told.waiting().len();
        }
        world.wait(Micros::seconds(600));
        prop_assert_eq!(world.told.deadline(), None, "nothing is left to tell");
        prop_assert!(world.told.waiting().is_empty());
        world.everybody_knows();
        prop_assert!(waited < 10_000);
    }
}

#[test]
fn a_page_that_asks_for_the_roster_over_and_over_is_told_no_more_than_its_share() {
    let mut world = joined(200, &[1]);
    world.told.bytes_a_second = 20e3;
    world.happens(Event::Unlink(1, 0));
    world.happens(Event::Link(1, 0));
    let whole = wire::encode(&world.present.roster).unwrap().len();
    for _ in 0..50 {
        world.happens(Event::Show(1, 0, vec![]));
        world.happens(Event::Show(1, 0, vec![Subject::Roster]));
        world.wait(GATHERED);
    }
    let heard = world.readers[&link(1, 0)].heard;
    assert!(heard < 11 * 20_000 + whole + 2_000, "{heard} bytes in ten seconds, of a roster of {whole}");
    assert!(heard > 5 * 20_000, "and it is not starved: {heard}");
}

/// `joins` members join and link, a millisecond between them; those of `showing` show the roster. What each has heard.
fn joined(joins: u32, showing: &[u32]) -> World {
    let mut world = World::new();
    for who in 1..=joins {
        world.happens(Event::Join(who));
        world.happens(Event::Link(who, 0));
        if showing.contains(&who) {
            world.happens(Event::Show(who, 0, vec![Subject::Roster]));
        }
        world.happens(Event::Wait(1_000));
    }
    world.wait(GATHERED);
    world
}

#[test]
fn joining_costs_those_who_show_nothing_nothing() {
    let few: Vec<usize> = joined(20, &[1]).readers.values().map(|reader| reader.heard).collect();
    let many: Vec<usize> = joined(400, &[1]).readers.values().map(|reader| reader.heard).collect();
    assert!(few[0] > 20 * 60, "the one who shows the roster has it: {} bytes", few[0]);
    assert!(many[0] < 2 * 20 * few[0], "and pays for each once: {} bytes, {} for a twentieth", many[0], few[0]);
    let most = |heard: &[usize]| heard[1..].iter().copied().max().unwrap();
    assert!(most(&many) <= most(&few), "{} bytes, {} where there were few", most(&many), most(&few));
}

/// The same page asks again and again: what it was told stays told.
#[test]
fn asking_again_does_not_tell_it_all_again() {
    let mut world = joined(50, &[1]);
    let once = world.readers[&link(1, 0)].heard;
    for _ in 0..100 {
        world.happens(Event::Show(1, 0, vec![Subject::Roster]));
        world.happens(Event::Wait(50_000));
    }
    assert_eq!(world.readers[&link(1, 0)].heard, once);
}
