//! What the desk does about people: it takes one out of the call, takes no notes from one, lets nobody new in as a role,
//! and sees who came when and with what. Each is in the journal with whoever did it; nobody else may.

use holdfast::call::{Role, Way};
use holdfast::event::{DoorChange, EventKind, What};
use holdfast::journal::{EventFilter, Reader};
use holdfast::member::Address;
use holdfast::wire::{DoorAsk, HoldTap, PROTOCOL, Subject, SubjectTold, TapOutcome, ToMember, ToServer};
use tempfile::TempDir;

use crate::support::desk_list::{refusal, row, written};
use crate::support::house::House;
use crate::support::raw::Raw;

fn tap(name: &str, queued: bool) -> HoldTap {
    let (generation, tapped_us, screen_cue, reason) = (1, None, None, None);
    HoldTap { tap: name.into(), generation, queued, tapped_us, screen_cue, reason }
}

async fn house() -> (TempDir, House, Raw) {
    let folder = TempDir::new().unwrap();
    let house = House::open(folder.path(), Vec::new()).await;
    let (mut desk, _) = Raw::join(&house.address(Role::Desk), "Ines").await;
    desk.say(&ToServer::Show { subjects: vec![Subject::Roster] }).await;
    (folder, house, desk)
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn whoever_is_taken_out_is_gone_and_may_do_nothing_more() {
    let (folder, house, mut desk) = house().await;
    let (mut pim, key) = Raw::join(&house.address(Role::Observer), "Pim").await;
    let row = row(&mut desk, "Pim", |_| true).await;
    assert_eq!(row.device.as_deref(), Some("no browser"));
    assert!(row.joined.parse::<jiff::Timestamp>().is_ok(), "{}", row.joined);

    pim.say(&ToServer::Door { ask: DoorAsk::Remove { member: row.member } }).await;
    assert!(refusal(&mut pim).await.contains("Only the stage manager"));
    desk.say(&ToServer::Door { ask: DoorAsk::Remove { member: row.member } }).await;
    assert_eq!(pim.ending().await.1, Some(4002));
    let gone = |said: &ToMember| matches!(said, ToMember::Subject { tells: SubjectTold::Roster { gone, .. } } if gone.contains(&row.member));
    assert!(desk.hear_until(gone).await.is_some());

    // The key opens nothing; what was tapped with it holds nothing, and is in the journal as come too late.
    let mut back = Raw::connect(&house.address(Role::Observer)).await;
    let taps = vec![tap("from the pocket", true)];
    back.say(&ToServer::Return { protocol: PROTOCOL, key, page: None, taps }).await;
    let answer = back.hear_until(|said| matches!(said, ToMember::TapAnswer { .. })).await;
    assert!(matches!(answer, Some(ToMember::TapAnswer { outcome: TapOutcome::Late, .. })), "{answer:?}");
    assert_eq!(back.ending().await.1, Some(4001));
    // The same code lets them in again, as somebody new: to keep them out, the role is closed.
    let (_again, _) = Raw::join(&house.address(Role::Observer), "Pim").await;
    // Whoever runs the call cannot shut themselves out.
    desk.say(&ToServer::Door { ask: DoorAsk::Remove { member: 1 } }).await;
    assert!(refusal(&mut desk).await.contains("cannot take yourself out"));
    house.stop().await;

    assert_eq!(written(folder.path()), [("Ines".to_owned(), DoorChange::Removed { name: "Pim".into() })]);
    let events = Reader::open(folder.path()).unwrap().events(EventFilter::default()).unwrap();
    let late = events.iter().find(|row| matches!(row.event.what, What::HoldLate { .. })).unwrap();
    assert_eq!(late.event.who.as_ref().unwrap().name, "Pim");
    assert!(events.iter().all(|row| !matches!(row.event.what, What::Hold { .. })));
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn notes_of_one_person_are_not_taken_until_they_are_again() {
    let (folder, house, mut desk) = house().await;
    let (mut bram, _) = Raw::join(&house.address(Role::Captain), "Bram").await;
    let member = row(&mut desk, "Bram", |_| true).await.member;
    bram.say(&ToServer::Hold(tap("one", false))).await;
    let is_held = |said: &ToMember| matches!(said, ToMember::Held(_));
    let Some(ToMember::Held(hold)) = bram.hear_until(is_held).await else { panic!("nothing is held") };
    let note = |text: &str| ToServer::Note { hold: hold.hold, text: text.into() };

    desk.say(&ToServer::Door { ask: DoorAsk::Notes { member, taken: false } }).await;
    row(&mut desk, "Bram", |row| !row.notes_taken).await;
    bram.say(&note("again and again")).await;
    assert!(refusal(&mut bram).await.contains("takes no notes"));
    // Everybody else's are, and so is HOLD from anybody.
    desk.say(&note("the grip")).await;
    // Said twice it is done once.
    for _ in 0..2 {
        desk.say(&ToServer::Door { ask: DoorAsk::Notes { member, taken: true } }).await;
    }
    row(&mut desk, "Bram", |row| row.notes_taken).await;
    bram.say(&note("the strap")).await;
    // What was asked behind it is answered behind it.
    bram.say(&ToServer::Step { generation: 1, from: 0, way: Way::On }).await;
    refusal(&mut bram).await;
    house.stop().await;
    let (taken, refused) =
        (DoorChange::NotesTaken { name: "Bram".into() }, DoorChange::NotesRefused { name: "Bram".into() });
    assert_eq!(written(folder.path()), [("Ines".to_owned(), refused), ("Ines".to_owned(), taken)]);
    let filter = EventFilter { kind: Some(EventKind::Note), ..EventFilter::default() };
    let notes = Reader::open(folder.path()).unwrap().events(filter).unwrap();
    let text = |what: &What| if let What::Note { text, .. } = what { text.clone() } else { None };
    let notes: Vec<String> = notes.iter().filter_map(|row| text(&row.event.what)).collect();
    assert_eq!(notes, ["the grip", "the strap"]);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_closed_role_lets_nobody_new_in_also_after_a_restart_and_keeps_those_who_are() {
    let (folder, house, mut desk) = house().await;
    let (mut pim, key) = Raw::join(&house.address(Role::Observer), "Pim").await;
    desk.say(&ToServer::Door { ask: DoorAsk::Role { role: Role::Observer, open: false } }).await;
    let closed = |is: bool| {
        move |said: &ToMember| match said {
            ToMember::Invitations { invitations, .. } => {
                invitations.iter().any(|each| each.role == Role::Observer && each.closed == is)
            }
            _ => false,
        }
    };
    assert!(desk.hear_until(closed(true)).await.is_some());
    knocks_in_vain(&house.address(Role::Observer)).await;
    pim.say(&ToServer::Clock { sent_us: 1 }).await;
    assert!(pim.hear_until(|said| matches!(said, ToMember::Clock { .. })).await.is_some(), "whoever is in stays in");
    house.stop().await;

    let house = House::open(folder.path(), Vec::new()).await;
    knocks_in_vain(&house.address(Role::Observer)).await;
    let mut back = Raw::connect(&house.address(Role::Observer)).await;
    back.say(&ToServer::Return { protocol: PROTOCOL, key, page: None, taps: vec![] }).await;
    assert!(back.hear_until(|said| matches!(said, ToMember::Welcome(_))).await.is_some(), "and comes back");
    let (mut desk, _) = Raw::join(&house.address(Role::Desk), "Tove").await;
    desk.say(&ToServer::Door { ask: DoorAsk::Role { role: Role::Observer, open: true } }).await;
    assert!(desk.hear_until(closed(false)).await.is_some());
    let (_new, _) = Raw::join(&house.address(Role::Observer), "Ana").await;
    house.stop().await;
    let role = Role::Observer;
    let done = [("Ines".to_owned(), DoorChange::Closed { role }), ("Tove".to_owned(), DoorChange::Opened { role })];
    assert_eq!(written(folder.path()), done);
}

async fn knocks_in_vain(address: &Address) {
    let mut stranger = Raw::connect(address).await;
    let invitation = address.secret().to_owned();
    stranger.say(&ToServer::Look { protocol: PROTOCOL, invitation: invitation.clone() }).await;
    assert!(refusal(&mut stranger).await.contains("Nobody new is let in as observer now"));
    let name = "Eve".to_owned();
    stranger.say(&ToServer::Join { protocol: PROTOCOL, invitation, name, part: None, page: None }).await;
    assert!(refusal(&mut stranger).await.contains("Nobody new is let in as observer now"));
}
