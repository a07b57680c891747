//! The call under everything that can happen to it, in every order: what may never happen does not.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use holdfast::brake::{Latch, pulls};
use holdfast::call::*;
use holdfast::event::{Entry, Event as Told, EventId, Maker, UnderWay, What, counted_at};
use holdfast::score::read;
use holdfast::score::vocabulary::Vocabulary;
use holdfast::units::{Generation, Micros, ServerTime, TICKS_PER_BEAT};
use proptest::prelude::*;

use crate::support::fights::fight_of;
use crate::timeline_scores::walk;

const MEMBERS: u32 = 6;
/// The name in front of those of a call's events.
const NOTHING: EventId = EventId { session: 0, maker: Maker::Call, number: 0 };
const ROLES: [Role; 6] = [Role::Desk, Role::Captain, Role::Performer, Role::Performer, Role::Observer, Role::Sound];

/// One thing that happens in a made-up rehearsal.
#[derive(Clone, Debug)]
enum Event {
    Wait(i64),
    /// Time passes and nobody tells the call.
    Pass(i64),
    UntilDeadline,
    Join(u32),
    Gone(u32),
    Lost(u32),
    Back(u32),
    /// A tap; when it pulls the brake, the call takes the pull so many microseconds late.
    Hold {
        by: u32,
        tap: u8,
        queued: bool,
        old: u32,
        late: i64,
    },
    Written,
    Release {
        by: u32,
        unseen: u32,
        hold_off: u32,
    },
    Stop(u32),
    Ready {
        by: u32,
        old: u32,
    },
    Part {
        by: u32,
        whose: u32,
        part: Option<bool>,
    },
    Places {
        by: u32,
        first: usize,
        last: usize,
        percent: u16,
        step: bool,
        /// How many of the states before the last one the screen is behind.
        behind: usize,
    },
    Start {
        by: u32,
        old: u32,
        anyway: bool,
        behind: usize,
    },
    Step {
        by: u32,
        old: u32,
        back: bool,
        from: Option<u32>,
    },
    Speed {
        by: u32,
        percent: u16,
    },
    Note(u32),
    /// A reason for the hold that stands, the one before it, or the one after it.
    Reason {
        by: u32,
        hold: i64,
        which: usize,
    },
    /// Something nearly went wrong; with a name or without.
    Report {
        by: Option<u32>,
        run: u32,
        at: Option<(u32, u32)>,
        reason: Option<usize>,
    },
    Sign {
        by: u32,
        check: usize,
        in_order: bool,
    },
    Attend {
        by: u32,
        who: u8,
        present: bool,
    },
    /// The hold is tried.
    Try(u32),
    /// A page answers the last trial, or the one before it.
    Tried {
        by: u32,
        old: u32,
        shown: bool,
    },
    End(u32),
}

/// What the company checks; the last one is on nobody's list.
const CHECKS: [&str; 3] = ["weapons", "floor", "weather"];
/// The company's reasons; the last one is on nobody's list.
const REASONS: [&str; 3] = ["distance", "footing", "weather"];

fn event() -> impl Strategy<Value = Event> {
    let who = || 0..MEMBERS;
    // The desk acts more often than chance would have it, so that runs do start.
    let desk = || prop_oneof![4 => Just(0u32), 1 => 0..MEMBERS];
    let behind = || prop_oneof![5 => Just(0usize), 1 => 1usize..6];
    prop_oneof![
        8 => (0i64..3_000_000).prop_map(Event::Wait),
        3 => (0i64..1_000_000).prop_map(Event::Pass),
        1 => (0i64..20_000_000_000).prop_map(Event::Wait),
        8 => Just(Event::UntilDeadline),
        1 => who().prop_map(Event::Join),
        1 => who().prop_map(Event::Gone),
        1 => who().prop_map(Event::Lost),
        1 => who().prop_map(Event::Back),
        4 => (who(), 0u8..12, prop::bool::weighted(0.3), 0u32..2, prop_oneof![Just(0i64), 0i64..10_000_000])
            .prop_map(|(by, tap, queued, old, late)| Event::Hold { by, tap, queued, old, late }),
        2 => Just(Event::Written),
        4 => (desk(), 0u32..2, 0u32..2).prop_map(|(by, unseen, hold_off)| Event::Release { by, unseen, hold_off }),
        1 => desk().prop_map(Event::Stop),
        2 => (who(), 0u32..2).prop_map(|(by, old)| Event::Ready { by, old }),
        1 => (who(), who(), prop::option::of(any::<bool>())).prop_map(|(by, whose, part)| Event::Part { by, whose, part }),
        6 => (desk(), 0usize..4, 0usize..4, 5u16..160, prop::bool::weighted(0.3), behind())
            .prop_map(|(by, first, last, percent, step, behind)| Event::Places { by, first, last, percent, step, behind }),
        6 => (desk(), prop_oneof![5 => Just(0u32), 1 => Just(1u32)], prop::bool::weighted(0.8), behind())
            .prop_map(|(by, old, anyway, behind)| Event::Start { by, old, anyway, behind }),
        3 => (desk(), 0u32..2, any::<bool>(), prop::option::of(0u32..6))
            .prop_map(|(by, old, back, from)| Event::Step { by, old, back, from }),
        2 => (desk(), 5u16..160).prop_map(|(by, percent)| Event::Speed { by, percent }),
        1 => who().prop_map(Event::Note),
        3 => (who(), -1i64..2, 0..REASONS.len()).prop_map(|(by, hold, which)| Event::Reason { by, hold, which }),
        2 => (prop::option::of(who()), 0u32..2, prop::option::of((0u32..4, 0u32..5)), prop::option::of(0..REASONS.len() - 1))
            .prop_map(|(by, run, at, reason)| Event::Report { by, run, at, reason }),
        2 => (who(), 0..CHECKS.len(), prop::bool::weighted(0.8)).prop_map(|(by, check, in_order)| Event::Sign { by, check, in_order }),
        1 => (who(), 0u8..3, any::<bool>()).prop_map(|(by, who, present)| Event::Attend { by, who, present }),
        2 => desk().prop_map(Event::Try),
        6 => (who(), prop_oneof![4 => Just(0u32), 1 => Just(1u32)], prop::bool::weighted(0.9)).prop_map(|(by, old, shown)| Event::Tried { by, old, shown }),
        1 => desk().prop_map(Event::End),
    ]
}

fn settings() -> Settings {
    Settings {
        horizon: Micros::millis(1_500),
        lead: Micros::millis(1_000),
        hold_on_lost_link: vec![Role::Captain],
        before_call: Vec::new(),
        why: Why { reasons: REASONS[..2].iter().map(|it| (*it).to_owned()).collect(), ..Why::default() },
        evening: UsualEvening::default(),
    }
}

