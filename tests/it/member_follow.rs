//! The member's state machine under anything that a server, a network and a person can do, in any order: what it may
//! never do.

use std::collections::{BTreeMap, BTreeSet};

use holdfast::clock::MemberTime;
use holdfast::member::{Act, Event, Follower, Introduction};
use holdfast::rules::{LATE, RETRY_LONGEST, SILENCE, UNTOLD};
use holdfast::units::{Generation, Micros};
use holdfast::wire::{Cue, HoldTap, TapOutcome, ToMember, ToServer};
use proptest::prelude::*;

use crate::net_messages::{cue, held, state, welcome};

/// How far the server's clock is ahead in these tests, µs.
const AHEAD: i64 = 5_000_000;

/// What the world does next.
#[derive(Clone, Debug)]
enum Turn {
    /// Time goes by; the member is woken at each of its deadlines, if it is asked.
    Pass {
        length: i64,
        woken: bool,
    },
    /// The connection closes, or the one that is coming about fails.
    Close,
    /// The connection that was asked for is open.
    Open,
    Welcome {
        generation: u64,
    },
    Pulse {
        generation: u64,
    },
    State {
        generation: u64,
    },
    /// A cue due so long from now (or without a time).
    Cue {
        generation: u64,
        cue: u32,
        due_in: Option<i64>,
    },
    Held {
        generation: u64,
    },
    /// All questions about the time are answered, after so long on the way.
    AnswerClock,
    /// The oldest tap is answered.
    Answer(TapOutcome),
    Tap,
    Say,
}

fn turn() -> impl Strategy<Value = Turn> {
    let generation = || 0..5u64;
    let outcome = prop_oneof![Just(TapOutcome::Held), Just(TapOutcome::Written), Just(TapOutcome::Late)];
    prop_oneof![
        6 => (1_000..400_000i64, prop::bool::weighted(0.9)).prop_map(|(length, woken)| Turn::Pass { length, woken }),
        1 => (400_000..8_000_000i64, any::<bool>()).prop_map(|(length, woken)| Turn::Pass { length, woken }),
        1 => Just(Turn::Close),
        3 => Just(Turn::Open),
        3 => generation().prop_map(|generation| Turn::Welcome { generation }),
        6 => generation().prop_map(|generation| Turn::Pulse { generation }),
        1 => generation().prop_map(|generation| Turn::State { generation }),
        10 => (generation(), 0..30u32, prop::option::weighted(0.9, -100_000..1_500_000i64))
            .prop_map(|(generation, cue, due_in)| Turn::Cue { generation, cue, due_in }),
        1 => generation().prop_map(|generation| Turn::Held { generation }),
        5 => Just(Turn::AnswerClock),
        1 => outcome.prop_map(Turn::Answer),
        1 => Just(Turn::Tap),
        1 => Just(Turn::Say),
    ]
}

/// The follower, the world around it, and what the world knows to be true whatever the follower thinks.
struct World {
    follower: Follower,
    now: i64,
    opening: bool,
    open: bool,
    welcomed: bool,
    heard: i64,
    linked_at: i64,
    /// The newest generation that this link told of.
    newest: u64,
    /// The cues that this link has shown.
    shown: BTreeSet<(u64, u32)>,
    /// The cues that sounded, as long as the generation and the server are known to be the same.
    sounded: BTreeSet<(u64, u32)>,
    questions: Vec<i64>,
    taps: BTreeMap<String, Tap>,
    link: u32,
}

struct Tap {
    first: HoldTap,
    sent_over: BTreeSet<u32>,
    sent_at: i64,
    told: bool,
    settled: bool,
}

impl World {
    fn new() -> World {
        let introduction = Introduction::Return { key: "k".into() };
        World {
            follower: Follower::new(introduction),
            now: 0,
            opening: false,
            open: false,
            welcomed: false,
            heard: 0,
            linked_at: 0,
            newest: 0,
            shown: BTreeSet::new(),
            sounded: BTreeSet::new(),
            questions: Vec::new(),
            taps: BTreeMap::new(),
            link: 0,
        }
    }

