//! One life of the server, from its start to its end: the hub, the loop of the sockets and the journal as they are, turned
//! by hand, and a door that lets phones in as `introduction.rs` does, without its patience.

use std::collections::{BTreeMap, VecDeque};
use std::future::Future;
use std::path::Path;
use std::pin::Pin;
use std::sync::atomic::{AtomicBool, AtomicI64, Ordering::Relaxed};
use std::sync::{Arc, Mutex, PoisonError};
use std::task::{Context, Waker};
use std::time::Duration;

use tokio::sync::oneshot;

use super::network::{End, Way};
use crate::call::{Fight, Role, Settings};
use crate::journal::{ByHand, Journal};
use crate::outputs::Outputs;
use crate::server::brake::Brake;
use crate::server::freezer::Freezer;
use crate::server::hub::{Hub, Lanes};
use crate::server::keeper::Keeper;
use crate::server::keys::{Holder, Keys};
use crate::server::request::{Admitted, LinkId, Refusal, Request, ToHub, tap_of};
use crate::server::setup::{Serving, session_start};
use crate::server::sockets::{Decoded, Decoder, Lines, Reactor, Transport, Work, framed};
use crate::server::visitors::VisitorLimits;
use crate::sound::Sound;
use crate::time::{ServerClock, SleepClock};
use crate::units::Micros;
use crate::wire::{TapOutcome, ToMember, ToServer};

/// What a life is made of before it begins.
pub(super) struct Seeds {
    pub(super) work: Work,
    pub(super) hub: Hub,
    pub(super) lanes: Lanes,
    pub(super) lines: Lines,
    pub(super) keys: Arc<Keys>,
    pub(super) brake: Arc<Brake>,
    pub(super) disk: ByHand,
    /// The secret of each role's invitation.
    pub(super) invitations: BTreeMap<Role, String>,
}

/// Opens what is in that folder, with that clock.
pub(super) fn open(data: &Path, fight: &Arc<Fight>, clock: &'static AtomicI64, slept: &'static AtomicI64) -> Seeds {
    let clock = ServerClock::told(clock);
    let (sound, _player) = Sound::by_hand(48_000);
    let serving = Serving {
        production: "The Salt Stair".into(),
        fights: vec![Arc::clone(fight)],
        troubles: Vec::new(),
        count_in: None,
        invitation_days: 30,
        settings: Settings {
            horizon: Micros::millis(1_500),
            lead: Micros::millis(500),
            hold_on_lost_link: vec![Role::Performer],
            before_call: vec!["weapons".into()],
        },
        folder: None,
        data: data.to_owned(),
        base_url: "http://a".into(),
        secure: None,
        sound,
        outputs: Outputs::off(),
        clock,
        visitors: VisitorLimits::of_files(4_096),
        sleep: SleepClock::new(|| Micros(slept.load(Relaxed))),
        freezer: Freezer::none(),
        patience: Duration::from_secs(60),
    };
    let (journal, disk) = Journal::by_hand(data, &session_start()).expect("the journal opens again");
    let (mut work, mut brakes) = (None, None);
    let ready = serving
        .open_on(journal, |brake, hub, known, sleep| {
            let (lines, its) = Work::new(Arc::clone(&brake), hub, known, sleep)?;
            (work, brakes) = (Some(its), Some(brake));
            Ok(lines)
        })
        .expect("the server opens again");
    let invitations =
        ready.links.iter().map(|(role, link)| (*role, link.split_once('#').unwrap().1.to_owned())).collect();
    let (parts, kept, lanes) = ready.into_hub();
    let (lines, keys) = (parts.lines.clone(), parts.company.directory().keys());
    let hub = Hub::new(parts, kept, Keeper::idle(), lanes.to_hub.clone());
    let (work, brake) = (work.unwrap(), brakes.unwrap());
    Seeds { work, hub, lanes, lines, keys, brake, disk, invitations }
}