/// The rehearsal, and what a stern witness remembers of it.
struct Rehearsal {
    call: Call,
    now: ServerTime,
    /// The brake, what has pulled it, and which pulls are on their way to the call.
    latch: Latch,
    taken: u64,
    /// Every tap that was read.
    known: BTreeSet<(MemberId, String)>,
    on_the_way: Vec<OnTheWay>,
    /// The runs that a hold has hit: a pull that is taken after its release finds them ended.
    held: BTreeSet<u32>,
    /// The last moment that was cued to anybody, in each generation.
    sent: BTreeMap<Generation, usize>,
    /// What was written down, in order.
    written: Vec<Told>,
    /// The names of the events that were written.
    names: BTreeSet<EventId>,
    /// The runs whose beginning was written, and those whose end was.
    begun: BTreeSet<u32>,
    ended: BTreeSet<u32>,
    /// The generation that the last `Silence` or `Lives` named.
    lives: Generation,
    /// The last moment that each member was cued for, in each generation.
    cued: BTreeMap<(Generation, MemberId), (Option<u32>, usize)>,
    /// Taps that were answered with a hold, which the journal has not written yet.
    /// What the disk has not told of: with the hold, or without when the tap came late.
    unwritten: Vec<(Option<HoldId>, MemberId, String)>,
    /// Distinct taps by known members, and how often each was journalled.
    taps: BTreeSet<(MemberId, String)>,
    journalled: BTreeMap<(MemberId, String), usize>,
    holds_journalled: BTreeMap<HoldId, usize>,
    /// What was signed and noted in this call, and when something was last written down.
    signed: BTreeMap<String, bool>,
    noted: BTreeMap<String, bool>,
    /// The reason that was written down last for each hold, and how many near misses were reported, and without a name.
    reasons: BTreeMap<HoldId, String>,
    reported: (usize, usize),
    last_entry: ServerTime,
    /// The number of the last trial of the hold.
    tried: u32,
    /// The trial that goes on.
    trial: Option<Tried>,
    /// What screens were told, each as long as it was true, oldest first: a decision names one of them.
    screens: Vec<Screen>,
    /// The events of the calls of the hold that stands, in order.
    calls: Vec<EventId>,
    /// A call that gets the same inputs and no tick, and what either has written down.
    unticked: Call,
    wrote: [Vec<Entry>; 2],
}

/// What whoever decides sees on a screen.
#[derive(Clone, Debug, PartialEq)]
struct Screen {
    last_event: EventId,
    stage: &'static str,
    generation: Generation,
    /// Who plays what.
    cast: Vec<(String, MemberId)>,
}

/// A trial of the hold: who was told, who answered when and whether in sight, and who had no link.
struct Tried {
    at: ServerTime,
    told: BTreeMap<MemberId, Option<(Micros, bool)>>,
    without_link: usize,
}

/// A pull that the call has not taken.
struct OnTheWay {
    arrives: ServerTime,
    pulling: Pulling,
    /// The run that went at its instant, and where it was then.
    hit: Option<(u32, Option<Spot>)>,
}

impl Rehearsal {
    fn new() -> Rehearsal {
        Rehearsal::with_checks(&[])
    }

    fn with_checks(checks: &[&str]) -> Rehearsal {
        let settings = Settings { before_call: checks.iter().map(|check| (*check).to_owned()).collect(), ..settings() };
        let mut stair = Fight::clone(&fight_of("The Salt Stair", 90.0, &[&[0, 1, 2, 5], &[0, 3], &[1, 2, 3]]));
        // Between two moves somebody walks.
        stair.score.phrases[0].items.push(walk(3 * TICKS_PER_BEAT, 0, 4 * TICKS_PER_BEAT));
        let fights = vec![Arc::new(stair)];
        let before = Before { sessions: 0, last_run: 7, last_hold: 0 };
        let mut rehearsal = Rehearsal {
            unticked: Call::new(settings.clone(), fights.clone(), before),
            wrote: Default::default(),
            call: Call::new(settings, fights, before),
            now: ServerTime(0),
            latch: Latch::default(),
            taken: 0,
            known: BTreeSet::new(),
            on_the_way: Vec::new(),
            held: BTreeSet::new(),
            sent: BTreeMap::new(),
            written: Vec::new(),
            lives: Generation(1),
            cued: BTreeMap::new(),
            unwritten: Vec::new(),
            taps: BTreeSet::new(),
            journalled: BTreeMap::new(),
            holds_journalled: BTreeMap::new(),
            signed: BTreeMap::new(),
            noted: BTreeMap::new(),
            reasons: BTreeMap::new(),
            reported: (0, 0),
            last_entry: ServerTime(0),
            names: BTreeSet::new(),
            begun: BTreeSet::new(),
            ended: BTreeSet::new(),
            tried: 0,
            trial: None,
            screens: Vec::new(),
            calls: Vec::new(),
        };
        for member in 0..MEMBERS {
            rehearsal.give(Event::Join(member));
        }
        rehearsal
    }

