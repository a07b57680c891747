//! The call under everything that can happen to it, in every order: what may never happen does not.

use std::collections::{BTreeMap, BTreeSet};

use holdfast::call::*;
use holdfast::units::{Generation, Micros, ServerTime};
use proptest::prelude::*;

use crate::support::fights::fight_of;

const MEMBERS: u32 = 6;
const ROLES: [Role; 6] = [Role::Desk, Role::Captain, Role::Performer, Role::Performer, Role::Observer, Role::Sound];

/// One thing that happens in a made-up rehearsal.
#[derive(Clone, Debug)]
enum Event {
    Wait(i64),
    UntilDeadline,
    Join(u32),
    Gone(u32),
    Lost(u32),
    Back(u32),
    Hold { by: u32, tap: u8, queued: bool, old: u32 },
    Written,
    Release { by: u32, calls_off: u32, hold_off: u32 },
    Stop(u32),
    Ready { by: u32, old: u32 },
    Part { by: u32, whose: u32, part: Option<bool> },
    Places { by: u32, first: usize, last: usize, percent: u16, step: bool },
    Start { by: u32, old: u32, anyway: bool },
    Step { by: u32, old: u32 },
    Speed { by: u32, percent: u16 },
    Note(u32),
    Sign { by: u32, check: usize, in_order: bool },
    Attend { by: u32, who: u8, present: bool },
    End(u32),
}

/// What the company checks; the last one is on nobody's list.
const CHECKS: [&str; 3] = ["weapons", "floor", "weather"];

fn event() -> impl Strategy<Value = Event> {
    let who = || 0..MEMBERS;
    // The desk acts more often than chance would have it, so that runs do start.
    let desk = || prop_oneof![4 => Just(0u32), 1 => 0..MEMBERS];
    prop_oneof![
        8 => (0i64..3_000_000).prop_map(Event::Wait),
        1 => (0i64..20_000_000_000).prop_map(Event::Wait),
        8 => Just(Event::UntilDeadline),
        1 => who().prop_map(Event::Join),
        1 => who().prop_map(Event::Gone),
        1 => who().prop_map(Event::Lost),
        1 => who().prop_map(Event::Back),
        4 => (who(), 0u8..12, prop::bool::weighted(0.3), 0u32..2).prop_map(|(by, tap, queued, old)| Event::Hold { by, tap, queued, old }),
        2 => Just(Event::Written),
        4 => (desk(), 0u32..2, 0u32..2).prop_map(|(by, calls_off, hold_off)| Event::Release { by, calls_off, hold_off }),
        1 => desk().prop_map(Event::Stop),
        2 => (who(), 0u32..2).prop_map(|(by, old)| Event::Ready { by, old }),
        1 => (who(), who(), prop::option::of(any::<bool>())).prop_map(|(by, whose, part)| Event::Part { by, whose, part }),
        6 => (desk(), 0usize..4, 0usize..4, 5u16..160, prop::bool::weighted(0.3))
            .prop_map(|(by, first, last, percent, step)| Event::Places { by, first, last, percent, step }),
        6 => (desk(), prop_oneof![5 => Just(0u32), 1 => Just(1u32)], prop::bool::weighted(0.8)).prop_map(|(by, old, anyway)| Event::Start { by, old, anyway }),
        3 => (desk(), 0u32..2).prop_map(|(by, old)| Event::Step { by, old }),
        2 => (desk(), 5u16..160).prop_map(|(by, percent)| Event::Speed { by, percent }),
        1 => who().prop_map(Event::Note),
        2 => (who(), 0..CHECKS.len(), prop::bool::weighted(0.8)).prop_map(|(by, check, in_order)| Event::Sign { by, check, in_order }),
        1 => (who(), 0u8..3, any::<bool>()).prop_map(|(by, who, present)| Event::Attend { by, who, present }),
        1 => desk().prop_map(Event::End),
    ]
}

fn settings() -> Settings {
    Settings {
        horizon: Micros::millis(1_500),
        lead: Micros::millis(1_000),
        hold_on_lost_link: vec![Role::Captain],
        before_call: Vec::new(),
    }
}

