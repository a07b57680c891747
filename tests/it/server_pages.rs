//! A member with several pages open: desk and review, a phone and a tablet. Each is told what it shows and what was asked
//! on it, everything that concerns the person goes to all of them, and the person is linked while one of them is heard.

use holdfast::call::{Role, Way};
use holdfast::event::EventKind;
use holdfast::journal::{EventFilter, Reader};
use holdfast::member::{Happening, Introduction, Member, Seen};
use holdfast::server::MOST_PAGES;
use holdfast::wire::{Back, HoldTap, Link, PROTOCOL, Stage, Subject, ToMember, ToServer};
use tempfile::TempDir;
use tokio::sync::oneshot;
use tokio::task::JoinHandle;

use crate::support::fights::fight_of;
use crate::support::house::House;
use crate::support::raw::Raw;

async fn house() -> (TempDir, House) {
    let folder = TempDir::new().unwrap();
    let beats: Vec<i64> = (0..200).collect();
    let fights = vec![fight_of("The Quay", 120.0, &[&beats])];
    let house = House::open_with(folder.path(), fights, vec![Role::Performer]).await;
    (folder, house)
}

/// A page of the member with that key; under a name when it has one.
async fn open(house: &House, role: Role, key: &str, page: Option<&str>) -> Raw {
    let mut raw = Raw::connect(&house.address(role)).await;
    let (key, page) = (key.to_owned(), page.map(str::to_owned));
    raw.say(&ToServer::Return { protocol: PROTOCOL, key, page, taps: vec![] }).await;
    assert!(raw.hear_until(|message| matches!(message, ToMember::Welcome(_))).await.is_some());
    raw
}

/// The subjects that a page is told until it is answered a question about the time.
async fn told(page: &mut Raw) -> Vec<String> {
    page.say(&ToServer::Clock { sent_us: 7 }).await;
    let mut told = Vec::new();
    loop {
        match page.hear_until(|message| matches!(message, ToMember::Subject { .. } | ToMember::Clock { .. })).await {
            Some(ToMember::Subject { tells }) => {
                told.push(format!("{tells:?}").split([' ', '(']).next().unwrap().to_owned())
            }
            Some(ToMember::Clock { .. }) => return told,
            other => panic!("the line ended: {other:?}"),
        }
    }
}

fn tap(name: &str, generation: u64) -> ToServer {
    let (queued, tapped_us, screen_cue, reason) = (false, None, None, None);
    ToServer::Hold(HoldTap { tap: name.into(), generation, queued, tapped_us, screen_cue, reason })
}

fn is_stopped(message: &ToMember) -> bool {
    matches!(message, ToMember::Stop { .. })
}

