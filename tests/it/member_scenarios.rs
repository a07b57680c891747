//! One member, written twice: the Rust member and the pages go through the same scenarios. A scenario is a list of steps
//! (at a time something happens to a member) and of acts (what it must do by itself, and when); a small model
//! (`tests/it/support/member_model.rs`) says the acts. Some scenarios are written by hand, hundreds are made by chance.
//! `HOLDFAST_WRITE=1 cargo test member_scenarios` writes `tests/vectors/member.json` anew, which
//! `clients/test/member.test.ts` reads; the test fails when it has changed.

use std::fs;
use std::path::Path;

use holdfast::clock::MemberTime;
use holdfast::member::{Act, Event, Follower, Introduction, TapState};
use holdfast::wire::{Cue, HoldTap, Stage, TapOutcome, ToMember, ToServer};
use serde_json::{Value, json};

use crate::member_by_hand::by_hand;
use crate::member_director::{AHEAD, Director, Scenario};
use crate::member_model::Step;
use crate::net_messages::{cue, held, state, welcome};

/// How many scenarios are made by chance; the Rust member goes through more with `HOLDFAST_MEMBER_SEEDS=20000`.
const SEEDS: u64 = 300;

#[test]
fn the_scenarios_are_what_the_model_says() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/vectors/member.json");
    let rows: Vec<String> = scenarios(SEEDS).iter().map(Scenario::written).collect();
    let expected = format!("{{\"ahead_us\":{AHEAD},\"scenarios\":[\n{}\n]}}\n", rows.join(",\n"));
    if std::env::var_os("HOLDFAST_WRITE").is_some() {
        fs::write(&file, &expected).unwrap();
    }
    let found = fs::read_to_string(&file).unwrap_or_default();
    assert!(found == expected, "write it anew with HOLDFAST_WRITE=1 cargo test member_scenarios");
}

#[test]
fn the_rust_member_does_what_the_model_says() {
    let asked = std::env::var("HOLDFAST_MEMBER_SEEDS").ok().and_then(|seeds| seeds.parse().ok());
    for scenario in scenarios(asked.unwrap_or(SEEDS)) {
        let mut player = Player::new(scenario.chance);
        scenario.steps.iter().for_each(|(at, step)| player.step(*at, step));
        compare(&scenario.name, &player.acts, &scenario.acts());
    }
}

/// What scenarios are for, so that none of it goes missing when they are made anew.
#[test]
fn the_scenarios_hold_what_may_go_wrong() {
    let scenarios = scenarios(SEEDS);
    let acts: Vec<Value> = scenarios.iter().flat_map(Scenario::acts).collect();
    let steps: Vec<Value> =
        scenarios.iter().flat_map(|scenario| scenario.steps.iter().map(|(at, step)| step.row(*at))).collect();
    let count = |rows: &[Value], wanted: &dyn Fn(&Value) -> bool| rows.iter().filter(|row| wanted(row)).count();
    for (what, found) in [
        ("taps that nobody has heard of", count(&acts, &|row| row[1] == "tap" && row[2] == "untold")),
        ("taps that go out over a good line", count(&acts, &|row| row[1] == "hold" && row[4] == false)),
        ("taps that come with the key", count(&acts, &|row| row[1] == "return" && row[2][0].is_string())),
        ("more taps than come with the key", count(&acts, &|row| row[1] == "kept" && row[2][6].is_string())),
        ("taps that are refused", count(&acts, &|row| row[1] == "tap" && row[2] == "refused")),
        ("lost links", count(&acts, &|row| row[1] == "hang-up")),
        ("closed members", count(&acts, &|row| row[1] == "link" && row[2] == "over")),
        ("reloads", count(&steps, &|row| row[1] == "reload")),
        ("cues on time", count(&acts, &|row| row[1] == "show" && row[4].is_null() && row[5] == true)),
        ("late cues", count(&acts, &|row| row[1] == "show" && row[4].is_number())),
        (
            "cues shown once more in silence",
            count(&acts, &|row| row[1] == "show" && row[5] == false && row[4].is_null()),
        ),
        ("overtaken cues", count(&acts, &|row| row[1] == "report" && row[5].is_null())),
        ("stops", count(&steps, &|row| row[1] == "stop")),
        ("implausible times", count(&steps, &|row| row[1] == "lies" || row[1] == "future")),
        ("servers whose machine slept", count(&steps, &|row| row[1] == "stood")),
        ("frozen members", count(&steps, &|row| row[1] == "freeze")),
        ("other servers", count(&steps, &|row| row[1] == "welcome" && row[4] != 0)),
    ] {
        assert!(found >= 20, "{what}: {found}");
    }
}

/// The same acts in the same order; times may be off by what two estimates of a clock are rounded by.
fn compare(name: &str, found: &[Value], expected: &[Value]) {
    for (place, pair) in found.iter().zip(expected).enumerate() {
        assert!(
            alike(pair.0, pair.1),
            "{name}, act {place}: {} and not {}; before it {:?}",
            pair.0,
            pair.1,
            &expected[place.saturating_sub(4)..place]
        );
    }
    assert_eq!(found.len(), expected.len(), "{name}: {:?}", &found[expected.len().min(found.len())..]);
}