/// The rehearsal, and what a stern witness remembers of it.
struct Rehearsal {
    call: Call,
    now: ServerTime,
    /// The generation that the last `Silence` named.
    lives: Generation,
    /// The last moment that each member was cued for, in each generation.
    cued: BTreeMap<(Generation, MemberId), usize>,
    /// Taps that were answered with a hold, which the journal has not written yet.
    unwritten: Vec<(HoldId, MemberId, String)>,
    /// Distinct taps by known members, and how often each was journalled.
    taps: BTreeSet<(MemberId, String)>,
    journalled: BTreeMap<(MemberId, String), usize>,
    holds_journalled: BTreeMap<HoldId, usize>,
    /// What was signed and noted in this call, and when something was last written down.
    signed: BTreeMap<String, bool>,
    noted: BTreeMap<String, bool>,
    last_entry: ServerTime,
}

impl Rehearsal {
    fn new() -> Rehearsal {
        Rehearsal::with_checks(&[])
    }

    fn with_checks(checks: &[&str]) -> Rehearsal {
        let settings = Settings { before_call: checks.iter().map(|check| (*check).to_owned()).collect(), ..settings() };
        let fights = vec![fight_of("The Salt Stair", 90.0, &[&[0, 1, 2, 5], &[0, 3], &[1, 2, 3]])];
        let mut rehearsal = Rehearsal {
            call: Call::new(settings, fights, Before { sessions: 0, last_run: 7, last_hold: 0 }),
            now: ServerTime(0),
            lives: Generation(1),
            cued: BTreeMap::new(),
            unwritten: Vec::new(),
            taps: BTreeSet::new(),
            journalled: BTreeMap::new(),
            holds_journalled: BTreeMap::new(),
            signed: BTreeMap::new(),
            noted: BTreeMap::new(),
            last_entry: ServerTime(0),
        };
        for member in 0..MEMBERS {
            rehearsal.give(Event::Join(member));
        }
        rehearsal
    }

    fn give(&mut self, event: Event) {
        let lives = self.call.generation().0;
        let old = |by: u32| Generation(lives.saturating_sub(by));
        let from = |by: u32, act: Act| Input::From(MemberId(by), act);
        let standing = match self.call.stage() {
            Stage::Held(hold, _) => Some((hold.id, hold.calls)),
            _ => None,
        };
        let input = match event {
            Event::Wait(micros) => {
                self.now = self.now + Micros(micros);
                Input::Tick
            }
            Event::UntilDeadline => {
                self.now = self.call.deadline().unwrap_or(self.now);
                Input::Tick
            }
            Event::Join(id) => {
                self.forget_cues(MemberId(id));
                Input::Joined {
                    member: MemberId(id),
                    name: format!("member {id}"),
                    role: ROLES[id as usize],
                    part: Some(if id % 2 == 0 { "MARET".into() } else { "OSK".into() }),
                }
            }
            Event::Gone(id) => Input::Gone(MemberId(id)),
            Event::Lost(id) => Input::LinkLost(MemberId(id)),
            Event::Back(id) => {
                if self.call.roster().get(MemberId(id)).is_some_and(|member| !member.linked) {
                    self.forget_cues(MemberId(id));
                }
                Input::LinkBack(MemberId(id))
            }
            Event::Hold { by, tap, queued, old: age } => from(
                by,
                Act::Hold(Tap {
                    id: format!("tap {tap}"),
                    generation: old(age),
                    queued,
                    screen_cue: Some(u32::from(tap)),
                    reason: None,
                }),
            ),
            Event::Written => match self.unwritten.pop() {
                Some((hold, member, tap)) => Input::HoldWritten { hold, tap: Some((member, tap)) },
                None => Input::Tick,
            },
            Event::Release { by, calls_off, hold_off } => {
                let (hold, calls) = standing.unwrap_or((HoldId(1), 1));
                from(by, Act::Release { hold: HoldId(hold.0 + hold_off), calls: calls + calls_off })
            }
            Event::Stop(by) => from(by, Act::Stop("a strap broke".into())),
            Event::Ready { by, old: age } => from(by, Act::Ready { ready: true, generation: old(age) }),
            Event::Part { by, whose, part } => from(
                by,
                Act::TakePart {
                    member: MemberId(whose),
                    part: part.map(|first| if first { "MARET".into() } else { "NOBODY".into() }),
                },
            ),
            Event::Places { by, first, last, percent, step } => from(
                by,
                Act::Places(SetupRequest {
                    fight: "The Salt Stair".into(),
                    first,
                    last,
                    percent,
                    count_in: 4,
                    drive: if step { Drive::Step } else { Drive::Clock },
                }),
            ),
            Event::Start { by, old: age, anyway } => from(by, Act::Start { generation: old(age), anyway }),
            Event::Step { by, old: age } => from(by, Act::Step(old(age))),
            Event::Speed { by, percent } => from(by, Act::Speed(percent)),
            Event::Note(by) => from(by, Act::Note { hold: HoldId(1), text: "watch the step".into() }),
            Event::Sign { by, check, in_order } => {
                from(by, Act::Sign { check: CHECKS[check].into(), in_order, note: None, by: None })
            }
            Event::Attend { by, who, present } => from(by, Act::Attend { person: format!("person {who}"), present }),
            Event::End(by) => from(by, Act::EndCall { signed_by: Some("Ines".into()) }),
        };
        self.handle(input);
    }

