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
use super::playbill::usual;
use crate::call::{Fight, Role, Settings, Why};
use crate::journal::{ByHand, Journal};
use crate::production::Limits;
use crate::server::brake::Brake;
use crate::server::device_kind::DeviceKind;
use crate::server::entrance::{Asked, Entrance, Step};
use crate::server::hub::{Hub, Lanes};
use crate::server::keeper::Keeper;
use crate::server::keys::Keys;
use crate::server::request::{Admitted, LinkId, Refusal, Request, ToHub};
use crate::server::setup::{Serving, session_start};
use crate::server::sockets::{Decoded, Decoder, Lines, Reactor, Transport, Work, framed};
use crate::sound::Sound;
use crate::time::{ServerClock, SleepClock};
use crate::units::Micros;
use crate::wire::ToMember;

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
pub(super) fn open(data: &Path, fights: &[Arc<Fight>], clock: &'static AtomicI64, slept: &'static AtomicI64) -> Seeds {
    let clock = ServerClock::told(clock);
    let (sound, _player) = Sound::by_hand(48_000);
    let settings = Settings {
        horizon: Micros::millis(1_500),
        lead: Micros::millis(500),
        hold_on_lost_link: vec![Role::Performer],
        before_call: vec!["weapons".into()],
        why: Why::default(),
        evening: usual(),
    };
    let serving = Serving {
        base_url: "http://a".into(),
        sleep: SleepClock::new(|| Micros(slept.load(Relaxed))),
        patience: Duration::from_secs(60),
        ..Serving::bare(data.to_owned(), fights.to_vec(), settings, sound, clock)
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
    entrance: Entrance,
    /// What is still to be done of what they said last.
    steps: VecDeque<Step>,
    waits: Waits,
}

impl Newcomer {
    fn new(waits: Waits) -> Newcomer {
        Newcomer {
            decoder: Decoder::new(&[]),
            entrance: Entrance::new(&Limits::default()),
            steps: VecDeque::new(),
            waits,
        }
    }
}

enum Waits {
    /// For them to say something, or for what they said to be done.
    ForWord,
    /// For the taps that came with a key to have pulled.
    ForTaps(Pin<Box<dyn Future<Output = ()>>>),
    ForAnswer(oneshot::Receiver<Result<Admitted, Refusal>>),
    Over,
}

impl AtServer {
    pub(super) fn new(link: u64, down: Way) -> AtServer {
        AtServer {
            link: LinkId(link),
            arrived: Arc::default(),
            ended: Arc::default(),
            newcomer: Some(Newcomer::new(Waits::ForWord)),
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
        // What came before the end is read, and what follows from it is begun.
        while self.meet(at) {}
        match at.newcomer.take() {
            Some(_) => {
                self.lines.abandon(at.link);
                at.newcomer = Some(Newcomer::new(Waits::Over));
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
        let worked = match std::mem::replace(&mut newcomer.waits, Waits::Over) {
            Waits::ForWord => {
                newcomer.waits = Waits::ForWord;
                self.listen(at, &mut newcomer)
            }
            Waits::ForTaps(mut done) => {
                let is_done = done.as_mut().poll(&mut Context::from_waker(Waker::noop())).is_ready();
                newcomer.waits = if is_done { Waits::ForWord } else { Waits::ForTaps(done) };
                is_done
            }
            Waits::ForAnswer(mut answer) => match answer.try_recv().map(|answer| newcomer.entrance.answered(answer)) {
                Ok(Ok(_)) => {
                    let (arrived, ended) = (Arc::clone(&at.arrived), Arc::clone(&at.ended));
                    let end = End { arrived, ended, out: at.down.clone(), written: Arc::clone(&at.written) };
                    self.lines.take(at.link, Transport::Simulated(Box::new(end)), newcomer.decoder);
                    return true;
                }
                Ok(Err(steps)) => {
                    newcomer.steps.extend(steps);
                    newcomer.waits = Waits::ForWord;
                    true
                }
                Err(_) => {
                    newcomer.waits = Waits::ForAnswer(answer);
                    false
                }
            },
            Waits::Over => false,
        };
        at.newcomer = Some(newcomer);
        worked
    }

    /// Does what is next, or hears what they say; true when there was anything.
    fn listen(&mut self, at: &AtServer, newcomer: &mut Newcomer) -> bool {
        let Some(step) = newcomer.steps.pop_front() else {
            let said = match newcomer.decoder.decode().expect("phones write whole messages") {
                None => return false,
                Some(Decoded::Control) => None,
                Some(Decoded::Message(message)) => Some(*message),
            };
            let clock = self.hub.parts.clock;
            let now = (clock.now(), self.brake.dead().next());
            newcomer.steps.extend(newcomer.entrance.hear(now, said, &self.keys, || clock.now()));
            return true;
        };
        match step {
            Step::Tell(message) => at.tell(&message),
            Step::Pull(member, taps) => {
                let lines = self.lines.clone();
                let mut done: Pin<Box<dyn Future<Output = ()>>> =
                    Box::pin(async move { lines.taps(member, taps).await });
                // Asks the sockets' thread; the answer comes once it has turned.
                let _ = done.as_mut().poll(&mut Context::from_waker(Waker::noop()));
                newcomer.waits = Waits::ForTaps(done);
            }
            Step::Late(member, taps) => self.to_hub.too_late(member, taps),
            Step::Ask(asked) => {
                let (link, (reply, answer)) = (at.link, oneshot::channel());
                self.ask(match asked {
                    Asked::Join(joins) => Request::Join { joins, device: DeviceKind::Program, link, reply },
                    Asked::Return(comes) => Request::Return { comes, device: DeviceKind::Program, link, reply },
                    Asked::Look(_) => unreachable!("these phones know what they want"),
                });
                newcomer.waits = Waits::ForAnswer(answer);
            }
            Step::Over(end, _) => {
                at.tell(&ToMember::Goodbye { reason: end.reason(), back: end.back() });
                at.down.finish();
                newcomer.waits = Waits::Over;
            }
        }
        true
    }

    fn ask(&mut self, request: Request) {
        assert!(self.to_hub.requests.try_send(request).is_ok(), "a few phones do not fill the hub's lane");
    }
}
