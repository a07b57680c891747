//! What is told, when and to whom: who shows what (`told`), how devices are, what is wrong around the call. It is lent the
//! call, the company and how things are around them, and answers with what is to be sent.

use std::sync::Arc;

use super::company::Company;
use super::deed::Deed;
use super::lateness::Devices;
use super::past::PastTimes;
use super::reached::{Limit, Reached};
use super::request::{LinkId, Speaker};
use super::sending::Sending;
use super::sockets::{Frame, Latest};
use super::told::{Matters, Telling, Told};
use super::{subjects, view};
use crate::call::{Call, Input, MemberId, Stage, TrialAnswer};
use crate::units::{Micros, ServerTime};
use crate::wire::{self, Subject, ToMember, Welcome};

/// How things are around the call.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Surroundings {
    pub(super) sound: wire::Health,
    /// True when the loudspeakers call a hold.
    pub(super) hold_call: bool,
    pub(super) log: wire::Health,
    /// What is wrong or has failed, a sentence each, beside the production's files.
    pub(super) troubles: Vec<String>,
}

/// What is lent for one telling.
#[derive(Clone, Copy)]
pub(super) struct Lent<'h> {
    pub(super) call: &'h Call,
    pub(super) company: &'h Company,
    pub(super) around: &'h Surroundings,
}

/// Tells.
pub(super) struct Teller {
    /// How far ahead of its time a cue is sent.
    horizon: Micros,
    /// Beats of the usual count-in, where the production has chosen.
    count_in: Option<u32>,
    told: Told,
    devices: Devices,
    /// What is wrong with the production's files, a sentence each.
    files: Vec<String>,
    /// How long things took before.
    past: PastTimes,
    /// How things were when they were looked at last.
    looked: Option<Surroundings>,
    reached: Arc<Reached>,
}

impl Teller {
    pub(super) fn new(horizon: Micros, count_in: Option<u32>, files: Vec<String>, reached: Arc<Reached>) -> Teller {
        let told = Told::new(f64::from(reached.limits().kilobytes_a_second) * 1e3);
        let (devices, past) = (Devices::default(), PastTimes::default());
        Teller { horizon, count_in, told, devices, files, past, looked: None, reached }
    }

    /// Something that is told may have changed.
    pub(super) fn changed(&mut self) {
        self.told.changed();
    }

    /// When it wants to tell next, if nothing happens before.
    pub(super) fn deadline(&self) -> Option<ServerTime> {
        self.told.deadline()
    }

    /// Things around the call were looked at.
    pub(super) fn look(&mut self, around: Surroundings) {
        if self.looked.as_ref() != Some(&around) {
            self.looked = Some(around);
            self.told.changed();
        }
    }

    /// What is wrong with the production's files now.
    pub(super) fn read(&mut self, troubles: Vec<String>) {
        self.files = troubles;
        self.told.changed();
    }

    /// That is how long things took before.
    pub(super) fn past(&mut self, past: PastTimes) {
        self.past = past;
        self.told.changed();
    }

    /// A page shows these subjects and no others.
    pub(super) fn show(&mut self, link: LinkId, subjects: &[Subject]) {
        self.told.show(link, subjects);
    }

    /// A page is gone.
    pub(super) fn unlinked(&mut self, page: Speaker) {
        self.told.unlinked(page.link);
        self.devices.gone(page);
    }

    /// A member is nobody's any more.
    pub(super) fn forget(&mut self, member: MemberId) {
        self.devices.forget(member);
    }

    /// A page says how it is.
    pub(super) fn pulse(&mut self, by: Speaker, visible: bool, bound: Option<Micros>) {
        if self.devices.pulse(by, visible, bound) {
            self.told.changed();
        }
    }

    /// A page has answered a trial of the hold. One that nobody sees says nothing for a member who sees another.
    pub(super) fn tried(&self, by: Speaker, trial: u32, answer: TrialAnswer) -> Option<Deed> {
        let counts = answer.shown || !self.devices.sees_another(by);
        counts.then_some(Deed::Give(Input::Tried { member: by.member, trial, answer }))
    }

    /// A member's device has shown a cue so late.
    pub(super) fn fired(&mut self, member: MemberId, late: Micros) {
        if self.devices.fired(member, late) {
            self.told.changed();
        }
    }

    /// True when whoever is to be told is told now.
    pub(super) fn is_due(&self, now: ServerTime, call: &Call) -> bool {
        self.told.is_due(now, matters(call))
    }

    /// Tells what has changed to those whom it concerns.
    pub(super) fn tell(&mut self, now: ServerTime, lent: Lent<'_>) -> Vec<Sending> {
        let Lent { call, company, around } = lent;
        let troubles = [self.files.as_slice(), &around.troubles].concat();
        let (devices, count_in, past) = (&self.devices, self.count_in, &self.past);
        let besides = subjects::Around { company: Some(company), devices, troubles, count_in, past };
        let present = subjects::present(call, self.state(now, lent), besides, &self.told.shown());
        let tellings = self.told.tell(now, matters(call), &present);
        for member in self.told.waiting() {
            let name = call.roster().get(member).map(|member| member.name.clone());
            name.into_iter().for_each(|name| self.reached.note(Limit::Told(name)));
        }
        let mut sendings = Vec::new();
        for Telling { to, message } in tellings {
            let frame = |framed| match message {
                ToMember::State(_) => Frame::Latest(Latest::State, framed),
                _ => Frame::Message(framed),
            };
            let Some(sending) = Sending::over(to.clone(), &message, frame) else { continue };
            self.told.spent(&to, sending.bytes());
            sendings.push(sending);
        }
        sendings
    }

    /// The whole present state in one message, before anything else on a new line; with the key, for somebody new.
    pub(super) fn welcome(
        &mut self,
        now: ServerTime,
        (to, key): (Speaker, Option<String>),
        lent: Lent<'_>,
    ) -> Option<Sending> {
        let call = lent.call;
        let you = subjects::you(call, lent.company, to.member)?;
        let state = self.state(now, lent);
        self.told.linked(to, you.clone(), &state);
        self.devices.linked(to);
        let welcome = ToMember::Welcome(Box::new(Welcome {
            member: to.member.0,
            key,
            you,
            horizon_us: self.horizon.0,
            state,
            run: call.run().map(|run| view::run_sheet(run, call.generation())),
        }));
        Sending::over(vec![to.link], &welcome, Frame::Welcome)
    }

    fn state(&self, now: ServerTime, Lent { call, company, around }: Lent<'_>) -> wire::State {
        let Surroundings { sound, hold_call, log, .. } = around.clone();
        let production = company.production();
        view::state(call, now, view::Around { production, devices: &self.devices, sound, hold_call, log })
    }
}

fn matters(call: &Call) -> Matters {
    let hold = match call.stage() {
        Stage::Held(hold, _) => Some(hold.id),
        _ => None,
    };
    Matters { stage: view::stage(call), generation: call.generation(), hold }
}
