//! Who may do what, walked over the wire: every role asks for everything that can be asked for, each in a call in which it
//! makes sense. The table is what each person must be able to do (stage manager, captain, performer, sound operator,
//! director, observer), written by hand; HOLD is in it because nobody can be refused it.

use futures_util::future::join_all;
use holdfast::call::{Planned, Role, UsualEvening, Way};
use holdfast::wire::{
    DoorAsk, DriveKind, HoldTap, OrderItem, PlannedView, Setup, SoundAsk, Stage, State, ToMember, ToServer,
};

use crate::support::fights::fight_of;
use crate::support::house::House;
use crate::support::raw::Raw;

/// Where the call stands when it is asked.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
enum Call {
    Idle,
    Places,
    Walk,
    Run,
    Held,
}

/// A row: what is asked, where the call stands, and who may.
struct Row {
    what: &'static str,
    call: Call,
    may: &'static [Role],
    ask: fn(&State) -> ToServer,
}

const ALL: &[Role] = &Role::ALL;
const DESK: &[Role] = &[Role::Desk];
const LEADS: &[Role] = &[Role::Desk, Role::Captain];
const PERFORMERS: &[Role] = &[Role::Performer];
const SOUND: &[Role] = &[Role::Desk, Role::Sound];

fn setup(drive: DriveKind) -> Setup {
    Setup { fight: "The Quay".into(), weapons: None, from: 0, from_move: None, to: 1, percent: 100, count_in: 0, drive }
}

/// An evening with one item, whose number is 1.
fn usual() -> UsualEvening {
    let (weapons, from, to, percent, count_in) = (None, None, None, Some(50), None);
    let order = vec![Planned { fight: "The Quay".into(), weapons, from, to, percent, count_in }];
    UsualEvening { order, ..UsualEvening::default() }
}

fn item() -> OrderItem {
    let planned = PlannedView {
        fight: "The Quay".into(),
        weapons: None,
        from: None,
        to: None,
        percent: Some(50),
        count_in: None,
    };
    OrderItem { item: None, planned, done: None }
}

fn tap(state: &State) -> HoldTap {
    let (tapped_us, screen_cue, reason) = (None, None, None);
    HoldTap { tap: "one".into(), generation: state.generation, queued: false, tapped_us, screen_cue, reason }
}

