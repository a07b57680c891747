//! What connections ask of the hub. Holds do not come this way: they have a lane of their own.

use std::sync::Arc;

use tokio::sync::{mpsc, oneshot};

use super::keeper::Keeping;
use super::outbox::Outbox;
use crate::call::{Act, Fight, HoldId, MemberId, Role, Tap};
use crate::sound::Library;
use crate::units::Micros;
use crate::wire::{Fired, PartChoice, SoundAsk, ToMember};

/// The number of a connection; a member who comes back has a new one.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub(super) struct LinkId(pub(super) u64);

/// A hold on its own lane, in front of everything.
#[derive(Debug)]
pub(super) struct HoldLane {
    pub(super) member: MemberId,
    pub(super) tap: Tap,
}

/// A hold, or one more call of it, is on disk. From the journal's thread, which waits for nothing.
#[derive(Debug)]
pub(super) struct Written {
    pub(super) hold: HoldId,
    pub(super) tap: Option<(MemberId, String)>,
}

/// Everything else.
#[derive(Debug)]
pub(super) enum Request {
    /// What is this invitation for?
    Look { invitation: String, reply: oneshot::Sender<Result<Looked, Refusal>> },
    /// An invitation is traded for a key.
    Join {
        invitation: String,
        name: String,
        part: Option<String>,
        link: LinkId,
        outbox: Arc<Outbox>,
        reply: oneshot::Sender<Result<Admitted, Refusal>>,
    },
    /// Somebody comes back with a key.
    Return { key: String, link: LinkId, outbox: Arc<Outbox>, reply: oneshot::Sender<Result<Admitted, Refusal>> },
    /// Whose key is this? Asked for what comes over HTTP.
    Who { key: String, reply: oneshot::Sender<Option<Asker>> },
    /// A member asks the call for something.
    Act(MemberId, Act),
    /// A member's device says how it is.
    Pulse { member: MemberId, visible: bool, bound: Option<Micros> },
    /// A member's device says how a cue came out.
    Report(MemberId, Fired),
    /// The desk wants the invitations.
    Invitations(MemberId),
    /// The desk makes an invitation worthless.
    Revoke { member: MemberId, role: Role, members: bool },
    /// What the sound page asks.
    Sound(MemberId, SoundAsk),
    /// Something that was worked out elsewhere is to be said to a member.
    Say(MemberId, Box<ToMember>),
    /// What was chosen at the desk or on the sound page was written, or could not be.
    Kept(Keeping),
    /// A member leaves for good.
    Leave(MemberId),
    /// A member has been silent for a second.
    Silent(MemberId, LinkId),
    /// A silent member was heard again.
    Heard(MemberId, LinkId),
    /// The scores and the company's checks were read anew.
    Fights { fights: Vec<Arc<Fight>>, checks: Vec<String>, troubles: Vec<String> },
    /// The recordings were read anew.
    Recordings(Box<Library>),
    /// The production's files cannot be read as they are now; what was read before stays.
    Trouble(String),
    /// A connection is gone.
    Closed(MemberId, LinkId),
}

/// The answer to a look.
#[derive(Debug)]
pub(super) struct Looked {
    pub(super) production: String,
    pub(super) role: Role,
    pub(super) parts: Vec<PartChoice>,
}

/// Somebody is in. Their welcome is in the outbox already.
#[derive(Clone, Copy, Debug)]
pub(super) struct Admitted {
    pub(super) member: MemberId,
}

/// Who asks for something over HTTP.
#[derive(Clone, Debug)]
pub(super) struct Asker {
    pub(super) member: MemberId,
    pub(super) name: String,
    pub(super) role: Role,
}

/// Somebody is not let in.
#[derive(Debug)]
pub(super) struct Refusal {
    /// A sentence for a person.
    pub(super) reason: String,
    /// True when trying again with the same secret is of no use.
    pub(super) for_good: bool,
}

/// The way from connections to the hub.
#[derive(Clone, Debug)]
pub(super) struct ToHub {
    pub(super) holds: mpsc::UnboundedSender<HoldLane>,
    pub(super) written: mpsc::UnboundedSender<Written>,
    pub(super) requests: mpsc::Sender<Request>,
}