/// How often the journal says that a link was lost.
fn lost_links(folder: &TempDir) -> usize {
    let kind = Some(EventKind::LinkLost);
    Reader::open(folder.path()).unwrap().events(EventFilter { kind, ..EventFilter::default() }).unwrap().len()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn each_page_is_told_what_it_shows_and_a_hold_goes_to_all() {
    let (_folder, house) = house().await;
    let (mut desk, key) = Raw::join(&house.address(Role::Desk), "Ines").await;
    let mut review = open(&house, Role::Desk, &key, None).await;
    desk.say(&ToServer::Show { subjects: vec![Subject::Roster] }).await;
    review.say(&ToServer::Show { subjects: vec![Subject::Checks] }).await;
    let roster = |message: &ToMember| matches!(message, ToMember::Subject { .. });
    let on_desk = desk.hear_until(roster).await;
    let on_review = review.hear_until(roster).await;
    assert!(format!("{on_desk:?}").contains("Roster") && format!("{on_review:?}").contains("Checks"));

    // Somebody comes: the desk's list has them, the other page hears nothing of it.
    let (_phone, _) = Raw::join(&house.address(Role::Observer), "Pim").await;
    assert!(desk.hear_until(roster).await.is_some());
    assert_eq!(told(&mut review).await, Vec::<String>::new());

    // What is refused is told where it was asked.
    review.say(&ToServer::Step { generation: 1, from: 0, way: Way::On }).await;
    assert!(review.hear_until(|message| matches!(message, ToMember::Refused { .. })).await.is_some());
    desk.say(&ToServer::Invitations {}).await;
    let next = desk.hear_until(|said| matches!(said, ToMember::Refused { .. } | ToMember::Invitations { .. })).await;
    assert!(matches!(next, Some(ToMember::Invitations { .. })), "{next:?}");

    // A tap on one: both have the stop, and both learn what became of the tap.
    review.say(&tap("one", 1)).await;
    let answer = |said: &ToMember| matches!(said, ToMember::TapAnswer { tap, .. } if tap == "one");
    for page in [&mut desk, &mut review] {
        assert!(page.hear_until(is_stopped).await.is_some());
        assert!(page.hear_until(answer).await.is_some());
    }
    house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_page_that_is_back_takes_its_own_place_and_one_too_many_closes_the_oldest() {
    let (_folder, house) = house().await;
    let role = Role::Performer;
    let (joined, key) = Raw::join(&house.address(role), "Lotte").await;
    drop(joined);
    let mut first = open(&house, role, &key, Some("first")).await;
    let again = open(&house, role, &key, Some("first")).await;
    let goodbye = first.hear_until(|message| matches!(message, ToMember::Goodbye { .. })).await;
    assert!(matches!(goodbye, Some(ToMember::Goodbye { back: Back::ByItself, .. })), "{goodbye:?}");

    let mut pages = vec![again];
    for number in 0..MOST_PAGES {
        pages.push(open(&house, role, &key, Some(&number.to_string())).await);
    }
    let mut oldest = pages.remove(0);
    let goodbye = oldest.hear_until(|message| matches!(message, ToMember::Goodbye { .. })).await;
    let Some(ToMember::Goodbye { back: Back::WhenAsked, reason }) = goodbye else { panic!("{goodbye:?}") };
    assert!(reason.contains(&format!("{MOST_PAGES} other pages")), "{reason}");
    // Its key is as good as before: it is used there again, and the next oldest goes.
    let mut back = open(&house, role, &key, Some("first")).await;
    assert_eq!(pages[0].ending().await.1, Some(4007));
    back.say(&tap("one", 1)).await;
    for page in &mut pages[1..] {
        assert!(page.hear_until(is_stopped).await.is_some());
    }
    back.say(&ToServer::Leave {}).await;
    for page in [&mut back].into_iter().chain(&mut pages[1..]) {
        assert_eq!(page.ending().await.1, Some(1000), "whoever leaves has left on every page");
    }
    let mut gone = Raw::connect(&house.address(role)).await;
    gone.say(&ToServer::Return { protocol: PROTOCOL, key, page: None, taps: vec![] }).await;
    assert_eq!(gone.ending().await.1, Some(4001), "whoever has left has no key");
    house.stop().await;
}

/// A page that is let in and pulses as pages do. It stands still, its line open, when the handle goes; it is gone without
/// a word when the task is aborted.
async fn alive(house: &House, role: Role, key: &str) -> (oneshot::Sender<()>, JoinHandle<()>) {
    let introduction = Introduction::Return { key: key.to_owned() };
    let mut member = Member::new(house.address(role), introduction, house.clock);
    while !matches!(member.next().await, Happening::Linked) {}
    let (goes, mut stands) = oneshot::channel();
    let task = tokio::spawn(async move {
        while !matches!(stands.try_recv(), Err(oneshot::error::TryRecvError::Closed)) {
            member.next().await;
        }
        std::future::pending::<()>().await;
        drop(member);
    });
    (goes, task)
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_run_goes_on_while_one_page_of_a_fighter_is_heard_and_stops_with_the_last() {
    let (folder, house) = house().await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let (mut joined, key) = Raw::join(&house.address(Role::Performer), "Lotte").await;
    joined.say(&ToServer::TakePart { member: None, part: Some("MARET".into()) }).await;
    assert!(joined.hear_until(|said| matches!(said, ToMember::You(you) if you.part.is_some())).await.is_some());
    drop(joined);
    let linked = |is: bool| {
        let is = move |seen: &Seen| {
            let link = if is { Link::Linked } else { Link::Lost };
            seen.known.members().any(|member| member.name == "Lotte" && member.link == link)
        };
        desk.until("sees her link", is)
    };
    linked(false).await;
    let (_goes, phone) = alive(&house, Role::Performer, &key).await;
    let (_goes, tablet) = alive(&house, Role::Performer, &key).await;
    let (third_goes, _third) = alive(&house, Role::Performer, &key).await;
    linked(true).await;
    desk.call_places(100).await;
    desk.start_anyway().await;
    desk.until_stage(Stage::Running).await;
    let before = lost_links(&folder);
    phone.abort();
    let _ = phone.await;
    // One is gone, one stands still with its line open.
    drop(third_goes);
    // Six moves are three seconds: long after whatever would have been done for a lost link.
    let later = desk.hand.seen().borrow().cue.unwrap_or(0) + 6;
    let seen = desk.until("sees six more moves", move |seen| seen.cue >= Some(later)).await;
    assert_eq!((seen.state.unwrap().stage, lost_links(&folder)), (Stage::Running, before));
    tablet.abort();
    let state = desk.until_stage(Stage::Held).await.state.unwrap();
    assert_eq!(state.hold.as_ref().unwrap().callers[0].reason.as_deref(), Some("link lost"));
    house.stop().await;
}
