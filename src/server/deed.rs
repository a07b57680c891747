//! What the parts of the server want done, in order. The driver (`hub`) does it; whatever follows from a deed comes back
//! as deeds, and is done before the next one. So no part calls another, and nothing comes back into a part in the middle
//! of its work.

use super::keeper::Keep;
use super::request::LinkId;
use super::sound_page::LoopAsked;
use crate::call::{Input, MemberId, Output};
use crate::event::{What, Who};
use crate::journal::Record;
use crate::units::ServerTime;
use crate::wire::{SoundTold, ToMember};

/// One thing to do.
pub(super) enum Deed {
    /// Something comes into the call.
    Give(Input),
    /// What the call wants done.
    Of(Output),
    /// What no pull for an earlier instant can take back any more is written down; nothing while a pull is on its way.
    Settle(Option<ServerTime>),
    /// Whoever is to be told that something has changed is told, if it is time.
    Tell,
    /// A record that is not the call's.
    Record(Record),
    /// An event that is the server's own.
    Note(Option<Who>, What),
    /// Something that was chosen is written, where nobody waits for it.
    Keep(Keep),
    /// A line is a member's from now on.
    Open(LinkId, MemberId),
    /// A line ends, with a sentence for the person.
    Goodbye(Goodbye),
    /// A member's page shows nothing any more: it is another one, or gone.
    Unlinked(MemberId),
    /// A member is nobody's any more.
    Forget(MemberId),
    /// The lines whose loss holds may be others.
    Watch,
    /// The whole present state, before anything else on a new line; with the key, for somebody new.
    Welcome(MemberId, Option<String>),
    /// What became of these taps of a member, as far as it is known.
    Answer(MemberId, Vec<String>),
    /// A member is told something.
    Say(MemberId, Box<ToMember>),
    /// A member does not get what they asked for, and why.
    Refuse(MemberId, &'static str, String),
    /// Those who watch the sound page are told.
    TellWatchers(SoundTold),
    /// A member is told of the sound page what takes a while to find out.
    FindOut(MemberId, Box<dyn FnOnce() -> SoundTold + Send>),
    /// A loop begins, in the generation that lives now.
    BeginLoop(LoopAsked),
    /// Something has changed that is told.
    Changed,
    /// Somebody who waits for an answer hears that it is done.
    Reply(Box<dyn FnOnce() + Send>),
}

/// How a line ends.
pub(super) struct Goodbye {
    pub(super) link: LinkId,
    pub(super) reason: String,
    /// The close code of WebSocket (RFC 6455, section 7.4).
    pub(super) code: u16,
    /// True when its page need not try again.
    pub(super) for_good: bool,
}