    /// Whoever comes (back) has an empty screen: what is on its way to the others is sent to them again.
    fn forget_cues(&mut self, id: MemberId) {
        self.cued.retain(|(_, member), _| *member != id);
    }

    fn handle(&mut self, input: Input) {
        let was = stage_word(self.call.stage());
        let role = match &input {
            Input::From(by, _) => self.call.roster().get(*by).map(|member| member.role),
            _ => None,
        };
        let before = self.call.generation();
        let outputs = self.call.handle(self.now, input.clone());
        self.watch_outputs(&outputs);
        self.watch_signing(&outputs, &input, role);
        self.watch_stage(was, &input, role);
        if let (Input::From(member, Act::Hold(tap)), Some(_)) = (&input, role) {
            self.watch_tap(*member, tap, before, was, &outputs);
        }
        if matches!(self.call.stage(), Stage::Going(..)) {
            let deadline = self.call.deadline();
            let by_step = self.call.run().is_some_and(|run| run.setup.drive == Drive::Step);
            assert!(
                by_step || deadline.is_some_and(|at| at > self.now),
                "a run by the clock always has a next deadline"
            );
        }
    }

    fn watch_outputs(&mut self, outputs: &[Output]) {
        for output in outputs {
            match output {
                Output::Silence(generation) => {
                    assert!(*generation > self.lives, "a generation only rises");
                    self.lives = *generation;
                }
                Output::Cue(cue) => {
                    assert_eq!(cue.generation, self.lives, "no cue of an older generation comes out");
                    if let Some(due) = cue.due {
                        assert!(due.since(self.now) <= settings().horizon, "no cue goes out before its horizon");
                    }
                    for member in cue.readers.iter().flat_map(|(_, members)| members) {
                        assert!(self.call.roster().get(*member).is_some_and(|member| member.linked));
                        let last = self.cued.insert((cue.generation, *member), cue.moment);
                        assert!(
                            last.is_none_or(|last| last < cue.moment),
                            "each moment is cued once to each, in order"
                        );
                    }
                }
                Output::Click { generation, .. } => {
                    assert_eq!(*generation, self.lives, "no click of an older generation")
                }
                Output::Journal(entry) => {
                    if let (Some(tap), Some((member, ..))) = (&entry.tap, &entry.who) {
                        *self.journalled.entry((*member, tap.clone())).or_default() += 1;
                    }
                    if let (EntryKind::Hold, Some(hold)) = (entry.kind, entry.hold) {
                        *self.holds_journalled.entry(hold).or_default() += 1;
                    }
                }
                Output::TapAnswer { member, tap, fate: TapFate::Held(hold) } => {
                    self.unwritten.push((*hold, *member, tap.clone()));
                }
                _ => {}
            }
        }
        assert_eq!(self.lives, self.call.generation(), "every rise of the generation was told");
    }

