//! Asks the server what an invitation is for, without joining.

use std::collections::VecDeque;
use std::future::poll_fn;
use std::time::Duration;

use super::Address;
use super::socket::{Heard, Socket};
use crate::call::Role;
use crate::rules::{INTRODUCTION, OPENING};
use crate::units::Micros;
use crate::wire::{PROTOCOL, PartChoice, ToMember, ToServer};

/// What an invitation gives.
#[derive(Clone, Debug, PartialEq)]
pub struct Invited {
    /// The production's name.
    pub production: String,
    /// The role.
    pub role: Role,
    /// The parts and who has them; empty unless the role performs.
    pub parts: Vec<PartChoice>,
}

/// Why an invitation could not be looked at.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum LookError {
    /// The server does not take it; its sentence. A new invitation is needed.
    #[error("the server refuses this invitation: {0}")]
    Refused(String),
    /// There is no server, or none that answers. Try again when it runs.
    #[error("{0}")]
    Unreachable(String),
}

/// What the invitation in that address is for.
///
/// # Errors
/// [`LookError`], in a sentence for a person.
pub async fn look(address: &Address) -> Result<Invited, LookError> {
    let silent = || LookError::Unreachable(format!("{} does not answer", address.place()));
    let opened = tokio::time::timeout(within(OPENING), Socket::open(address.clone())).await;
    let mut socket = opened.map_err(|_| silent())?.map_err(LookError::Unreachable)?;
    let question = ToServer::Look { protocol: PROTOCOL, invitation: address.secret().to_owned() };
    let mut outbox = VecDeque::from([question]);
    let answer = tokio::time::timeout(within(INTRODUCTION), answer(&mut socket, &mut outbox)).await;
    let invited = answer.map_err(|_| silent())?.map_err(|reason| reason.map_or_else(silent, LookError::Refused))?;
    let _ = tokio::time::timeout(Duration::from_secs(1), socket.close(&mut outbox)).await;
    Ok(invited)
}

fn within(limit: Micros) -> Duration {
    Duration::from_micros(limit.0.unsigned_abs())
}

/// The answer; or the server's words against it, if it had any.
async fn answer(socket: &mut Socket, outbox: &mut VecDeque<ToServer>) -> Result<Invited, Option<String>> {
    loop {
        match poll_fn(|context| socket.poll(context, outbox)).await {
            Heard::Message(message) => match *message {
                ToMember::Invited { production, role, parts } => return Ok(Invited { production, role, parts }),
                ToMember::Refused { reason, .. } | ToMember::Goodbye { reason, .. } => return Err(Some(reason)),
                _ => {}
            },
            Heard::Piece => {}
            Heard::Unreadable(why) => return Err(Some(why)),
            Heard::Closed => return Err(None),
        }
    }
}
