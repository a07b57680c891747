//! Who is told what, over real sockets: what a plain member reads does not grow with how many there are, how many call
//! and how much is noted; who shows the roster has all of it.

use std::collections::BTreeMap;

use futures_util::StreamExt;
use futures_util::stream::SplitStream;
use holdfast::call::{MOST_NOTES, Role};
use holdfast::time::ServerClock;
use holdfast::units::Micros;
use holdfast::wire::{
    self, CALLERS_TOLD, HoldTap, HoldView, NOTE_TOLD, Stage, State, Subject, SubjectTold, ToMember, ToServer,
};
use tempfile::TempDir;
use tokio::net::TcpStream;
use tokio::sync::oneshot;
use tokio_tungstenite::tungstenite::Message;
use tokio_tungstenite::{MaybeTlsStream, WebSocketStream};

use crate::support::fights::fight_of;
use crate::support::house::House;
use crate::support::raw::Raw;

type Socket = WebSocketStream<MaybeTlsStream<TcpStream>>;

async fn open(folder: &TempDir) -> House {
    House::open(folder.path(), vec![fight_of("The Salt Stair", 240.0, &[&[0, 1, 2]])]).await
}

/// What one link has read: of each kind of message how many, and their bytes in all.
type Read = BTreeMap<String, (usize, usize)>;

/// A member's link that is read on without being understood: only the kind of a message is looked at.
struct Plain {
    read: tokio::task::JoinHandle<Read>,
    stop: oneshot::Sender<()>,
    sink: futures_util::stream::SplitSink<Socket, Message>,
}

impl Plain {
    async fn join(house: &House, name: &str) -> Plain {
        let (raw, _) = Raw::join(&house.address(Role::Observer), name).await;
        let (sink, stream) = raw.socket.split();
        let (stop, stopped) = oneshot::channel();
        Plain { read: tokio::spawn(read_on(stream, stopped)), stop, sink }
    }

    async fn say(&mut self, message: &ToServer) {
        let bytes = wire::encode(message).unwrap();
        futures_util::SinkExt::send(&mut self.sink, Message::Binary(bytes.into())).await.unwrap();
    }

    async fn stop(self) -> Read {
        drop(self.stop);
        self.read.await.unwrap()
    }
}

async fn read_on(mut stream: SplitStream<Socket>, mut stopped: oneshot::Receiver<()>) -> Read {
    let mut read = Read::new();
    loop {
        let message = tokio::select! {
            message = stream.next() => message,
            _ = &mut stopped => return read,
        };
        match message {
            Some(Ok(Message::Binary(bytes))) => {
                let (count, size) = read.entry(kind(&bytes)).or_default();
                *count += 1;
                *size += bytes.len();
            }
            Some(Ok(_)) => {}
            Some(Err(_)) | None => return read,
        }
    }
}

/// The kind of a message, by the MessagePack specification: a map's first byte, then `kind` and a short string.
fn kind(bytes: &[u8]) -> String {
    let at = bytes.windows(5).position(|window| window == b"\xa4kind").unwrap() + 5;
    let length = usize::from(bytes[at] & 0x1f);
    String::from_utf8(bytes[at + 1..at + 1 + length].to_vec()).unwrap()
}