    /// What the call says is signed and noted is what the journal was told of this call, and nothing else.
    fn watch_signing(&mut self, outputs: &[Output], input: &Input, role: Option<Role>) {
        if self.now.since(self.last_entry) > LONGEST_PAUSE {
            self.signed.clear();
            self.noted.clear();
        }
        for entry in outputs.iter().filter_map(|output| match output {
            Output::Journal(entry) => Some(entry),
            _ => None,
        }) {
            self.last_entry = self.now;
            match (entry.kind, &entry.detail) {
                (EntryKind::Check, Some(Detail::Check { in_order, .. })) => {
                    assert!(matches!(role, Some(Role::Desk | Role::Captain)), "{role:?} has signed");
                    self.signed.insert(entry.reason.clone().unwrap(), *in_order);
                }
                (EntryKind::Attendance, Some(Detail::Attendance { person, present })) => {
                    assert_eq!(role, Some(Role::Desk));
                    self.noted.insert(person.clone(), *present);
                }
                (EntryKind::End, _) => {
                    self.signed.clear();
                    self.noted.clear();
                }
                (EntryKind::Start, _) => {
                    let Input::From(_, Act::Start { anyway, .. }) = input else { panic!("only a start starts") };
                    let all = CHECKS[..2].iter().all(|check| self.signed.get(*check) == Some(&true));
                    let on_list = self.call.signing().checks().count() >= 2;
                    assert!(*anyway || all || !on_list, "what is not signed, or not in order, is said before a start");
                }
                _ => {}
            }
        }
        let checks = self.call.signing().checks().filter_map(|(check, it)| Some((check.to_owned(), it?.in_order)));
        assert_eq!(checks.collect::<BTreeMap<_, _>>(), self.signed);
        let noted = self.call.signing().noted().map(|(person, present)| (person.to_owned(), present));
        assert_eq!(noted.collect::<BTreeMap<_, _>>(), self.noted);
    }

    fn watch_stage(&self, was: &str, input: &Input, role: Option<Role>) {
        let is = stage_word(self.call.stage());
        if is == "going" && was != "going" {
            assert!(matches!(input, Input::From(_, Act::Start { .. })), "only a start starts: {input:?}");
            assert_eq!((was, role), ("places", Some(Role::Desk)), "and only from places, by the desk");
        }
        if was == "held" && is != "held" {
            assert!(matches!(input, Input::From(_, Act::Release { .. })), "only a release lets go: {input:?}");
            assert!(matches!(role, Some(Role::Desk | Role::Captain)));
            assert!(is == "stopped" || is == "idle", "a release never starts");
        }
        if is == "places" && was != "places" {
            assert!(matches!((input, role), (Input::From(_, Act::Places(_)), Some(Role::Desk))));
        }
    }

    fn watch_tap(&mut self, member: MemberId, tap: &Tap, before: Generation, was: &str, outputs: &[Output]) {
        let answered = outputs.iter().any(
            |output| matches!(output, Output::TapAnswer { member: to, tap: id, .. } if *to == member && *id == tap.id),
        );
        assert!(answered, "every tap is answered at once");
        assert!(
            !outputs.iter().any(|output| matches!(output, Output::Cue(_) | Output::Click { .. })),
            "nothing is cued by a hold"
        );
        let new = self.taps.insert((member, tap.id.clone()));
        let must_hold = new && (!tap.queued || tap.generation == before);
        if must_hold {
            assert_eq!(
                stage_word(self.call.stage()),
                "held",
                "a hold is obeyed, whoever calls it and whatever goes on"
            );
            if was != "held" {
                assert!(matches!(outputs.first(), Some(Output::Silence(_))), "silence comes before anything else");
                assert!(matches!(outputs.get(1), Some(Output::Held)), "then everybody is told");
            }
            let written_last = outputs.iter().rposition(|output| matches!(output, Output::Held))
                < outputs.iter().position(|output| matches!(output, Output::Journal(_)));
            assert!(written_last, "it is written down after everybody is told");
        }
    }

    fn close(&self) {
        for tap in &self.taps {
            assert_eq!(self.journalled.get(tap), Some(&1), "every hold is journalled once");
        }
        assert!(self.holds_journalled.values().all(|times| *times == 1));
    }
}

fn stage_word(stage: &Stage) -> &'static str {
    match stage {
        Stage::Idle => "idle",
        Stage::Places(_) => "places",
        Stage::Going(..) => "going",
        Stage::Held(..) => "held",
        Stage::Stopped(..) => "stopped",
        Stage::Complete(_) => "complete",
    }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 10_000, ..ProptestConfig::default() })]

    #[test]
    fn what_may_never_happen_does_not(events in prop::collection::vec(event(), 1..60)) {
        let mut rehearsal = Rehearsal::with_checks(&CHECKS[..2]);
        for event in events {
            rehearsal.give(event);
        }
        rehearsal.close();
    }
}

