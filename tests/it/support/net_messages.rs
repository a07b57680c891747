//! Messages of the server with as little in them as can be, for tests that care for one field.

use holdfast::call::Role;
use holdfast::event::{EventId, Maker};
use holdfast::wire::{Caller, Click, Cue, Health, HoldView, Stage, State, Welcome, You};

pub(crate) fn event_id() -> EventId {
    EventId { session: 3, maker: Maker::Call, number: 12 }
}

pub(crate) fn state(now_us: i64, generation: u64) -> State {
    let well = Health { well: true, says: "Well.".into() };
    State {
        now_us,
        generation,
        production: "The Salt Stair".into(),
        last_event: event_id(),
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
        hold_call: true,
        log: well,
    }
}

pub(crate) fn welcome(now_us: i64, generation: u64) -> Welcome {
    Welcome { member: 1, key: None, you: you(), horizon_us: 1_500_000, state: state(now_us, generation), run: None }
}

pub(crate) fn you() -> You {
    You { name: "Ode".into(), role: Role::Performer, part: None, ready: false, newcomers: Vec::new(), waits: None }
}

pub(crate) fn cue(generation: u64, cue: u32, due_us: Option<i64>) -> Cue {
    Cue {
        run: 1,
        generation,
        cue,
        step: None,
        due_us,
        phrase: 0,
        phrase_name: "Across the quay".into(),
        beat: "1".into(),
        bar: 1,
        count: 1,
        count_in: None,
        click: Click::Beat,
        moves: vec![],
        walks: vec![],
        next: vec![],
        next_in_beats: None,
        next_walks: vec![],
        next_walk_in_beats: None,
    }
}

pub(crate) fn held(hold: u32, generation: u64) -> HoldView {
    HoldView {
        hold,
        generation,
        at_us: 0,
        spot: None,
        percent: None,
        also: Vec::new(),
        calls: 1,
        last_event: event_id(),
        caller_count: 1,
        callers: vec![Caller {
            member: Some(2),
            name: "Zan".into(),
            role: Role::Captain,
            times: 1,
            reason: None,
            screen: None,
        }],
        written: false,
        reason: None,
        released_by: None,
    }
}