    fn give(&mut self, event: Event) {
        self.deliver();
        if matches!(event, Event::Join(_) | Event::Gone(_) | Event::Lost(_) | Event::Back(_)) {
            // What is due by now goes to those who are there before anything changes about them.
            self.handle(Input::Tick);
        }
        let lives = self.call.generation().0;
        let old = |by: u32| Generation(lives.saturating_sub(u64::from(by)));
        let from = |by: u32, act: Act| Input::From(MemberId(by), act);
        let standing = match self.call.stage() {
            Stage::Held(hold, _) => Some((hold.id, hold.last_event)),
            _ => None,
        };
        let screens = &self.screens;
        let seen = |behind: usize| screens.iter().rev().nth(behind).map_or(NOTHING, |screen| screen.last_event);
        let input = match event {
            Event::Wait(micros) => {
                self.now = self.now + Micros(micros);
                Input::Tick
            }
            Event::Pass(micros) => {
                self.now = self.now + Micros(micros);
                return;
            }
            Event::UntilDeadline => {
                self.now = self.call.deadline().unwrap_or(self.now).max(self.now);
                Input::Tick
            }
            Event::Join(id) => {
                self.forget_cues(MemberId(id));
                Input::Joined {
                    member: MemberId(id),
                    name: format!("member {id}"),
                    role: ROLES[id as usize],
                    part: Some(if id % 2 == 0 { "MARET".into() } else { "OSK".into() }),
                    instead_of: None,
                }
            }
            Event::Gone(id) => Input::Gone(MemberId(id)),
            Event::Lost(id) => Input::LinkLost(MemberId(id)),
            Event::Back(id) => {
                // Also over a new line that comes before the old one is known to be lost.
                self.forget_cues(MemberId(id));
                Input::LinkBack(MemberId(id))
            }
            Event::Hold { by, tap, queued, old: age, late } => {
                let generation = old(age);
                let tap = Tap {
                    id: format!("tap {tap}"),
                    generation,
                    queued,
                    screen_cue: Some(u32::from(tap)),
                    reason: None,
                };
                return self.tap(MemberId(by), tap, late);
            }
            Event::Written => match self.unwritten.pop() {
                Some((Some(hold), member, tap)) => Input::HoldWritten { hold, tap: Some((member, tap)) },
                Some((None, member, tap)) => Input::LateWritten { member, tap },
                None => Input::Tick,
            },
            Event::Release { by, unseen, hold_off } => {
                let (hold, last) = standing.unwrap_or((HoldId(1), NOTHING));
                let seen = EventId { number: last.number.saturating_sub(u64::from(unseen)), ..last };
                from(by, Act::Release { hold: HoldId(hold.0 + hold_off), seen })
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
            Event::Places { by, first, last, percent, step, behind } => {
                let (fight, drive) = ("The Salt Stair".into(), if step { Drive::Step } else { Drive::Clock });
                let request =
                    SetupRequest { fight, weapons: None, first, from_move: None, last, percent, count_in: 4, drive };
                from(by, Act::Places { request, seen: seen(behind) })
            }
            Event::Start { by, old: age, anyway, behind } => {
                from(by, Act::Start { generation: old(age), anyway, seen: seen(behind) })
            }
            Event::Step { by, old: age, back, from: seen } => {
                let way = if back { Way::Back } else { Way::On };
                from(by, Act::Step(Step { generation: old(age), from: seen, way }))
            }
            Event::Speed { by, percent } => from(by, Act::Speed(percent)),
            Event::Note(by) => from(by, Act::Note { hold: HoldId(1), text: "watch the step".into() }),
            Event::Reason { by, hold, which } => {
                let last = standing.map(|(hold, _)| hold).or(self.call.past_holds().first().map(|hold| hold.id));
                let hold = HoldId(u32::try_from(i64::from(last.map_or(1, |last| last.0)) + hold).unwrap_or(0));
                from(by, Act::Reason { hold, reason: REASONS[which].into() })
            }
            Event::Report { by, run, at, reason } => {
                self.reported = (self.reported.0 + 1, self.reported.1 + usize::from(by.is_none()));
                let run = self.call.run().map(|it| it.number.saturating_sub(run));
                let reason = reason.map(|reason| REASONS[reason].to_owned());
                // Somebody who has left has no page to report on.
                let by = by.map(MemberId);
                Input::Reported(Reported { by, run, at, reason, note: Some(" slipped ".into()) })
            }
            Event::Sign { by, check, in_order } => {
                from(by, Act::Sign { check: CHECKS[check].into(), in_order, note: None, by: None })
            }
            Event::Attend { by, who, present } => from(by, Act::Attend { person: format!("person {who}"), present }),
            Event::Try(by) => from(by, Act::TryHold),
            Event::Tried { by, old, shown } => {
                let answer = TrialAnswer { shown, felt: false };
                Input::Tried { member: MemberId(by), trial: self.tried.saturating_sub(old), answer }
            }
            Event::End(by) => from(by, Act::EndCall { signed_by: Some("Ines".into()) }),
        };
        self.handle(input);
    }

    /// What the thread that reads a HOLD does with it.
    fn tap(&mut self, member: MemberId, tap: Tap, late: i64) {
        if self.call.roster().get(member).is_none() {
            return;
        }
        let known = self.known.contains(&(member, tap.id.clone()));
        if known && !self.on_the_way.is_empty() {
            // Sent again it comes behind the pull that it made.
            return;
        }
        self.known.insert((member, tap.id.clone()));
        if known || !pulls(&tap, self.latch.dead()) {
            return self.handle(Input::Tap(member, tap));
        }
        // By the clock: where the run is at this instant, whatever the call does until it hears of it.
        let hit = match self.call.stage() {
            Stage::Going(run, _) if run.start.is_some() && run.end().is_some_and(|end| self.now < end) => {
                Some((run.number, run.reached(self.now).and_then(|moment| run.spot(moment))))
            }
            _ => None,
        };
        let pull = self.latch.pull();
        let pulling = Pulling { by: Puller::Member(member, tap), at: self.now, dead: pull.dead };
        self.on_the_way.push(OnTheWay { arrives: self.now + Micros(late), pulling, hit });
        self.deliver();
    }

    /// The call takes the pulls that have arrived.
    fn deliver(&mut self) {
        while let Some(next) = self.on_the_way.iter().position(|late| late.arrives <= self.now) {
            let OnTheWay { pulling, hit, .. } = self.on_the_way.remove(next);
            self.taken += 1;
            let at = pulling.at;
            let before = self.call.run().map(|run| run.number).filter(|_| stage_word(self.call.stage()) != "held");
            self.handle(Input::Pulled(pulling));
            let Stage::Held(hold, _) = self.call.stage() else { panic!("a pull is a hold, whatever goes on") };
            if let (Some((number, spot)), Some(before)) = (hit, before)
                && number == before
                && !self.held.contains(&number)
            {
                assert_eq!((hold.at, &hold.spot), (at, &spot), "its place is that of the instant of the pull");
                let later = |told: &&Told| {
                    told.run == Some(number) && told.at > at && matches!(told.what, What::Phrase | What::Complete)
                };
                assert_eq!(self.written.iter().find(later), None, "what time did later is in no record");
            }
            self.held.extend(self.call.run().map(|run| run.number));
        }
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
        let mut outputs = self.call.handle(self.now, input.clone());
        // The driver says until when no pull can arrive any more.
        let settled = self.on_the_way.iter().map(|late| late.pulling.at).min().unwrap_or(self.now);
        outputs.extend(self.call.settle(settled));
        self.time_alone_is_no_input(&input, &outputs, settled);
        self.watch_outputs(&outputs);
        self.watch_signing(&outputs, &input, role);
        self.watch_trial(&outputs, &input, role);
        self.watch_stage(was, &input, role);
        self.watch_sight(was, &input, &outputs);
        self.watch_tap(&input, was, &outputs);
        self.watch_why(&input, &outputs);
        // The whole run goes to everybody: only what changes it has it told.
        let re_timed = matches!(input, Input::From(_, Act::Places { .. } | Act::Start { .. } | Act::Speed(_)));
        assert!(re_timed || !outputs.contains(&Output::RunChanged), "{input:?} changes nothing of the run");
        self.nothing_due_is_uncued();
        if matches!(self.call.stage(), Stage::Going(..)) {
            let deadline = self.call.deadline();
            let by_step = self.call.run().is_some_and(|run| run.setup.drive == Drive::Step);
            assert!(
                by_step || deadline.is_some_and(|at| at > self.now),
                "a run by the clock always has a next deadline"
            );
        }
    }

    /// What a call answers, with nobody watching.
    fn answer(&mut self, input: Input) -> Vec<Output> {
        self.unticked.handle(self.now, input.clone());
        self.call.handle(self.now, input)
    }

    fn watch_outputs(&mut self, outputs: &[Output]) {
        for output in outputs {
            match output {
                Output::Silence(generation) => {
                    assert!(*generation > self.lives, "a generation only rises");
                    assert!(*generation > self.latch.dead(), "no two things bear one number");
                    self.lives = *generation;
                }
                Output::Lives(generation) => {
                    assert!(*generation >= self.lives, "a generation only rises");
                    self.lives = *generation;
                    let admitted = self.latch.admit(*generation, self.taken);
                    assert_eq!(
                        admitted.is_ok(),
                        self.on_the_way.is_empty(),
                        "nothing lives while a pull is on its way"
                    );
                }
                Output::Free => self.latch.free(self.taken),
                Output::Cue(cue) => {
                    let sent = self.sent.entry(cue.generation).or_default();
                    *sent = cue.moment.max(*sent);
                    let lives = cue.generation > self.latch.dead();
                    assert_eq!(lives, self.on_the_way.is_empty(), "what is cued after a pull is dead");
                    assert_eq!(cue.generation, self.lives, "no cue of an older generation comes out");
                    if let Some(due) = cue.due {
                        assert!(due.since(self.now) <= settings().horizon, "no cue goes out before its horizon");
                    }
                    for member in cue.readers.iter().flat_map(|(_, members)| members) {
                        assert!(self.call.roster().get(*member).is_some_and(|member| member.linked));
                        // In a walk-through it is the steps that only rise: a step back comes to an earlier moment.
                        let this = (cue.step, cue.moment);
                        let last = self.cued.insert((cue.generation, *member), this);
                        assert!(last.is_none_or(|last| last < this), "each moment is cued once to each, in order");
                    }
                }
                Output::Click { generation, .. } => {
                    assert_eq!(*generation, self.lives, "no click of an older generation")
                }
                Output::Journal(entry) => self.watch_entry(entry),
                Output::TapAnswer { member, tap, fate: TapFate::Held(hold) } => {
                    self.unwritten.push((Some(*hold), *member, tap.clone()));
                }
                _ => {}
            }
        }
        assert_eq!(self.lives, self.call.generation(), "every rise of the generation was told");
    }

    fn watch_entry(&mut self, entry: &Entry) {
        match entry {
            Entry::Event(told) => {
                assert!(self.names.insert(told.id), "each event has a name of its own: {told:?}");
                assert!(told.run.is_none_or(|run| self.begun.contains(&run)), "it belongs to a run that was begun");
                if let (Some(tap), Some(member)) = (told.what.tap(), told.member()) {
                    *self.journalled.entry((MemberId(member), tap.to_owned())).or_default() += 1;
                }
                if let (What::HoldLate { tap: Some(tap), .. }, Some(member)) = (&told.what, told.member()) {
                    self.unwritten.push((None, MemberId(member), tap.clone()));
                }
                if let What::HoldJoined(_) = &told.what {
                    self.calls.push(told.id);
                }
                if let What::Hold { call, .. } = &told.what {
                    self.calls = vec![told.id];
                    *self.holds_journalled.entry(call.hold).or_default() += 1;
                }
                if let What::Start { begun, .. } = &told.what {
                    let begun = begun.as_ref().expect("a start says what it starts");
                    assert_eq!((Some(begun.run), begun.server_us), (told.run, told.at.0));
                }
                self.watch_reason(told);
                self.written.push((**told).clone());
            }
            Entry::RunBegun(begun) => assert!(self.begun.insert(begun.run), "a run begins once: {begun:?}"),
            Entry::RunEnded(ended) => {
                assert!(self.begun.contains(&ended.run), "what ends was begun: {ended:?}");
                assert!(self.ended.insert(ended.run), "a run ends once: {ended:?}");
            }
            Entry::Revision(_) | Entry::Part { .. } => {}
        }
    }

    /// What the call says is signed and noted is what the journal was told of this call, and nothing else.
    fn watch_signing(&mut self, outputs: &[Output], input: &Input, role: Option<Role>) {
        for told in outputs.iter().filter_map(|output| match output {
            Output::Journal(Entry::Event(told)) => Some(told),
            _ => None,
        }) {
            let at = if matches!(told.what, What::Hold { .. } | What::HoldJoined(_)) { self.now } else { told.at };
            self.forget_after_pause(at);
            self.last_entry = self.last_entry.max(at);
            if self.now.since(at) > LONGEST_PAUSE {
                // It stood behind something unsettled until another call had begun.
                continue;
            }
            match &told.what {
                What::Check { check, in_order, .. } => {
                    // One that stood behind something unsettled was asked for earlier.
                    let now = check != TRIAL && matches!(input, Input::From(_, Act::Sign { .. }));
                    assert!(!now || matches!(role, Some(Role::Desk | Role::Captain)), "{role:?} has signed");
                    self.signed.insert(check.clone(), *in_order);
                }
                What::Attendance { person, present, .. } => {
                    let now = matches!(input, Input::From(_, Act::Attend { .. }));
                    assert!(!now || role == Some(Role::Desk));
                    self.noted.insert(person.clone(), *present);
                }
                What::End { .. } => {
                    self.signed.clear();
                    self.noted.clear();
                }
                What::Start { .. } => {
                    // One that stood behind something unsettled is written later.
                    let Input::From(_, Act::Start { anyway, .. }) = input else { continue };
                    let all = CHECKS[..2].iter().all(|check| self.signed.get(*check) == Some(&true));
                    let on_list = self.call.signing().checks().count() >= 2;
                    assert!(*anyway || all || !on_list, "what is not signed, or not in order, is said before a start");
                }
                _ => {}
            }
        }
        self.forget_after_pause(self.now);
        if !self.on_the_way.is_empty() {
            // Something may stand behind what is not settled.
            return;
        }
        let checks = self.call.signing().checks().filter_map(|(check, it)| Some((check.to_owned(), it?.in_order)));
        assert_eq!(checks.collect::<BTreeMap<_, _>>(), self.signed);
        let noted = self.call.signing().noted().map(|(person, present)| (person.to_owned(), present));
        assert_eq!(noted.collect::<BTreeMap<_, _>>(), self.noted);
    }

    /// After a long pause without anything written down, what comes is another call.
    fn forget_after_pause(&mut self, at: ServerTime) {
        if at.since(self.last_entry) > LONGEST_PAUSE {
            self.signed.clear();
            self.noted.clear();
        }
    }

    /// A trial holds nothing, and its result says of everybody whether they were reached.
    fn watch_trial(&mut self, outputs: &[Output], input: &Input, role: Option<Role>) {
        if let Input::Tried { member, trial, answer } = input
            && *trial == self.tried
            && let Some(running) = &mut self.trial
            && self.now.since(running.at) < TRIAL_LIMIT
            && let Some(told @ None) = running.told.get_mut(member)
        {
            *told = Some((self.now.since(running.at), answer.shown));
        }
        for output in outputs {
            match output {
                Output::Try { trial, members, .. } => {
                    assert!(matches!(role, Some(Role::Desk | Role::Captain)), "{role:?} has tried the hold");
                    // A run may have come to its end at this very moment.
                    let is = stage_word(self.call.stage());
                    assert!(matches!(is, "idle" | "stopped" | "complete"), "tried before places, and nothing is held");
                    let all = self.call.roster().iter();
                    let needed = |member: &Member| member.part.is_some() || member.role == Role::Captain;
                    let without_link = all.filter(|(_, member)| !member.linked && needed(member)).count();
                    let told = members.iter().map(|member| (*member, None)).collect();
                    self.tried = *trial;
                    self.trial = Some(Tried { at: self.now, told, without_link });
                }
                Output::Held => self.trial = None,
                Output::Journal(Entry::Event(told)) => self.result(told),
                _ => {}
            }
        }
        if matches!(input, Input::From(_, Act::EndCall { .. })) && matches!(self.call.stage(), Stage::Idle) {
            self.trial = None;
        }
    }

    fn result(&mut self, told: &Told) {
        let What::Check { check, in_order, note, .. } = &told.what else { return };
        let Some(note) = note.as_ref().filter(|_| check == TRIAL) else { return };
        // What stood behind something unsettled is written after another trial was begun, or was dropped by a hold.
        let Some(trial) = self.trial.take_if(|trial| told.at > trial.at) else { return };
        let good = |answer: &Option<(Micros, bool)>| answer.is_some_and(|(after, shown)| after <= TRIAL_SLOW && shown);
        assert_eq!(*in_order, trial.told.values().all(good) && trial.without_link == 0, "{note}");
        for (member, answer) in &trial.told {
            let named = note.contains(&format!("member {}", member.0));
            assert!(good(answer) || named, "{note} does not name {member:?}");
        }
        assert!(trial.told.values().all(Option::is_some) || told.at.since(trial.at) >= TRIAL_LIMIT);
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
            assert!(matches!((input, role), (Input::From(_, Act::Places { .. }), Some(Role::Desk))));
        }
    }

