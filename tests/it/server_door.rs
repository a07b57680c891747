//! The door under people who want to jam it: half-sent requests from many addresses, more than there is room for. Who was
//! in the call comes back at once, from an address of their own; the room stays bounded; the desk reads who it is.

use std::io::{ErrorKind, Read, Write};
use std::net::{Ipv4Addr, SocketAddr, TcpStream};
use std::time::Duration;

use holdfast::call::Role;
use holdfast::member::Address;
use holdfast::server::VisitorLimits;
use holdfast::wire::{self, HoldTap, PROTOCOL, ToMember, ToServer};
use socket2::{Domain, Socket, Type};
use tokio_tungstenite::tungstenite::{Message, WebSocket, client};

use crate::support::house::House;
use crate::support::raw::Raw;

const LIMITS: VisitorLimits = VisitorLimits { all: 24, by_address: 12 };
/// Strangers, and half-sent requests of each.
const STRANGERS: u8 = 5;
const REQUESTS: usize = 60;

/// A connection from that loopback address, which to the server is not its own machine's.
fn connect(address: &Address, last: u8) -> TcpStream {
    let socket = Socket::new(Domain::IPV4, Type::STREAM, None).unwrap();
    socket.bind(&SocketAddr::from((Ipv4Addr::new(127, 0, 0, last), 0)).into()).unwrap();
    socket.connect(&address.place().parse::<SocketAddr>().unwrap().into()).unwrap();
    socket.into()
}

/// True when the server has not closed it.
fn is_open(stream: &mut TcpStream) -> bool {
    stream.set_nonblocking(true).unwrap();
    matches!(stream.read(&mut [0; 16]), Err(error) if error.kind() == ErrorKind::WouldBlock)
}

fn say(socket: &mut WebSocket<TcpStream>, message: &ToServer) {
    socket.send(Message::Binary(wire::encode(message).unwrap().into())).unwrap();
}

#[tokio::test(flavor = "multi_thread", worker_threads = 4)]
async fn half_sent_requests_keep_nobody_out() {
    let folder = tempfile::tempdir().unwrap();
    let house = House::open_limited(folder.path(), LIMITS).await;
    let desk = house.join(Role::Desk, "Ines", None).await;
    let address = house.address(Role::Performer);
    let (phone, key) = Raw::join(&address, "Lotte").await;
    drop(phone);

    let at = address.clone();
    let attack = move || {
        let mut open = Vec::new();
        for number in 0..REQUESTS * usize::from(STRANGERS) {
            let mut stream = connect(&at, 2 + u8::try_from(number % usize::from(STRANGERS)).unwrap());
            // One that was closed already takes nothing.
            let _ = stream.write_all(b"GET / HTTP/1.1\r\nHost: ");
            open.push(stream);
        }
        open
    };
    let mut open = tokio::task::spawn_blocking(attack).await.unwrap();

    let returned = tokio::task::spawn_blocking(move || {
        let stream = connect(&address, 9);
        stream.set_read_timeout(Some(Duration::from_secs(20))).unwrap();
        let (mut socket, _) = client(format!("ws://{}/ws", address.place()), stream).unwrap();
        say(&mut socket, &ToServer::Return { protocol: PROTOCOL, key, page: None, taps: vec![] });
        let tap = HoldTap {
            tap: "in spite of them".into(),
            generation: 0,
            queued: false,
            tapped_us: None,
            screen_cue: None,
            reason: None,
        };
        let mut welcome = false;
        loop {
            let Message::Binary(bytes) = socket.read().unwrap() else { continue };
            match wire::decode(&bytes).unwrap() {
                ToMember::Welcome(_) => {
                    welcome = true;
                    say(&mut socket, &ToServer::Hold(tap.clone()));
                }
                ToMember::Stop { .. } => return welcome,
                _ => {}
            }
        }
    });
    assert!(returned.await.unwrap(), "whoever was in the call is back, and holds");
    desk.until("reads who jams the door", |seen| {
        let troubles = seen.known.troubles.as_deref().unwrap_or_default();
        troubles.iter().any(|trouble| trouble.starts_with("127.0.0.") && trouble.contains("were closed"))
    })
    .await;
    // What is closed reaches the strangers in its own time.
    while open.iter_mut().filter_map(|stream| is_open(stream).then_some(())).count() > LIMITS.all {
        tokio::time::sleep(Duration::from_millis(20)).await;
    }
    house.stop().await;
}