    fn turn(&mut self, turn: Turn) -> Result<(), TestCaseError> {
        let server = self.now + AHEAD;
        match turn {
            Turn::Pass { length, woken } => self.pass(length, woken)?,
            Turn::Close if self.open || self.opening => self.closed()?,
            Turn::Open if self.opening => {
                (self.opening, self.open, self.welcomed, self.heard) = (false, true, false, self.now);
                self.link += 1;
                self.shown.clear();
                self.step(Event::Opened)?;
            }
            Turn::Welcome { generation } if self.open => {
                if !self.welcomed {
                    if generation != self.newest || self.follower.clock().estimate(MemberTime(self.now)).is_none() {
                        self.sounded.clear();
                    }
                    (self.welcomed, self.newest, self.linked_at) = (true, generation, self.now);
                }
                self.hear(generation, ToMember::Welcome(Box::new(welcome(server, generation))))?;
            }
            Turn::Pulse { generation } => {
                self.hear(generation, ToMember::Pulse { now_us: server, generation, stood_us: Some(0) })?
            }
            Turn::State { generation } => {
                self.hear(generation, ToMember::State(Box::new(state(server, generation))))?
            }
            Turn::Cue { generation, cue: number, due_in } => {
                let cue = cue(generation, number, due_in.map(|due_in| server + due_in));
                self.hear(generation, ToMember::Cue(Box::new(cue)))?;
            }
            Turn::Held { generation } => self.hear(generation, ToMember::Held(Box::new(held(1, generation))))?,
            Turn::AnswerClock => {
                for sent_us in std::mem::take(&mut self.questions) {
                    let middle = sent_us + (self.now - sent_us) / 2 + AHEAD;
                    self.hear(0, ToMember::Clock { sent_us, received_us: middle, answered_us: middle })?;
                }
            }
            Turn::Answer(outcome) => {
                let Some((id, tap)) = self.taps.iter_mut().find(|(_, tap)| !tap.settled) else { return Ok(()) };
                if self.open {
                    tap.told = true;
                    tap.settled = outcome != TapOutcome::Held;
                }
                let answer = ToMember::TapAnswer { tap: id.clone(), outcome, hold: None };
                self.hear(0, answer)?;
            }
            Turn::Tap => {
                let tap = format!("tap {}", self.taps.len() + 1);
                self.step(Event::Hold { tap, reason: None })?;
            }
            Turn::Say => self.step(Event::Say(ToServer::Speed { percent: 50 }))?,
            Turn::Close | Turn::Open | Turn::Welcome { .. } => {}
        }
        Ok(())
    }

    fn pass(&mut self, length: i64, woken: bool) -> Result<(), TestCaseError> {
        let end = self.now + length;
        let mut wakes = 0;
        while let Some(MemberTime(deadline)) = self.follower.deadline(MemberTime(self.now)).filter(|_| woken) {
            if self.follower.linked() {
                let waiting = self.taps.values().filter(|tap| !tap.told);
                let soonest = waiting.map(|tap| tap.sent_at.max(self.linked_at) + UNTOLD.0).min();
                prop_assert!(soonest.is_none_or(|soonest| deadline <= soonest), "an unanswered tap is not sent again");
            }
            if deadline > end {
                break;
            }
            self.now = self.now.max(deadline);
            self.step(Event::Time)?;
            wakes += 1;
            prop_assert!(wakes < 1_000, "it does not come to rest");
        }
        self.now = end;
        Ok(())
    }

    fn hear(&mut self, generation: u64, message: ToMember) -> Result<(), TestCaseError> {
        if !self.open {
            return Ok(());
        }
        self.heard = self.now;
        if self.welcomed {
            self.newest = self.newest.max(generation);
        }
        self.step(Event::Heard(&message))
    }

    fn closed(&mut self) -> Result<(), TestCaseError> {
        (self.opening, self.open, self.welcomed) = (false, false, false);
        self.questions.clear();
        self.step(Event::Closed { chance: 0.5 })
    }