    /// However time is cut, the call stands the same and writes down the same.
    fn time_alone_is_no_input(&mut self, input: &Input, outputs: &[Output], settled: ServerTime) {
        self.wrote[0].extend(entries(outputs));
        if matches!(input, Input::Tick) {
            return;
        }
        // As it is kept in the journal.
        let kept = serde_json::to_string(input).unwrap();
        let mut others = self.unticked.handle(self.now, serde_json::from_str(&kept).unwrap());
        others.extend(self.unticked.settle(settled));
        self.wrote[1].extend(entries(&others));
        assert_eq!(stands(&self.unticked), stands(&self.call), "after {input:?} at {:?}", self.now);
    }

    /// Whoever decides has seen what is there: places are called and a run is started by a screen that shows the call as it
    /// stands, for a start the cast too; and no other decision is refused for want of sight.
    fn watch_sight(&mut self, was: &str, input: &Input, outputs: &[Output]) {
        let is = stage_word(self.call.stage());
        let decided = match input {
            Input::From(_, Act::Places { seen, .. }) => Some((*seen, false, is == "places" && self.places_anew())),
            Input::From(_, Act::Start { seen, .. }) => Some((*seen, true, is == "going" && was == "places")),
            _ => None,
        };
        if let (Some((seen, starts, done)), Some(now)) = (decided, self.screens.last()) {
            let mut shown = self.screens.iter().filter(|screen| screen.last_event == seen);
            let there = |screen: &Screen| {
                (screen.stage, screen.generation) == (now.stage, now.generation) && (!starts || screen.cast == now.cast)
            };
            assert!(!done || shown.all(there), "{input:?} from {now:?}");
            let unseen = outputs.iter().any(|output| match output {
                Output::Refused { reason, .. } => {
                    reason.contains("Look again") && !reason.starts_with("Places have been called anew")
                }
                _ => false,
            });
            // What time alone brought in this very moment (a trial that is over, the end of a run, which is written down a
            // little later), no screen has shown.
            let just_now = outputs.iter().any(|output| matches!(output, Output::Journal(_) | Output::Lives(_)));
            assert!(
                !unseen || just_now || seen != now.last_event,
                "whoever sees the last of it may decide: {outputs:?}"
            );
        }
        let cast = self.call.roster().iter().filter_map(|(id, member)| Some((member.part.clone()?, id)));
        let (last_event, generation) = (self.call.last_event(), self.call.generation());
        let screen = Screen { last_event, stage: is, generation, cast: cast.collect() };
        if self.screens.last() != Some(&screen) {
            self.screens.push(screen);
        }
    }

