//! HOLD beside what is written of emergency stops. A hold is none (it depends on software and a network, which a stop of
//! category 0 must not; README.md says so), but whoever reaches for it expects the same of it. Sources, all read in
//! secondary pages: ISO 13850:2015, 4.1.1 (overrides every other function and mode, available at all times); Machinery
//! Directive 2006/42/EC, annex I, 1.2.4.3 (one human action, held until a deliberate release, release alone never
//! restarts). The rows are number 8 of the project's list of published values.

use holdfast::call::*;
use holdfast::event::EventId;
use holdfast::units::{Micros, ServerTime};

use crate::call::stage_word;
use crate::support::fights::fight_of;

const ROLES: [Role; 6] = [Role::Desk, Role::Captain, Role::Performer, Role::Performer, Role::Observer, Role::Sound];

struct Company {
    call: Call,
    now: ServerTime,
    taps: u32,
}

impl Company {
    fn new() -> Company {
        let settings = Settings {
            horizon: Micros::millis(1_500),
            lead: Micros::millis(1_000),
            hold_on_lost_link: Vec::new(),
            before_call: Vec::new(),
            why: Why::default(),
            evening: UsualEvening::default(),
        };
        let fights = vec![fight_of("The Salt Stair", 90.0, &[&[0, 1, 2, 5], &[0, 3], &[1, 2, 3]])];
        let call = Call::new(settings, fights, Before { sessions: 0, last_run: 0, last_hold: 0 });
        let mut company = Company { call, now: ServerTime(1_000_000), taps: 0 };
        for (number, role) in (0..).zip(ROLES) {
            let part = match number {
                2 => Some("MARET".to_owned()),
                3 => Some("OSK".to_owned()),
                _ => None,
            };
            let (member, name) = (MemberId(number), format!("member {number}"));
            company.give(Input::Joined { member, name, role, part, instead_of: None });
        }
        company
    }

    fn give(&mut self, input: Input) -> Vec<Output> {
        self.call.handle(self.now, input)
    }

    fn act(&mut self, by: u32, act: Act) -> Vec<Output> {
        self.give(Input::From(MemberId(by), act))
    }

    fn stage(&self) -> &'static str {
        stage_word(self.call.stage())
    }

    fn places(&mut self, drive: Drive) {
        let setup = SetupRequest {
            fight: "The Salt Stair".into(),
            weapons: None,
            first: 0,
            from_move: None,
            last: 2,
            percent: 100,
            count_in: 4,
            drive,
        };
        self.act(0, Act::Places { request: setup, seen: self.call.last_event() });
        assert_eq!(self.stage(), "places");
    }

    fn start(&mut self) {
        let (generation, seen) = (self.call.generation(), self.call.last_event());
        self.act(0, Act::Start { generation, anyway: true, seen });
    }

    /// One human action.
    fn hold(&mut self, by: u32) {
        self.taps += 1;
        let generation = self.call.generation();
        let id = format!("tap {}", self.taps);
        let tap = Tap { id, generation, queued: false, screen_cue: None, reason: None };
        let pulling = Pulling { by: Puller::Member(MemberId(by), tap), at: self.now, dead: generation };
        self.give(Input::Pulled(pulling));
    }

    /// The last call of the hold that stands.
    fn last_call(&self) -> EventId {
        let Stage::Held(hold, _) = self.call.stage() else { panic!("nothing holds") };
        hold.last_event
    }

    fn release(&mut self, by: u32, seen: EventId) {
        let Stage::Held(hold, _) = self.call.stage() else { panic!("nothing holds") };
        let hold = hold.id;
        self.act(by, Act::Release { hold, seen });
    }

    /// Time goes by, and the call is told whenever it asks to be.
    fn wait(&mut self, seconds: i64) -> Vec<Output> {
        let until = self.now + Micros::seconds(seconds);
        let mut all = Vec::new();
        while let Some(at) = self.call.deadline().filter(|at| *at <= until) {
            self.now = at;
            all.extend(self.give(Input::Tick));
        }
        self.now = until;
        all.extend(self.give(Input::Tick));
        all
    }
}

/// Every stage there is before a hold.
fn stages() -> Vec<Company> {
    let mut all: Vec<Company> = std::iter::repeat_with(Company::new).take(6).collect();
    for (company, drive) in
        all.iter_mut().skip(1).zip([Drive::Clock, Drive::Clock, Drive::Step, Drive::Clock, Drive::Clock])
    {
        company.places(drive);
    }
    for company in all.iter_mut().skip(2) {
        company.start();
        assert_eq!(company.stage(), "going");
    }
    if let [.., complete, stopped] = all.as_mut_slice() {
        complete.wait(120);
        assert_eq!(complete.stage(), "complete");
        stopped.act(0, Act::Stop("the floor is wet".into()));
        assert_eq!(stopped.stage(), "stopped");
    }
    all
}

/// ISO 13850, 4.1.1: it overrides all other functions in every mode, and is there at all times, for everybody.
#[test]
fn one_action_of_anybody_stops_whatever_goes() {
    for by in 0..u32::try_from(ROLES.len()).unwrap() {
        for mut company in stages() {
            let was = company.stage();
            company.hold(by);
            assert_ne!(company.stage(), "going", "{by} in {was}");
            if matches!(was, "going" | "places") {
                assert_eq!(company.stage(), "held", "{by} in {was}");
            }
            let after = company.wait(600);
            assert!(
                !after.iter().any(|output| matches!(output, Output::Cue(_) | Output::Click { .. })),
                "{by} in {was}"
            );
        }
    }
}

/// Directive 2006/42/EC, 1.2.4.3: held until it is released by a deliberate act; released, it does not restart.
#[test]
fn it_stays_until_it_is_released_and_a_release_restarts_nothing() {
    let mut company = Company::new();
    company.places(Drive::Clock);
    company.start();
    company.hold(3);
    company.wait(3_600);
    assert_eq!(company.stage(), "held", "an hour changes nothing");
    company.start();
    assert_eq!(company.stage(), "held", "a start while it holds is refused");
    company.give(Input::Gone(MemberId(3)));
    company.wait(60);
    assert_eq!(company.stage(), "held", "whoever called it may leave; it holds");
    company.release(1, company.last_call());
    assert_eq!(company.stage(), "stopped");
    let after = company.wait(3_600);
    assert_eq!(company.stage(), "stopped");
    assert!(!after.iter().any(|output| matches!(output, Output::Cue(_) | Output::Click { .. })));
    company.start();
    assert_eq!(company.stage(), "stopped", "a start without places is refused");
    company.places(Drive::Clock);
    company.start();
    assert_eq!(company.stage(), "going", "a separate start, from places");
}

/// The same: as long as one of several devices is engaged, the stop stays; engaging it again changes nothing.
#[test]
fn as_long_as_one_of_them_holds_it_holds() {
    let mut company = Company::new();
    company.places(Drive::Clock);
    company.start();
    company.hold(2);
    let first = company.last_call();
    company.hold(4);
    company.hold(4);
    company.release(1, first);
    assert_eq!(company.stage(), "held", "the second caller was not seen");
    company.release(1, company.last_call());
    assert_eq!(company.stage(), "stopped");
}