    fn step(&mut self, event: Event<'_>) -> Result<(), TestCaseError> {
        let tapped = if let Event::Hold { tap, .. } = &event { Some(tap.clone()) } else { None };
        let acts = self.follower.handle(MemberTime(self.now), event);
        let mut close = false;
        for act in acts {
            match act {
                Act::Connect => self.opening = true,
                Act::Disconnect => close = true,
                Act::Send(message) => {
                    prop_assert!(self.open && !close, "says something without a connection: {message:?}");
                    self.sent(message)?;
                }
                Act::Show(shown) => {
                    let (generation, cue) = (shown.cue.generation, shown.cue.cue);
                    prop_assert!(self.open && self.welcomed && !close, "counts without a link");
                    prop_assert!(self.now - self.heard < SILENCE.0, "counts after a second of silence");
                    prop_assert_eq!(generation, self.newest, "shows a cue of a dead generation");
                    prop_assert!(self.shown.insert((generation, cue)), "shows a cue twice");
                    prop_assert!(tapped.is_none(), "counts on in the instant of the person's own tap");
                    prop_assert!(self.taps.values().all(|tap| tap.told), "counts while nobody has heard of a tap");
                    prop_assert!(!shown.sounds() || self.sounded.insert((generation, cue)), "sounds a cue twice");
                    if let (Some(due), Some(at)) = (shown.cue.due_us, shown.at) {
                        prop_assert!(at.0 >= due, "shows a cue before its time");
                        prop_assert!(at.0 - due <= LATE.0 || !shown.sounds(), "sounds a late cue");
                    }
                }
                Act::Unsaid(_) => prop_assert!(!self.open || !self.welcomed || close),
                Act::Lost => prop_assert!(self.welcomed || !self.open),
                Act::Linked => prop_assert!(self.welcomed),
                Act::Over(_) => prop_assert!(false, "nobody ended it"),
            }
        }
        // A tap that joined one that nobody has answered is no other.
        let kept = self.follower.kept_taps();
        if let Some(id) = tapped.filter(|id| kept.iter().any(|kept| kept.tap == *id)) {
            self.taps.entry(id.clone()).or_insert_with(|| Tap {
                first: HoldTap {
                    tap: id,
                    generation: self.follower.generation().0,
                    queued: true,
                    tapped_us: None,
                    screen_cue: None,
                    reason: None,
                },
                sent_over: BTreeSet::new(),
                sent_at: i64::MIN,
                told: false,
                settled: false,
            });
        }
        let unsettled: Vec<_> = self.taps.iter().filter(|(_, tap)| !tap.settled).map(|(id, _)| id).collect();
        prop_assert_eq!(unsettled.len(), kept.len(), "keeps what is not settled, and nothing else");
        if close {
            self.closed()?;
        }
        Ok(())
    }

    fn sent(&mut self, message: ToServer) -> Result<(), TestCaseError> {
        match message {
            ToServer::Return { taps, .. } => {
                for tap in taps {
                    self.sent(ToServer::Hold(tap))?;
                }
            }
            ToServer::Hold(sent) => {
                let (link, now) = (self.link, self.now);
                let tap = self.taps.entry(sent.tap.clone()).or_insert_with(|| Tap {
                    first: sent.clone(),
                    sent_over: BTreeSet::new(),
                    sent_at: i64::MIN,
                    told: false,
                    settled: false,
                });
                prop_assert!(!tap.settled, "sends a tap that is settled");
                prop_assert!(tap.sent_over.insert(link) || !tap.told, "sends twice over one link what was answered");
                tap.sent_at = now;
                prop_assert_eq!(tap.first.generation, sent.generation, "the generation that was meant stays");
                prop_assert!(sent.queued || tap.sent_over.len() == 1, "a tap of an older link is a queued one");
            }
            ToServer::Clock { sent_us } => self.questions.push(sent_us),
            _ => {}
        }
        Ok(())
    }

