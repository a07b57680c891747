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
use tokio::sync::oneshot;
use tokio::time::timeout;
use tokio_tungstenite::WebSocketStream;
use tokio_tungstenite::tungstenite::protocol::{CloseFrame, WebSocketConfig, frame::coding::CloseCode};
use tokio_tungstenite::tungstenite::{self, Error, Message};
use tracing::{debug, info, warn};

use super::close;
use super::gate::Gate;
use super::outbox::{Frame, Living, Outbox};
use super::pace::Pace;
use super::request::{Admitted, HoldLane, LinkId, Refusal, Request, ToHub};
use crate::call::{Act, Drive, HoldId, MemberId, SetupRequest, Tap};
use crate::time::ServerClock;
use crate::units::{Generation, Micros};
use crate::wire::{self, DriveKind, ToMember, ToServer};

/// How long a newcomer may take to say who they are.
const INTRODUCTION: Duration = Duration::from_secs(10);
/// A member who has not been heard for so long is silent: the desk is told.
const SILENCE: Duration = Duration::from_secs(1);
/// A silent connection is closed after so long.
const DEAD: Duration = Duration::from_secs(30);
/// A write that takes so long means a member who is too slow.
const SLOW: Duration = Duration::from_secs(3);
/// The longest note, reason or name, in bytes; a frame may be longer than any honest text.
const LONGEST_TEXT: usize = 2_000;
/// The longest name of a tap, in bytes.
const LONGEST_TAP: usize = 64;

type Socket = WebSocketStream<TokioIo<Upgraded>>;

