//! A desk of the tests' own on a loopback socket: just enough of the server's side of the wire to meet a member with.
//! It hears everything that members say, says what the test wants said, and can fall silent or cut every link.

use std::net::SocketAddr;
use std::time::Duration;

use futures_util::{SinkExt, StreamExt};
use holdfast::call::Role;
use holdfast::member::Address;
use holdfast::time::ServerClock;
use holdfast::wire::{PartChoice, TapOutcome, ToMember, ToServer, decode, encode};
use tokio::net::{TcpListener, TcpStream};
use tokio::sync::{broadcast, mpsc};
use tokio_tungstenite::tungstenite::Message;

use crate::net_messages::{held, welcome};

/// The only secret that this desk lets in, and the key that it gives.
pub(crate) const SECRET: &str = "open-sesame";
const KEY: &str = "personal";

/// How far this desk's clock is ahead of the members', µs: they must find it out.
pub(crate) const AHEAD: i64 = 77_000_000;

#[derive(Clone, Debug)]
enum Order {
    Say(ToMember),
    Cut,
    Silence,
}

pub(crate) struct Desk {
    place: SocketAddr,
    clock: ServerClock,
    orders: broadcast::Sender<Order>,
    heard: mpsc::UnboundedReceiver<ToServer>,
    accepting: tokio::task::JoinHandle<()>,
}

impl Desk {
    pub(crate) async fn open() -> Desk {
        let listener = TcpListener::bind("127.0.0.1:0").await.unwrap();
        let place = listener.local_addr().unwrap();
        let (orders, _) = broadcast::channel(256);
        let (hears, heard) = mpsc::unbounded_channel();
        let clock = ServerClock::new();
        let for_links = orders.clone();
        let accepting = tokio::spawn(async move {
            while let Ok((stream, _)) = listener.accept().await {
                tokio::spawn(link(stream, clock, for_links.subscribe(), hears.clone()));
            }
        });
        Desk { place, clock, orders, heard, accepting }
    }

    pub(crate) fn url(&self, secret: &str) -> String {
        format!("http://{}/join#{secret}", self.place)
    }

    pub(crate) fn address(&self) -> Address {
        Address::parse(&self.url(SECRET)).unwrap()
    }

    /// This desk's time.
    pub(crate) fn now_us(&self) -> i64 {
        self.clock.now().0 + AHEAD
    }

    /// Says something to every member that is linked.
    pub(crate) fn say(&self, message: ToMember) {
        self.orders.send(Order::Say(message)).unwrap();
    }

    /// Cuts every link without a word.
    pub(crate) fn cut(&self) {
        self.orders.send(Order::Cut).unwrap();
    }

    /// Keeps every link open, but never says a word over it again.
    pub(crate) fn fall_silent(&self) {
        self.orders.send(Order::Silence).unwrap();
    }

    /// The next thing a member says that the test asks for.
    pub(crate) async fn hears<T>(&mut self, what: impl Fn(ToServer) -> Option<T>) -> T {
        let wanted = async {
            loop {
                if let Some(found) = what(self.heard.recv().await.unwrap()) {
                    return found;
                }
            }
        };
        tokio::time::timeout(Duration::from_secs(20), wanted).await.expect("nobody says it")
    }
}

impl Drop for Desk {
    fn drop(&mut self) {
        self.accepting.abort();
    }
}

async fn link(
    stream: TcpStream,
    clock: ServerClock,
    mut orders: broadcast::Receiver<Order>,
    hears: mpsc::UnboundedSender<ToServer>,
) {
    stream.set_nodelay(true).unwrap();
    let mut socket = tokio_tungstenite::accept_async(stream).await.unwrap();
    let now_us = || clock.now().0 + AHEAD;
    let mut pulse = tokio::time::interval(Duration::from_millis(300));
    let mut generation = 1;
    let mut silent = false;
    loop {
        let mut answers = Vec::new();
        tokio::select! {
            frame = socket.next() => match frame {
                Some(Ok(Message::Binary(bytes))) => {
                    let received_us = now_us();
                    let message: ToServer = decode(&bytes).unwrap();
                    answers = answer(&message, received_us, now_us(), &mut generation);
                    let _ = hears.send(message);
                }
                Some(Ok(_)) => {}
                Some(Err(_)) | None => return,
            },
            order = orders.recv() => match order {
                Ok(Order::Say(message)) => answers.push(message),
                Ok(Order::Silence) => silent = true,
                Ok(Order::Cut) | Err(_) => return,
            },
            _ = pulse.tick() => answers.push(ToMember::Pulse { now_us: now_us(), generation, stood_us: Some(0) }),
        }
        for answer in answers.into_iter().filter(|_| !silent) {
            if socket.send(Message::Binary(encode(&answer).unwrap().into())).await.is_err() {
                return;
            }
        }
    }
}

/// What the desk says to that, in this order.
fn answer(message: &ToServer, received_us: i64, answered_us: i64, generation: &mut u64) -> Vec<ToMember> {
    let refused = |asked: &str| {
        vec![ToMember::Refused { asked: asked.into(), reason: "This invitation is worth nothing.".into() }]
    };
    match message {
        ToServer::Look { invitation, .. } if invitation == SECRET => {
            let part = |part: &str, taken_by: Option<&str>| PartChoice {
                part: part.into(),
                taken_by: taken_by.map(Into::into),
            };
            let parts = vec![part("MARET", Some("Zan")), part("OSK", None)];
            vec![ToMember::Invited { production: "The Salt Stair".into(), role: Role::Performer, parts }]
        }
        ToServer::Look { .. } => refused("look"),
        ToServer::Join { part: Some(part), .. } if part == "MARET" => refused("join"),
        ToServer::Join { invitation, .. } if invitation == SECRET => {
            let mut welcome = welcome(answered_us, *generation);
            welcome.key = Some(KEY.into());
            vec![ToMember::Welcome(Box::new(welcome))]
        }
        ToServer::Join { .. } => refused("join"),
        ToServer::Return { key, .. } if key == KEY => {
            vec![ToMember::Welcome(Box::new(welcome(answered_us, *generation)))]
        }
        ToServer::Return { .. } => refused("return"),
        ToServer::Clock { sent_us } => vec![ToMember::Clock { sent_us: *sent_us, received_us, answered_us }],
        ToServer::Hold(tap) => {
            *generation += 1;
            let outcome = |outcome| ToMember::TapAnswer { tap: tap.tap.clone(), outcome, hold: Some(1) };
            let held = ToMember::Held(Box::new(held(1, *generation)));
            vec![held, outcome(TapOutcome::Held), outcome(TapOutcome::Written)]
        }
        _ => vec![],
    }
}
