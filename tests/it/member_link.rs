//! A member on a real loopback socket: it joins, finds the desk's clock, shows cues at their time, gets a hold through,
//! and comes back from a cut and from a silent link.

use holdfast::clock::Estimate;
use holdfast::member::{Address, Summary};
use holdfast::member::{
    Behaviour, Ending, Happening, Introduction, LookError, Member, Shown, StandIn, StandInHandle, look,
};
use holdfast::time::ServerClock;
use holdfast::units::Micros;
use holdfast::wire::{Fired, Stage, Subject, SubjectTold, ToMember, ToServer};

use crate::net::{AHEAD, Desk, SECRET};
use crate::net_messages::{cue, held, state};

fn member(desk: &Desk, secret: &str, part: Option<&str>, clock: ServerClock) -> Member {
    let introduction = Introduction::Join { invitation: secret.into(), name: "Ode".into(), part: part.map(Into::into) };
    Member::new(desk.address(), introduction, clock)
}

async fn until<T>(member: &mut Member, wanted: impl Fn(Happening) -> Option<T>) -> T {
    let found = async {
        loop {
            if let Some(found) = wanted(member.next().await) {
                return found;
            }
        }
    };
    tokio::time::timeout(std::time::Duration::from_secs(20), found).await.expect("it does not happen")
}

async fn linked(member: &mut Member) {
    until(member, |happening| matches!(happening, Happening::Linked).then_some(())).await;
}

async fn synchronised(member: &mut Member) -> Estimate {
    loop {
        if let Some(known) = member.estimate() {
            return known;
        }
        member.next().await;
    }
}

async fn next_shown(member: &mut Member) -> Shown {
    until(member, |happening| if let Happening::Shown(shown) = happening { Some(*shown) } else { None }).await
}

#[tokio::test]
async fn it_shows_a_cue_at_its_time_on_the_desks_clock_and_reports_it() {
    let mut desk = Desk::open().await;
    let clock = ServerClock::new();
    let mut member = member(&desk, SECRET, None, clock);
    linked(&mut member).await;
    let known = synchronised(&mut member).await;
    // Both clocks are of this machine, so that the truth is known: the error stays within the bound.
    let (before, there, after) = (clock.now().0, desk.now_us(), clock.now().0);
    let error = (known.offset.0 - (there - before)).max(there - after - known.offset.0).max(0);
    assert!(error <= known.bound.0 + 2, "{known:?}, off by {error} µs");
    assert!((known.offset.0 - AHEAD).abs() < 20_000_000, "the desk's clock was found, not this one: {known:?}");

    let due = desk.now_us() + 60_000;
    desk.say(ToMember::Cue(Box::new(cue(1, 4, Some(due)))));
    let shown = next_shown(&mut member).await;
    assert_eq!(shown.cue.cue, 4);
    assert!(shown.at.unwrap().0 >= due, "never before its time");

    let report =
        async { desk.hears(|said| if let ToServer::Report(report) = said { Some(report) } else { None }).await };
    let report: Fired = tokio::select! {
        report = report => report,
        () = async { loop { member.next().await; } } => unreachable!(),
    };
    assert_eq!((report.cue, report.due_us, report.fired_us), (4, due, shown.at.map(|at| at.0)));

    desk.say(ToMember::Cue(Box::new(cue(1, 5, Some(desk.now_us() - 30_000)))));
    let late = next_shown(&mut member).await;
    let at_least = Micros::millis(30) - late.bound.unwrap();
    assert!(late.late.is_some_and(|late| late >= at_least) && !late.sounds(), "{late:?}");
}

#[tokio::test]
async fn a_hold_kills_the_cues_that_wait() {
    let desk = Desk::open().await;
    let mut member = member(&desk, SECRET, None, ServerClock::new());
    linked(&mut member).await;
    synchronised(&mut member).await;
    desk.say(ToMember::Cue(Box::new(cue(1, 0, Some(desk.now_us() + 600_000)))));
    desk.say(ToMember::Held(Box::new(held(1, 2))));
    // The marker is due after the dead cue: were that alive, it would be shown first.
    desk.say(ToMember::Cue(Box::new(cue(2, 9, Some(desk.now_us() + 650_000)))));
    let shown = next_shown(&mut member).await;
    assert_eq!((shown.cue.generation, shown.cue.cue), (2, 9));
}

#[tokio::test]
async fn a_tap_gets_through_and_a_tap_without_a_link_goes_over_the_next_one() {
    let mut desk = Desk::open().await;
    let mut member = member(&desk, SECRET, None, ServerClock::new());
    linked(&mut member).await;
    let tap = member.hold(Some("blade slipped".into()));
    assert_eq!(member.follower().untold_taps(), 1);
    let answer = until(&mut member, |happening| match happening {
        Happening::Heard(_, message) => match *message {
            ToMember::TapAnswer { tap, .. } => Some(tap),
            _ => None,
        },
        _ => None,
    });
    assert_eq!(answer.await, tap);
    assert_eq!(member.follower().untold_taps(), 0);
    let first = desk.hears(hold).await;
    assert_eq!((first.tap, first.queued, first.reason.as_deref()), (tap, false, Some("blade slipped")));

    desk.cut();
    until(&mut member, |happening| matches!(happening, Happening::Lost).then_some(())).await;
    let meant_for = member.follower().generation().0;
    let tap = member.hold(None);
    linked(&mut member).await;
    // It comes with the key, so that it is obeyed before the return is answered.
    let back = desk.hears(|said| if let ToServer::Return { taps, .. } = said { Some(taps) } else { None });
    let taps = tokio::select! {
        taps = back => taps,
        () = async { loop { member.next().await; } } => unreachable!(),
    };
    let second = taps.first().expect("the tap comes with the key");
    assert_eq!((&second.tap, second.queued, second.generation), (&tap, true, meant_for));
}