/// A connection as the server has it.
pub(super) struct AtServer {
    pub(super) link: LinkId,
    arrived: Arc<Mutex<VecDeque<u8>>>,
    ended: Arc<AtomicBool>,
    /// Until it is a member's.
    newcomer: Option<Newcomer>,
    down: Way,
    written: Arc<Mutex<Vec<u8>>>,
}

struct Newcomer {
    decoder: Decoder,
    waits: Waits,
}

enum Waits {
    ForWord,
    /// For the taps that came with a key to have pulled.
    ForTaps {
        key: String,
        replaced: bool,
        taps: Vec<String>,
        done: Pin<Box<dyn Future<Output = ()>>>,
    },
    ForAnswer(oneshot::Receiver<Result<Admitted, Refusal>>),
    Over,
}

impl AtServer {
    pub(super) fn new(link: u64, down: Way) -> AtServer {
        AtServer {
            link: LinkId(link),
            arrived: Arc::default(),
            ended: Arc::default(),
            newcomer: Some(Newcomer { decoder: Decoder::new(&[]), waits: Waits::ForWord }),
            down,
            written: Arc::default(),
        }
    }

    /// True once it is a member's line.
    pub(super) fn is_line(&self) -> bool {
        self.newcomer.is_none()
    }

    /// True once nobody listens to it any more: it was never a member's.
    pub(super) fn is_over(&self) -> bool {
        self.newcomer.as_ref().is_some_and(|newcomer| matches!(newcomer.waits, Waits::Over))
    }

    /// What was written since this was last asked.
    pub(super) fn written(&self) -> Vec<u8> {
        std::mem::take(&mut *self.written.lock().unwrap_or_else(PoisonError::into_inner))
    }

    fn tell(&self, message: &ToMember) {
        for frame in framed(message).unwrap().frames() {
            // A door's few words always find room.
            assert_eq!(self.down.put(frame), frame.len());
            self.written.lock().unwrap_or_else(PoisonError::into_inner).extend_from_slice(frame);
        }
    }
}

/// A life that goes on.
pub(super) struct Life<'a> {
    pub(super) reactor: Reactor<'a>,
    pub(super) hub: Hub,
    pub(super) lanes: Lanes,
    pub(super) lines: Lines,
    pub(super) keys: Arc<Keys>,
    pub(super) brake: Arc<Brake>,
    pub(super) to_hub: ToHub,
}

