//! The conversation with a newcomer, without sockets and without waiting: what they say comes in, and what is to be done
//! comes out, in order. `introduction` has it with a real connection; the evenings of the simulation turn it by hand.

use super::close;
use super::ending::End;
use super::keys::{Holder, Keys};
use super::pace::Pace;
use super::request::{Admitted, Comes, Joins, Looked, Refusal, Then, page_name, tap_of};
use crate::call::{MemberId, Tap};
use crate::production::Limits;
use crate::units::{Generation, ServerTime};
use crate::wire::{self, Back, HoldTap, TapOutcome, ToMember, ToServer};

/// The most taps that are taken with a key: no page keeps more unanswered.
const MOST_TAPS: usize = 64;

/// The conversation.
pub(super) struct Entrance {
    pace: Pace,
    /// True once they have shown a good invitation.
    invited: bool,
}

/// What is to be done, one after the other.
pub(super) enum Step {
    /// They are told something.
    Tell(ToMember),
    /// A member's taps pull, before anything else is done.
    Pull(MemberId, Vec<Tap>),
    /// Taps of somebody who was taken out of the call: written down as come too late.
    Late(MemberId, Vec<Tap>),
    /// The hub is asked; its answer goes to [`Entrance::looked`] or [`Entrance::answered`].
    Ask(Asked),
    /// It is over, with what they are told of it. Somebody whose secret is good for nothing waits a while for it.
    Over(End, bool),
}

/// What the hub is asked.
pub(super) enum Asked {
    /// What an invitation is for.
    Look(String),
    /// To be let in with an invitation.
    Join(Joins),
    /// To be let in with a key.
    Return(Comes),
}

impl Entrance {
    /// Nothing has been said yet.
    pub(super) fn new(limits: &Limits) -> Entrance {
        Entrance { pace: Pace::of(limits.messages_a_second), invited: false }
    }

    /// True once they have shown a good invitation, and may take their time.
    pub(super) fn is_invited(&self) -> bool {
        self.invited
    }

    /// A frame has come: a message, or nothing for one that the protocol answers by itself. `lives` is the generation that
    /// may live now, `answers` the time at which an answer is made.
    pub(super) fn hear(
        &mut self,
        (received, lives): (ServerTime, Generation),
        said: Option<ToServer>,
        keys: &Keys,
        answers: impl Fn() -> ServerTime,
    ) -> Vec<Step> {
        if !self.pace.allows(received) {
            return vec![over("Too many messages in too short a time.", close::TOO_MANY)];
        }
        match said {
            None => Vec::new(),
            Some(ToServer::Look { protocol, invitation }) => of_this_version(protocol, Asked::Look(invitation)),
            Some(ToServer::Join { protocol, invitation, name, part, page }) => {
                of_this_version(protocol, Asked::Join(Joins { invitation, name, part, page: page_name(page) }))
            }
            Some(ToServer::Return { protocol, key, page, taps }) => {
                // Of whatever version the page is: its taps are obeyed.
                let names = taps.iter().take(MOST_TAPS).map(|tap| tap.tap.clone()).collect();
                let mut steps = obey(keys, &key, taps);
                let comes = Comes { key, page: page_name(page), taps: names };
                steps.extend(of_this_version(protocol, Asked::Return(comes)));
                steps
            }
            Some(ToServer::Pulse { .. }) if self.invited => {
                vec![Step::Tell(ToMember::Pulse { now_us: received.0, generation: lives.0, stood_us: None })]
            }
            Some(ToServer::Clock { sent_us }) if self.invited => {
                let (received_us, answered_us) = (received.0, answers().0);
                vec![Step::Tell(ToMember::Clock { sent_us, received_us, answered_us })]
            }
            Some(_) => vec![over("Say who you are first: join with an invitation.", close::NOT_INVITED)],
        }
    }

    /// What an invitation is for.
    pub(super) fn looked(&mut self, looked: Result<Looked, Refusal>) -> Vec<Step> {
        match looked {
            Ok(Looked { production, role, parts }) => {
                self.invited = true;
                vec![Step::Tell(ToMember::Invited { production, role, parts })]
            }
            Err(refusal) => refused(refusal),
        }
    }

    /// Whether they are let in: then the conversation is over, and their welcome waits for their socket.
    ///
    /// # Errors
    /// They are not; what is to be done.
    pub(super) fn answered(&self, let_in: Result<Admitted, Refusal>) -> Result<Admitted, Vec<Step>> {
        let_in.map_err(refused)
    }
}

fn refused(Refusal { reason, then }: Refusal) -> Vec<Step> {
    match then {
        Then::Nothing => vec![Step::Over(End::refused(reason, close::NOT_INVITED, Back::Never), true)],
        Then::ComeAgain => vec![Step::Over(End::refused(reason, close::TOO_MANY, Back::ByItself), true)],
        Then::SayAgain => vec![Step::Tell(ToMember::Refused { asked: "join".to_owned(), reason })],
    }
}

fn over(reason: &str, code: u16) -> Step {
    Step::Over(End::refused(reason, code, Back::ByItself), false)
}

fn of_this_version(protocol: u32, asked: Asked) -> Vec<Step> {
    match protocol == wire::PROTOCOL {
        true => vec![Step::Ask(asked)],
        false => vec![over("This page is of another version than the server. Reload it.", close::VERSION)],
    }
}

/// The taps that came with a key, if it is or was somebody's. Whoever is let in hears of them over their line; somebody with
/// a key that lets nobody in any more is told here.
fn obey(keys: &Keys, key: &str, taps: Vec<HoldTap>) -> Vec<Step> {
    let taps: Vec<Tap> = taps.into_iter().take(MOST_TAPS).map(tap_of).collect();
    let Some(holder) = keys.holder(key).filter(|_| !taps.is_empty()) else { return Vec::new() };
    let told = |outcome: TapOutcome| -> Vec<Step> {
        let answer = |tap: &Tap| Step::Tell(ToMember::TapAnswer { tap: tap.id.clone(), outcome, hold: None });
        taps.iter().map(answer).collect()
    };
    let (told, obeyed) = match holder {
        Holder::Member(member) => (Vec::new(), Step::Pull(member, taps)),
        Holder::Replaced(member) => (told(TapOutcome::Held), Step::Pull(member, taps)),
        Holder::Removed(member) => (told(TapOutcome::Late), Step::Late(member, taps)),
    };
    [obeyed].into_iter().chain(told).collect()
}
