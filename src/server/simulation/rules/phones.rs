//! What may never happen on the phones: what they hear, believe of the time, show, and know once all is well.

use std::collections::BTreeSet;

use super::{AGREES, JUMPED, Rules, TRIES};
use crate::call::MemberId;
use crate::member::Shown;
use crate::rules::{LATE, SILENCE};
use crate::server::simulation::life::Life;
use crate::server::simulation::phone::{Phone, STRANGER};
use crate::server::view;
use crate::units::ServerTime;
use crate::wire::ToMember;

impl Rules {
    /// A phone has heard something.
    pub(in crate::server::simulation) fn heard(&mut self, phone: &Phone, message: &ToMember) {
        let stranger = phone.number == STRANGER;
        self.must(!stranger || matches!(message, ToMember::Goodbye { .. }), || {
            format!("{} hears {message:?}", phone.name)
        });
    }

    /// What a phone believes of the time is true, whenever it learns something of it.
    pub(in crate::server::simulation) fn knows_the_time(&mut self, phone: &Phone, message: &ToMember) {
        let ToMember::Clock { sent_us, received_us, answered_us } = message else { return };
        let name = &phone.name;
        let time = phone.time(self.now);
        let server = self.now - phone.epoch;
        self.note(|| {
            format!("{name} asked at {sent_us}, answered {received_us} {answered_us}, came at {} {server}", time.0)
        });
        let Some(known) = phone.follower.clock().estimate(time) else { return };
        if self.now - phone.jumped >= JUMPED {
            let error = (time.0 + known.offset.0 - server).abs();
            self.must(error <= known.bound.0 + 1, || format!("the clock of {name} is wrong by {error} µs: {known:?}"));
        }
    }

    /// A phone shows a cue.
    pub(in crate::server::simulation) fn shown(&mut self, phone: &Phone, shown: &Shown) {
        self.seen.shown += 1;
        let (name, cue) = (&phone.name, &shown.cue);
        self.must(cue.generation >= phone.seen.alive, || {
            format!("{name} shows a cue of {}, and knows that {} lives", cue.generation, phone.seen.alive)
        });
        let hushed = phone.follower.untold_taps() > 0 && cue.generation <= phone.tapped;
        self.must(!hushed, || format!("{name} shows a cue after their own tap"));
        // Its second may be a little longer than ours.
        let silent = self.now - phone.heard;
        self.must(silent <= SILENCE.0 + 1_000, || format!("{name} goes on counting {silent} µs after the last word"));
        let server = ServerTime(self.now - phone.epoch);
        let (Some(at), Some(bound)) = (shown.at, shown.bound) else { return };
        if self.now - phone.jumped < JUMPED {
            return;
        }
        let error = at.since(server).0.abs();
        self.must(error <= bound.0 + 1, || {
            format!("the clock of {name} is wrong by {error} µs, its bound is {bound:?}")
        });
        if let Some(due) = cue.due_us.filter(|_| shown.sounds()) {
            let late = server.0 - due;
            let within = -bound.0 - 1..=bound.0 + LATE.0 + 1;
            self.must(within.contains(&late), || format!("{name} sounds a cue {late} µs after its time"));
        }
    }

    /// Whether every cue that came in time was shown: it is so late on the server's clock as the true time says.
    pub(in crate::server::simulation) fn all_shown(&self, phones: &mut [Phone], epoch: i64) {
        let server = self.now - epoch;
        for phone in phones {
            let alive = phone.follower.generation().0;
            let may = phone.follower.linked() && phone.follower.untold_taps() == 0 && !phone.over;
            let lately = self.now - phone.jumped < JUMPED;
            // A phone that was told that the server's clock had stood has forgotten the time, and cues nothing by it.
            let knows_the_time = phone.follower.clock().to_server(phone.time(self.now)).is_some();
            phone.waiting.retain(|(generation, _), _| may && !lately && knows_the_time && *generation >= alive);
            if let Some((cue, due)) = phone.waiting.iter().find(|(_, due)| **due + 500_000 < server) {
                self.fail(format!("{} was not shown {cue:?}, due at {due}, and it is {server}", phone.name));
            }
        }
    }

    /// Whether everybody knows what is so, in time after all was well.
    pub(in crate::server::simulation) fn agree(&mut self, life: &Life<'_>, phones: &[Phone]) {
        if self.agreed || self.healed == 0 || self.now < self.healed.max(self.changed) + TRIES + AGREES {
            return;
        }
        self.agreed = true;
        self.all_know(life, phones);
        for (who, phone) in phones.iter().enumerate().filter(|(_, phone)| !phone.over) {
            if let Some(tried) = self.tried.get(&who) {
                let after = tried - self.healed;
                self.must(after <= TRIES, || format!("{} tries to come back after {after} µs", phone.name));
            }
        }
    }

    /// Everybody who is not a stranger has a link, and sees what is so.
    pub(in crate::server::simulation) fn all_know(&self, life: &Life<'_>, phones: &[Phone]) {
        let call = &life.hub.parts.call;
        let (stage, generation) = (view::stage(call), call.generation().0);
        for phone in phones.iter().filter(|phone| !phone.over) {
            let name = &phone.name;
            self.must(phone.follower.linked(), || format!("{name} has no link: {:?}", phone.link));
            self.must(phone.seen.alive == generation, || {
                format!("{name} believes that {} lives, and it is {generation}", phone.seen.alive)
            });
            let unsettled = phone.follower.kept_taps();
            self.must(unsettled.is_empty(), || format!("{name} waits for an answer to {unsettled:?}"));
            self.must(phone.stage() == stage, || format!("{name} sees {:?}, and it is {stage:?}", phone.stage()));
            self.sees_tonight(phone);
        }
        // In a walk-through every screen stands where the server does, whichever way it was stepped.
        let walked = call.spot().and_then(|spot| spot.cue).filter(|_| call.steps().is_some());
        for (phone, cue) in phones.iter().filter(|phone| !phone.over).filter_map(|phone| Some((phone, walked?))) {
            let shows = phone.seen.step.filter(|(of, ..)| *of == generation).map(|(.., cue)| cue);
            self.must(shows == Some(cue), || format!("{} shows {shows:?} of a walk at {cue}", phone.name));
        }
        let linked = |id: MemberId| call.roster().get(id).is_some_and(|member| member.linked);
        let count = call.roster().iter().filter(|(id, _)| linked(*id)).count();
        // Two pages may be one member's.
        let here = phones.iter().filter(|phone| !phone.over).map(|phone| &phone.key).collect::<BTreeSet<_>>().len();
        self.must(count == here, || format!("{here} are here, and the server knows of {count}"));
    }
}