    /// True when places were called by what was just done: they have a generation that no screen has shown.
    fn places_anew(&self) -> bool {
        self.screens.last().is_none_or(|screen| screen.generation != self.call.generation())
    }

    fn watch_tap(&mut self, input: &Input, was: &str, outputs: &[Output]) {
        let (member, tap) = match input {
            Input::Tap(member, tap) => (*member, tap),
            Input::Pulled(Pulling { by: Puller::Member(member, tap), .. }) => (*member, tap),
            _ => return,
        };
        let answered = outputs.iter().any(
            |output| matches!(output, Output::TapAnswer { member: to, tap: id, .. } if *to == member && *id == tap.id),
        );
        let is_late = |told: &Told| {
            matches!(&told.what, What::HoldLate { tap: Some(id), .. } if *id == tap.id)
                && told.member() == Some(member.0)
        };
        let late = outputs.iter().any(|output| matches!(output, Output::Journal(Entry::Event(told)) if is_late(told)));
        assert!(!late || !answered, "a late tap is answered once it is on disk");
        let on_the_way = self.unwritten.iter().any(|(_, whose, id)| *whose == member && *id == tap.id);
        // A late one may stand behind something that a pull on its way may still take back.
        let unsettled = !self.on_the_way.is_empty();
        assert!(answered || on_the_way || unsettled, "every tap is answered at once, or once it is on disk");
        self.taps.insert((member, tap.id.clone()));
        let Input::Pulled(_) = input else { return };
        assert!(
            !outputs.iter().any(|output| matches!(output, Output::Cue(_) | Output::Click { .. })),
            "nothing is cued by a hold"
        );
        if was != "held" {
            assert!(matches!(outputs.first(), Some(Output::Silence(_))), "silence comes before anything else");
            assert!(matches!(outputs.get(1), Some(Output::Held)), "then everybody is told");
            let written = outputs.iter().position(|output| matches!(output, Output::Journal(_)));
            assert!(written.is_none_or(|written| written > 1), "it is written down after everybody is told");
        }
    }

    /// Why is asked of what is over: it holds, silences and frees nothing, and is given by whoever called or leads.
    fn watch_why(&mut self, input: &Input, outputs: &[Output]) {
        if matches!(input, Input::From(_, Act::Reason { .. }) | Input::Reported(_)) {
            let of_holds = |output: &Output| {
                matches!(output, Output::Silence(_) | Output::Held | Output::Free | Output::TapAnswer { .. })
            };
            assert!(!outputs.iter().any(of_holds), "{input:?} has touched a hold: {outputs:?}");
        }
        if !self.on_the_way.is_empty() {
            // Something may stand behind what is not settled.
            return;
        }
        let standing = match self.call.stage() {
            Stage::Held(hold, _) => Some(hold.as_ref()),
            _ => None,
        };
        for hold in standing.into_iter().chain(self.call.past_holds()) {
            let says = hold.reason.as_ref().map(|reason| &reason.says);
            assert_eq!(says, self.reasons.get(&hold.id), "the last reason that was given stands");
        }
    }

    /// A reason is that of a hold that is written down, by one of those who called it or who lead.
    fn watch_reason(&mut self, told: &Told) {
        let What::Reason { of, hold: Some(hold), reason } = &told.what else { return };
        assert!(REASONS[..2].contains(&reason.as_str()), "{reason} is on the list");
        let of_this = |told: &&Told| told.what.hold() == Some(*hold);
        let calls = || {
            let call = |told: &&Told| matches!(told.what, What::Hold { .. } | What::HoldJoined(_));
            self.written.iter().filter(of_this).filter(call)
        };
        assert_eq!(calls().next().map(|told| told.id), Some(*of), "after the hold, never before");
        let who = told.who.as_ref().expect("somebody gives it");
        let called = calls().any(|call| call.member() == who.member);
        assert!(called || matches!(who.role, Some(Role::Desk | Role::Captain)), "{told:?}");
        self.reasons.insert(*hold, reason.clone());
    }

    /// Whatever came in, and however much time passed before it: a run that goes on by the clock has cued all that is due.
    fn nothing_due_is_uncued(&self) {
        let Stage::Going(run, _) = self.call.stage() else { return };
        let due =
            |moment: &holdfast::timeline::Moment| run.due(moment).is_some_and(|at| at - settings().horizon <= self.now);
        let due = run.plan.moments().iter().take_while(|moment| due(moment)).count();
        let sent = self.sent.get(&self.call.generation()).map_or(0, |last| last + 1);
        assert!(sent >= due, "{due} moments are to be cued by now, {sent} are");
    }

