//! "Is that you?": whoever comes under the name of somebody who has been in the call is somebody else until the phone that
//! has the key, or the desk, has said so. Nobody's tap is lost over it, and a server that is started anew goes on asking.

use holdfast::call::Role;
use holdfast::event::{DoorChange, EventKind, What};
use holdfast::journal::{EventFilter, EventRow, Reader};
use holdfast::production::start;
use holdfast::wire::{DoorAsk, HoldTap, PROTOCOL, TapOutcome, ToMember, ToServer, You};
use tempfile::TempDir;

use crate::support::desk_list::{refusal, row, shown, written};
use crate::support::house::House;
use crate::support::raw::Raw;

fn tap(name: &str) -> HoldTap {
    let (generation, tapped_us, screen_cue, reason) = (1, None, None, None);
    HoldTap { tap: name.into(), generation, queued: false, tapped_us, screen_cue, reason }
}

/// What a page is told of its member, once that is so.
async fn own(page: &mut Raw, is_so: impl Fn(&You) -> bool) -> You {
    let of = |message: &ToMember| match message {
        ToMember::You(you) if is_so(you) => Some(you.clone()),
        ToMember::Welcome(welcome) if is_so(&welcome.you) => Some(welcome.you.clone()),
        _ => None,
    };
    of(&page.hear_until(|message| of(message).is_some()).await.expect("the page is told")).unwrap()
}

/// Comes back with a key and what was tapped meanwhile.
async fn back(house: &House, key: &str, taps: Vec<HoldTap>) -> Raw {
    let mut page = Raw::connect(&house.address(Role::Performer)).await;
    page.say(&ToServer::Return { protocol: PROTOCOL, key: key.to_owned(), page: None, taps }).await;
    page
}

async fn answer(page: &mut Raw) -> TapOutcome {
    match page.hear_until(|message| matches!(message, ToMember::TapAnswer { .. })).await {
        Some(ToMember::TapAnswer { outcome, .. }) => outcome,
        other => panic!("no answer: {other:?}"),
    }
}

fn events(folder: &TempDir, kind: EventKind) -> Vec<EventRow> {
    Reader::open(&folder.path().join("data"))
        .unwrap()
        .events(EventFilter { kind: Some(kind), ..EventFilter::default() })
        .unwrap()
}