impl Life<'_> {
    /// True when a key is somebody's, or was.
    pub(super) fn knows(&self, key: &str) -> bool {
        self.keys.holder(key).is_some()
    }

    /// Bytes have come over a connection.
    pub(super) fn arrives(&mut self, at: &mut AtServer, bytes: &[u8]) {
        match &mut at.newcomer {
            Some(newcomer) => newcomer.decoder.feed(bytes),
            None => {
                at.arrived.lock().unwrap_or_else(PoisonError::into_inner).extend(bytes);
                self.reactor.link_is_ready(at.link, true, false);
            }
        }
    }

    /// Nothing more comes over a connection.
    pub(super) fn ends(&mut self, at: &mut AtServer) {
        at.ended.store(true, Relaxed);
        // What came before the end is read.
        self.meet(at);
        match at.newcomer.take() {
            Some(_) => {
                self.lines.abandon(at.link);
                at.newcomer = Some(Newcomer { decoder: Decoder::new(&[]), waits: Waits::Over });
                at.down.finish();
            }
            None => self.reactor.link_is_ready(at.link, true, false),
        }
    }

    /// Turns everything until there is nothing more to do now. A hub that stands does nothing.
    pub(super) fn settle(&mut self, connections: &mut BTreeMap<usize, AtServer>, hub_stands: bool) {
        loop {
            let mut worked = self.reactor.settle();
            for at in connections.values_mut() {
                worked |= self.meet(at);
            }
            if !hub_stands {
                worked |= self.hub.turn(&mut self.lanes);
            }
            if !worked {
                return;
            }
        }
    }

    /// Goes on with a newcomer; true when something came of it.
    fn meet(&mut self, at: &mut AtServer) -> bool {
        let Some(mut newcomer) = at.newcomer.take() else { return false };
        let before = std::mem::discriminant(&newcomer.waits);
        newcomer.waits = match std::mem::replace(&mut newcomer.waits, Waits::Over) {
            Waits::ForWord => self.listen(at, &mut newcomer.decoder),
            Waits::ForTaps { key, replaced, taps, mut done } => {
                if done.as_mut().poll(&mut Context::from_waker(Waker::noop())).is_ready() {
                    for tap in taps.iter().filter(|_| replaced).cloned() {
                        at.tell(&ToMember::TapAnswer { tap, outcome: TapOutcome::Held, hold: None });
                    }
                    self.come_back(at, key, taps)
                } else {
                    Waits::ForTaps { key, replaced, taps, done }
                }
            }
            Waits::ForAnswer(mut answer) => match answer.try_recv() {
                Ok(Ok(_)) => {
                    let (arrived, ended) = (Arc::clone(&at.arrived), Arc::clone(&at.ended));
                    let end = End { arrived, ended, out: at.down.clone(), written: Arc::clone(&at.written) };
                    self.lines.take(at.link, Transport::Simulated(Box::new(end)), newcomer.decoder);
                    return true;
                }
                Ok(Err(Refusal { reason, for_good: true })) => {
                    at.tell(&ToMember::Goodbye { reason, for_good: true });
                    at.down.finish();
                    Waits::Over
                }
                // They may say it otherwise.
                Ok(Err(Refusal { reason, for_good: false })) => {
                    at.tell(&ToMember::Refused { asked: "join".to_owned(), reason });
                    Waits::ForWord
                }
                Err(_) => Waits::ForAnswer(answer),
            },
            Waits::Over => Waits::Over,
        };
        let worked = before != std::mem::discriminant(&newcomer.waits);
        at.newcomer = Some(newcomer);
        worked
    }

    fn listen(&mut self, at: &AtServer, decoder: &mut Decoder) -> Waits {
        loop {
            match decoder.next().expect("phones write whole messages") {
                None => return Waits::ForWord,
                Some(Decoded::Control) => {}
                Some(Decoded::Message(message)) => match *message {
                    ToServer::Join { invitation, name, part, .. } => {
                        let (reply, answer) = oneshot::channel();
                        self.ask(Request::Join { invitation, name, part, link: at.link, reply });
                        return Waits::ForAnswer(answer);
                    }
                    ToServer::Return { key, taps, .. } => {
                        let held = match self.keys.holder(&key) {
                            Some(Holder::Member(member)) => Some((member, false)),
                            Some(Holder::Replaced(member)) => Some((member, true)),
                            None => None,
                        };
                        let names: Vec<String> = taps.iter().map(|tap| tap.tap.clone()).collect();
                        let Some((member, replaced)) = held.filter(|_| !taps.is_empty()) else {
                            return self.come_back(at, key, names);
                        };
                        let taps: Vec<_> = taps.into_iter().map(tap_of).collect();
                        let lines = self.lines.clone();
                        let mut done: Pin<Box<dyn Future<Output = ()>>> =
                            Box::pin(async move { lines.taps(member, taps).await });
                        // Asks the sockets' thread; the answer comes once it has turned.
                        let _ = done.as_mut().poll(&mut Context::from_waker(Waker::noop()));
                        return Waits::ForTaps { key, replaced, taps: names, done };
                    }
                    // A page whose join was refused may be tapped: it is no member, and hears that.
                    _ => {
                        let reason = "Say who you are first: join with an invitation.".to_owned();
                        at.tell(&ToMember::Goodbye { reason, for_good: false });
                        at.down.finish();
                        return Waits::Over;
                    }
                },
            }
        }
    }

    fn come_back(&mut self, at: &AtServer, key: String, taps: Vec<String>) -> Waits {
        let (reply, answer) = oneshot::channel();
        self.ask(Request::Return { key, taps, link: at.link, reply });
        Waits::ForAnswer(answer)
    }

    fn ask(&mut self, request: Request) {
        assert!(self.to_hub.requests.try_send(request).is_ok(), "a few phones do not fill the hub's lane");
    }
}
