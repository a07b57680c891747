//! Who comes in: before anything else, a connection looks at its invitation, joins with it, or returns with a key. Who
//! has shown a good invitation may take their time over name and part, and is told meanwhile that the link lives;
//! nobody else is told anything. Whoever returns with a key brings the taps that nobody has answered, and these pull the
//! brake before the return is answered, also when it is refused because the key was replaced.

use std::net::SocketAddr;
use std::time::Duration;

use tokio::sync::oneshot;
use tokio::time::{Instant, timeout, timeout_at};
use tracing::{debug, info};

use super::close;
use super::doorstep::Doorstep;
use super::ending::End;
use super::house::House;
use super::keys::Holder;
use super::pace::Pace;
use super::request::{Admitted, LinkId, Refusal, Request, tap_of};
use crate::wire::{self, HoldTap, TapOutcome, ToMember, ToServer};

/// How long a stranger may take to show an invitation or a key.
const STRANGER: Duration = Duration::from_secs(10);
/// How long somebody with a good invitation may take to choose.
const INVITED: Duration = Duration::from_secs(600);
/// How long parting words may take.
const PART: Duration = Duration::from_secs(3);
/// The most taps that are taken with a key: no page keeps more unanswered.
const MOST_TAPS: usize = 64;

/// Meets whoever came, and hands the socket of a member over.
pub(super) async fn meet(house: House, mut doorstep: Doorstep, from: SocketAddr, link: LinkId) {
    match introduce(&house, &mut doorstep, from, link).await {
        Ok(Admitted { member }) => match doorstep.into_parts() {
            Ok((transport, decoder)) => house.lines.take(link, transport, decoder),
            Err(error) => {
                debug!(member = member.0, %from, "the socket could not be handed over: {error}");
                house.lines.abandon(link);
            }
        },
        Err(end) => {
            debug!(%from, "a connection ended before it was a member's: {end}");
            // Somebody may have been admitted and be gone before they heard of it.
            house.lines.abandon(link);
            let _ = timeout(PART, doorstep.part(&end)).await;
        }
    }
}

/// Talks with a newcomer until they are a member.
///
/// # Errors
/// Why the connection ends instead.
async fn introduce(house: &House, doorstep: &mut Doorstep, from: SocketAddr, link: LinkId) -> Result<Admitted, End> {
    let mut pace = Pace::default();
    let mut looked = false;
    let mut until = Instant::now() + STRANGER;
    loop {
        let said = timeout_at(until, doorstep.next()).await.map_err(|_| {
            End::refused("Nobody said who they are, so the link was closed.", close::NOT_INVITED, false)
        })?;
        let said = said?;
        let received = house.clock.now();
        if !pace.allows(received) {
            return Err(End::refused("Too many messages in too short a time.", close::TOO_MANY, false));
        }
        let Some(said) = said else { continue };
        let (protocol, asked) = match said {
            ToServer::Look { protocol, invitation } => (protocol, Asked::Look(invitation)),
            ToServer::Join { protocol, invitation, name, part } => (protocol, Asked::Join(invitation, name, part)),
            ToServer::Return { protocol, key, taps } => {
                // Of whatever version the page is: its taps are obeyed.
                let names = taps.iter().take(MOST_TAPS).map(|tap| tap.tap.clone()).collect();
                obey(house, doorstep, &key, taps).await?;
                (protocol, Asked::Return(key, names))
            }
            ToServer::Pulse { .. } if looked => {
                let (now_us, generation) = (received.0, house.brake.dead().next().0);
                doorstep.tell(&ToMember::Pulse { now_us, generation }).await?;
                continue;
            }
            ToServer::Clock { sent_us } if looked => {
                let answered_us = house.clock.now().0;
                doorstep.tell(&ToMember::Clock { sent_us, received_us: received.0, answered_us }).await?;
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
        match ask(house, asked, link).await? {
            Ok(Answer::Admitted(admitted)) => return Ok(admitted),
            Ok(Answer::Tell(message)) => {
                looked = true;
                until = Instant::now() + INVITED;
                doorstep.tell(&message).await?;
            }
            Err(refusal) if refusal.for_good => {
                info!(%from, "not let in: {}", refusal.reason);
                tokio::time::sleep(house.gate.refused(from.ip(), received)).await;
                return Err(End::refused(refusal.reason, close::NOT_INVITED, true));
            }
            Err(refusal) => {
                doorstep.tell(&ToMember::Refused { asked: "join".to_owned(), reason: refusal.reason }).await?
            }
        }
    }
}

/// The taps that came with a key, if it is or was somebody's: each that pulls has pulled when this is done. Whoever is
/// let in hears of them over the line; somebody with a replaced key is told here.
async fn obey(house: &House, doorstep: &mut Doorstep, key: &str, taps: Vec<HoldTap>) -> Result<(), End> {
    let (member, replaced) = match house.keys.holder(key) {
        Some(Holder::Member(member)) => (member, false),
        Some(Holder::Replaced(member)) => (member, true),
        None => return Ok(()),
    };
    let taps: Vec<_> = taps.into_iter().take(MOST_TAPS).map(tap_of).collect();
    if taps.is_empty() {
        return Ok(());
    }
    house.lines.taps(member, taps.clone()).await;
    for tap in taps.into_iter().filter(|_| replaced) {
        doorstep.tell(&ToMember::TapAnswer { tap: tap.id, outcome: TapOutcome::Held, hold: None }).await?;
    }
    Ok(())
}

enum Asked {
    Look(String),
    Join(String, String, Option<String>),
    Return(String, Vec<String>),
}

enum Answer {
    Admitted(Admitted),
    Tell(ToMember),
}

async fn ask(house: &House, asked: Asked, link: LinkId) -> Result<Result<Answer, Refusal>, End> {
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
            let join = Request::Join { invitation, name, part, link, reply };
            house.hub.requests.send(join).await.map_err(|_| stopping())?;
            answer
        }
        Asked::Return(key, taps) => {
            let (reply, answer) = oneshot::channel();
            house.hub.requests.send(Request::Return { key, taps, link, reply }).await.map_err(|_| stopping())?;
            answer
        }
    };
    Ok(admitted.await.map_err(|_| stopping())?.map(Answer::Admitted))
}