fn hold(said: ToServer) -> Option<holdfast::wire::HoldTap> {
    if let ToServer::Hold(tap) = said { Some(tap) } else { None }
}

#[tokio::test]
async fn a_silent_link_is_lost_and_comes_back() {
    let desk = Desk::open().await;
    let mut member = member(&desk, SECRET, None, ServerClock::new());
    linked(&mut member).await;
    desk.fall_silent();
    until(&mut member, |happening| matches!(happening, Happening::Lost).then_some(())).await;
    linked(&mut member).await;
}

#[tokio::test]
async fn what_the_desk_refuses_is_over_with_its_words() {
    let desk = Desk::open().await;
    let mut member = member(&desk, "wrong", None, ServerClock::new());
    let ending =
        until(&mut member, |happening| if let Happening::Over(ending) = happening { Some(ending) } else { None });
    assert_eq!(ending.await, Ending::Refused("This invitation is worth nothing.".into()));

    let wrong = Address::parse(&desk.url("wrong")).unwrap();
    assert_eq!(look(&wrong).await, Err(LookError::Refused("This invitation is worth nothing.".into())));
    assert_eq!(look(&desk.address()).await.unwrap().parts.len(), 2);
}

#[tokio::test]
async fn nobody_at_home_is_told_and_tried_again() {
    let address = Desk::open().await.address();
    let introduction = Introduction::Join { invitation: SECRET.into(), name: "Ode".into(), part: None };
    let mut member = Member::new(address.clone(), introduction, ServerClock::new());
    for _ in 0..2 {
        until(&mut member, |happening| matches!(happening, Happening::Unreachable(_)).then_some(())).await;
    }
    assert!(matches!(look(&address).await, Err(LookError::Unreachable(_))));
}

#[tokio::test]
async fn a_stand_in_joins_says_ready_follows_holds_and_leaves() {
    let mut desk = Desk::open().await;
    let behaviour = Behaviour {
        ready_after: Some(Micros::millis(20)),
        hold_after: Some(Micros::millis(20)),
        hold_reason: Some("drill".into()),
        shows: vec![Subject::Troubles],
    };
    // MARET is taken: it is refused, and joins without a part.
    let part = Some("MARET".to_owned());
    let handle: StandInHandle = StandIn::spawn(desk.address(), "Brisa", part, behaviour, ServerClock::new());
    let asked = |said| if let ToServer::Join { part, .. } = said { Some(part) } else { None };
    assert_eq!(desk.hears(asked).await, Some("MARET".into()));
    assert_eq!(desk.hears(asked).await, None);
    let shows = |said| if let ToServer::Show { subjects } = said { Some(subjects) } else { None };
    assert_eq!(desk.hears(shows).await, [Subject::Troubles], "it asks for what it shows as soon as it is in");
    let told = SubjectTold::Troubles { troubles: vec!["salt.fight cannot be read".into()] };
    desk.say(ToMember::Subject { tells: told });
    handle.seen().wait_for(|seen| seen.known.troubles.is_some()).await.unwrap();

    let mut places = state(desk.now_us(), 1);
    places.stage = Stage::Places;
    desk.say(ToMember::State(Box::new(places)));
    let ready = |said| if let ToServer::Ready { ready, generation } = said { Some((ready, generation)) } else { None };
    assert_eq!(desk.hears(ready).await, (true, 1));

    desk.say(ToMember::Cue(Box::new(cue(1, 0, Some(desk.now_us() + 10_000)))));
    let tap = desk.hears(hold).await;
    assert_eq!((tap.reason.as_deref(), tap.screen_cue, tap.generation), (Some("drill"), Some(0), 1));
    desk.say(ToMember::Held(Box::new(held(7, 2))));
    handle.hold(Some("again".into()));
    // The first one goes out with it as long as nobody has answered it.
    desk.hears(|said| hold(said).filter(|tap| tap.reason.as_deref() == Some("again"))).await;
    desk.say(ToMember::Cue(Box::new(cue(9, 1, Some(desk.now_us() + 5_000)))));
    handle.seen().wait_for(|seen| seen.cue == Some(1)).await.unwrap();

    let statistics = handle.statistics();
    assert!(statistics.heard_of(7).is_some(), "it notes when it heard of the hold");
    assert_eq!(statistics.fired + statistics.late, 2);
    assert_eq!(Summary::of([&statistics]).linked, 1);
    handle.stop().await;
    desk.hears(|said| matches!(said, ToServer::Leave {}).then_some(())).await;
}