#[rustfmt::skip]
fn rows() -> Vec<Row> {
    let row = |what, call, may, ask| Row { what, call, may, ask };
    vec![
        row("hold", Call::Run, ALL, |state| ToServer::Hold(tap(state))),
        row("hold while nothing runs", Call::Idle, ALL, |state| ToServer::Hold(tap(state))),
        row("release", Call::Held, LEADS, |state| {
            let hold = state.hold.as_ref().unwrap();
            ToServer::Release { hold: hold.hold, seen: hold.last_event }
        }),
        row("stop", Call::Run, LEADS, |_| ToServer::Stop { reason: "an ankle".into() }),
        row("note", Call::Held, LEADS, |state| {
            ToServer::Note { hold: state.hold.as_ref().unwrap().hold, text: "the grip".into() }
        }),
        row("say why a hold was called", Call::Held, LEADS, |state| {
            ToServer::Reason { hold: state.hold.as_ref().unwrap().hold, reason: "distance".into() }
        }),
        row("report a near miss", Call::Run, ALL, |state| {
            ToServer::NearMiss { run: state.run, place: None, named: false, reason: None, note: Some("close".into()) }
        }),
        row("places", Call::Idle, DESK, |state| ToServer::Places { setup: setup(DriveKind::Step), seen: state.last_event }),
        row("give the order", Call::Idle, DESK, |_| ToServer::Order { items: vec![item()], seen: 0 }),
        row("places for an item", Call::Idle, DESK, |state| ToServer::PlacesFor { item: 1, seen: state.last_event }),
        row("cast somebody", Call::Idle, DESK, |_| {
            ToServer::Cast { fight: "The Quay".into(), part: "OSK".into(), member: Some(PERFORMER) }
        }),
        row("start", Call::Places, DESK, |state| {
            ToServer::Start { generation: state.generation, anyway: true, seen: state.last_event }
        }),
        row("speed", Call::Run, DESK, |_| ToServer::Speed { percent: 80 }),
        row("step", Call::Walk, LEADS, |state| ToServer::Step { generation: state.generation, from: 0, way: Way::On }),
        row("end the call", Call::Idle, DESK, |_| ToServer::EndCall { signed_by: None }),
        row("ready", Call::Places, PERFORMERS, |state| ToServer::Ready { ready: true, generation: state.generation }),
        row("take a part", Call::Idle, PERFORMERS, |_| ToServer::TakePart { member: None, part: Some("OSK".into()) }),
        row("give somebody a part", Call::Idle, DESK, |_| {
            ToServer::TakePart { member: Some(PERFORMER), part: Some("OSK".into()) }
        }),
        row("sign a check", Call::Idle, LEADS, |_| {
            ToServer::Sign { check: "floor".into(), in_order: true, note: None, by: None }
        }),
        row("note who is there", Call::Idle, DESK, |_| ToServer::Attend { person: "Ayo".into(), present: false }),
        row("try the hold", Call::Idle, LEADS, |_| ToServer::TryHold {}),
        row("see the codes", Call::Idle, DESK, |_| ToServer::Invitations {}),
        row("make a code new", Call::Idle, DESK, |_| ToServer::Revoke { role: Role::Observer, members: false }),
        row("take somebody out", Call::Idle, DESK, |_| ToServer::Door { ask: DoorAsk::Remove { member: PERFORMER } }),
        row("take no notes", Call::Idle, DESK, |_| ToServer::Door { ask: DoorAsk::Notes { member: PERFORMER, taken: false } }),
        row("let nobody new in", Call::Idle, DESK, |_| ToServer::Door { ask: DoorAsk::Role { role: Role::Observer, open: false } }),
        row("say who is who for all", Call::Idle, DESK, |_| ToServer::Door { ask: DoorAsk::SameAll {} }),
        row("mute", Call::Idle, SOUND, |_| ToServer::Sound { ask: SoundAsk::Mute { on: true } }),
        row("watch the sound", Call::Idle, SOUND, |_| ToServer::Sound { ask: SoundAsk::Watch { on: true } }),
        row("leave", Call::Idle, ALL, |_| ToServer::Leave {}),
    ]
}

/// The first who joins each house that is not the desk.
const PERFORMER: u32 = 2;

/// True for what a page asks for on somebody's behalf. The other messages are words between page and server, which have no
/// power: whoever adds a kind of message decides here which it is, and adds a row for what asks.
fn asks(message: &ToServer) -> bool {
    match message {
        ToServer::Hold(_)
        | ToServer::Release { .. }
        | ToServer::Stop { .. }
        | ToServer::Ready { .. }
        | ToServer::TakePart { .. }
        | ToServer::Places { .. }
        | ToServer::PlacesFor { .. }
        | ToServer::Order { .. }
        | ToServer::Cast { .. }
        | ToServer::Start { .. }
        | ToServer::Step { .. }
        | ToServer::Speed { .. }
        | ToServer::Note { .. }
        | ToServer::Reason { .. }
        | ToServer::NearMiss { .. }
        | ToServer::Sign { .. }
        | ToServer::Attend { .. }
        | ToServer::EndCall { .. }
        | ToServer::TryHold {}
        | ToServer::Invitations {}
        | ToServer::Revoke { .. }
        | ToServer::Door { .. }
        | ToServer::Sound { .. }
        | ToServer::Leave {} => true,
        ToServer::Look { .. }
        | ToServer::Join { .. }
        | ToServer::Return { .. }
        | ToServer::Clock { .. }
        | ToServer::Pulse { .. }
        | ToServer::Tried { .. }
        | ToServer::Show { .. }
        | ToServer::Report(_) => false,
    }
}

