//! What the parts of the server want done, in order. The driver (`hub`) does it; whatever follows from a deed comes back
//! as deeds, and is done before the next one. So no part calls another, and nothing comes back into a part in the middle
//! of its work.

use super::keeper::Keep;
use super::request::{LinkId, Speaker};
use super::sound_page::LoopAsked;
use crate::call::{Act, Input, MemberId, Output};
use crate::event::{What, Who};
use crate::journal::Record;
use crate::units::ServerTime;
use crate::wire::{Back, SoundTold, ToMember};

/// One thing to do.
pub(super) enum Deed {
    /// Something comes into the call.
    Give(Input),
    /// A member asks the call for something; if they do not get it, the page that they asked on is told why.
    Asked(Speaker, Act),
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
    /// A page shows nothing any more: its line is gone.
    Unlinked(Speaker),
    /// A member is nobody's any more.
    Forget(MemberId),
    /// The lines whose loss holds may be others.
    Watch,
    /// The whole present state, before anything else on a new line; with the key, for somebody new.
    Welcome(Speaker, Option<String>),
    /// What became of these taps of a member, as far as it is known.
    Answer(MemberId, Vec<String>),
    /// A page is told something.
    Say(LinkId, Box<ToMember>),
    /// A page does not get what was asked on it, and why.
    Refuse(LinkId, &'static str, String),
    /// Those who watch the sound page are told.
    TellWatchers(SoundTold),
    /// A page is told of the sound page what takes a while to find out.
    FindOut(LinkId, Box<dyn FnOnce() -> SoundTold + Send>),
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
    /// Whether its page comes back.
    pub(super) back: Back,
}
