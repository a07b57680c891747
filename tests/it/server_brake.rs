//! A hold against everything that could stand in its way: a hub that is parked, a phone that comes back with a tap it has
//! kept, a key that was replaced, a reader that takes one byte at a time.

use std::collections::BTreeSet;
use std::io::{self, Read, Write};
use std::net::TcpStream;
use std::sync::atomic::{AtomicBool, Ordering::SeqCst};
use std::sync::{Arc, Condvar, Mutex};
use std::time::Duration;

use holdfast::call::Role;
use holdfast::journal::{EventFilter, EventRow, Reader};
use holdfast::server::Freezer;
use holdfast::wire::{self, HoldTap, PROTOCOL, Pieces, Stage, Subject, TapOutcome, ToMember, ToServer};
use tempfile::TempDir;
use tokio_tungstenite::tungstenite::{self, Message, protocol::WebSocketConfig};

use crate::support::fights::fight_of;
use crate::support::house::House;
use crate::support::raw::Raw;

/// A thread of the server that a test parks for as long as it likes.
#[derive(Clone)]
struct Ice(Arc<(Mutex<bool>, Condvar)>);

impl Ice {
    fn of(thread: &'static str) -> (Ice, Freezer) {
        let ice = Ice(Arc::new((Mutex::new(false), Condvar::new())));
        let mine = ice.clone();
        let freezer = Freezer::new(move |turn| {
            if turn == thread {
                let (frozen, thaws) = &*mine.0;
                drop(thaws.wait_while(frozen.lock().unwrap(), |frozen| *frozen).unwrap());
            }
        });
        (ice, freezer)
    }

    fn freeze(&self, frozen: bool) {
        *self.0.0.lock().unwrap() = frozen;
        self.0.1.notify_all();
    }
}

fn tap(name: &str, generation: u64, queued: bool) -> HoldTap {
    HoldTap { tap: name.into(), generation, queued, tapped_us: None, screen_cue: None, reason: None }
}

fn is_stop(message: &ToMember) -> bool {
    matches!(message, ToMember::Stop { .. })
}

