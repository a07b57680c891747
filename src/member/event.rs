//! What a member is told and what it does about it: the two sides of [`super::Follower::handle`].

use crate::units::{Micros, ServerTime};
use crate::wire::{Cue, ToMember, ToServer};

/// How a member makes itself known.
#[derive(Clone, Debug, PartialEq)]
pub enum Introduction {
    /// With an invitation, the first time.
    Join {
        /// The secret of the invitation.
        invitation: String,
        /// What the person is called.
        name: String,
        /// The fighter they play, if they perform.
        part: Option<String>,
    },
    /// With the personal key, afterwards.
    Return {
        /// The key.
        key: String,
    },
}

/// What happened.
#[derive(Clone, Debug)]
pub enum Event<'a> {
    /// Nothing but that time went by.
    Time,
    /// This machine's clock is known to have stood still a moment ago: it slept.
    Slept,
    /// The connection that was asked for is open.
    Opened,
    /// The connection is closed, by whomever, or could not be opened.
    Closed {
        /// A random number from 0 to 1, for the wait until the next attempt.
        chance: f64,
    },
    /// A message arrived.
    Heard(&'a ToMember),
    /// Something arrived that says no more than that the link lives: a piece of a longer message, or a message of a
    /// newer server.
    Alive,
    /// The person tapped HOLD.
    Hold {
        /// An id for the tap that was never used before. It is not used when the tap joins one that nobody has answered.
        tap: String,
        /// Why, if they said.
        reason: Option<String>,
    },
    /// The person wants this said. It is not kept for later when there is no link.
    Say(ToServer),
}

/// What is to be done.
#[derive(Clone, Debug, PartialEq)]
pub enum Act {
    /// Open a connection; answer with [`Event::Opened`] or [`Event::Closed`].
    Connect,
    /// Close the connection, or give up the one that is coming about; answer with [`Event::Closed`].
    Disconnect,
    /// Send this over the open connection.
    Send(ToServer),
    /// This could not be said, because there is no link.
    Unsaid(ToServer),
    /// Show a cue now.
    Show(Box<Shown>),
    /// The link is up and the whole state is known.
    Linked,
    /// The link is lost: say so, stop counting.
    Lost,
    /// It is over; nothing follows, unless HOLD is tapped: a key that was replaced may still hold.
    Over(Ending),
}

/// A cue as it came out.
#[derive(Clone, Debug, PartialEq)]
pub struct Shown {
    /// The cue.
    pub cue: Cue,
    /// When it was shown, on the server's clock as the member knows it; nothing in a walk-through before the clock is
    /// known.
    pub at: Option<ServerTime>,
    /// The bound of the clock error then.
    pub bound: Option<Micros>,
    /// By how much it is late, when it arrived after its time or was shown more than [`crate::rules::LATE`] after it.
    /// A late cue is shown as late and makes no sound.
    pub late: Option<Micros>,
    /// True when a later cue is on the screen already: this one is only reported.
    pub overtaken: bool,
    /// True when it was shown over an earlier link: the screen was empty since, so that it is shown once more, in
    /// silence, and not reported.
    pub again: bool,
}

impl Shown {
    /// True when the cue may make a sound, a flash or a vibration.
    pub fn sounds(&self) -> bool {
        self.late.is_none() && !self.overtaken && !self.again
    }
}

/// Why a member is none any more.
#[derive(Clone, Debug, PartialEq)]
pub enum Ending {
    /// The server did not let it in; its sentence.
    Refused(String),
    /// The server said goodbye for good; its sentence.
    Goodbye(String),
}
