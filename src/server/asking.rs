//! What is asked of the server goes to the part in which its subject lives.

use tokio::sync::oneshot;

use super::company::NO_NOTES;
use super::deed::Deed;
use super::hub::Hub;
use super::request::{Admitted, Keeping, Refusal, Request};
use crate::call::{Act, Asked, Input, MemberId};
use crate::journal::{Record, Report};
use crate::time::utc_now;
use crate::units::Micros;
use crate::wire::{Fired, SoundTold};

impl Hub {
    /// What is to be done for a request.
    pub(super) fn asked(&mut self, request: Request) -> Vec<Deed> {
        let (company, call, now) = (&mut self.parts.company, &self.parts.call, self.parts.clock.now());
        match request {
            Request::Look { invitation, reply } => {
                vec![answer(reply, company.look(call, &invitation, utc_now()))]
            }
            Request::Who { key, reply } => vec![answer(reply, company.who(call, &key))],
            Request::Join { joins, device, link, reply } => {
                admitted(reply, company.join(call, joins, (link, device), (now, utc_now())))
            }
            Request::Return { comes, device, link, reply } => {
                admitted(reply, company.come_back(call, comes, (link, device), now))
            }
            Request::Door { by, ask } => company.door(call, by, ask, utc_now()),
            Request::Invitations(by) => company.invitations(call, by, utc_now()),
            Request::Revoke { by, role, members } => company.revoke(call, (by, role, members), utc_now()),
            Request::Leave(member) => company.leave(member, utc_now()),
            Request::Act(by, Act::Note { .. }) if !company.takes_notes_of(by.member) => {
                vec![Deed::Refuse(by.link, Asked::Note.word(), NO_NOTES.to_owned())]
            }
            Request::Act(by, act) => vec![company.within(call, by, act)],
            Request::NearMiss { by, named, said } => company.near_miss(call, by, named, said),
            Request::Tried { by, trial, answer } => self.parts.teller.tried(by, trial, answer).into_iter().collect(),
            Request::FootStep => vec![Deed::Give(Input::FootStep)],
            Request::Pulse { by, visible, bound } => {
                self.parts.teller.pulse(by, visible, bound);
                Vec::new()
            }
            Request::Report(member, fired) => self.report(member, &fired),
            Request::Show(link, subjects) => {
                self.parts.teller.show(link, &subjects);
                Vec::new()
            }
            Request::Sound(by, ask) => self.sound_ask(by, ask),
            Request::Say(link, message) => vec![Deed::Say(link, message)],
            Request::Kept(Keeping { sound, invitations, inviters }) => {
                let mut deeds = company.kept(invitations, inviters);
                deeds.extend(self.sound_kept(sound));
                deeds
            }
            Request::Fights { fights, checks, why, evening, troubles } => {
                self.parts.teller.read(troubles);
                vec![
                    Deed::Give(Input::ReadAnew { fights, checks, why, evening }),
                    Deed::TellWatchers(SoundTold::Scores),
                ]
            }
            Request::Past(past) => {
                self.parts.teller.past(past);
                Vec::new()
            }
            Request::Recordings(library) => self.new_recordings(*library),
            Request::Trouble(trouble) => {
                self.parts.teller.read(vec![trouble]);
                Vec::new()
            }
        }
    }

    /// Takes a member's word on how a cue came out.
    fn report(&mut self, member: MemberId, fired: &Fired) -> Vec<Deed> {
        let (Some(run), Some(fired_us)) = (self.parts.call.run(), fired.fired_us) else { return Vec::new() };
        let report = Report {
            run: run.number,
            member: member.0,
            cue: fired.cue,
            due_us: fired.due_us,
            fired_us,
            bound_us: fired.bound_us,
        };
        self.parts.teller.fired(member, Micros(fired_us.saturating_sub(fired.due_us)));
        vec![Deed::Record(Record::Report(report))]
    }
}

/// Whoever asked hears the answer.
fn answer<T: Send + 'static>(reply: oneshot::Sender<T>, answer: T) -> Deed {
    Deed::Reply(Box::new(move || drop(reply.send(answer))))
}

/// Whoever is let in hears it once everything is done that goes with it.
fn admitted(
    reply: oneshot::Sender<Result<Admitted, Refusal>>,
    let_in: Result<(Vec<Deed>, Admitted), Refusal>,
) -> Vec<Deed> {
    match let_in {
        Ok((mut deeds, admitted)) => {
            deeds.push(answer(reply, Ok(admitted)));
            deeds
        }
        Err(refusal) => vec![answer(reply, Err(refusal))],
    }
}
