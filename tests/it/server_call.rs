//! A whole call over real sockets: places, ready, a run, a hold in mid-phrase, a release, the run again; and what is
//! in the journal afterwards.

use holdfast::call::Role;
use holdfast::event::{RunEnd, What};
use holdfast::journal::{EventFilter, Reader};
use holdfast::member::Behaviour;
use holdfast::wire::{Stage, ToServer};
use tempfile::TempDir;

use crate::support::fights::fight_of;
use crate::support::house::{House, Person};

/// Two phrases at 240 beats a minute: a whole run is over in three seconds.
fn quick_fight() -> std::sync::Arc<holdfast::call::Fight> {
    fight_of("The Salt Stair", 240.0, &[&[0, 1, 2, 3, 4, 5], &[0, 1, 2]])
}

async fn company(house: &House) -> (Person, Person, Person, Person) {
    let desk = house.join(Role::Desk, "Ines", None).await;
    let captain = house.join(Role::Captain, "Bram", None).await;
    let maret = house.join(Role::Performer, "Lotte", Some("MARET")).await;
    let osk = house.join(Role::Performer, "Yusuf", Some("OSK")).await;
    (desk, captain, maret, osk)
}

fn kinds(folder: &TempDir) -> Vec<String> {
    let events = Reader::open(folder.path()).unwrap().events(EventFilter::default()).unwrap();
    events.iter().map(|row| row.event.what.word().to_owned()).collect()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_hold_stops_everybody_and_is_logged_at_the_move_it_hit() {
    let folder = TempDir::new().unwrap();
    let house = House::open(folder.path(), vec![quick_fight()]).await;
    let (desk, captain, maret, osk) = company(&house).await;
    desk.run_the_fight(100).await;
    osk.until("has seen four beats", |seen| seen.cue.is_some_and(|cue| cue >= 4)).await;
    osk.hand.hold(Some("my grip".into()));

    for person in [&desk, &captain, &maret, &osk] {
        let state = person.until_stage(Stage::Held).await.state.unwrap();
        let hold = state.hold.as_ref().unwrap();
        assert_eq!(hold.callers[0].name, "Yusuf");
        assert_eq!(hold.spot.as_ref().unwrap().phrase_name, "phrase 1");
    }
    desk.until("sees that it is on disk", |seen| {
        seen.state.as_ref().and_then(|state| state.hold.as_ref()).is_some_and(|hold| hold.written)
    })
    .await;
    // What was acknowledged as written is there for somebody who looks now, while the server runs.
    let held = Reader::open(folder.path()).unwrap().events(EventFilter::default()).unwrap();
    let event = held.iter().map(|row| &row.event).find(|event| matches!(event.what, What::Hold { .. })).unwrap();
    assert_eq!((event.name(), event.what.says().as_deref()), (Some("Yusuf"), Some("my grip")));
    let spot = event.spot.as_ref().unwrap();
    assert_eq!(spot.phrase_name, "phrase 1");
    assert!(spot.number.is_some_and(|number| (1..=6).contains(&number)), "a move was reached: {event:?}");
    let What::Hold { under_way, .. } = &event.what else { panic!("{event:?}") };
    assert_eq!(under_way.iter().map(|it| Some(it.number)).collect::<Vec<_>>(), [spot.number], "one pair, one move");

    let fired_at_hold = [&maret, &osk].map(|person| person.hand.statistics().fired);
    captain.release();
    desk.until_stage(Stage::Stopped).await;
    assert_eq!([&maret, &osk].map(|person| person.hand.statistics().fired), fired_at_hold, "no cue after the hold");

    desk.run_the_fight(100).await;
    desk.until_stage(Stage::Complete).await;
    house.stop().await;
    let kinds = kinds(&folder);
    let order =
        ["places", "ready", "start", "phrase", "hold", "release", "places", "start", "phrase", "phrase", "complete"];
    let mut rest = kinds.iter();
    for kind in order {
        assert!(rest.any(|found| found == kind), "{kind} is missing, or out of order, in {kinds:?}");
    }
    assert_eq!(kinds.iter().filter(|kind| *kind == "hold").count(), 1);
    let runs = Reader::open(folder.path()).unwrap().runs().unwrap();
    assert_eq!(runs.iter().map(|run| run.how).collect::<Vec<_>>(), [Some(RunEnd::Held), Some(RunEnd::Complete)]);
    assert_eq!(runs[0].begun.fight, "The Salt Stair");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn nobody_steers_beyond_their_role_but_everybody_can_hold() {
    let folder = TempDir::new().unwrap();
    let house = House::open(folder.path(), vec![quick_fight()]).await;
    let (desk, captain, maret, _osk) = company(&house).await;
    let watcher = house.join(Role::Observer, "Pim", None).await;
    maret.say(ToServer::EndCall { signed_by: None });
    captain.say(ToServer::Speed { percent: 120 });
    watcher.say(ToServer::Stop { reason: "because".into() });
    desk.call_places(100).await;
    watcher.hand.hold(None);
    let state = desk.until_stage(Stage::Held).await.state.unwrap();
    assert_eq!(state.hold.as_ref().unwrap().callers[0].role, Role::Observer);
    let hold = state.hold.as_ref().unwrap();
    maret.say(ToServer::Release { hold: hold.hold, seen: hold.last_event });
    maret.hand.hold(None);
    let state = desk
        .until("sees both callers", |seen| {
            seen.state.as_ref().and_then(|state| state.hold.as_ref()).is_some_and(|hold| hold.callers.len() == 2)
        })
        .await
        .state
        .unwrap();
    assert_eq!(state.stage, Stage::Held, "a performer cannot release");
    house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn keys_and_parts_outlive_the_server_and_a_cut_off_run_is_marked() {
    let folder = TempDir::new().unwrap();
    let house = House::open(folder.path(), vec![quick_fight()]).await;
    let (desk, _captain, maret, _osk) = company(&house).await;
    desk.run_the_fight(100).await;
    maret.until("follows", |seen| seen.cue.is_some()).await;
    let links = house.links.clone();
    house.stop().await;
    // The same folder, another server: the invitations are the same, and those who joined are known.
    let house = House::open(folder.path(), vec![quick_fight()]).await;
    let secret = |links: &holdfast::server::Links| {
        links.iter().map(|(_, link)| link.split_once('#').unwrap().1.to_owned()).collect::<Vec<_>>()
    };
    assert_eq!(secret(&links), secret(&house.links));
    let desk = house.join(Role::Observer, "Pim", None).await;
    let known = std::sync::Arc::clone(&desk.hand.seen().borrow().known);
    let part = |name: &str| known.members().find(|member| member.name == name).and_then(|member| member.part.clone());
    assert_eq!((part("Lotte").as_deref(), part("Yusuf").as_deref()), (Some("MARET"), Some("OSK")));
    house.stop().await;
    let runs = Reader::open(folder.path()).unwrap().runs().unwrap();
    assert_eq!(runs[0].how, Some(RunEnd::CutOff));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_lost_link_is_told_and_holds_where_the_house_says_so() {
    let folder = TempDir::new().unwrap();
    let house = House::open_with(folder.path(), vec![quick_fight()], vec![Role::Performer]).await;
    let (desk, _captain, _maret, osk) = company(&house).await;
    desk.run_the_fight(20).await;
    desk.until_stage(Stage::CountIn).await;
    // Dropped without a word, like a phone whose battery is flat.
    drop(osk);
    let state = desk.until_stage(Stage::Held).await.state.unwrap();
    let hold = state.hold.as_ref().unwrap();
    assert_eq!(hold.callers[0].name, "Yusuf");
    assert_eq!(hold.callers[0].member, None, "nobody tapped");
    assert_eq!(hold.callers[0].reason.as_deref(), Some("link lost"));
    house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_hold_reaches_two_hundred_members() {
    let folder = TempDir::new().unwrap();
    let house = House::open(folder.path(), vec![quick_fight()]).await;
    let mut crowd = Vec::new();
    for number in 0..200 {
        let address = house.address(Role::Observer);
        let name = format!("watcher {number}");
        crowd.push(holdfast::member::StandIn::spawn(address, name, None, Behaviour::default(), house.clock));
    }
    let (desk, _captain, _maret, osk) = company(&house).await;
    desk.until("sees everybody", |seen| seen.known.members().count() == 204).await;
    osk.hand.hold(None);
    let hold = desk.until_stage(Stage::Held).await.state.unwrap().hold.clone().unwrap().hold;
    for member in &crowd {
        let mut seen = member.seen();
        let is_held =
            |seen: &holdfast::member::Seen| seen.state.as_ref().is_some_and(|state| state.stage == Stage::Held);
        tokio::time::timeout(std::time::Duration::from_secs(20), seen.wait_for(is_held)).await.unwrap().unwrap();
        // Whoever lost the link on a busy machine learns of the hold from the state, like anybody who comes back.
        let statistics = member.statistics();
        assert!(
            statistics.heard_of(hold).is_some() || statistics.losses > 0,
            "the hold itself came, not only the state"
        );
    }
    house.stop().await;
}
