//! Who comes in: before anything else, a connection looks at its invitation, joins with it, or returns with a key. Who
//! has shown a good invitation may take their time over name and part, and is told meanwhile that the link lives;
//! nobody else is told anything.

use std::net::SocketAddr;
use std::sync::Arc;
use std::time::Duration;

use futures_util::{SinkExt, StreamExt};
use tokio::sync::oneshot;
use tokio::time::{Instant, timeout, timeout_at};
use tokio_tungstenite::tungstenite::Message;
use tokio_tungstenite::tungstenite::protocol::CloseFrame;
use tokio_tungstenite::tungstenite::protocol::frame::coding::CloseCode;
use tracing::{debug, info};

use super::close;
use super::connection::{End, House, SLOW, Socket, frame_in, understand};
use super::outbox::Outbox;
use super::pace::Pace;
use super::request::{Admitted, LinkId, Refusal, Request};
use crate::wire::{self, ToMember, ToServer};

/// How long a stranger may take to show an invitation or a key.
const STRANGER: Duration = Duration::from_secs(10);
/// How long somebody with a good invitation may take to choose.
const INVITED: Duration = Duration::from_secs(600);

/// Talks with a newcomer until they are a member.
///
/// # Errors
/// Why the connection ends instead.
pub(super) async fn introduce(
    house: &House,
    socket: &mut Socket,
    from: SocketAddr,
    link: LinkId,
    outbox: &Arc<Outbox>,
) -> Result<Admitted, End> {
    let mut pace = Pace::default();
    let mut looked = false;
    let mut until = Instant::now() + STRANGER;
    loop {
        let frame = timeout_at(until, socket.next()).await.map_err(|_| {
            End::refused("Nobody said who they are, so the link was closed.", close::NOT_INVITED, false)
        })?;
        let Some(bytes) = frame_in(frame)? else { continue };
        let received = house.clock.now();
        if !pace.allows(received) {
            return Err(End::refused("Too many messages in too short a time.", close::TOO_MANY, false));
        }
        let (protocol, asked) = match understand(&bytes)? {
            ToServer::Look { protocol, invitation } => (protocol, Asked::Look(invitation)),
            ToServer::Join { protocol, invitation, name, part } => (protocol, Asked::Join(invitation, name, part)),
            ToServer::Return { protocol, key } => (protocol, Asked::Return(key)),
            ToServer::Pulse { .. } if looked => {
                let (now_us, generation) = (received.0, house.living.get().0);
                tell(socket, &ToMember::Pulse { now_us, generation }).await?;
                continue;
            }
            ToServer::Clock { sent_us } if looked => {
                let answered_us = house.clock.now().0;
                tell(socket, &ToMember::Clock { sent_us, received_us: received.0, answered_us }).await?;
                continue;
            }
            _ => {
                return Err(End::refused("Say who you are first: join with an invitation.", close::NOT_INVITED, false));
            }
        };
        if protocol != wire::PROTOCOL {
            let reason = "This page is of another version than the server. Reload it.";
            return Err(End::refused(reason, close::VERSION, false));
        }
        match ask(house, asked, link, outbox).await? {
            Ok(Answer::Admitted(admitted)) => return Ok(admitted),
            Ok(Answer::Tell(message)) => {
                looked = true;
                until = Instant::now() + INVITED;
                tell(socket, &message).await?;
            }
            Err(refusal) if refusal.for_good => {
                info!(%from, "not let in: {}", refusal.reason);
                tokio::time::sleep(house.gate.refused(from.ip(), received)).await;
                return Err(End::refused(refusal.reason, close::NOT_INVITED, true));
            }
            Err(refusal) => {
                tell(socket, &ToMember::Refused { asked: "join".to_owned(), reason: refusal.reason }).await?
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
pub(super) async fn part(socket: &mut Socket, from: SocketAddr, end: End) {
    debug!(%from, "a connection ended before it was a member's: {end}");
    let farewell = ToMember::Goodbye { reason: end.reason(), for_good: end.for_good() };
    let _ = timeout(SLOW, async {
        let _ = tell(socket, &farewell).await;
        let frame = CloseFrame { code: CloseCode::from(end.code()), reason: close::short(&end.reason()).into() };
        let _ = socket.close(Some(frame)).await;
    })
    .await;
}