fn size_of(read: &Read, but: &[&str]) -> usize {
    read.iter().filter(|(kind, _)| !but.contains(&kind.as_str())).map(|(_, (_, size))| size).sum()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn two_hundred_joins_cost_a_plain_member_next_to_nothing_and_the_desk_has_them_all() {
    let folder = TempDir::new().unwrap();
    let house = open(&folder).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let mut plain = Vec::new();
    for number in 0..200 {
        plain.push(Plain::join(&house, &format!("watcher {number}")).await);
    }
    desk.until("sees everybody", |seen| seen.known.members().count() == 201).await;
    let devices = |seen: &holdfast::member::Seen| seen.known.devices.as_ref().is_some_and(|all| all.len() == 201);
    desk.until("sees every device", devices).await;
    let mut all = 0;
    for (number, member) in plain.into_iter().enumerate() {
        let read = member.stop().await;
        // Pulses come by the clock, not because somebody joins.
        let size = size_of(&read, &["pulse"]);
        assert!(size < 2_000, "watcher {number} has read {size} bytes: {read:?}");
        assert!(!read.contains_key("subject"), "watcher {number} shows nothing: {read:?}");
        all += size;
    }
    println!("200 joins: {all} bytes to all 200 besides their welcomes and pulses");
    assert!(all < 200 * 1_000, "{all} bytes for everybody");
    house.stop().await;
}

/// The state as somebody is told it who joins now.
async fn state_for_a_newcomer(house: &House, name: &str) -> State {
    let mut raw = Raw::connect(&house.address(Role::Observer)).await;
    let invitation = house.address(Role::Observer).secret().to_owned();
    raw.say(&ToServer::Join { protocol: wire::PROTOCOL, invitation, name: name.into(), part: None, page: None }).await;
    match raw.hear_until(|message| matches!(message, ToMember::Welcome(_))).await {
        Some(ToMember::Welcome(welcome)) => welcome.state,
        other => panic!("{name} was not let in: {other:?}"),
    }
}

fn size(state: &State) -> usize {
    wire::encode(state).unwrap().len()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn the_state_is_as_long_for_many_members_notes_and_holds_as_for_none() {
    let folder = TempDir::new().unwrap();
    let house = open(&folder).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let captain = house.join(Role::Captain, "Bram", None).await;
    let first = state_for_a_newcomer(&house, "first").await;
    let mut crowd = Vec::new();
    for number in 0..60 {
        crowd.push(Raw::join(&house.address(Role::Observer), &format!("watcher {number}")).await);
    }
    for number in 1..=5 {
        captain.hand.hold(None);
        captain.until("has held", |seen| seen.state.as_ref().is_some_and(|state| state.stage == Stage::Held)).await;
        captain.say(ToServer::Note { hold: number, text: "the grip, once more ".repeat(40) });
        captain.release();
        captain.until("has released", |seen| seen.state.as_ref().is_some_and(|state| state.hold.is_none())).await;
    }
    for person in 0..20 {
        desk.say(ToServer::Attend { person: format!("person {person}"), present: false });
    }
    let noted = |seen: &holdfast::member::Seen| {
        let notes = seen.known.holds.iter().flat_map(|holds| holds.values()).map(|record| record.notes.len());
        notes.sum::<usize>() == 5 && seen.known.attendance.as_ref().is_some_and(|people| people.len() == 20)
    };
    desk.until("sees every note and everybody who is absent", noted).await;
    // Of a hold that is noted to again and again the last notes are told, and the beginning of each.
    for note in 0..20 {
        captain.say(ToServer::Note { hold: 1, text: format!("note {note} {}", "ö".repeat(1_000)) });
    }
    let bounded = |seen: &holdfast::member::Seen| {
        let first = seen.known.holds.as_ref().and_then(|holds| holds.values().next());
        first.is_some_and(|record| {
            let short = record.notes.iter().all(|note| note.chars().count() == NOTE_TOLD + 1 && note.ends_with('…'));
            record.notes.len() == MOST_NOTES && record.earlier_notes == 9 && short
        })
    };
    desk.until("sees the last notes, and how many there were before", bounded).await;
    let last = state_for_a_newcomer(&house, "last").await;
    println!("a state: {} bytes with 2 members, {} with 64, 5 holds and 5 notes", size(&first), size(&last));
    // Of five holds the one that was released last is told, so that who called it can say why. Numbers take some bytes more
    // when they are higher.
    let released = wire::encode(&last.released).unwrap().len();
    assert!(first.released.is_none() && released < 250, "{released} bytes: {last:?}");
    assert!(size(&last) <= size(&first) + released + 16, "{} bytes, {} before: {last:?}", size(&last), size(&first));
    assert!(size(&last) < 600, "{} bytes", size(&last));
    house.stop().await;
}

fn tap(number: usize, time: usize) -> ToServer {
    ToServer::Hold(HoldTap {
        tap: format!("tap {number}/{time}"),
        generation: 1,
        queued: false,
        tapped_us: None,
        screen_cue: None,
        reason: Some("stop, my blade is bent ".repeat(60)),
    })
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn however_many_call_a_hold_it_is_told_gathered_and_at_one_length() {
    let folder = TempDir::new().unwrap();
    let house = open(&folder).await;
    let captain = house.join(Role::Captain, "Bram", None).await;
    let watching = Plain::join(&house, "watching").await;
    let mut callers = Vec::new();
    for number in 0..50 {
        callers.push(Plain::join(&house, &format!("caller {number}")).await);
    }
    let began = house.clock.now();
    for time in 0..4 {
        for (number, caller) in callers.iter_mut().enumerate() {
            caller.say(&tap(number, time)).await;
        }
    }
    let called = |seen: &holdfast::member::Seen| hold(seen).is_some_and(|hold| hold.calls == 200 && hold.written);
    let seen = captain.until("sees every call", called).await;
    let told = hold(&seen).unwrap();
    assert_eq!((told.caller_count, told.callers.len()), (50, CALLERS_TOLD));
    assert!(told.callers.iter().all(|caller| caller.times == 4), "everybody is there once: {:?}", told.callers);
    // Somebody who is not among those named calls once more: the last call is seen.
    let named = |number: usize| told.callers.iter().any(|caller| caller.name == format!("caller {number}"));
    let unnamed = (0..50).find(|number| !named(*number)).unwrap();
    callers[unnamed].say(&tap(unnamed, 4)).await;
    let again = |seen: &holdfast::member::Seen| hold(seen).is_some_and(|hold| hold.calls == 201);
    let seen = captain.until("sees the last call", again).await;
    let told = hold(&seen).unwrap();
    let last = told.callers.iter().find(|caller| caller.name == format!("caller {unnamed}"));
    assert_eq!((last.map(|caller| caller.times), told.callers.len()), (Some(5), CALLERS_TOLD));
    let read = watching.stop().await;
    let (helds, _) = read["held"];
    let (states, bytes) = read["state"];
    assert_eq!(helds, 1, "who joins a hold is told with the state");
    assert!(bytes < states * 8_000, "{bytes} bytes in {states} states");
    println!("201 calls of 50: {states} states, {bytes} bytes in all");
    assert!(states <= most_states(began, &house.clock), "{states} states");
    captain.say(ToServer::Release { hold: told.hold, seen: told.last_event });
    captain.until("has released", |seen| hold(seen).is_none()).await;
    house.stop().await;
}

fn hold(seen: &holdfast::member::Seen) -> Option<&HoldView> {
    seen.state.as_ref()?.hold.as_ref()
}

/// Five a second, and one for the hold itself.
fn most_states(began: holdfast::units::ServerTime, clock: &ServerClock) -> usize {
    let gathered = clock.now().since(began).0 / Micros::millis(200).0;
    usize::try_from(gathered).unwrap() + 2
}

/// Of whom a message on the roster tells.
fn names(message: &ToMember) -> Vec<&str> {
    match message {
        ToMember::Subject { tells: SubjectTold::Roster { members, .. } } => {
            members.iter().map(|member| member.name.as_str()).collect()
        }
        _ => Vec::new(),
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_page_is_told_what_it_shows_and_no_more_of_what_it_showed_before() {
    let folder = TempDir::new().unwrap();
    let house = open(&folder).await;
    let (mut page, key) = Raw::join(&house.address(Role::Director), "Maud").await;
    page.say(&ToServer::Show { subjects: vec![Subject::Roster, Subject::Roster, Subject::Fights] }).await;
    let mut subjects = Vec::new();
    for _ in 0..2 {
        let told = page.hear_until(|message| matches!(message, ToMember::Subject { .. })).await;
        let Some(ToMember::Subject { tells }) = told else { panic!("the link ended") };
        subjects.push(tells);
    }
    assert!(matches!(&subjects[0], SubjectTold::Roster { whole: true, members, .. } if members.len() == 1));
    assert!(matches!(&subjects[1], SubjectTold::Fights { fights } if fights.len() == 1));
    // Another joins: a change, not the whole again. (This page does not pulse, so its own link may be a change as well.)
    let pim = house.join(Role::Observer, "Pim", None).await;
    let told = page.hear_until(|message| names(message).contains(&"Pim")).await;
    let Some(ToMember::Subject { tells: SubjectTold::Roster { whole: false, .. } }) = told else {
        panic!("not a change: {told:?}")
    };
    // The same member on a new link, and a change that is told to whoever shows the roster.
    let mut page = Raw::connect(&house.address(Role::Director)).await;
    page.say(&ToServer::Return { protocol: wire::PROTOCOL, key, page: None, taps: vec![] }).await;
    page.hear_until(|message| matches!(message, ToMember::Welcome(_))).await.unwrap();
    drop(pim);
    let observer = house.join(Role::Observer, "Ode", None).await;
    observer
        .until("sees that Pim has gone", |seen| {
            seen.known.members().any(|member| member.name == "Pim" && member.link == wire::Link::Lost)
        })
        .await;
    page.say(&ToServer::Show { subjects: vec![Subject::Troubles] }).await;
    let first = page.hear_until(|message| matches!(message, ToMember::Subject { .. })).await;
    let troubles = SubjectTold::Troubles { troubles: Vec::new() };
    assert_eq!(first, Some(ToMember::Subject { tells: troubles }), "on a new link nothing is shown before it is asked");
    house.stop().await;
}
