//! A hold against everything that could stand in its way: a hub that is parked, a phone that comes back with a tap it has
//! kept, a key that was replaced, a reader that takes one byte at a time.

use std::collections::BTreeSet;
use std::io::{self, Read, Write};
use std::net::TcpStream;
use std::sync::atomic::{AtomicI64, Ordering};
use std::sync::{Arc, Condvar, Mutex};
use std::time::Duration;

use holdfast::call::Role;
use holdfast::event::{Event, What};
use holdfast::journal::{EventFilter, EventRow, Reader};
use holdfast::server::Freezer;
use holdfast::time::SleepClock;
use holdfast::units::Micros;
use holdfast::wire::{self, DoorAsk, HoldTap, PROTOCOL, Pieces, Stage, Subject, TapOutcome, ToMember, ToServer};
use tempfile::TempDir;
use tokio::sync::mpsc::UnboundedSender;
use tokio_rustls::rustls::pki_types::pem::PemObject;
use tokio_rustls::rustls::pki_types::{CertificateDer, ServerName};
use tokio_rustls::rustls::{self, ClientConnection, RootCertStore, StreamOwned};
use tokio_tungstenite::tungstenite::{self, Message, protocol::WebSocketConfig};

use crate::support::fights::fight_of;
use crate::support::house::House;
use crate::support::raw::Raw;

/// A thread of the server that a test parks for as long as it likes.
#[derive(Clone)]
struct Ice(Arc<(Mutex<Frost>, Condvar)>);

#[derive(Default)]
struct Frost {
    frozen: bool,
    /// True while the thread stands there.
    parked: bool,
}

impl Ice {
    fn of(thread: &'static str) -> (Ice, Freezer) {
        let ice = Ice(Arc::default());
        let mine = ice.clone();
        let freezer = Freezer::new(move |turn| {
            if turn == thread {
                let (frost, changes) = &*mine.0;
                let mut frost = frost.lock().unwrap();
                while frost.frozen {
                    frost.parked = true;
                    changes.notify_all();
                    frost = changes.wait(frost).unwrap();
                }
                frost.parked = false;
            }
        });
        (ice, freezer)
    }

