//! One connection: who are you, then a reader and a writer that do not wait for each other. A HOLD goes from the
//! socket to the hub's hold lane with nothing in between.

use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use bytes::Bytes;
use futures_util::stream::{SplitSink, SplitStream};
use futures_util::{SinkExt, StreamExt};
use hyper::upgrade::Upgraded;
use hyper_util::rt::TokioIo;
use tokio::time::timeout;
use tokio_tungstenite::WebSocketStream;
use tokio_tungstenite::tungstenite::protocol::{CloseFrame, WebSocketConfig, frame::coding::CloseCode};
use tokio_tungstenite::tungstenite::{self, Error, Message};
use tracing::{debug, warn};

use super::gate::Gate;
use super::outbox::{Frame, Living, Outbox};
use super::pace::Pace;
use super::request::{HoldLane, LinkId, Request, ToHub};
use super::review::Reviews;
use super::scores::Scores;
use super::{close, introduction};
use crate::call::{Act, Drive, HoldId, MemberId, SetupRequest, Tap};
use crate::time::ServerClock;
use crate::units::{Generation, Micros};
use crate::wire::{self, DriveKind, ToMember, ToServer};

/// A member who has not been heard for so long is silent: the desk is told.
const SILENCE: Duration = Duration::from_secs(1);
/// A silent connection is closed after so long.
const DEAD: Duration = Duration::from_secs(30);
/// A write that takes so long means a member who is too slow.
pub(super) const SLOW: Duration = Duration::from_secs(3);
/// The longest note, reason or name, in bytes; a frame may be longer than any honest text.
const LONGEST_TEXT: usize = 2_000;
/// The longest name of a tap, in bytes.
const LONGEST_TAP: usize = 64;

pub(super) type Socket = WebSocketStream<TokioIo<Upgraded>>;

/// What every connection needs to know.
#[derive(Clone)]
pub(super) struct House {
    pub(super) hub: ToHub,
    pub(super) living: Living,
    pub(super) clock: ServerClock,
    pub(super) gate: Arc<Gate>,
    pub(super) scores: Arc<Scores>,
    pub(super) reviews: Arc<Reviews>,
}

/// Buffers for small frames: the library's own default of 128 KiB a connection costs three times the time of a hold.
pub(super) fn socket_config() -> WebSocketConfig {
    WebSocketConfig::default()
        .read_buffer_size(4 * 1024)
        .write_buffer_size(0)
        .max_write_buffer_size(1024 * 1024)
        .max_message_size(Some(wire::MAX_FRAME))
        .max_frame_size(Some(wire::MAX_FRAME))
}

/// Serves one connection to its end.
pub(super) async fn serve(house: House, io: Upgraded, from: SocketAddr, link: LinkId) {
    let role = tungstenite::protocol::Role::Server;
    let mut socket = WebSocketStream::from_raw_socket(TokioIo::new(io), role, Some(socket_config())).await;
    let outbox = Outbox::new(house.living.clone());
    let admitted = match introduction::introduce(&house, &mut socket, from, link, &outbox).await {
        Ok(admitted) => admitted,
        Err(end) => return introduction::part(&mut socket, from, end).await,
    };
    let (sink, stream) = socket.split();
    let writer = tokio::spawn(write(house.clone(), sink, Arc::clone(&outbox)));
    let end = read(&house, stream, admitted.member, link, &outbox).await;
    debug!(member = admitted.member.0, %from, "link closed: {end}");
    let _ = house.hub.requests.send(Request::Closed(admitted.member, link)).await;
    goodbye(&outbox, &end.reason(), end.code(), end.for_good());
    // The writer ends by itself: with the closing frame, or with a socket that is gone.
    let _ = timeout(SLOW, writer).await;
}

/// Closes a link after telling why.
pub(super) fn goodbye(outbox: &Outbox, reason: &str, code: u16, for_good: bool) {
    let farewell = ToMember::Goodbye { reason: reason.to_owned(), for_good };
    outbox.close(wire::encode(&farewell).map(Bytes::from).unwrap_or_default(), code, close::short(reason));
}

/// Why a connection ends.
#[derive(Debug, thiserror::Error)]
pub(super) enum End {
    #[error("the member closed it")]
    Closed,
    #[error("nothing was heard for {} seconds", DEAD.as_secs())]
    Silent,
    #[error("a broken link: {0}")]
    Broken(String),
    #[error("{reason}")]
    Refused { reason: String, code: u16, for_good: bool },
}