fn holds(folder: &TempDir) -> Vec<EventRow> {
    let events = Reader::open(folder.path()).unwrap().events(EventFilter::default()).unwrap();
    events.into_iter().filter(|event| event.kind.starts_with("hold")).collect()
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_parked_hub_keeps_nobody_from_stopping_and_the_hold_is_logged_where_it_hit() {
    let folder = TempDir::new().unwrap();
    let (ice, freezer) = Ice::of("hub");
    let fights = vec![fight_of("The Salt Stair", 240.0, &[&[0, 1, 2, 3, 4, 5], &[0, 1, 2, 3]])];
    let house = House::open_freezing(folder.path(), fights, freezer).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let (mut phone, _) = Raw::join(&house.address(Role::Performer), "Lotte").await;
    let (mut other, _) = Raw::join(&house.address(Role::Observer), "Pim").await;
    desk.call_places(100).await;
    let places = desk.until_stage(Stage::Places).await.state.unwrap().generation;
    desk.say(ToServer::Start { generation: places, anyway: true });
    let running = |message: &ToMember| matches!(message, ToMember::State(state) if state.stage == Stage::Running);
    assert!(phone.hear_until(running).await.is_some());

    ice.freeze(true);
    phone.say(&ToServer::Hold(tap("one", places, false))).await;
    let stop = other.hear_until(is_stop).await;
    let Some(ToMember::Stop { generation, at_us }) = stop else { panic!("{stop:?}") };
    assert_eq!(generation, places, "the run that went is dead");
    assert!(phone.hear_until(is_stop).await.is_some(), "the caller's own page has it as well");
    let held = |message: &ToMember| matches!(message, ToMember::TapAnswer { outcome: TapOutcome::Held, .. });
    assert!(phone.hear_until(held).await.is_some());
    // The line lives on without a hub, and says that what went is dead.
    for _ in 0..3 {
        let pulse = other.hear_until(|message| matches!(message, ToMember::Pulse { .. })).await;
        assert!(matches!(pulse, Some(ToMember::Pulse { generation, .. }) if generation > places));
    }
    // Time goes on meanwhile: the hub would long be elsewhere in the fight.
    while house.clock.now().0 < at_us + 1_500_000 {
        tokio::time::sleep(Duration::from_millis(50)).await;
    }

    ice.freeze(false);
    let named = other.hear_until(|message| matches!(message, ToMember::Held(_))).await;
    let Some(ToMember::Held(hold)) = named else { panic!("{named:?}") };
    assert_eq!((hold.at_us, hold.callers[0].name.as_str()), (at_us, "Lotte"));
    let written = |message: &ToMember| matches!(message, ToMember::TapAnswer { outcome: TapOutcome::Written, .. });
    assert!(phone.hear_until(written).await.is_some());
    let rows = holds(&folder);
    assert_eq!(rows.len(), 1, "{rows:?}");
    assert_eq!(rows[0].server_us, at_us, "at the instant of the pull");
    let events = Reader::open(folder.path()).unwrap().events(EventFilter::default()).unwrap();
    let later = events.iter().find(|event| event.server_us > at_us && matches!(&*event.kind, "phrase" | "complete"));
    assert_eq!(later, None, "what the call did for later instants is in no record");
    house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_kept_tap_pulls_before_the_return_is_answered() {
    let folder = TempDir::new().unwrap();
    let (ice, freezer) = Ice::of("hub");
    let house = House::open_freezing(folder.path(), Vec::new(), freezer).await;
    let (mut other, _) = Raw::join(&house.address(Role::Observer), "Pim").await;
    let (phone, key) = Raw::join(&house.address(Role::Performer), "Lotte").await;
    drop(phone);
    ice.freeze(true);
    let mut back = Raw::connect(&house.address(Role::Performer)).await;
    let taps = vec![tap("kept", u64::MAX >> 12, true)];
    back.say(&ToServer::Return { protocol: PROTOCOL, key, taps }).await;
    assert!(other.hear_until(is_stop).await.is_some(), "nobody has answered the return, and everybody stands");
    ice.freeze(false);
    let welcome = back.hear_until(|message| matches!(message, ToMember::Welcome(_))).await;
    let Some(ToMember::Welcome(welcome)) = welcome else { panic!("{welcome:?}") };
    assert_eq!(welcome.state.stage, Stage::Held);
    house.stop().await;
    assert_eq!(holds(&folder).len(), 1);
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_replaced_key_may_hold_and_nothing_else() {
    let folder = TempDir::new().unwrap();
    let house = House::open(folder.path(), Vec::new()).await;
    let captain = house.join(Role::Captain, "Bram", None).await;
    let (first, key) = Raw::join(&house.address(Role::Performer), "Lotte").await;
    drop(first);
    let lost = |seen: &holdfast::member::Seen| {
        seen.known
            .roster
            .iter()
            .flat_map(|roster| roster.values())
            .any(|member| member.name == "Lotte" && member.link == wire::Link::Lost)
    };
    captain.until("sees that the first phone is gone", lost).await;
    let (_second, _) = Raw::join(&house.address(Role::Performer), "Lotte").await;
    let mut back = Raw::connect(&house.address(Role::Performer)).await;
    let taps = vec![tap("kept", u64::MAX >> 12, true)];
    back.say(&ToServer::Return { protocol: PROTOCOL, key, taps }).await;
    captain.until_stage(Stage::Held).await;
    let held = |message: &ToMember| matches!(message, ToMember::TapAnswer { outcome: TapOutcome::Held, .. });
    assert!(back.hear_until(held).await.is_some());
    assert_eq!(back.ending().await.1, Some(4001));
    let rows = holds(&folder);
    assert_eq!((rows.len(), rows[0].who.as_deref()), (1, Some("Lotte")), "it is a hold with a name");
    house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_tap_is_known_after_a_restart_and_its_sender_hears_the_truth() {
    let folder = TempDir::new().unwrap();
    let house = House::open(folder.path(), Vec::new()).await;
    let (mut phone, key) = Raw::join(&house.address(Role::Performer), "Lotte").await;
    phone.say(&ToServer::Hold(tap("one", 1, false))).await;
    let written = |message: &ToMember| matches!(message, ToMember::TapAnswer { outcome: TapOutcome::Written, .. });
    assert!(phone.hear_until(written).await.is_some());
    house.stop().await;

    let house = House::open(folder.path(), Vec::new()).await;
    let mut back = Raw::connect(&house.address(Role::Performer)).await;
    back.say(&ToServer::Return { protocol: PROTOCOL, key, taps: vec![tap("one", 1, true)] }).await;
    let answer = back.hear_until(|message| matches!(message, ToMember::TapAnswer { .. })).await;
    assert!(
        matches!(answer, Some(ToMember::TapAnswer { outcome: TapOutcome::Written, hold: Some(1), .. })),
        "{answer:?}"
    );
    house.stop().await;
    assert_eq!(holds(&folder).len(), 1, "a tap is journalled once, over restarts too");
}

/// A socket of which one byte at a time is taken, once it is switched on.
struct Sip(TcpStream, bool);

impl Read for Sip {
    fn read(&mut self, buffer: &mut [u8]) -> io::Result<usize> {
        let some = if self.1 { buffer.len().min(1) } else { buffer.len() };
        self.0.read(&mut buffer[..some])
    }
}

impl Write for Sip {
    fn write(&mut self, bytes: &[u8]) -> io::Result<usize> {
        self.0.write(bytes)
    }

    fn flush(&mut self) -> io::Result<()> {
        self.0.flush()
    }
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_reader_of_one_byte_at_a_time_reads_whole_frames_only() {
    let folder = TempDir::new().unwrap();
    let fights = vec![fight_of("The Salt Stair", 240.0, &[&[0, 1, 2, 3, 4, 5]])];
    let house = House::open(folder.path(), fights).await;
    let captain = house.join(Role::Captain, "Bram", None).await;
    let mut crowd = Vec::new();
    for number in 0..40 {
        crowd.push(Raw::join(&house.address(Role::Observer), &format!("somebody with a long name {number:02}")).await);
    }
    let address = house.address(Role::Observer);
    let done = Arc::new(AtomicBool::new(false));
    let enough = Arc::clone(&done);
    let reader = tokio::task::spawn_blocking(move || {
        let stream = TcpStream::connect(address.place()).unwrap();
        socket2::SockRef::from(&stream).set_recv_buffer_size(2_048).unwrap();
        stream.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
        let url = format!("ws://{}/ws", address.place());
        let config = WebSocketConfig::default().read_buffer_size(16);
        let (mut socket, _) = tungstenite::client::client_with_config(url, Sip(stream, false), Some(config)).unwrap();
        socket.get_mut().1 = true;
        let say = |socket: &mut tungstenite::WebSocket<Sip>, message: &ToServer| {
            socket.send(Message::Binary(wire::encode(message).unwrap().into())).unwrap();
        };
        let invitation = address.secret().to_owned();
        say(&mut socket, &ToServer::Join { protocol: PROTOCOL, invitation, name: "Sip".into(), part: None });
        let (mut pieces, mut stops, mut kinds, mut pongs) = (Pieces::default(), 0, BTreeSet::new(), 0);
        while stops < 12 {
            match socket.read().unwrap() {
                Message::Binary(bytes) => {
                    let mut message: ToMember = wire::decode(&bytes).expect("whole frames only");
                    if let ToMember::Piece { of, part, last, bytes } = &message {
                        kinds.insert("piece");
                        let Some(whole) = pieces.take(*of, *part, *last, bytes) else { continue };
                        message = wire::decode(&whole).expect("whole messages only");
                    }
                    match message {
                        ToMember::Welcome(_) => say(&mut socket, &ToServer::Show { subjects: Subject::ALL.to_vec() }),
                        ToMember::Stop { .. } => {
                            stops += 1;
                            socket.send(Message::Ping(vec![7; 60].into())).unwrap();
                            // Asked anew, everything is told whole again: something large is always on its way.
                            say(&mut socket, &ToServer::Show { subjects: Subject::ALL.to_vec() });
                        }
                        ToMember::State(_) => drop(kinds.insert("state")),
                        ToMember::Pulse { .. } => {
                            kinds.insert("pulse");
                            say(&mut socket, &ToServer::Pulse { visible: true, bound_us: None, round_trip_us: None });
                        }
                        _ => {}
                    }
                }
                Message::Pong(content) => pongs += usize::from(content.len() == 60),
                other => panic!("{other:?}"),
            }
        }
        enough.store(true, SeqCst);
        (kinds, pongs)
    });
    while !done.load(SeqCst) && !reader.is_finished() {
        captain.hand.hold(None);
        captain.until_stage(Stage::Held).await;
        captain.release();
        captain.until("is released", |seen| seen.state.as_ref().unwrap().stage == Stage::Idle).await;
    }
    let (kinds, pongs) = reader.await.unwrap();
    assert_eq!(kinds, BTreeSet::from(["piece", "pulse", "state"]));
    assert!(pongs >= 1, "pongs go between them");
    drop(crowd);
    house.stop().await;
}