async fn state(page: &mut Raw, is_so: impl Fn(&State) -> bool) -> State {
    let of = |message: &ToMember| match message {
        ToMember::State(state) if is_so(state) => Some((**state).clone()),
        ToMember::Welcome(welcome) if is_so(&welcome.state) => Some(welcome.state.clone()),
        _ => None,
    };
    of(&page.hear_until(|message| of(message).is_some()).await.expect("the page is told")).unwrap()
}

/// Brings the call there, and gives what the asker's page is told of it then.
async fn bring(desk: &mut Raw, asker: &mut Raw, call: Call) -> State {
    let drive = if call == Call::Walk { DriveKind::Step } else { DriveKind::Clock };
    match call {
        Call::Idle => {}
        Call::Held => {
            let tap = HoldTap { tap: "the desk's".into(), ..tap(desk.state()) };
            desk.say(&ToServer::Hold(tap)).await;
        }
        Call::Places | Call::Walk | Call::Run => {
            desk.say(&ToServer::Places { setup: setup(drive), seen: desk.seen() }).await;
            let places = state(desk, |state| state.stage == Stage::Places).await;
            if call != Call::Places {
                let start = ToServer::Start { generation: places.generation, anyway: true, seen: places.last_event };
                desk.say(&start).await;
            }
        }
    }
    let wanted = match call {
        Call::Idle => return asker.state().clone(),
        Call::Places => Stage::Places,
        Call::Walk | Call::Run => Stage::Running,
        Call::Held => Stage::Held,
    };
    state(asker, |state| state.stage == wanted).await
}

/// What is answered to the giving of a part that nobody can have: to the desk, in a run too, and to everybody else.
const ANSWERS_THE_LAST: [&str; 3] = ["has left", "Parts stay as they are", "give parts"];

/// Asks, and then for something that is refused to everybody, which is answered behind it: what the page was refused
/// before that, if anything. A page that is closed was obeyed.
async fn refused(row: &Row, role: Role) -> Option<String> {
    let folder = tempfile::tempdir().unwrap();
    let house =
        House::open_planned(folder.path(), vec![fight_of("The Quay", 20.0, &[&[0, 8, 16], &[0]])], &["floor"], usual())
            .await;
    let (mut desk, _) = Raw::join(&house.address(Role::Desk), "Ines").await;
    let (_lotte, _) = Raw::join(&house.address(Role::Performer), "Lotte").await;
    let (mut asker, _) = Raw::join(&house.address(role), "Sanne").await;
    let stands = bring(&mut desk, &mut asker, row.call).await;
    let ask = (row.ask)(&stands);
    assert!(asks(&ask), "{} is something that is asked for", row.what);
    asker.say(&ask).await;
    asker.say(&ToServer::TakePart { member: Some(9_999), part: None }).await;
    let mut reasons = Vec::new();
    for _ in 0..2 {
        let is_refusal = |message: &ToMember| matches!(message, ToMember::Refused { .. });
        let Some(ToMember::Refused { asked, reason }) = asker.hear_until(is_refusal).await else { break };
        let is_last = asked == "part" && ANSWERS_THE_LAST.iter().any(|says| reason.contains(says));
        if is_last && !(reasons.is_empty() && row.what == "give somebody a part" && role != Role::Desk) {
            break;
        }
        reasons.push(reason);
    }
    house.stop().await;
    reasons.into_iter().next()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn everybody_may_do_what_their_work_asks_for_and_nothing_else() {
    let mut wrong = Vec::new();
    for row in rows() {
        let row = &row;
        let answers = join_all(ALL.iter().map(|role| async move { (*role, refused(row, *role).await) })).await;
        for (role, refusal) in answers {
            let title = role.title();
            match (row.may.contains(&role), refusal) {
                (true, Some(reason)) => wrong.push(format!("{title}, {}: refused: {reason}", row.what)),
                (false, None) => wrong.push(format!("{title}, {}: obeyed", row.what)),
                // Whoever may not is told so for what they are, not for how the call stands.
                (false, Some(reason)) if !(reason.contains("power") || reason.contains("Only the stage manager")) => {
                    wrong.push(format!("{title}, {}: {reason}", row.what));
                }
                _ => {}
            }
        }
    }
    assert_eq!(wrong, Vec::<String>::new());
}