    fn close(&mut self) {
        // Everything arrives at last.
        self.now = self.now + Micros::seconds(10);
        self.deliver();
        self.handle(Input::Tick);
        let mut last = self.unticked.handle(self.now, Input::Tick);
        last.extend(self.unticked.settle(ServerTime(i64::MAX)));
        self.wrote[1].extend(entries(&last));
        let settled = self.call.settle(ServerTime(i64::MAX));
        self.wrote[0].extend(entries(&settled));
        assert_eq!(self.wrote[0], self.wrote[1], "however time is cut, the same is written down");
        for tap in &self.taps {
            assert_eq!(self.journalled.get(tap), Some(&1), "every hold is journalled once");
        }
        assert!(self.holds_journalled.values().all(|times| *times == 1));
        let all = self.wrote[0].iter().filter_map(|entry| match entry {
            Entry::Event(told) if matches!(told.what, What::NearMiss { .. }) => Some(told.who.is_none()),
            _ => None,
        });
        let all: Vec<bool> = all.collect();
        assert_eq!(all.len(), self.reported.0, "every near miss is kept, once");
        let unnamed = all.iter().filter(|unnamed| **unnamed).count();
        assert!(unnamed >= self.reported.1, "no name is kept of whoever gave none");
    }
}

fn entries(outputs: &[Output]) -> impl Iterator<Item = Entry> {
    let entry = |output: &Output| match output {
        Output::Journal(entry) => Some(entry.clone()),
        _ => None,
    };
    outputs.iter().filter_map(entry)
}

/// Where a call stands, as far as anybody is told of it.
fn stands(call: &Call) -> impl PartialEq + std::fmt::Debug {
    let hold = match call.stage() {
        Stage::Held(hold, _) => Some(hold.clone()),
        _ => None,
    };
    let stage = (stage_word(call.stage()), call.run().map(|run| run.number), hold, call.spot(), call.counts_in());
    let roster: Vec<_> = call.roster().iter().map(|(id, member)| (id, member.clone())).collect();
    let checks: Vec<_> = call.signing().checks().map(|(check, signed)| (check.to_owned(), signed.cloned())).collect();
    let noted: Vec<_> = call.signing().noted().map(|(person, there)| (person.to_owned(), there)).collect();
    let next_speed = call.next_speed().map(|(speed, phrase)| (speed, phrase.to_owned()));
    let named = (call.generation(), call.last_event(), call.deadline(), next_speed);
    (stage, roster, (call.past_holds().to_vec(), call.near_misses().0.to_vec()), checks, noted, named)
}

pub(crate) fn stage_word(stage: &Stage) -> &'static str {
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
    call_places(&mut rehearsal, drive, percent);
    rehearsal
}

fn call_places(rehearsal: &mut Rehearsal, drive: Drive, percent: u16) {
    let setup = SetupRequest {
        fight: "The Salt Stair".into(),
        weapons: None,
        first: 0,
        from_move: None,
        last: 2,
        percent,
        count_in: 4,
        drive,
    };
    let seen = rehearsal.call.last_event();
    rehearsal.handle(Input::From(MemberId(0), Act::Places { request: setup, seen }));
    let generation = rehearsal.call.generation();
    for performer in [2, 3] {
        rehearsal.handle(Input::From(MemberId(performer), Act::Ready { ready: true, generation }));
    }
}

fn start(rehearsal: &mut Rehearsal) {
    let (generation, seen) = (rehearsal.call.generation(), rehearsal.call.last_event());
    rehearsal.handle(Input::From(MemberId(0), Act::Start { generation, anyway: false, seen }));
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
    let moments = rehearsal.call.run().unwrap().plan.moments().to_vec();
    let something = moments.iter().filter(|it| !it.moves.is_empty() || !it.walks.is_empty()).count();
    assert!(moments.iter().any(|it| it.moves.is_empty() && !it.walks.is_empty()), "somebody walks by themselves");
    let generation = rehearsal.call.generation();
    let mut stepped = 0;
    while stage_word(rehearsal.call.stage()) == "going" {
        assert_eq!(rehearsal.call.deadline(), None);
        let step = Step { generation, from: Some(stepped as u32), way: Way::On };
        let outputs = rehearsal.answer(Input::From(MemberId(1), Act::Step(step)));
        assert!(!outputs.iter().any(|output| matches!(output, Output::Click { .. })), "nothing sounds");
        stepped += outputs.iter().filter(|output| matches!(output, Output::Cue(cue) if cue.due.is_none())).count();
    }
    assert_eq!(stepped, something, "one step a move, and one a walk");
}

#[test]
fn a_release_that_has_not_seen_every_caller_is_refused() {
    let mut rehearsal = at_places(Drive::Clock, 100);
    start(&mut rehearsal);
    for (by, tap) in [(2, "a"), (3, "b")] {
        rehearsal.tap(MemberId(by), fresh(&rehearsal, tap), 0);
    }
    assert_eq!(
        refused(&mut rehearsal, 1).as_deref(),
        Some("member 3 has called hold as well. Look again, then release.")
    );
    assert_eq!(stage_word(rehearsal.call.stage()), "held");
    assert_eq!(refused(&mut rehearsal, 2), None);
    assert_eq!(stage_word(rehearsal.call.stage()), "stopped");
}

/// Two desks, and what each has on its screen.
#[test]
fn whoever_decides_has_seen_what_the_other_desk_did_and_a_double_press_is_one() {
    let mut rehearsal = at_places(Drive::Clock, 100);
    let second = MemberId(9);
    let ask = |rehearsal: &mut Rehearsal, by: MemberId, act: Act| {
        let outputs = rehearsal.answer(Input::From(by, act));
        outputs.into_iter().find_map(|output| match output {
            Output::Refused { reason, .. } => Some(reason),
            _ => None,
        })
    };
    let join = Input::Joined { member: second, name: "Maud".into(), role: Role::Desk, part: None, instead_of: None };
    rehearsal.answer(join);
    let places = |percent, seen| {
        let (fight, drive) = ("The Salt Stair".into(), Drive::Clock);
        Act::Places {
            request: SetupRequest {
                fight,
                weapons: None,
                first: 0,
                from_move: None,
                last: 2,
                percent,
                count_in: 4,
                drive,
            },
            seen,
        }
    };
    let before = rehearsal.call.last_event();
    assert_eq!(ask(&mut rehearsal, second, places(50, before)), None);
    let generation = rehearsal.call.generation();
    assert_eq!(ask(&mut rehearsal, second, places(50, before)), None, "pressed twice it is called once");
    assert_eq!(rehearsal.call.generation(), generation);
    let refused = ask(&mut rehearsal, MemberId(0), places(100, before)).unwrap();
    assert!(refused.starts_with("Maud has called places since, for The Salt Stair"), "{refused}");
    let seen = rehearsal.call.last_event();
    assert_eq!(ask(&mut rehearsal, second, Act::TakePart { member: MemberId(2), part: None }), None);
    let refused = ask(&mut rehearsal, MemberId(0), Act::Start { generation, anyway: true, seen }).unwrap();
    assert_eq!(refused, "member 2 plays no part any more. Look again, then start.");
    // Whoever calls places anew need not have seen who plays what.
    assert_eq!(ask(&mut rehearsal, MemberId(0), places(100, seen)), None);
    let elsewhere = EventId { session: 99, ..seen };
    let generation = rehearsal.call.generation();
    let refused = ask(&mut rehearsal, second, Act::Start { generation, anyway: true, seen: elsewhere }).unwrap();
    assert_eq!(refused, "The server has started anew since. Look again, then start.");
    let seen = rehearsal.call.last_event();
    assert_eq!(ask(&mut rehearsal, second, Act::Start { generation, anyway: true, seen }), None);
}