    /// After a good link nobody's tap is forgotten.
    fn settle(&mut self) -> Result<(), TestCaseError> {
        let mut waited = 0;
        while !self.opening {
            self.pass(100_000, true)?;
            waited += 100_000;
            prop_assert!(waited <= RETRY_LONGEST.0 + 100_000, "it does not dial");
        }
        self.turn(Turn::Open)?;
        self.turn(Turn::Welcome { generation: self.newest })?;
        prop_assert!(self.follower.linked(), "it comes back by itself");
        for (id, tap) in &self.taps {
            let sent = tap.sent_over.contains(&self.link);
            prop_assert_eq!(sent, !tap.settled, "{} sent over the last link: {}", id, sent);
        }
        prop_assert_eq!(self.follower.generation(), Generation(self.newest));
        Ok(())
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(3_000))]

    #[test]
    fn whatever_happens_it_counts_only_what_lives_and_loses_no_tap(turns in prop::collection::vec(turn(), 1..150)) {
        let mut world = World::new();
        // Most rehearsals begin with a good link, or the interesting part would hardly ever be reached.
        for turn in [Turn::Pass { length: 1_000, woken: true }, Turn::Open, Turn::Welcome { generation: 1 }, Turn::AnswerClock]
            .into_iter()
            .chain(turns)
        {
            world.turn(turn)?;
        }
        if world.open || world.opening {
            world.turn(Turn::Close)?;
        }
        world.settle()?;
    }

    #[test]
    fn a_lost_link_comes_back_later_and_later_but_within_a_second(failures in 1..12u32, chance in 0.0..=1.0f64) {
        let mut follower = Follower::new(Introduction::Return { key: "k".into() });
        let mut now = MemberTime(0);
        let mut last = Micros::ZERO;
        for _ in 0..failures {
            let acts = follower.handle(now, Event::Time);
            prop_assert_eq!(acts, vec![Act::Connect]);
            follower.handle(now, Event::Closed { chance });
            let again = follower.deadline(now).unwrap();
            let wait = again.since(now);
            prop_assert!(wait >= last && wait >= Micros::millis(100) && wait <= RETRY_LONGEST);
            prop_assert_eq!(follower.handle(again - Micros(1), Event::Time), vec![]);
            (now, last) = (again, wait);
        }
    }
}

proptest! {
    /// A walk-through that is stepped on and back over a network that repeats and reorders: whatever the order, a member
    /// never goes from a newer step to an older one, and ends on the newest, which is where the server is.
    #[test]
    fn a_walk_ends_on_the_servers_move_whatever_the_network_does(
        way in prop::collection::vec(any::<bool>(), 1..24),
        shuffled in prop::collection::vec((any::<prop::sample::Index>(), 0..3usize), 0..60),
    ) {
        let mut at: u32 = 5;
        let walked: Vec<Cue> = way.iter().enumerate().map(|(step, on)| {
            at = if *on { at + 1 } else { at.saturating_sub(1) };
            Cue { step: Some(step as u32 + 1), ..cue(1, at, None) }
        }).collect();
        let mut arrives: Vec<&Cue> = walked.iter().collect();
        for (place, behind) in &shuffled {
            let cue = walked[place.index(walked.len())].clone();
            let into = (place.index(arrives.len()) + behind * 3).min(arrives.len());
            arrives.insert(into, &walked[(cue.step.unwrap() - 1) as usize]);
        }
        arrives.rotate_left(shuffled.first().map_or(0, |(place, _)| place.index(walked.len())));
        let mut follower = Follower::new(Introduction::Return { key: "a-key".into() });
        let now = MemberTime(0);
        follower.handle(now, Event::Time);
        follower.handle(now, Event::Opened);
        follower.handle(now, Event::Heard(&ToMember::Welcome(Box::new(welcome(0, 1)))));
        let mut screen: Option<Cue> = None;
        for cue in arrives {
            for act in follower.handle(now, Event::Heard(&ToMember::Cue(Box::new(cue.clone())))) {
                let Act::Show(shown) = act else { continue };
                if !shown.overtaken {
                    prop_assert!(screen.as_ref().is_none_or(|before| before.step < shown.cue.step));
                    screen = Some(shown.cue);
                }
            }
        }
        prop_assert_eq!(screen.as_ref(), walked.last());
        // A tap says the number of the cue, not of the step.
        let held = follower.handle(now, Event::Hold { tap: "a".into(), reason: None });
        let tapped = held.iter().find_map(|act| match act { Act::Send(ToServer::Hold(tap)) => tap.screen_cue, _ => None });
        prop_assert_eq!(tapped, walked.last().map(|cue| cue.cue));
    }
}
