//! HOLD: the tap, the stop to everybody, and what is told afterwards.

use super::Reactor;
use crate::brake::{By, Pull, Pulled, TapName, pulls};
use crate::call::{MemberId, Puller, Pulling, Tap};
use crate::server::request::{HoldLane, tap_of};
use crate::server::sockets::frames::{framed, stop};
use crate::server::sockets::outgoing::Frame;
use crate::units::ServerTime;
use crate::wire::{HoldTap, TapOutcome, ToMember};

/// A stop that is being written to everybody.
pub(super) struct Stopping {
    /// From before the read that held the tap; from the pull where there was none.
    since: ServerTime,
    /// How many lines could take it.
    lines: usize,
}

impl Reactor<'_> {
    /// A tap: it pulls the brake, unless it has done so already or was kept for a generation that has ended.
    pub(super) fn tap(&mut self, from: Option<usize>, member: MemberId, tap: HoldTap) {
        let tap = tap_of(tap);
        if !self.is_pulling(member, &tap) {
            self.to_hub.push(HoldLane::Tap(member, tap));
            return;
        }
        let (pull, at) = self.brake.pull();
        let name = TapName { member, tap: tap.id.clone() };
        self.stop_everybody(pull, at, By::Tap(name));
        self.to_answer.extend(from.map(|place| (place, tap.id.clone())));
        self.forward(pull, at, Puller::Member(member, tap));
        if let Some(stopping) = &mut self.stopping {
            stopping.since = stopping.since.min(self.read_at);
        }
    }

    /// Whoever's tap pulled is told that it did.
    pub(super) fn answer_taps(&mut self) {
        for (place, tap) in std::mem::take(&mut self.to_answer) {
            if let Some(framed) = framed(&ToMember::TapAnswer { tap, outcome: TapOutcome::Held, hold: None }) {
                self.push(place, Frame::Urgent(framed));
            }
        }
    }

    /// Whether a tap pulls the brake: each does once at the most, however often and over whatever line it comes.
    pub(super) fn is_pulling(&mut self, member: MemberId, tap: &Tap) -> bool {
        let known = self.known.put(member, &tap.id, ()).is_some();
        !known && pulls(tap, self.brake.dead())
    }

    /// The stop for everybody, unless they have it: next on every line, after the frame that it has begun.
    pub(super) fn stop_everybody(&mut self, pull: Pull, at: ServerTime, by: By) {
        let one = Pulled::one(by, pull.dead, at);
        if !pull.first {
            self.pulled = std::mem::take(&mut self.pulled).join(one);
            return;
        }
        self.pulled = one;
        let stop = stop(self.pulled.dead(), self.pulled.since().unwrap_or(at));
        let Some(frame) = self.stop.insert(stop).frame(0) else { return };
        for (place, line) in &mut self.lines {
            line.out.stop(frame.clone());
            if line.writable && line.socket.is_some() {
                self.to_stop.push_back(place);
            }
        }
        self.stopping = Some(Stopping { since: at, lines: self.to_stop.len() });
    }

    pub(super) fn forward(&mut self, pull: Pull, at: ServerTime, by: Puller) {
        self.to_hub.push(HoldLane::Pulled(Pulling { by, at, dead: pull.dead }));
    }

    /// The hub learns of taps once everybody has the stop.
    pub(super) fn tell_hub(&mut self) {
        if let Some(Stopping { since, lines }) = self.stopping.take() {
            self.to_hub.push(HoldLane::Stopped { lines, took: self.brake.now().since(since) });
        }
        for hold in self.to_hub.drain(..) {
            // A hub that is gone has stopped everything.
            let _ = self.hub.holds.send(hold);
        }
    }

    /// The brake is pulled by something that has no line to be answered on.
    pub(super) fn pull(&mut self, puller: Puller) {
        let (pull, at) = self.brake.pull();
        let by = match &puller {
            Puller::Member(member, tap) => By::Tap(TapName { member: *member, tap: tap.id.clone() }),
            Puller::LostLink(member) => By::LostLink(*member, at),
            Puller::FootSwitch => By::FootSwitch(at),
            Puller::Machine(_) => By::Machine(at),
        };
        self.stop_everybody(pull, at, by);
        self.forward(pull, at, puller);
    }
}