fn alike(one: &Value, other: &Value) -> bool {
    match (one, other) {
        (Value::Array(one), Value::Array(other)) => {
            one.len() == other.len() && one.iter().zip(other).all(|(one, other)| alike(one, other))
        }
        (Value::Number(one), Value::Number(other)) => {
            one.as_i64().zip(other.as_i64()).is_some_and(|(one, other)| {
                // Small numbers are generations and cues.
                (one - other).abs() <= if other.abs() > 1_000 { 50 } else { 0 }
            })
        }
        _ => one == other,
    }
}

/// The Rust member in a scenario.
struct Player {
    follower: Follower,
    now: i64,
    ahead: i64,
    /// For how long the server's clock has stood still, µs.
    stood: i64,
    chance: f64,
    answered: bool,
    over: bool,
    /// The questions about the time that wait for an answer.
    questions: Vec<i64>,
    said: (&'static str, &'static str, Vec<String>),
    acts: Vec<Value>,
}

impl Player {
    fn new(chance: f64) -> Player {
        let mut player = Player {
            follower: Follower::new(Introduction::Return { key: "k".into() }),
            now: 0,
            ahead: AHEAD,
            stood: 0,
            chance,
            answered: true,
            over: false,
            questions: Vec::new(),
            said: ("away", "none", Vec::new()),
            acts: Vec::new(),
        };
        player.handle(Event::Time);
        player.say();
        player
    }

    fn step(&mut self, at: i64, step: &Step) {
        let frozen = matches!(step, Step::Freeze);
        while let Some(next) = self.next().filter(|next| *next <= at && !frozen) {
            self.now = self.now.max(next);
            self.handle(Event::Time);
            self.say();
        }
        self.now = at;
        self.take(step);
        while self.next().is_some_and(|next| next <= at) {
            self.handle(Event::Time);
        }
        self.say();
    }

    fn next(&self) -> Option<i64> {
        self.follower.deadline(MemberTime(self.now)).map(|deadline| deadline.0)
    }

    fn take(&mut self, step: &Step) {
        let server = self.now + self.ahead;
        match step {
            Step::Open => self.handle(Event::Opened),
            Step::Close => self.closed(),
            Step::Welcome { generation, stage, moved } => {
                self.ahead += moved;
                let mut welcome = welcome(self.now + self.ahead, *generation);
                welcome.state.stage = stage_of(stage);
                self.hear(ToMember::Welcome(Box::new(welcome)));
            }
            Step::Pulse { generation } => self.pulse(server, *generation),
            Step::Stood { length } => {
                (self.ahead, self.stood) = (self.ahead - length, self.stood + length);
                self.pulse(server - length, 0);
            }
            Step::Future { generation } => self.pulse(server + 3_600_000_000, *generation),
            Step::State { generation, stage } => {
                let mut state = state(server, *generation);
                state.stage = stage_of(stage);
                self.hear(ToMember::State(Box::new(state)));
            }
            Step::Stop { generation } => self.hear(ToMember::Stop { generation: *generation, at_us: server }),
            Step::Held { generation } => self.hear(ToMember::Held(Box::new(held(1, *generation)))),
            Step::Cue { generation, cue: number, due, step } => {
                let cue = Cue { step: *step, ..cue(*generation, *number, *due) };
                self.hear(ToMember::Cue(Box::new(cue)));
            }
            Step::Answer { tap, outcome } => {
                let outcome = outcome_of(outcome);
                self.hear(ToMember::TapAnswer { tap: tap.clone(), outcome, hold: None });
            }
            Step::Refused => {
                self.hear(ToMember::Refused { asked: "return".into(), reason: "This key is not known here.".into() });
            }
            Step::Goodbye { back } => {
                self.hear(ToMember::Goodbye { reason: "Another page came.".into(), back: *back });
            }
            Step::Noise => self.handle(Event::Alive),
            Step::Clock { answered } => self.answered = *answered,
            Step::Time => self.answer_honestly(),
            Step::Lies => self.lie(),
            Step::Sleep { length } => {
                self.ahead += length;
                self.handle(Event::Slept);
            }
            Step::Freeze => self.handle(Event::Time),
            Step::Tap { tap, reason } => {
                self.handle(Event::Hold { tap: tap.clone(), reason: reason.map(str::to_owned) });
            }
            Step::Reload => {
                let introduction = self.follower.introduction().clone();
                self.follower = Follower::restarted(introduction, self.follower.kept_taps());
                self.over = false;
                self.handle(Event::Time);
            }
        }
    }

    fn hear(&mut self, message: ToMember) {
        self.handle(Event::Heard(&message));
    }

    fn pulse(&mut self, now_us: i64, generation: u64) {
        self.hear(ToMember::Pulse { now_us, generation, stood_us: Some(self.stood) });
    }