impl End {
    pub(super) fn refused(reason: impl Into<String>, code: u16, for_good: bool) -> End {
        End::Refused { reason: reason.into(), code, for_good }
    }

    pub(super) fn reason(&self) -> String {
        match self {
            End::Refused { reason, .. } => reason.clone(),
            End::Closed | End::Silent | End::Broken(_) => self.to_string(),
        }
    }

    pub(super) fn code(&self) -> u16 {
        match self {
            End::Refused { code, .. } => *code,
            End::Closed => close::NORMAL,
            End::Silent => close::SILENT,
            End::Broken(_) => close::PROTOCOL,
        }
    }

    pub(super) fn for_good(&self) -> bool {
        matches!(self, End::Refused { for_good: true, .. })
    }
}

/// Reads until the link ends. Silence is told to the hub after a second, and again when it is over.
async fn read(house: &House, mut stream: SplitStream<Socket>, member: MemberId, link: LinkId, outbox: &Outbox) -> End {
    let mut pace = Pace::default();
    let mut silent_for = Duration::ZERO;
    loop {
        let frame = match timeout(SILENCE, stream.next()).await {
            Ok(frame) => frame,
            Err(_) => {
                if silent_for.is_zero() && house.hub.requests.send(Request::Silent(member, link)).await.is_err() {
                    return End::Closed;
                }
                silent_for += SILENCE;
                if silent_for >= DEAD {
                    return End::Silent;
                }
                continue;
            }
        };
        let received = house.clock.now();
        if !silent_for.is_zero() {
            silent_for = Duration::ZERO;
            let _ = house.hub.requests.send(Request::Heard(member, link)).await;
        }
        let bytes = match frame_in(frame) {
            Ok(Some(bytes)) => bytes,
            Ok(None) => continue,
            Err(end) => return end,
        };
        let message = match understand(&bytes) {
            Ok(message) => message,
            Err(end) => return end,
        };
        let hold = matches!(message, ToServer::Hold(_));
        let may_pass = pace.allows(received) || (hold && pace.allows_hold(received));
        if !may_pass {
            warn!(member = member.0, "too many messages");
            return End::refused("Too many messages in too short a time. Reload the page.", close::TOO_MANY, false);
        }
        if let ToServer::Clock { sent_us } = message {
            if outbox.push(Frame::Clock { sent_us, received }).is_err() {
                return too_slow();
            }
            continue;
        }
        if let Err(end) = pass_on(house, member, message).await {
            return end;
        }
    }
}

fn too_slow() -> End {
    End::refused(
        "This link takes too long to read what is sent. Reload the page nearer to the router.",
        close::TOO_SLOW,
        false,
    )
}

/// Hands a message to the hub, in the hub's own words.
async fn pass_on(house: &House, member: MemberId, message: ToServer) -> Result<(), End> {
    let act = |act| Request::Act(member, act);
    let request = match message {
        ToServer::Hold(tap) => {
            let tap = Tap {
                id: clip(tap.tap, LONGEST_TAP),
                generation: Generation(tap.generation),
                queued: tap.queued,
                screen_cue: tap.screen_cue,
                reason: tap.reason.map(|reason| clip(reason, LONGEST_TEXT)),
            };
            return house.hub.holds.send(HoldLane { member, tap }).map_err(|_| End::Closed);
        }
        ToServer::Look { .. } | ToServer::Join { .. } | ToServer::Return { .. } | ToServer::Clock { .. } => {
            return Ok(());
        }
        ToServer::Pulse { visible, bound_us, .. } => {
            Request::Pulse { member, visible, bound: bound_us.map(|bound| Micros(bound.clamp(0, 3_600_000_000))) }
        }
        ToServer::Release { hold, calls } => act(Act::Release { hold: HoldId(hold), calls }),
        ToServer::Stop { reason } => act(Act::Stop(clip(reason, LONGEST_TEXT))),
        ToServer::Ready { ready, generation } => act(Act::Ready { ready, generation: Generation(generation) }),
        ToServer::TakePart { member: whose, part } => act(Act::TakePart {
            member: whose.map_or(member, MemberId),
            part: part.map(|part| clip(part, LONGEST_TEXT)),
        }),
        ToServer::Places(setup) => act(Act::Places(SetupRequest {
            fight: setup.fight,
            first: usize::try_from(setup.from).unwrap_or(usize::MAX),
            last: usize::try_from(setup.to).unwrap_or(usize::MAX),
            percent: setup.percent,
            count_in: setup.count_in,
            drive: match setup.drive {
                DriveKind::Clock => Drive::Clock,
                DriveKind::Step => Drive::Step,
            },
        })),
        ToServer::Start { generation, anyway } => act(Act::Start { generation: Generation(generation), anyway }),
        ToServer::Step { generation } => act(Act::Step(Generation(generation))),
        ToServer::Speed { percent } => act(Act::Speed(percent)),
        ToServer::Note { hold, text } => act(Act::Note { hold: HoldId(hold), text: clip(text, LONGEST_TEXT) }),
        ToServer::Sign { check, in_order, note, by } => act(Act::Sign {
            check: clip(check, LONGEST_TEXT),
            in_order,
            note: note.map(|note| clip(note, LONGEST_TEXT)),
            by: by.map(|by| clip(by, LONGEST_TEXT)),
        }),
        ToServer::Attend { person, present } => act(Act::Attend { person: clip(person, LONGEST_TEXT), present }),
        ToServer::EndCall { signed_by } => act(Act::EndCall { signed_by: signed_by.map(|by| clip(by, LONGEST_TEXT)) }),
        ToServer::Show { subjects } => Request::Show(member, subjects),
        ToServer::Report(fired) => Request::Report(member, fired),
        ToServer::Invitations => Request::Invitations(member),
        ToServer::Revoke { role, members } => Request::Revoke { member, role, members },
        ToServer::Sound { ask } => Request::Sound(member, ask),
        ToServer::Leave => Request::Leave(member),
    };
    house.hub.requests.send(request).await.map_err(|_| End::Closed)
}