/// What every connection needs to know.
#[derive(Clone)]
pub(super) struct House {
    pub(super) hub: ToHub,
    pub(super) living: Living,
    pub(super) clock: ServerClock,
    pub(super) gate: Arc<Gate>,
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
    let admitted = match introduce(&house, &mut socket, from, link, &outbox).await {
        Ok(admitted) => admitted,
        Err(end) => return part(&mut socket, from, end).await,
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
enum End {
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
    fn refused(reason: impl Into<String>, code: u16, for_good: bool) -> End {
        End::Refused { reason: reason.into(), code, for_good }
    }

    fn reason(&self) -> String {
        match self {
            End::Refused { reason, .. } => reason.clone(),
            End::Closed | End::Silent | End::Broken(_) => self.to_string(),
        }
    }

    fn code(&self) -> u16 {
        match self {
            End::Refused { code, .. } => *code,
            End::Closed => close::NORMAL,
            End::Silent => close::SILENT,
            End::Broken(_) => close::PROTOCOL,
        }
    }

    fn for_good(&self) -> bool {
        matches!(self, End::Refused { for_good: true, .. })
    }
}

/// Looks and refused joins may be tried again on the same connection; the time for all of them is limited.
async fn introduce(
    house: &House,
    socket: &mut Socket,
    from: SocketAddr,
    link: LinkId,
    outbox: &Arc<Outbox>,
) -> Result<Admitted, End> {
    let mut pace = Pace::default();
    loop {
        let message = match timeout(INTRODUCTION, socket.next()).await {
            Err(_) => {
                return Err(End::refused(
                    "Nobody said who they are, so the link was closed.",
                    close::NOT_INVITED,
                    false,
                ));
            }
            Ok(frame) => frame_in(frame)?,
        };
        let Some(bytes) = message else { continue };
        if !pace.allows(house.clock.now()) {
            return Err(End::refused("Too many messages in too short a time.", close::TOO_MANY, false));
        }
        let (protocol, asked) = match understand(&bytes)? {
            ToServer::Look { protocol, invitation } => (protocol, Asked::Look(invitation)),
            ToServer::Join { protocol, invitation, name, part } => (protocol, Asked::Join(invitation, name, part)),
            ToServer::Return { protocol, key } => (protocol, Asked::Return(key)),
            _ => {
                return Err(End::refused("Say who you are first: join with an invitation.", close::NOT_INVITED, false));
            }
        };
        if protocol != wire::PROTOCOL {
            return Err(End::refused(
                "This page is of another version than the server. Reload it.",
                close::VERSION,
                false,
            ));
        }
        match ask(house, asked, link, outbox).await? {
            Ok(Answer::Admitted(admitted)) => return Ok(admitted),
            Ok(Answer::Tell(message)) => tell(socket, &message).await?,
            Err(refusal) => {
                let pause = house.gate.refused(from.ip(), house.clock.now());
                info!(%from, "not let in: {}", refusal.reason);
                tokio::time::sleep(pause).await;
                if refusal.for_good {
                    return Err(End::refused(refusal.reason, close::NOT_INVITED, true));
                }
                tell(socket, &ToMember::Refused { asked: "join".to_owned(), reason: refusal.reason }).await?;
            }
        }
    }
}

enum Asked {
    Look(String),
    Join(String, String, Option<String>),
    Return(String),
}

enum Answer {
    Admitted(Admitted),
    Tell(ToMember),
}

async fn ask(house: &House, asked: Asked, link: LinkId, outbox: &Arc<Outbox>) -> Result<Result<Answer, Refusal>, End> {
    let stopping = || End::refused("The server is stopping.", close::GOING_AWAY, false);
    let admitted = match asked {
        Asked::Look(invitation) => {
            let (reply, answer) = oneshot::channel();
            house.hub.requests.send(Request::Look { invitation, reply }).await.map_err(|_| stopping())?;
            let looked = answer.await.map_err(|_| stopping())?;
            return Ok(looked.map(|looked| {
                Answer::Tell(ToMember::Invited {
                    production: looked.production,
                    role: looked.role,
                    parts: looked.parts,
                })
            }));
        }
        Asked::Join(invitation, name, part) => {
            let (reply, answer) = oneshot::channel();
            let outbox = Arc::clone(outbox);
            let join = Request::Join { invitation, name, part, link, outbox, reply };
            house.hub.requests.send(join).await.map_err(|_| stopping())?;
            answer
        }
        Asked::Return(key) => {
            let (reply, answer) = oneshot::channel();
            let outbox = Arc::clone(outbox);
            house.hub.requests.send(Request::Return { key, link, outbox, reply }).await.map_err(|_| stopping())?;
            answer
        }
    };
    Ok(admitted.await.map_err(|_| stopping())?.map(Answer::Admitted))
}

async fn tell(socket: &mut Socket, message: &ToMember) -> Result<(), End> {
    let bytes = wire::encode(message).map_err(|error| End::Broken(error.to_string()))?;
    socket.send(Message::Binary(bytes.into())).await.map_err(|error| End::Broken(error.to_string()))
}

/// The parting words to somebody who was never let in.
async fn part(socket: &mut Socket, from: SocketAddr, end: End) {
    debug!(%from, "a connection ended before it was a member's: {end}");
    let farewell = ToMember::Goodbye { reason: end.reason(), for_good: end.for_good() };
    let _ = timeout(SLOW, async {
        let _ = tell(socket, &farewell).await;
        let frame = CloseFrame { code: CloseCode::from(end.code()), reason: close::short(&end.reason()).into() };
        let _ = socket.close(Some(frame)).await;
    })
    .await;
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
        ToServer::Release { hold, callers } => {
            act(Act::Release { hold: HoldId(hold), callers: usize::try_from(callers).unwrap_or(usize::MAX) })
        }
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
        ToServer::EndCall => act(Act::EndCall),
        ToServer::Report(fired) => Request::Report(member, fired),
        ToServer::Invitations => Request::Invitations(member),
        ToServer::Revoke { role, members } => Request::Revoke { member, role, members },
        ToServer::Leave => Request::Leave(member),
    };
    house.hub.requests.send(request).await.map_err(|_| End::Closed)
}

fn understand(bytes: &[u8]) -> Result<ToServer, End> {
    wire::decode(bytes).map_err(|error| {
        let error: String = error.to_string().chars().take(200).collect();
        End::refused(format!("The message was not understood. Reload the page. ({error})"), close::MALFORMED, false)
    })
}

/// The bytes of a binary frame; nothing for the frames that the library answers by itself.
fn frame_in(frame: Option<Result<Message, Error>>) -> Result<Option<Bytes>, End> {
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