#[test]
fn what_time_alone_has_just_brought_is_seen_before_a_start() {
    let mut rehearsal = Rehearsal::new();
    rehearsal.handle(Input::From(MemberId(0), Act::TryHold));
    call_places(&mut rehearsal, Drive::Clock, 80);
    let (generation, seen) = (rehearsal.call.generation(), rehearsal.call.last_event());
    // The trial has been over for a while, and nothing has told the call so.
    rehearsal.now = rehearsal.now + TRIAL_LIMIT;
    let start = Act::Start { generation, anyway: false, seen };
    rehearsal.handle(Input::From(MemberId(0), start));
    assert_eq!(stage_word(rehearsal.call.stage()), "places", "whoever starts has not seen how the trial ended");
    let seen = rehearsal.call.last_event();
    rehearsal.handle(Input::From(MemberId(0), Act::Start { generation, anyway: true, seen }));
    assert_eq!(stage_word(rehearsal.call.stage()), "going");
}

fn fresh(rehearsal: &Rehearsal, tap: &str) -> Tap {
    let generation = rehearsal.call.generation();
    Tap { id: tap.into(), generation, queued: false, screen_cue: None, reason: None }
}

/// The captain releases the first hold, having seen so many calls; gives why not.
fn refused(rehearsal: &mut Rehearsal, calls: usize) -> Option<String> {
    let seen = rehearsal.calls[calls - 1];
    let release = Input::From(MemberId(1), Act::Release { hold: HoldId(1), seen });
    match &rehearsal.answer(release)[..] {
        [Output::Refused { asked: Asked::Release, reason, .. }] => Some(reason.clone()),
        _ => None,
    }
}

#[test]
fn whoever_calls_again_is_counted_and_cannot_keep_a_hold_for_ever() {
    let mut rehearsal = at_places(Drive::Clock, 100);
    start(&mut rehearsal);
    for tap in 0..5 {
        rehearsal.tap(MemberId(2), fresh(&rehearsal, &format!("tap {tap}")), 0);
    }
    rehearsal.tap(MemberId(3), fresh(&rehearsal, "once"), 0);
    let Stage::Held(hold, _) = rehearsal.call.stage() else { panic!() };
    let callers: Vec<_> = hold.callers.iter().map(|caller| (caller.member.0, caller.times)).collect();
    assert_eq!((callers, hold.calls), (vec![(2, 5), (3, 1)], 6));
    // The screen has shown all six; then one goes on tapping, faster than anybody can look.
    for tap in 5..9 {
        rehearsal.tap(MemberId(2), fresh(&rehearsal, &format!("tap {tap}")), 0);
    }
    assert_eq!(
        refused(&mut rehearsal, 6).as_deref(),
        Some("member 2 has called hold again. Look again, then release.")
    );
    // Pressed twice, the second time nothing more was seen than the first.
    assert_eq!(
        refused(&mut rehearsal, 6).as_deref(),
        Some("member 2 has called hold again. Look again, then release."),
        "a double press releases nobody's call unseen"
    );
    rehearsal.tap(MemberId(2), fresh(&rehearsal, "and again"), 0);
    rehearsal.tap(MemberId(3), fresh(&rehearsal, "twice"), 0);
    let again = refused(&mut rehearsal, 10);
    assert_eq!(
        again.as_deref(),
        Some("member 3 has called hold again. Look again, then release."),
        "once for each person"
    );
    rehearsal.tap(MemberId(2), fresh(&rehearsal, "and again and again"), 0);
    assert_eq!(refused(&mut rehearsal, 12), None, "a flood cannot keep it");
    assert_eq!(stage_word(rehearsal.call.stage()), "stopped");
}

#[test]
fn a_tap_that_holds_nothing_changes_nothing() {
    // Found on the server: a stale tap that was sent again swallowed the deadline of the next cue.
    let mut rehearsal = at_places(Drive::Clock, 80);
    start(&mut rehearsal);
    let stale = Tap { id: "stale".into(), generation: Generation(0), queued: true, screen_cue: None, reason: None };
    let mut cued = 0;
    while stage_word(rehearsal.call.stage()) == "going" {
        rehearsal.now = rehearsal.now + Micros::millis(37);
        let outputs = rehearsal.answer(Input::Tap(MemberId(3), stale.clone()));
        cued += outputs.iter().filter(|output| matches!(output, Output::Cue(_))).count();
        if let Stage::Going(run, _) = rehearsal.call.stage() {
            let due = run.plan.moments().iter().filter(|it| run.due(it).unwrap() - settings().horizon <= rehearsal.now);
            assert!(rehearsal.call.deadline().is_some_and(|at| at > rehearsal.now));
            assert!(cued + 8 >= due.count(), "the cues come on time although nobody ticks");
        }
    }
    assert_eq!(stage_word(rehearsal.call.stage()), "complete");
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
    let pulling = Pulling { by: Puller::Member(MemberId(3), tap), at, dead: rehearsal.call.generation() };
    // The call hears of it eight seconds later, when the run has long come to its end.
    let late = rehearsal.call.handle(at + Micros::seconds(8), Input::Tick);
    assert!(!late.iter().any(|output| matches!(output, Output::Journal(_))), "nothing is settled");
    let outputs = rehearsal.call.handle(at + Micros::seconds(8), Input::Pulled(pulling));
    let told = outputs.iter().find_map(|output| match output {
        Output::Journal(Entry::Event(told)) if matches!(told.what, What::Hold { .. }) => Some(told),
        _ => None,
    });
    let told = told.unwrap();
    let spot = told.spot.as_ref().unwrap();
    assert_eq!((spot.phrase_name.as_str(), spot.beat.as_str(), spot.number), ("phrase 1", "4", Some(3)));
    assert_eq!(spot.words.as_deref(), Some("MARET cut head / OSK parry 5"));
    assert_eq!(told.what.screen().unwrap().beat, "3", "cue 6 is the third beat after a count-in of four");
    assert_eq!(told.percent, Some(100));
    let What::Hold { under_way, .. } = &told.what else { unreachable!() };
    let moves: Vec<_> = under_way.iter().map(|it| (it.number, it.words.as_str())).collect();
    assert_eq!(moves, [(3, "MARET cut head / OSK parry 5")]);
}