pub(super) fn understand(bytes: &[u8]) -> Result<ToServer, End> {
    wire::decode(bytes).map_err(|error| {
        let error: String = error.to_string().chars().take(200).collect();
        End::refused(format!("The message was not understood. Reload the page. ({error})"), close::MALFORMED, false)
    })
}

/// The bytes of a binary frame; nothing for the frames that the library answers by itself.
pub(super) fn frame_in(frame: Option<Result<Message, Error>>) -> Result<Option<Bytes>, End> {
    match frame {
        Some(Ok(Message::Binary(bytes))) => Ok(Some(bytes)),
        Some(Ok(Message::Ping(_) | Message::Pong(_) | Message::Frame(_))) => Ok(None),
        Some(Ok(Message::Text(_))) => {
            Err(End::refused("Only binary messages are understood here.", close::UNSUPPORTED, false))
        }
        Some(Ok(Message::Close(_))) | None => Err(End::Closed),
        Some(Err(Error::Capacity(_))) => Err(End::refused(
            format!("A message may have {} bytes at the most.", wire::MAX_FRAME),
            close::TOO_BIG,
            false,
        )),
        Some(Err(Error::ConnectionClosed | Error::AlreadyClosed)) => Err(End::Closed),
        Some(Err(error)) => Err(End::Broken(error.to_string())),
    }
}

/// Writes what the outbox holds: what is urgent first, each frame in one write.
async fn write(house: House, mut sink: SplitSink<Socket, Message>, outbox: Arc<Outbox>) {
    loop {
        let message = match outbox.next().await {
            Frame::Message(bytes) | Frame::Cue(_, bytes) | Frame::Latest(_, bytes) => Message::Binary(bytes),
            Frame::Clock { sent_us, received } => {
                let answer = ToMember::Clock { sent_us, received_us: received.0, answered_us: house.clock.now().0 };
                Message::Binary(wire::encode(&answer).unwrap_or_default().into())
            }
            Frame::Close(bytes, code, reason) => {
                let _ = timeout(SLOW, sink.send(Message::Binary(bytes))).await;
                let frame = CloseFrame { code: CloseCode::from(code), reason: reason.into() };
                let _ = timeout(SLOW, sink.send(Message::Close(Some(frame)))).await;
                let _ = timeout(SLOW, sink.close()).await;
                return;
            }
        };
        match timeout(SLOW, sink.send(message)).await {
            Ok(Ok(())) => {}
            Ok(Err(_)) => return,
            Err(_) => {
                debug!("a member takes too long to read; the link is cut");
                return;
            }
        }
    }
}

fn clip(mut text: String, most: usize) -> String {
    if text.len() > most {
        let end = (0..=most).rev().find(|end| text.is_char_boundary(*end)).unwrap_or(0);
        text.truncate(end);
    }
    text
}