    /// Freezes the thread, and waits until it stands; or lets it go.
    fn freeze(&self, frozen: bool) {
        let (frost, changes) = &*self.0;
        frost.lock().unwrap().frozen = frozen;
        changes.notify_all();
        if frozen {
            drop(changes.wait_while(frost.lock().unwrap(), |frost| !frost.parked).unwrap());
        }
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
    events.into_iter().filter(|event| event.event.what.word().starts_with("hold")).collect()
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
    let places = desk.start_anyway().await;
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
    assert_eq!(rows[0].event.at.0, at_us, "at the instant of the pull");
    let events = Reader::open(folder.path()).unwrap().events(EventFilter::default()).unwrap();
    let by_time = |event: &Event| matches!(event.what, What::Phrase | What::Complete);
    let later = events.iter().find(|row| row.event.at.0 > at_us && by_time(&row.event));
    assert_eq!(later, None, "what the call did for later instants is in no record");
    house.stop().await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_machine_that_slept_in_a_run_holds_it_when_it_wakes_and_says_why() {
    let folder = TempDir::new().unwrap();
    let slept = Arc::new(AtomicI64::new(0));
    let clock = Arc::clone(&slept);
    let sleep = SleepClock::new(move || Micros(clock.load(Ordering::Relaxed)));
    let fights = vec![fight_of("The Salt Stair", 240.0, &[&[0, 1, 2, 3, 4, 5], &[0, 1, 2, 3]])];
    let house = House::open_sleeping(folder.path(), fights, sleep).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let (mut phone, _) = Raw::join(&house.address(Role::Performer), "Lotte").await;
    // While nothing runs, sleep is nobody's business.
    slept.store(Micros::seconds(3_600).0, Ordering::Relaxed);
    for _ in 0..3 {
        assert!(phone.hear_until(|message| matches!(message, ToMember::Pulse { .. })).await.is_some());
    }
    desk.call_places(100).await;
    let places = desk.start_anyway().await;
    let running = |message: &ToMember| matches!(message, ToMember::State(state) if state.stage == Stage::Running);
    assert!(phone.hear_until(running).await.is_some());
    slept.store(Micros::seconds(7_200).0, Ordering::Relaxed);
    let stop = phone.hear_until(is_stop).await;
    assert!(matches!(stop, Some(ToMember::Stop { generation, .. }) if generation == places), "{stop:?}");
    desk.until_stage(Stage::Held).await;
    house.stop().await;
    let rows = holds(&folder);
    let why = rows.iter().map(|row| row.event.what.says()).collect::<Vec<_>>();
    assert_eq!(why, [Some("this machine was asleep".to_owned())], "{rows:?}");
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
    back.say(&ToServer::Return { protocol: PROTOCOL, key, page: None, taps }).await;
    assert!(other.hear_until(is_stop).await.is_some(), "nobody has answered the return, and everybody stands");
    ice.freeze(false);
    let welcome = back.hear_until(|message| matches!(message, ToMember::Welcome(_))).await;
    let Some(ToMember::Welcome(welcome)) = welcome else { panic!("{welcome:?}") };
    // The call may take the pull after it has answered the return: then the stop follows the welcome at once.
    let standing = welcome.state.stage == Stage::Held;
    assert!(standing || matches!(back.hear_until(|_| true).await, Some(ToMember::Stop { .. })));
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
    let (mut second, _) = Raw::join(&house.address(Role::Performer), "Lotte").await;
    let (mut desk, _) = Raw::join(&house.address(Role::Desk), "Ines").await;
    desk.say(&ToServer::Door { ask: DoorAsk::SameAll {} }).await;
    let is_lotte = |said: &ToMember| matches!(said, ToMember::You(you) if you.name == "Lotte");
    assert!(second.hear_until(is_lotte).await.is_some());
    let mut back = Raw::connect(&house.address(Role::Performer)).await;
    let taps = vec![tap("kept", u64::MAX >> 12, true)];
    back.say(&ToServer::Return { protocol: PROTOCOL, key, page: None, taps }).await;
    captain.until_stage(Stage::Held).await;
    let held = |message: &ToMember| matches!(message, ToMember::TapAnswer { outcome: TapOutcome::Held, .. });
    assert!(back.hear_until(held).await.is_some());
    assert_eq!(back.ending().await.1, Some(4001));
    let rows = holds(&folder);
    assert_eq!((rows.len(), rows[0].event.name()), (1, Some("Lotte")), "it is a hold with a name");
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
    back.say(&ToServer::Return { protocol: PROTOCOL, key, page: None, taps: vec![tap("one", 1, true)] }).await;
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

/// A WebSocket over such a socket, plain or TLS.
trait Sipping: Read + Write {
    /// From now on one byte at a time.
    fn begin(&mut self);
}

impl Sipping for Sip {
    fn begin(&mut self) {
        self.1 = true;
    }
}

impl Sipping for StreamOwned<ClientConnection, Sip> {
    fn begin(&mut self) {
        self.sock.1 = true;
    }
}

fn sip(port: u16) -> Sip {
    let stream = TcpStream::connect(("127.0.0.1", port)).unwrap();
    socket2::SockRef::from(&stream).set_recv_buffer_size(2_048).unwrap();
    stream.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
    Sip(stream, false)
}

/// The same over TLS, trusting the authority of the house.
fn sip_secretly(port: u16, authority: &str) -> StreamOwned<ClientConnection, Sip> {
    let mut roots = RootCertStore::empty();
    roots.add(CertificateDer::from_pem_slice(authority.as_bytes()).unwrap()).unwrap();
    let provider = Arc::new(rustls::crypto::ring::default_provider());
    let config = rustls::ClientConfig::builder_with_provider(provider).with_safe_default_protocol_versions().unwrap();
    let config = Arc::new(config.with_root_certificates(roots).with_no_client_auth());
    let name = ServerName::try_from("127.0.0.1").unwrap();
    StreamOwned::new(ClientConnection::new(config, name).unwrap(), sip(port))
}

/// Joins and reads until there were twelve stops and everything else; says when each stop has come.
fn sips(stream: impl Sipping, secret: String, saw: &UnboundedSender<()>) -> (BTreeSet<&'static str>, usize) {
    let config = WebSocketConfig::default().read_buffer_size(16);
    let (mut socket, _) = tungstenite::client::client_with_config("ws://127.0.0.1/ws", stream, Some(config)).unwrap();
    socket.get_mut().begin();
    let encoded = |message: &ToServer| Message::Binary(wire::encode(message).unwrap().into());
    let join = ToServer::Join { protocol: PROTOCOL, invitation: secret, name: "Sip".into(), part: None, page: None };
    socket.send(encoded(&join)).unwrap();
    let (mut pieces, mut stops, mut kinds, mut pongs) = (Pieces::default(), 0, BTreeSet::new(), 0);
    while stops < 12 || kinds.len() < 3 {
        match socket.read().unwrap() {
            Message::Binary(bytes) => {
                let mut message: ToMember = wire::decode(&bytes).expect("whole frames only");
                if let ToMember::Piece { of, part, last, bytes } = &message {
                    kinds.insert("piece");
                    let Some(whole) = pieces.take(*of, *part, *last, bytes) else { continue };
                    message = wire::decode(&whole).expect("whole messages only");
                }
                match message {
                    ToMember::Welcome(_) => {
                        socket.send(encoded(&ToServer::Show { subjects: Subject::ALL.to_vec() })).unwrap();
                    }
                    ToMember::Stop { .. } => {
                        stops += 1;
                        saw.send(()).unwrap();
                        socket.send(Message::Ping(vec![7; 60].into())).unwrap();
                    }
                    ToMember::State(_) => drop(kinds.insert("state")),
                    ToMember::Pulse { .. } => {
                        kinds.insert("pulse");
                        let pulse = ToServer::Pulse { visible: true, bound_us: None, round_trip_us: None };
                        socket.send(encoded(&pulse)).unwrap();
                    }
                    _ => {}
                }
            }
            Message::Pong(content) => pongs += usize::from(content.len() == 60),
            other => panic!("{other:?}"),
        }
    }
    (kinds, pongs)
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn a_reader_of_one_byte_at_a_time_reads_whole_frames_only() {
    one_byte_at_a_time(false).await;
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn over_tls_as_well() {
    one_byte_at_a_time(true).await;
}

async fn one_byte_at_a_time(tls: bool) {
    let folder = TempDir::new().unwrap();
    // Its run sheet is too long for one frame.
    let beats: Vec<i64> = (0..120).collect();
    let fights = vec![fight_of("The Salt Stair", 240.0, &[&beats])];
    let (house, secure) = House::open_secure(folder.path(), fights).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let captain = house.join(Role::Captain, "Bram", None).await;
    let address = house.address(Role::Observer);
    let secret = address.secret().to_owned();
    let plain = address.place().rsplit_once(':').unwrap().1.parse().unwrap();
    let (saw, mut seen) = tokio::sync::mpsc::unbounded_channel();
    let reader = tokio::task::spawn_blocking(move || match tls {
        true => sips(sip_secretly(secure.port, &secure.authority), secret, &saw),
        false => sips(sip(plain), secret, &saw),
    });
    let here = |seen: &holdfast::member::Seen| {
        seen.known.roster.iter().flat_map(|roster| roster.values()).any(|member| member.name == "Sip")
    };
    captain.until("sees the reader", here).await;
    loop {
        desk.call_places(100).await;
        captain.hand.hold(None);
        captain.until_stage(Stage::Held).await;
        // It reads slowly, and is waited for: whoever does not keep up would be cut off.
        if seen.recv().await.is_none() {
            break;
        }
        captain.release();
        captain.until_stage(Stage::Stopped).await;
        // Whoever calls places has seen the release.
        desk.until_stage(Stage::Stopped).await;
    }
    let (kinds, pongs) = reader.await.unwrap();
    assert_eq!(kinds, BTreeSet::from(["piece", "pulse", "state"]));
    assert!(pongs >= 1, "pongs go between them");
    house.stop().await;
}