    fn closed(&mut self) {
        self.handle(Event::Closed { chance: self.chance });
    }

    /// The newest question: as long on the way there as back.
    fn answer_honestly(&mut self) {
        let Some(sent_us) = self.questions.pop() else { return };
        let middle = sent_us + (self.now - sent_us) / 2 + self.ahead;
        self.hear(ToMember::Clock { sent_us, received_us: middle, answered_us: middle });
    }

    fn lie(&mut self) {
        let server = self.now + self.ahead;
        // As good as any, but for that nobody asked; half a second off.
        let there = server + 500_000;
        self.hear(ToMember::Clock { sent_us: self.now - 3, received_us: there, answered_us: there });
        if let Some(sent_us) = self.questions.pop() {
            self.hear(ToMember::Clock { sent_us, received_us: server + 10, answered_us: server });
        }
        if let Some(sent_us) = self.questions.pop() {
            let answered_us = server + self.now - sent_us + 1_000_000;
            self.hear(ToMember::Clock { sent_us, received_us: server, answered_us });
        }
    }

    fn handle(&mut self, event: Event<'_>) {
        let mut closes = false;
        let mut asked = Vec::new();
        for act in self.follower.handle(MemberTime(self.now), event) {
            match act {
                Act::Connect => {
                    (self.over, self.questions) = (false, Vec::new());
                    self.act(json!(["dial"]));
                }
                Act::Disconnect => {
                    closes = true;
                    self.act(json!(["hang-up"]));
                }
                Act::Send(ToServer::Clock { sent_us }) => asked.push(sent_us),
                Act::Send(message) => self.sent(message),
                Act::Show(shown) if !shown.overtaken => {
                    let late = shown.late.map(|late| late.0);
                    self.act(json!(["show", shown.cue.generation, shown.cue.cue, late, shown.sounds()]));
                }
                Act::Over(_) => self.over = true,
                Act::Show(_) | Act::Linked | Act::Lost | Act::Unsaid(_) => {}
            }
        }
        if closes {
            self.closed();
        }
        for sent_us in asked {
            let there = sent_us + self.ahead;
            let unknown = self.follower.clock().estimate(MemberTime(self.now)).is_none();
            match self.answered && unknown {
                true => self.hear(ToMember::Clock { sent_us, received_us: there, answered_us: there }),
                false => self.questions.push(sent_us),
            }
        }
    }

    fn sent(&mut self, message: ToServer) {
        match message {
            ToServer::Return { taps, .. } => {
                assert!(taps.iter().all(|tap| tap.queued), "what comes with the key was made without a link");
                let ids: Vec<String> = taps.into_iter().map(|tap| tap.tap).collect();
                self.act(json!(["return", ids]));
            }
            ToServer::Hold(HoldTap { tap, generation, queued, tapped_us, screen_cue, reason }) => {
                self.act(json!(["hold", tap, generation, queued, tapped_us, screen_cue, reason]));
            }
            ToServer::Report(fired) => {
                self.act(json!(["report", fired.generation, fired.cue, fired.due_us, fired.fired_us]));
            }
            ToServer::Pulse { .. } => {}
            other => panic!("says {other:?}"),
        }
    }

    fn act(&mut self, act: Value) {
        let Value::Array(mut row) = act else { return };
        row.insert(0, json!(self.now));
        self.acts.push(Value::Array(row));
    }

    fn say(&mut self) {
        let link = match (self.follower.linked(), self.over) {
            (true, _) => "linked",
            (false, true) => "over",
            (false, false) => "away",
        };
        let tap = said(self.follower.tap_state());
        let kept: Vec<String> = self.follower.kept_taps().into_iter().map(|tap| tap.tap).collect();
        let before = std::mem::replace(&mut self.said, (link, tap, kept.clone()));
        if before.0 != link {
            self.act(json!(["link", link]));
        }
        if before.1 != tap {
            self.act(json!(["tap", tap]));
        }
        if before.2 != kept {
            self.act(json!(["kept", kept]));
        }
    }
}

fn said(state: TapState) -> &'static str {
    match state {
        TapState::None => "none",
        TapState::Sending => "sending",
        TapState::Untold => "untold",
        TapState::Refused => "refused",
        TapState::Answered(TapOutcome::Held) => "held",
        TapState::Answered(TapOutcome::Written) => "written",
        TapState::Answered(TapOutcome::Unkept) => "unkept",
        TapState::Answered(TapOutcome::Late) => "late",
    }
}

fn stage_of(word: &str) -> Stage {
    serde_json::from_value(json!(word)).unwrap()
}

fn outcome_of(word: &str) -> TapOutcome {
    serde_json::from_value(json!(word)).unwrap()
}

fn scenarios(seeds: u64) -> Vec<Scenario> {
    let mut scenarios = by_hand();
    scenarios.extend((1..=seeds).map(|seed| Director::new(seed).scenario()));
    scenarios
}