/// Two pairs fight at once: a hold names what each of them was in, the caller's own first.
#[test]
fn a_hold_names_the_moves_of_every_pair_and_the_callers_own_first() {
    const TEXT: &str = "fight \"Four\"\ntempo 60\nfighters\n  ADA rapier right\n  BEN rapier right\n  \
        CLO rapier right\n  DAN rapier right\nphrase \"one\"\n  1 ADA cut head / BEN parry 5\n  \
        1 CLO cut head / DAN parry 5\n  2 BEN thrust belly / ADA parry 4\n  9 DAN thrust belly / CLO parry 4\n";
    let score = read(TEXT, "four", &Vocabulary::built_in()).score.unwrap();
    let fight = Arc::new(Fight::unchecked(score, "0".repeat(64), TEXT.into()));
    let now = ServerTime(0);
    for (part, words) in [
        ("DAN", ["CLO cut head / DAN parry 5", "BEN thrust belly / ADA parry 4"]),
        ("ADA", ["BEN thrust belly / ADA parry 4", "CLO cut head / DAN parry 5"]),
    ] {
        let mut call = Call::new(settings(), vec![Arc::clone(&fight)], Before::default());
        let join = |member, role, part: Option<&str>| Input::Joined {
            member: MemberId(member),
            name: format!("member {member}"),
            role,
            part: part.map(str::to_owned),
            instead_of: None,
        };
        call.handle(now, join(1, Role::Desk, None));
        call.handle(now, join(2, Role::Performer, Some(part)));
        let setup = SetupRequest {
            fight: "Four".into(),
            weapons: None,
            first: 0,
            from_move: None,
            last: 0,
            percent: 100,
            count_in: 0,
            drive: Drive::Clock,
        };
        let seen = call.last_event();
        call.handle(now, Input::From(MemberId(1), Act::Places { request: setup, seen }));
        let (generation, seen) = (call.generation(), call.last_event());
        call.handle(now, Input::From(MemberId(1), Act::Start { generation, anyway: true, seen }));
        // Two and a half beats into it: BEN and ADA are in their second move, the others still in their first.
        let at = call.run().unwrap().start.unwrap() + Micros::millis(2_500);
        let tap = Tap { id: "t".into(), generation, queued: false, screen_cue: None, reason: None };
        let pulling = Pulling { by: Puller::Member(MemberId(2), tap), at, dead: generation };
        let under_way = call.handle(at, Input::Pulled(pulling)).into_iter().find_map(|output| match output {
            Output::Journal(Entry::Event(told)) => match told.what {
                What::Hold { under_way, .. } => {
                    let first = told.spot.and_then(|spot| spot.words);
                    assert_eq!(first.as_deref(), Some(words[0]), "the place is that of the caller's own move");
                    Some(under_way)
                }
                _ => None,
            },
            _ => None,
        });
        let found: Vec<String> = under_way.unwrap().into_iter().map(|it| it.words).collect();
        assert_eq!(found, words, "called by {part}");
    }
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
    let places = |rehearsal: &Rehearsal| {
        let (fight, drive) = ("The Salt Stair".into(), Drive::Step);
        let request =
            SetupRequest { fight, weapons: None, first: 0, from_move: None, last: 2, percent: 100, count_in: 4, drive };
        Input::From(MemberId(0), Act::Places { request, seen: rehearsal.call.last_event() })
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
        let seen = rehearsal.call.last_event();
        let start = Input::From(MemberId(0), Act::Start { generation, anyway: false, seen });
        let outputs = rehearsal.answer(start);
        for output in &outputs {
            if let Output::Journal(entry) = output {
                rehearsal.watch_entry(entry);
            }
        }
        match &outputs[..] {
            [Output::Refused { reason, .. }] => reason.clone(),
            _ => String::new(),
        }
    };
    rehearsal.handle(places(&rehearsal));
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
    rehearsal.handle(places(&rehearsal));
    assert!(start(&mut rehearsal).starts_with("“weapons”, “floor” are not signed."));
}

fn asked_step(rehearsal: &mut Rehearsal, by: u32, from: u32, way: Way) -> (Option<String>, Vec<CueOut>) {
    let generation = rehearsal.call.generation();
    let step = Step { generation, from: Some(from), way };
    let (mut refused, mut cues) = (None, Vec::new());
    for output in rehearsal.answer(Input::From(MemberId(by), Act::Step(step))) {
        match output {
            Output::Refused { reason, .. } => refused = Some(reason),
            Output::Cue(cue) => cues.push(cue),
            _ => {}
        }
    }
    (refused, cues)
}

#[test]
fn a_walk_through_goes_back_and_a_step_asked_for_twice_is_one() {
    let mut rehearsal = at_places(Drive::Step, 100);
    start(&mut rehearsal);
    let spot = |rehearsal: &Rehearsal| rehearsal.call.spot().and_then(|spot| spot.cue);
    let (refused, cues) = asked_step(&mut rehearsal, 0, 0, Way::Back);
    assert_eq!((refused.is_some(), cues.len(), spot(&rehearsal)), (true, 0, None), "nothing is before the beginning");
    asked_step(&mut rehearsal, 0, 0, Way::On);
    let first = spot(&rehearsal);
    // The captain at the same instant, and the desk's second tap.
    for by in [1, 0] {
        assert_eq!(asked_step(&mut rehearsal, by, 0, Way::On), (None, Vec::new()));
    }
    assert_eq!(spot(&rehearsal), first);
    asked_step(&mut rehearsal, 1, 1, Way::On);
    let second = spot(&rehearsal);
    assert!(second > first);
    let (refused, cues) = asked_step(&mut rehearsal, 0, 2, Way::Back);
    assert_eq!((refused, spot(&rehearsal)), (None, first));
    assert_eq!(cues.iter().map(|cue| cue.step).collect::<Vec<_>>(), [Some(3)], "back is a step that is newer");
    let (refused, cues) = asked_step(&mut rehearsal, 0, 3, Way::Back);
    assert_eq!(refused.as_deref(), Some("This is the first move: there is none before it to go back to."));
    assert_eq!((cues.len(), spot(&rehearsal)), (0, first));
    // Who comes in now is given the move that stands, with its step.
    let came = rehearsal.answer(Input::LinkBack(MemberId(2)));
    assert!(came.iter().all(|output| !matches!(output, Output::Cue(cue) if cue.step != Some(3))), "{came:?}");
    // To the end and one tap more.
    let generation = rehearsal.call.generation();
    let mut steps = 3;
    while stage_word(rehearsal.call.stage()) == "going" {
        asked_step(&mut rehearsal, 0, steps, Way::On);
        steps += 1;
    }
    let late = Step { generation, from: Some(steps - 1), way: Way::On };
    let told = rehearsal.answer(Input::From(MemberId(0), Act::Step(late)));
    assert!(!told.iter().any(|output| matches!(output, Output::Refused { .. })), "{told:?}");
}

#[test]
fn a_step_that_was_written_before_steps_had_numbers_is_read() {
    let old: Act = serde_json::from_str(r#"{"step":7}"#).unwrap();
    let Act::Step(step) = old else { panic!("{old:?}") };
    assert_eq!(step, Step { generation: Generation(7), from: None, way: Way::On });
    let now = Step { generation: Generation(7), from: Some(2), way: Way::Back };
    let written = serde_json::to_string(&Act::Step(now)).unwrap();
    assert!(matches!(serde_json::from_str(&written).unwrap(), Act::Step(read) if read == now), "{written}");
}

proptest! {
    /// A hold is counted at the moves of its caller where they were in one, else at each that was under way.
    #[test]
    fn a_hold_is_counted_at_its_callers_own_moves_else_at_all(
        pairs in prop::collection::vec(prop::sample::subsequence(vec!["ADA", "BEN", "CLO", "DAN"], 1..=2), 0..5),
        part in prop::option::of(prop::sample::select(vec!["ADA", "BEN", "CLO", "DAN", "EVA"])),
    ) {
        let move_of = |(at, pair): (usize, &Vec<&str>)| UnderWay {
            pair: pair.iter().map(|&name| name.to_owned()).collect(),
            number: at as u32 + 1,
            words: String::new(),
        };
        let under_way: Vec<UnderWay> = pairs.iter().enumerate().map(move_of).collect();
        let counted: Vec<u32> = counted_at(&under_way, part).iter().map(|it| it.number).collect();
        let own: Vec<u32> = (1..).zip(&pairs).filter(|(_, pair)| part.is_some_and(|part| pair.contains(&part))).map(|(at, _)| at).collect();
        let all: Vec<u32> = (1..=pairs.len() as u32).collect();
        prop_assert_eq!(counted, if own.is_empty() { all } else { own });
    }
}
