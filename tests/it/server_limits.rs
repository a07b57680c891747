//! How much the server takes from those who come, each limit a setting, and what the desk reads when one is reached.

use std::io::{Read, Write};
use std::net::TcpStream;
use std::path::Path;

use holdfast::call::Role;
use holdfast::event::What;
use holdfast::journal::{EventFilter, Reader};
use holdfast::member::Address;
use holdfast::production::Limits;
use holdfast::units::Micros;
use holdfast::wire::{HoldTap, PROTOCOL, ToMember, ToServer};

use crate::support::desk_list::refusal;
use crate::support::house::{House, Person};
use crate::support::raw::Raw;

async fn reads(desk: &Person, trouble: &str) {
    let told =
        |seen: &holdfast::member::Seen| seen.known.troubles.iter().flatten().any(|told| told.starts_with(trouble));
    desk.until(&format!("reads “{trouble}”"), told).await;
}

async fn asks_to_join(address: &Address, name: &str) -> Raw {
    let mut page = Raw::connect(address).await;
    let invitation = address.secret().to_owned();
    page.say(&ToServer::Join { protocol: PROTOCOL, invitation, name: name.into(), part: None, page: None }).await;
    page
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn no_more_are_let_in_than_there_is_room_for_and_whoever_is_in_stays_in() {
    let folder = tempfile::tempdir().unwrap();
    let limits = Limits { members: 4, members_by_invitation: 2, name_letters: 10, ..Limits::default() };
    let house = House::open_taking(folder.path(), limits).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let observer = house.address(Role::Observer);
    let (mut first, key) = Raw::join(&observer, "Pim").await;
    let mut long = asks_to_join(&observer, "Bartholomew").await;
    assert!(refusal(&mut long).await.contains("10 letters at the most"));
    Raw::join(&observer, "Ode").await;
    assert!(refusal(&mut asks_to_join(&observer, "Una").await).await.contains("as this call has room for"));
    reads(&desk, "2 people have joined as observer").await;
    // Another code still lets in, until all have come that may.
    Raw::join(&house.address(Role::Captain), "Bram").await;
    assert!(refusal(&mut asks_to_join(&house.address(Role::Sound), "Nia").await).await.contains("room for"));
    reads(&desk, "4 people have joined, and no more are let in.").await;
    first.say(&ToServer::Clock { sent_us: 1 }).await;
    assert!(first.hear_until(|said| matches!(said, ToMember::Clock { .. })).await.is_some());
    let mut back = Raw::connect(&observer).await;
    back.say(&ToServer::Return { protocol: PROTOCOL, key, page: None, taps: vec![] }).await;
    assert!(back.hear_until(|said| matches!(said, ToMember::Welcome(_))).await.is_some(), "whoever is in comes back");
    house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn who_comes_too_quickly_waits_and_keeps_nobody_else_out() {
    let folder = tempfile::tempdir().unwrap();
    let limits = Limits { joins_a_second: 1, returns_a_second: 1, ..Limits::default() };
    let house = House::open_taking(folder.path(), limits).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let observer = house.address(Role::Observer);
    let mut refused = None;
    for number in 0..40 {
        let mut page = asks_to_join(&observer, &format!("Pim {number}")).await;
        let said = page.hear_until(|said| matches!(said, ToMember::Refused { .. } | ToMember::Welcome(_))).await;
        if let Some(ToMember::Refused { reason, .. }) = said {
            refused = Some((number, reason));
            break;
        }
    }
    let (number, reason) = refused.expect("forty in a moment are too many for one a second");
    assert!(number >= 10 && reason.contains("Many people are joining at this moment"), "{number}: {reason}");
    reads(&desk, "More people want to join as observer than the 1 a second").await;
    // Another code has a pace of its own; a page that comes back over and over is made to wait, its member's HOLD is not.
    let (_, key) = Raw::join(&house.address(Role::Performer), "Lotte").await;
    let mut ending = None;
    for _ in 0..40 {
        let mut back = Raw::connect(&house.address(Role::Performer)).await;
        back.say(&ToServer::Return { protocol: PROTOCOL, key: key.clone(), page: None, taps: vec![] }).await;
        let ends = |said: &ToMember| matches!(said, ToMember::Goodbye { .. } | ToMember::Welcome(_));
        if let Some(ToMember::Goodbye { reason, back }) = back.hear_until(ends).await {
            ending = Some((reason, back));
            break;
        }
    }
    let (reason, back) = ending.expect("forty returns in a moment are too many for one a second");
    assert!(reason.contains("comes back too often") && back == holdfast::wire::Back::ByItself, "{reason}");
    reads(&desk, "A page of Lotte comes back over and over").await;
    house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_page_that_says_too_much_is_closed_and_the_desk_reads_whose_it_is() {
    let folder = tempfile::tempdir().unwrap();
    let house = House::open_taking(folder.path(), Limits { messages_a_second: 50, ..Limits::default() }).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let (mut pim, _) = Raw::join(&house.address(Role::Observer), "Pim").await;
    for _ in 0..400 {
        pim.say(&ToServer::Clock { sent_us: 1 }).await;
    }
    assert_eq!(pim.ending().await.1, Some(4004));
    reads(&desk, "A page of Pim said more than the 50 things a second").await;
    house.stop().await;
}

/// The pages take 2,000 letters, however many bytes a letter has; what is longer comes from no page of ours.
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_text_that_is_too_long_is_refused_in_words_and_a_hold_with_one_holds() {
    let folder = tempfile::tempdir().unwrap();
    let house = House::open(folder.path(), Vec::new()).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let (mut pim, _) = Raw::join(&house.address(Role::Captain), "Pim").await;
    let tap = HoldTap {
        tap: "one".into(),
        generation: pim.state().generation,
        queued: false,
        tapped_us: None,
        screen_cue: None,
        reason: Some("ш".repeat(2_001)),
    };
    pim.say(&ToServer::Hold(tap)).await;
    let held = pim.hear_until(|said| matches!(said, ToMember::Held(_))).await;
    let Some(ToMember::Held(hold)) = held else { panic!("held although its reason is too long: {held:?}") };
    reads(&desk, "A page of Pim sent a text of more than 2000 letters.").await;
    pim.say(&ToServer::Note { hold: hold.hold, text: "ж".repeat(2_001) }).await;
    assert!(refusal(&mut pim).await.starts_with("This has 2001 letters, and 2000 are the most that are kept."));
    pim.say(&ToServer::Note { hold: hold.hold, text: "ж".repeat(2_000) }).await;
    desk.until("reads the note", |seen| {
        seen.known.holds.iter().flatten().any(|(_, hold)| hold.notes.iter().any(|note| note.starts_with('ж')))
    })
    .await;
    house.stop().await;
    let texts = kept_texts(folder.path());
    assert_eq!(texts, [format!("{}…", "ш".repeat(2_000)), "ж".repeat(2_000)]);
}

/// The reasons and notes that a journal has, in order.
fn kept_texts(folder: &Path) -> Vec<String> {
    let rows = Reader::open(folder).unwrap().events(EventFilter::default()).unwrap();
    let text = |what| match what {
        What::Hold { call, .. } => call.reason,
        What::Note { text, .. } => text,
        _ => None,
    };
    rows.into_iter().filter_map(|row| text(row.event.what)).collect()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn somebody_with_a_good_code_who_gives_no_name_is_told_of_at_the_desk() {
    let folder = tempfile::tempdir().unwrap();
    let limits = Limits { choosing: Micros::millis(200), ..Limits::default() };
    let house = House::open_taking(folder.path(), limits).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let observer = house.address(Role::Observer);
    let mut page = Raw::connect(&observer).await;
    page.say(&ToServer::Look { protocol: PROTOCOL, invitation: observer.secret().to_owned() }).await;
    assert!(page.ending().await.0.is_some_and(|said| said.contains("Nobody said who they are")));
    reads(&desk, "A page at 127.0.0.1 had a good code and gave no name").await;
    house.stop().await;
}

/// What a page says is shown only where it is asked for by a name of this machine (RFC 9110, section 15.5.20).
#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_name_that_is_not_this_machines_is_led_elsewhere() {
    let folder = tempfile::tempdir().unwrap();
    let house = House::open(folder.path(), Vec::new()).await;
    let place = house.address(Role::Desk).place().to_owned();
    let ask = move |host: &str| {
        let mut stream = TcpStream::connect(&place).unwrap();
        write!(stream, "GET /desk HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n").unwrap();
        let mut said = String::new();
        stream.read_to_string(&mut said).unwrap();
        said
    };
    let answers = tokio::task::spawn_blocking(move || {
        ["127.0.0.1", "localhost:7", "desk.local", "elsewhere.example", "\u{1b}[31m"].map(ask)
    });
    let [address, localhost, local, elsewhere, odd] = answers.await.unwrap();
    for ours in [address, localhost, local] {
        assert!(ours.starts_with("HTTP/1.1 200"), "{ours}");
    }
    assert!(elsewhere.starts_with("HTTP/1.1 421"), "{elsewhere}");
    assert!(elsewhere.contains("names = [\"elsewhere.example\"]"), "{elsewhere}");
    assert!(!odd.contains('\u{1b}') && odd.starts_with("HTTP/1.1 4"), "{odd}");
    house.stop().await;
}
