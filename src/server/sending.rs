//! What goes to members' lines: to whom, and in which of a line's queues. Nothing is decided here; a message that cannot be
//! encoded is a defect, logged as such, and goes to nobody.

use super::company::Company;
use super::request::LinkId;
use super::sockets::{Frame, Framed, Latest, Lines, framed};
use super::view;
use crate::call::{Call, CueOut, MemberId, Run, Stage, TapFate};
use crate::units::Generation;
use crate::wire::{TapOutcome, ToMember};

/// A frame on its way to lines.
pub(super) struct Sending {
    to: To,
    frame: Frame,
}

enum To {
    All,
    Some(Vec<LinkId>),
}

impl Sending {
    /// Hands it to the sockets' thread.
    pub(super) fn go(self, lines: &Lines) {
        match self.to {
            To::All => lines.send_all(self.frame),
            To::Some(links) => lines.send_some(links, self.frame),
        }
    }

    /// How many bytes go to each.
    pub(super) fn bytes(&self) -> usize {
        self.frame.bytes()
    }

    fn to_all(message: &ToMember, frame: impl FnOnce(Framed) -> Frame) -> Option<Sending> {
        framed(message).map(|framed| Sending { to: To::All, frame: frame(framed) })
    }

    /// To those of the members who have a line, on each of their pages.
    pub(super) fn to<'a>(
        company: &Company,
        members: impl IntoIterator<Item = &'a MemberId>,
        message: &ToMember,
        frame: impl FnOnce(Framed) -> Frame,
    ) -> Option<Sending> {
        Sending::over(company.lines(members), message, frame)
    }

    /// Over these lines.
    pub(super) fn over(links: Vec<LinkId>, message: &ToMember, frame: impl FnOnce(Framed) -> Frame) -> Option<Sending> {
        if links.is_empty() {
            return None;
        }
        framed(message).map(|framed| Sending { to: To::Some(links), frame: frame(framed) })
    }
}

/// To everybody, past every queue: the hold that stands.
pub(super) fn held(call: &Call) -> Option<Sending> {
    let Stage::Held(hold, _) = call.stage() else { return None };
    Sending::to_all(&ToMember::Held(Box::new(view::hold(hold))), Frame::Urgent)
}

/// The run, described once, to everybody.
pub(super) fn run(run: &Run, generation: Generation) -> Option<Sending> {
    let message = ToMember::Run(Box::new(view::run_sheet(run, generation)));
    Sending::to_all(&message, |framed| Frame::Latest(Latest::Run, framed))
}

/// A trial of the hold, past every queue.
pub(super) fn trial(company: &Company, members: &[MemberId], trial: u32, by: String) -> Option<Sending> {
    Sending::to(company, members, &ToMember::Trial { trial, by }, Frame::Urgent)
}

/// What became of a tap, past every queue. Where nothing is kept (`kept` is false) its page need not keep it either.
pub(super) fn answer(
    company: &Company,
    member: MemberId,
    tap: String,
    (fate, kept): (TapFate, bool),
) -> Option<Sending> {
    let (outcome, hold) = match fate {
        TapFate::Held(hold) if kept => (TapOutcome::Held, Some(hold.0)),
        TapFate::Held(hold) => (TapOutcome::Unkept, Some(hold.0)),
        TapFate::Written(hold) => (TapOutcome::Written, Some(hold.0)),
        TapFate::Late => (TapOutcome::Late, None),
    };
    Sending::to(company, [&member], &ToMember::TapAnswer { tap, outcome, hold }, Frame::Urgent)
}

/// A cue, encoded once for each kind of reader.
pub(super) fn cue<'a>(company: &'a Company, run: &'a Run, out: &'a CueOut) -> impl Iterator<Item = Sending> + 'a {
    out.readers.iter().filter_map(move |(reader, members)| {
        let cue = ToMember::Cue(Box::new(view::cue(run, out, *reader)?));
        Sending::to(company, members, &cue, |framed| Frame::Cue(out.generation, framed))
    })
}

/// Whoever asked over these lines does not get it, and why.
pub(super) fn refusal(links: Vec<LinkId>, asked: &str, reason: String) -> Option<Sending> {
    Sending::over(links, &ToMember::Refused { asked: asked.to_owned(), reason }, Frame::Message)
}
