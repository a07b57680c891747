//! Those who have no invitation, those who talk nonsense, and those who do not listen: each is told why, and nobody
//! else notices.

use std::time::Duration;

use holdfast::call::Role;
use holdfast::member::Address;
use holdfast::units::Generation;
use holdfast::wire::{self, HoldTap, PROTOCOL, Stage, TapOutcome, ToMember, ToServer};
use proptest::prelude::*;
use proptest::strategy::ValueTree;
use proptest::test_runner::TestRunner;
use tempfile::TempDir;
use tokio::io::{AsyncReadExt, AsyncWriteExt};
use tokio::net::TcpStream;
use tokio_tungstenite::tungstenite::{Message, client::IntoClientRequest, http::HeaderValue};

use crate::support::house::House;
use crate::support::raw::Raw;

async fn house() -> (TempDir, House) {
    let folder = TempDir::new().unwrap();
    let house = House::open(folder.path(), Vec::new()).await;
    (folder, house)
}

fn tap(id: &str, generation: u64, queued: bool) -> ToServer {
    ToServer::Hold(HoldTap { queued, ..kept(id, generation) })
}

/// A tap that was made without a link.
fn kept(id: &str, generation: u64) -> HoldTap {
    HoldTap { tap: id.into(), generation, queued: true, tapped_us: None, screen_cue: None, reason: None }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn every_kind_of_nonsense_is_told_apart() {
    let (_folder, house) = house().await;
    // RFC 6455 §7.4.1 names 1003 and 1009; the codes from 4000 are ours.
    let rows: [(&str, Message, u16); 5] = [
        ("text", Message::Text("hold!".into()), 1003),
        ("no MessagePack", Message::Binary(vec![0xc1; 20].into()), 4003),
        (
            "an unknown message",
            Message::Binary(vec![0x81, 0xa4, b'k', b'i', b'n', b'd', 0xa3, b'f', b'l', b'y'].into()),
            4003,
        ),
        ("empty", Message::Binary(Vec::new().into()), 4003),
        ("too long", Message::Binary(vec![0; wire::MAX_FRAME + 1].into()), 1009),
    ];
    for (what, message, code) in rows {
        let (mut raw, _) = Raw::join(&house.address(Role::Observer), what).await;
        raw.send(message).await;
        let (reason, closed) = raw.ending().await;
        assert_eq!(closed, Some(code), "{what}");
        assert!(reason.is_some_and(|reason| reason.len() > 10), "{what} is told why");
    }
    house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn nobody_comes_in_without_an_invitation() {
    let (_folder, house) = house().await;
    let place = house.address(Role::Desk).place();
    let wrong = Address::parse(&format!("http://{place}/join#{}", "0".repeat(40))).unwrap();
    let hello = [
        ToServer::Look { protocol: PROTOCOL, invitation: "0".repeat(40) },
        ToServer::Join { protocol: PROTOCOL, invitation: String::new(), name: "Eve".into(), part: None, page: None },
        ToServer::Return { protocol: PROTOCOL, key: "0".repeat(64), page: None, taps: vec![] },
        ToServer::EndCall { signed_by: Some("Nobody".into()) },
        ToServer::Sign { check: "floor".into(), in_order: true, note: None, by: None },
        ToServer::Attend { person: "Lotte".into(), present: true },
        tap("t", 1, false),
    ];
    for message in hello {
        let mut raw = Raw::connect(&wrong).await;
        raw.say(&message).await;
        let (reason, code) = raw.ending().await;
        assert_eq!(code, Some(4001), "{message:?}");
        assert!(reason.is_some());
    }
    let mut raw = Raw::connect(&wrong).await;
    raw.say(&ToServer::Look { protocol: PROTOCOL + 1, invitation: String::new() }).await;
    assert_eq!(raw.ending().await.1, Some(4006), "another version is told to reload");
    let desk = house.join(Role::Desk, "Ines", None).await;
    let seen = desk.hand.seen().borrow().clone();
    let stage = seen.state.as_ref().unwrap().stage;
    assert_eq!((stage, seen.known.members().count()), (Stage::Idle, 1), "nothing was held, nobody is in the list");
    house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_page_of_another_site_gets_no_link() {
    let (_folder, house) = house().await;
    let place = house.address(Role::Desk).place();
    for (origin, allowed) in [(format!("http://{place}"), true), ("http://elsewhere.example".to_owned(), false)] {
        let mut request = format!("ws://{place}/ws").into_client_request().unwrap();
        request.headers_mut().insert("origin", HeaderValue::from_str(&origin).unwrap());
        assert_eq!(tokio_tungstenite::connect_async(request).await.is_ok(), allowed, "{origin}");
    }
    house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn an_unmasked_frame_fails_the_link() {
    // RFC 6455 §5.1: a server must close a link on a frame that is not masked; §5.7 gives this one ("Hello" as text).
    let (_folder, house) = house().await;
    let place = house.address(Role::Desk).place();
    let mut socket = TcpStream::connect(&place).await.unwrap();
    let request = format!(
        "GET /ws HTTP/1.1\r\nHost: {place}\r\nUpgrade: websocket\r\nConnection: Upgrade\r\n\
         Sec-WebSocket-Version: 13\r\nSec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n\r\n"
    );
    socket.write_all(request.as_bytes()).await.unwrap();
    let mut heard = Vec::new();
    while !heard.ends_with(b"\r\n\r\n") {
        heard.push(socket.read_u8().await.unwrap());
    }
    let head = String::from_utf8(heard).unwrap();
    // RFC 6455 §1.3's worked example.
    assert!(head.contains("s3pPLMBiTxaQ9kYGzzhZRbK+xOo="), "{head}");
    socket.write_all(&[0x81, 0x05, 0x48, 0x65, 0x6c, 0x6c, 0x6f]).await.unwrap();
    let mut rest = Vec::new();
    tokio::time::timeout(Duration::from_secs(20), socket.read_to_end(&mut rest)).await.unwrap().unwrap();
    let closes_with_1002 = rest.windows(4).any(|frame| frame[0] == 0x88 && frame[2..] == 1002u16.to_be_bytes());
    assert!(closes_with_1002 || rest.is_empty(), "a protocol error, or the link just ends: {rest:02x?}");
    house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_flood_is_cut_off_and_a_hold_passes_it() {
    let (_folder, house) = house().await;
    let (mut flood, _) = Raw::join(&house.address(Role::Observer), "flood").await;
    let captain = house.join(Role::Captain, "Bram", None).await;
    let pump = tokio::spawn(async move {
        for _ in 0..20_000 {
            flood.say(&ToServer::Pulse { visible: true, bound_us: None, round_trip_us: None }).await;
        }
        flood.ending().await.1
    });
    captain.hand.hold(None);
    captain.until_stage(Stage::Held).await;
    let code = pump.await.unwrap();
    assert!(
        matches!(code, Some(4004) | None),
        "cut off for too many messages, or the socket broke under them: {code:?}"
    );
    house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn whoever_does_not_read_costs_the_others_nothing() {
    let (_folder, house) = house().await;
    let mut deaf = Vec::new();
    for number in 0..5 {
        deaf.push(Raw::join(&house.address(Role::Observer), &format!("deaf {number}")).await);
    }
    let captain = house.join(Role::Captain, "Bram", None).await;
    for round in 0..20 {
        captain.hand.hold(None);
        captain.until_stage(Stage::Held).await;
        captain.release();
        captain
            .until(&format!("is released, round {round}"), |seen| seen.state.as_ref().unwrap().stage == Stage::Idle)
            .await;
    }
    house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_tap_is_one_hold_however_often_it_is_sent_and_late_when_its_run_is_over() {
    let (_folder, house) = house().await;
    let (mut phone, _) = Raw::join(&house.address(Role::Performer), "Lotte").await;
    let outcome = |wanted: &'static str| move |message: &ToMember| matches!(message, ToMember::TapAnswer { tap, .. } if tap == wanted);
    let told = |message: &ToMember| matches!(message, ToMember::Stop { generation, .. } if *generation == Generation::of(1, 1).0);
    let generation = Generation::of(1, 1).0;
    phone.say(&tap("one", generation, true)).await;
    assert!(phone.hear_until(told).await.is_some(), "the stop comes first");
    let answer = phone.hear_until(outcome("one")).await;
    assert!(matches!(answer, Some(ToMember::TapAnswer { outcome: TapOutcome::Held, hold: None, .. })), "{answer:?}");
    let answer = phone.hear_until(outcome("one")).await;
    assert!(matches!(answer, Some(ToMember::TapAnswer { outcome: TapOutcome::Held, hold: Some(1), .. })), "{answer:?}");
    let answer = phone.hear_until(outcome("one")).await;
    assert!(
        matches!(answer, Some(ToMember::TapAnswer { outcome: TapOutcome::Written, hold: Some(1), .. })),
        "{answer:?}"
    );
    phone.say(&tap("one", generation, true)).await;
    let answer = phone.hear_until(outcome("one")).await;
    assert!(
        matches!(answer, Some(ToMember::TapAnswer { outcome: TapOutcome::Written, hold: Some(1), .. })),
        "{answer:?}"
    );
    phone.say(&tap("two", generation, true)).await;
    let answer = phone.hear_until(outcome("two")).await;
    assert!(matches!(answer, Some(ToMember::TapAnswer { outcome: TapOutcome::Late, hold: None, .. })), "{answer:?}");
    house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn a_revoked_invitation_and_those_who_came_with_it_are_out() {
    let (_folder, house) = house().await;
    let (mut desk, _) = Raw::join(&house.address(Role::Desk), "Ines").await;
    let (mut watcher, key) = Raw::join(&house.address(Role::Observer), "Pim").await;
    watcher.say(&ToServer::Revoke { role: Role::Desk, members: true }).await;
    assert!(watcher.hear_until(|message| matches!(message, ToMember::Refused { .. })).await.is_some());
    desk.say(&ToServer::Revoke { role: Role::Observer, members: true }).await;
    assert_eq!(watcher.ending().await.1, Some(4002));
    // What they had tapped before is known to have come too late.
    let mut cut_off = Raw::connect(&house.address(Role::Observer)).await;
    cut_off.say(&ToServer::Return { protocol: PROTOCOL, key, page: None, taps: vec![kept("before", 1)] }).await;
    let answer = cut_off.hear_until(|said| matches!(said, ToMember::TapAnswer { .. })).await;
    assert!(matches!(answer, Some(ToMember::TapAnswer { outcome: TapOutcome::Late, .. })), "{answer:?}");
    let invitations = desk.hear_until(|message| matches!(message, ToMember::Invitations { .. })).await.unwrap();
    let ToMember::Invitations { invitations, .. } = invitations else { unreachable!() };
    let new = invitations.iter().find(|invitation| invitation.role == Role::Observer).unwrap();
    assert!(new.qr_svg.contains("<svg"));
    let mut old = Raw::connect(&house.address(Role::Observer)).await;
    old.say(&ToServer::Look { protocol: PROTOCOL, invitation: house.address(Role::Observer).secret().into() }).await;
    assert_eq!(old.ending().await.1, Some(4001));
    let (_again, _) = Raw::join(&Address::parse(&new.link).unwrap(), "Pim").await;
    house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn no_bytes_disturb_anybody_else() {
    let (_folder, house) = house().await;
    let captain = house.join(Role::Captain, "Bram", None).await;
    let mut runner = TestRunner::deterministic();
    let bytes = prop::collection::vec(any::<u8>(), 0..300);
    for round in 0..60 {
        let (mut raw, _) = Raw::join(&house.address(Role::Observer), &format!("noise {round}")).await;
        raw.send(Message::Binary(bytes.new_tree(&mut runner).unwrap().current().into())).await;
        assert_eq!(raw.ending().await.1, Some(4003));
    }
    captain.hand.hold(None);
    captain.until_stage(Stage::Held).await;
    assert_eq!(captain.hand.statistics().losses, 0);
    house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 2)]
async fn whoever_has_shown_an_invitation_may_take_their_time() {
    // A page pulses and asks for the time while its reader chooses a name; it must not be sent away for that.
    let (_folder, house) = house().await;
    let address = house.address(Role::Performer);
    let mut raw = Raw::connect(&address).await;
    raw.say(&ToServer::Look { protocol: PROTOCOL, invitation: address.secret().into() }).await;
    raw.say(&ToServer::Pulse { visible: true, bound_us: None, round_trip_us: None }).await;
    raw.say(&ToServer::Clock { sent_us: 7 }).await;
    assert!(raw.hear_until(|message| matches!(message, ToMember::Pulse { .. })).await.is_some());
    assert!(raw.hear_until(|message| matches!(message, ToMember::Clock { sent_us: 7, .. })).await.is_some());
    let join = |name: &str| ToServer::Join {
        protocol: PROTOCOL,
        invitation: address.secret().into(),
        name: name.into(),
        part: None,
        page: None,
    };
    raw.say(&join("  ")).await;
    assert!(raw.hear_until(|message| matches!(message, ToMember::Refused { .. })).await.is_some());
    raw.say(&join("Lotte")).await;
    assert!(raw.hear_until(|message| matches!(message, ToMember::Welcome(_))).await.is_some());
    house.stop().await;
}