/// A desk, and Lotte, who plays ALDER.
async fn house() -> (TempDir, House, Raw, (Raw, String)) {
    let folder = TempDir::new().unwrap();
    start(folder.path()).unwrap();
    let house = House::of_folder(folder.path()).await;
    let (mut desk, _) = Raw::join(&house.address(Role::Desk), "Ines").await;
    let (lotte, key) = Raw::join(&house.address(Role::Performer), "Lotte").await;
    let member = shown(&mut desk, "Lotte", |_| true).await.member;
    desk.say(&ToServer::TakePart { member: Some(member), part: Some("ALDER".into()) }).await;
    row(&mut desk, "Lotte", |row| row.part.is_some()).await;
    (folder, house, desk, (lotte, key))
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_phone_that_has_the_key_says_who_the_newcomer_is_and_its_key_may_still_hold() {
    let (folder, house, mut desk, (mut lotte, old_key)) = house().await;
    let (mut tablet, new_key) = Raw::join(&house.address(Role::Performer), "lotte").await;
    let asked = own(&mut lotte, |you| !you.newcomers.is_empty()).await.newcomers;
    assert_eq!((asked.len(), asked[0].name.as_str()), (1, "lotte (2)"));
    let same = |same| ToServer::Door { ask: DoorAsk::Same { member: asked[0].member, same } };
    // Neither the newcomer nor anybody else may say it.
    let (mut pim, _) = Raw::join(&house.address(Role::Observer), "Pim").await;
    for stranger in [&mut tablet, &mut pim] {
        stranger.say(&same(true)).await;
        assert!(refusal(stranger).await.contains("Only the stage manager"));
    }
    lotte.say(&same(true)).await;
    let now = own(&mut tablet, |you| you.name == "Lotte").await;
    assert_eq!((now.part.as_deref(), now.waits), (Some("ALDER"), None));
    assert_eq!(lotte.ending().await.1, Some(4007));
    let gone = shown(&mut desk, "Lotte", |row| row.part.as_deref() == Some("ALDER")).await;
    assert_eq!(gone.member, asked[0].member);
    // The key that was hers may still hold, under her name, and nothing else.
    let mut pocket = back(&house, &old_key, vec![tap("in the pocket")]).await;
    assert_eq!(answer(&mut pocket).await, TapOutcome::Held);
    assert_eq!(pocket.ending().await.1, Some(4001));
    let mut again = back(&house, &new_key, vec![]).await;
    assert_eq!(own(&mut again, |_| true).await.name, "Lotte");
    let is_held = |said: &ToMember| matches!(said, ToMember::State(state) if state.hold.is_some());
    desk.hear_until(is_held).await.unwrap();
    desk.release().await;
    house.stop().await;
    let same = DoorChange::Same { newcomer: "lotte (2)".into(), name: "Lotte".into() };
    assert_eq!(written(&folder.path().join("data")), [("Lotte".to_owned(), same)]);
    assert_eq!(events(&folder, EventKind::Hold)[0].event.who.as_ref().unwrap().name, "Lotte");

    // A server that is started anew knows the name, the part, and what the old key is good for.
    let house = House::of_folder(folder.path()).await;
    let mut pocket = back(&house, &old_key, vec![tap("in the other pocket")]).await;
    assert_eq!(answer(&mut pocket).await, TapOutcome::Held);
    let mut again = back(&house, &new_key, vec![]).await;
    let you = own(&mut again, |_| true).await;
    assert_eq!((you.name.as_str(), you.part.as_deref()), ("Lotte", Some("ALDER")));
    house.stop().await;
    assert_eq!(events(&folder, EventKind::Hold)[1].event.who.as_ref().unwrap().name, "Lotte");
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_desk_answers_for_all_who_are_not_linked_and_never_while_a_run_goes() {
    let (folder, house, mut desk, (lotte, _)) = house().await;
    drop(lotte);
    shown(&mut desk, "Lotte", |row| row.link == holdfast::wire::Link::Lost).await;
    let (_phone, key) = Raw::join(&house.address(Role::Performer), "Lotte").await;
    let claims = shown(&mut desk, "Lotte (2)", |_| true).await.claims;
    assert_eq!(claims, Some(shown(&mut desk, "Lotte", |_| true).await.member));
    // One more of the name is asked about as well; one who is linked is left out of the answer for all.
    let (_ayo, _) = Raw::join(&house.address(Role::Performer), "Ayo").await;
    let (mut other, _) = Raw::join(&house.address(Role::Performer), "Ayo").await;

    let setup = holdfast::wire::Setup {
        fight: "First Steps".into(),
        weapons: None,
        from: 0,
        from_move: None,
        to: 0,
        percent: 100,
        count_in: 2,
        drive: holdfast::wire::DriveKind::Step,
    };
    desk.say(&ToServer::Places { setup, seen: desk.seen() }).await;
    let at = |stage| move |said: &ToMember| matches!(said, ToMember::State(state) if state.stage == stage);
    let Some(ToMember::State(state)) = desk.hear_until(at(holdfast::wire::Stage::Places)).await else { panic!() };
    desk.say(&ToServer::Start { generation: state.generation, anyway: true, seen: desk.seen() }).await;
    desk.hear_until(at(holdfast::wire::Stage::Running)).await.unwrap();
    desk.say(&ToServer::Door { ask: DoorAsk::SameAll {} }).await;
    assert!(refusal(&mut desk).await.contains("while a run goes"));
    desk.say(&ToServer::Stop { reason: "enough".into() }).await;
    desk.hear_until(at(holdfast::wire::Stage::Stopped)).await.unwrap();
    house.stop().await;

    // It goes on being asked after a restart, in the middle of the call.
    let house = House::of_folder(folder.path()).await;
    let mut phone = back(&house, &key, vec![]).await;
    let you = own(&mut phone, |_| true).await;
    assert_eq!((you.name.as_str(), you.waits.as_deref()), ("Lotte (2)", Some("Lotte")));
    let (mut desk, _) = Raw::join(&house.address(Role::Desk), "Tove").await;
    let ayo = shown(&mut desk, "Ayo (2)", |row| row.claims.is_some()).await.member;
    desk.say(&ToServer::Door { ask: DoorAsk::Same { member: ayo, same: false } }).await;
    row(&mut desk, "Ayo (2)", |row| row.claims.is_none()).await;
    desk.say(&ToServer::Door { ask: DoorAsk::SameAll {} }).await;
    assert_eq!(own(&mut phone, |you| you.name == "Lotte").await.part.as_deref(), Some("ALDER"));
    desk.say(&ToServer::Door { ask: DoorAsk::Same { member: ayo, same: true } }).await;
    assert!(refusal(&mut desk).await.contains("settled already"));
    assert!(other.ending().await.1.is_some(), "the first server closed it");
    house.stop().await;
    let changes: Vec<DoorChange> = written(&folder.path().join("data")).into_iter().map(|(_, change)| change).collect();
    let not = DoorChange::Other { newcomer: "Ayo (2)".into(), name: "Ayo".into() };
    let same = DoorChange::Same { newcomer: "Lotte (2)".into(), name: "Lotte".into() };
    assert_eq!(changes, [not, same]);
}

/// A welcome that is lost on the way takes the key with it: the same page comes with the code again, and is who it was.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_page_whose_welcome_was_lost_is_nobody_else() {
    let (folder, house, mut desk, _lotte) = house().await;
    let address = house.address(Role::Performer);
    let mut keys = Vec::new();
    for page in ["a page", "a page", "another page"] {
        let mut phone = Raw::connect(&address).await;
        let invitation = address.secret().to_owned();
        let (name, page) = ("Sanne".to_owned(), Some(page.to_owned()));
        phone.say(&ToServer::Join { protocol: PROTOCOL, invitation, name, part: None, page }).await;
        let welcome = phone.hear_until(|said| matches!(said, ToMember::Welcome(_))).await;
        let Some(ToMember::Welcome(welcome)) = welcome else { panic!("{welcome:?}") };
        keys.push((welcome.member, welcome.you.name, welcome.key.unwrap()));
    }
    assert_eq!((&keys[0].0, keys[1].1.as_str(), keys[2].1.as_str()), (&keys[1].0, "Sanne", "Sanne (2)"));
    shown(&mut desk, "Sanne (2)", |row| row.claims == Some(keys[0].0)).await;
    house.stop().await;
    // The key of the second welcome is the one that is kept.
    let house = House::of_folder(folder.path()).await;
    let mut again = back(&house, &keys[1].2, vec![]).await;
    assert_eq!(own(&mut again, |_| true).await.name, "Sanne");
    house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_name_that_was_not_in_this_call_is_had_at_once_and_the_fourth_of_a_name_is_refused() {
    let (folder, house, mut desk, (lotte, old_key)) = house().await;
    drop(lotte);
    shown(&mut desk, "Lotte", |row| row.link == holdfast::wire::Link::Lost).await;
    desk.say(&ToServer::EndCall { signed_by: None }).await;
    desk.hear_until(|said| matches!(said, ToMember::State(state) if state.setup.is_none())).await.unwrap();
    // Another evening, another phone.
    let (mut phone, _) = Raw::join(&house.address(Role::Performer), "Lotte").await;
    phone.say(&ToServer::Clock { sent_us: 1 }).await;
    let row = shown(&mut desk, "Lotte", |row| row.link == holdfast::wire::Link::Linked).await;
    assert_eq!((row.part.as_deref(), row.claims), (Some("ALDER"), None));
    let mut pocket = back(&house, &old_key, vec![tap("at home")]).await;
    assert_eq!(answer(&mut pocket).await, TapOutcome::Held);
    let is_held = |said: &ToMember| matches!(said, ToMember::State(state) if state.hold.is_some());
    desk.hear_until(is_held).await.unwrap();
    desk.release().await;

    let mut more = Vec::new();
    for _ in 0..3 {
        more.push(Raw::join(&house.address(Role::Performer), "Lotte").await);
    }
    let mut fourth = Raw::connect(&house.address(Role::Performer)).await;
    let invitation = house.address(Role::Performer).secret().to_owned();
    let join = ToServer::Join { protocol: PROTOCOL, invitation, name: "Lotte".into(), part: None, page: None };
    fourth.say(&join).await;
    assert!(refusal(&mut fourth).await.contains("3 people have come as Lotte"));
    // One who has gone makes room: who comes has their name.
    drop(more.remove(1));
    shown(&mut desk, "Lotte (3)", |row| row.link == holdfast::wire::Link::Lost).await;
    fourth.say(&join).await;
    assert_eq!(own(&mut fourth, |_| true).await.name, "Lotte (3)");
    house.stop().await;
    let late = events(&folder, EventKind::Hold);
    assert!(late.iter().all(|row| row.event.who.as_ref().is_some_and(|who| who.name == "Lotte")));
    assert!(events(&folder, EventKind::HoldLate).iter().all(|row| !matches!(row.event.what, What::Unknown(_))));
}