/// A desk, a captain and two performers, with places called for a run.
fn at_places(drive: Drive, percent: u16) -> Rehearsal {
    let mut rehearsal = Rehearsal::new();
    let setup = SetupRequest { fight: "The Salt Stair".into(), first: 0, last: 2, percent, count_in: 4, drive };
    rehearsal.handle(Input::From(MemberId(0), Act::Places(setup)));
    let generation = rehearsal.call.generation();
    for performer in [2, 3] {
        rehearsal.handle(Input::From(MemberId(performer), Act::Ready { ready: true, generation }));
    }
    rehearsal
}

fn start(rehearsal: &mut Rehearsal) {
    let generation = rehearsal.call.generation();
    rehearsal.handle(Input::From(MemberId(0), Act::Start { generation, anyway: false }));
    assert_eq!(stage_word(rehearsal.call.stage()), "going", "everybody is ready, so it starts");
}

#[test]
fn a_run_by_the_clock_cues_every_moment_once_and_in_time() {
    let mut rehearsal = at_places(Drive::Clock, 80);
    start(&mut rehearsal);
    let run = rehearsal.call.run().unwrap().clone();
    let mut sent = vec![0; 1];
    while let Some(at) = rehearsal.call.deadline() {
        rehearsal.now = at;
        for output in rehearsal.call.handle(at, Input::Tick) {
            if let Output::Cue(cue) = output {
                let horizon = cue.due.unwrap().since(at);
                assert_eq!(horizon, settings().horizon, "a driver that keeps the deadlines is never late");
                sent.push(cue.moment);
            }
        }
    }
    let first = sent.remove(0);
    let cued_at_start = run.plan.moments().len() - sent.len();
    assert!(cued_at_start >= 1, "the first beats were cued at the start");
    assert_eq!(sent, (cued_at_start..run.plan.moments().len()).collect::<Vec<_>>());
    assert_eq!(first, 0);
    assert_eq!(stage_word(rehearsal.call.stage()), "complete");
    assert_eq!(rehearsal.now, run.end().unwrap());
}

#[test]
fn a_walk_through_goes_move_by_move_and_is_never_timed() {
    let mut rehearsal = at_places(Drive::Step, 100);
    start(&mut rehearsal);
    let moves = rehearsal.call.run().unwrap().plan.moves().len();
    let generation = rehearsal.call.generation();
    let mut stepped = 0;
    while stage_word(rehearsal.call.stage()) == "going" {
        assert_eq!(rehearsal.call.deadline(), None);
        let outputs = rehearsal.call.handle(rehearsal.now, Input::From(MemberId(1), Act::Step(generation)));
        assert!(!outputs.iter().any(|output| matches!(output, Output::Click { .. })), "nothing sounds");
        stepped += outputs.iter().filter(|output| matches!(output, Output::Cue(cue) if cue.due.is_none())).count();
    }
    assert_eq!(stepped, moves, "one step a move");
}

#[test]
fn a_release_that_has_not_seen_every_caller_is_refused() {
    let mut rehearsal = at_places(Drive::Clock, 100);
    start(&mut rehearsal);
    for (by, tap) in [(2, "a"), (3, "b")] {
        let generation = rehearsal.call.generation();
        let tap = Tap { id: tap.into(), generation, queued: false, screen_cue: None, reason: None };
        rehearsal.handle(Input::From(MemberId(by), Act::Hold(tap)));
    }
    let release = |calls| Input::From(MemberId(1), Act::Release { hold: HoldId(1), calls });
    let refused = rehearsal.call.handle(rehearsal.now, release(1));
    assert!(matches!(&refused[..], [Output::Refused { asked: Asked::Release, .. }]));
    assert_eq!(stage_word(rehearsal.call.stage()), "held");
    rehearsal.handle(release(2));
    assert_eq!(stage_word(rehearsal.call.stage()), "stopped");
}

