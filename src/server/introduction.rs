//! Who comes in: before anything else, a connection looks at its invitation, joins with it, or returns with a key. Who
//! has shown a good invitation may take their time over name and part, and is told meanwhile that the link lives;
//! nobody else is told anything. Whoever returns with a key brings the taps that nobody has answered, and these pull the
//! brake before the return is answered, also when it is refused because the key was replaced.

use std::collections::VecDeque;
use std::net::SocketAddr;
use std::time::Duration;

use tokio::sync::oneshot;
use tokio::time::{Instant, timeout, timeout_at};
use tracing::{debug, info};

use super::close;
use super::device_kind::DeviceKind;
use super::doorstep::Doorstep;
use super::ending::End;
use super::entrance::{Asked, Entrance, Step};
use super::house::House;
use super::reached::Limit;
use super::request::{Admitted, LinkId, Request};
use crate::wire::Back;

/// How long parting words may take.
const PART: Duration = Duration::from_secs(3);

/// Meets whoever came, and hands the socket of a member over.
/// `from` is where they come from, and on what kind of device.
pub(super) async fn meet(house: House, mut doorstep: Doorstep, from: (SocketAddr, DeviceKind), link: LinkId) {
    let introduced = introduce(&house, &mut doorstep, from, link).await;
    let (from, _) = from;
    match introduced {
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
async fn introduce(
    house: &House,
    doorstep: &mut Doorstep,
    (from, device): (SocketAddr, DeviceKind),
    link: LinkId,
) -> Result<Admitted, End> {
    let limits = house.reached.limits();
    let mut entrance = Entrance::new(limits);
    let mut until = Instant::now() + limits.introduction.as_duration();
    loop {
        let said = timeout_at(until, doorstep.next()).await.map_err(|_| {
            house.reached.note(match entrance.is_invited() {
                true => Limit::Choosing(from.ip()),
                false => Limit::Introduction(from.ip()),
            });
            End::refused("Nobody said who they are, so the link was closed.", close::NOT_INVITED, Back::ByItself)
        })?;
        let said = said?;
        let received = house.clock.now();
        let now = (received, house.brake.dead().next());
        let mut steps: VecDeque<Step> = entrance.hear(now, said, &house.keys, || house.clock.now()).into();
        while let Some(step) = steps.pop_front() {
            match step {
                Step::Tell(message) => doorstep.tell(&message).await?,
                Step::Pull(member, taps) => house.lines.taps(member, taps).await,
                Step::Late(member, taps) => house.hub.too_late(member, taps),
                Step::Ask(Asked::Look(invitation)) => {
                    let looked = ask(house, |reply| Request::Look { invitation, reply }).await?;
                    steps.extend(entrance.looked(looked));
                    if entrance.is_invited() {
                        until = Instant::now() + limits.choosing.as_duration();
                    }
                }
                Step::Ask(Asked::Join(joins)) => {
                    let join = |reply| Request::Join { joins, device, link, reply };
                    match entrance.answered(ask(house, join).await?) {
                        Ok(admitted) => return Ok(admitted),
                        Err(more) => steps.extend(more),
                    }
                }
                Step::Ask(Asked::Return(comes)) => {
                    let come_back = |reply| Request::Return { comes, device, link, reply };
                    match entrance.answered(ask(house, come_back).await?) {
                        Ok(admitted) => return Ok(admitted),
                        Err(more) => steps.extend(more),
                    }
                }
                Step::Over(end, waits) => {
                    if waits {
                        info!(%from, "not let in: {end}");
                        tokio::time::sleep(house.gate.refused(from.ip(), received)).await;
                    }
                    return Err(end);
                }
            }
        }
    }
}

/// Asks the hub something.
///
/// # Errors
/// There is no hub any more.
async fn ask<T>(house: &House, request: impl FnOnce(oneshot::Sender<T>) -> Request) -> Result<T, End> {
    let stopping = || End::refused("The server is stopping.", close::GOING_AWAY, Back::ByItself);
    let (reply, answer) = oneshot::channel();
    house.hub.requests.send(request(reply)).await.map_err(|_| stopping())?;
    answer.await.map_err(|_| stopping())
}