#[test]
fn a_hold_is_logged_at_the_move_it_hit() {
    let mut rehearsal = at_places(Drive::Clock, 100);
    start(&mut rehearsal);
    let run = rehearsal.call.run().unwrap().clone();
    // Between the third and the fourth move of the first phrase (beats 3 and 6), on beat 4 and a half.
    let at = run.start.unwrap() + run.plan.tempo().time_of(holdfast::units::Ticks(3 * 960 + 480));
    let tap = Tap {
        id: "t".into(),
        generation: rehearsal.call.generation(),
        queued: false,
        screen_cue: Some(6),
        reason: None,
    };
    let outputs = rehearsal.call.handle(at, Input::From(MemberId(3), Act::Hold(tap)));
    let entry = outputs
        .iter()
        .find_map(|output| match output {
            Output::Journal(entry) if entry.kind == EntryKind::Hold => Some(entry),
            _ => None,
        })
        .unwrap();
    let spot = entry.spot.as_ref().unwrap();
    assert_eq!((spot.phrase_name.as_str(), spot.beat.as_str(), spot.number), ("phrase 1", "4", Some(3)));
    assert_eq!(spot.words.as_deref(), Some("MARET cut head / OSK parry 5"));
    assert_eq!(entry.screen.as_ref().unwrap().beat, "3", "cue 6 is the third beat after a count-in of four");
    assert_eq!(entry.speed.map(|speed| speed.as_percent()), Some(100));
}

#[test]
fn a_new_speed_begins_with_a_phrase_that_nobody_has_been_cued_for() {
    let mut rehearsal = at_places(Drive::Clock, 50);
    start(&mut rehearsal);
    let before = rehearsal.call.run().unwrap().clone();
    rehearsal.handle(Input::From(MemberId(0), Act::Speed(100)));
    let after = rehearsal.call.run().unwrap();
    assert_eq!(
        rehearsal.call.next_speed().map(|(speed, phrase)| (speed.as_percent(), phrase.to_owned())),
        Some((100, "phrase 2".to_owned()))
    );
    assert_eq!(before.plan.phrases()[1].time, after.plan.phrases()[1].time, "what is taught stays in time");
    assert!(after.plan.duration() < before.plan.duration());
}

#[test]
fn what_is_not_signed_is_said_before_a_start_and_a_new_call_is_signed_anew() {
    let mut rehearsal = Rehearsal::with_checks(&CHECKS[..2]);
    let places = || {
        let (fight, drive) = ("The Salt Stair".into(), Drive::Step);
        Input::From(
            MemberId(0),
            Act::Places(SetupRequest { fight, first: 0, last: 2, percent: 100, count_in: 4, drive }),
        )
    };
    let sign = |check: &str, in_order: bool, by: Option<&str>| {
        let (check, by) = (check.to_owned(), by.map(str::to_owned));
        Input::From(MemberId(1), Act::Sign { check, in_order, note: Some(" wet ".into()), by })
    };
    let start = |rehearsal: &mut Rehearsal| -> String {
        let generation = rehearsal.call.generation();
        for performer in [2, 3] {
            rehearsal.handle(Input::From(MemberId(performer), Act::Ready { ready: true, generation }));
        }
        let start = Input::From(MemberId(0), Act::Start { generation, anyway: false });
        match &rehearsal.call.handle(rehearsal.now, start)[..] {
            [Output::Refused { reason, .. }] => reason.clone(),
            _ => String::new(),
        }
    };
    rehearsal.handle(places());
    assert_eq!(start(&mut rehearsal), "“weapons”, “floor” are not signed. Wait, or start anyway.");
    rehearsal.handle(sign("weapons", true, None));
    rehearsal.handle(sign("floor", false, Some("Rina Osk")));
    assert_eq!(start(&mut rehearsal), "“floor” was signed as not in order. Wait, or start anyway.");
    let floor = rehearsal.call.signing().checks().nth(1).and_then(|(_, it)| it.cloned()).unwrap();
    assert_eq!((floor.by.as_str(), floor.note.as_deref()), ("Rina Osk", Some("wet")));
    rehearsal.handle(sign("floor", true, None));
    assert_eq!(start(&mut rehearsal), "", "everything is signed, so it starts");
    rehearsal.handle(Input::From(MemberId(0), Act::Stop("enough".into())));
    // The next evening: the server was left running, and nobody had ended the call.
    rehearsal.now = rehearsal.now + LONGEST_PAUSE + Micros(1);
    rehearsal.handle(places());
    assert!(start(&mut rehearsal).starts_with("“weapons”, “floor” are not signed."));
}
