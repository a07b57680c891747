//! What time alone does: pulses, silence, lines that take nothing, a machine that slept.

use super::Reactor;
use crate::call::Puller;
use crate::rules::{PULSE, SILENCE};
use crate::server::ending::End;
use crate::server::request::LineNews;
use crate::server::sockets::frames::framed;
use crate::server::sockets::outgoing::{Frame, Latest};
use crate::units::{Micros, ServerTime};
use crate::wire::ToMember;

/// What time alone does is done so often.
const TICK: Micros = Micros::millis(100);
/// While there is no line and no run, so often: then it only looks whether the machine slept.
const REST: Micros = Micros::seconds(2);
/// Every line has a pulse after so many ticks.
const PULSE_TICKS: u64 = PULSE.0.unsigned_abs() / TICK.0.unsigned_abs();
/// A silent line is closed after so long.
const DEAD: Micros = Micros::seconds(30);
/// A line that takes nothing for so long is given up.
const SLOW: Micros = Micros::seconds(3);
/// The other side of a line that was closed has so long to close it.
const LEAVE: Micros = Micros::seconds(2);
/// This machine was asleep when it stood still for so long.
const ASLEEP: Micros = Micros::seconds(1);
/// Less than this is the reading of two clocks, and no sleep.
const STOOD: Micros = Micros::millis(1);

impl Reactor<'_> {
    pub(super) fn tick(&mut self, now: ServerTime) {
        self.next_tick = now + if self.lines.is_empty() && !self.going { REST } else { TICK };
        self.ticks += 1;
        self.notice_sleep();
        let generation = self.brake.dead().next().0;
        let pulse = ToMember::Pulse { now_us: now.0, generation, stood_us: Some(self.stood.0) };
        let pulse = framed(&pulse).map(|framed| Frame::Latest(Latest::Pulse, framed));
        let places: Vec<usize> = self.lines.iter().map(|(place, _)| place).collect();
        for place in places {
            self.watch(place, now);
            let turn = place as u64 % PULSE_TICKS == self.ticks % PULSE_TICKS;
            if let Some(pulse) = pulse.as_ref().filter(|_| turn) {
                self.push(place, pulse.clone());
            }
        }
    }

    /// There is a line or a run from here on: what slept before was before it, and time is looked after again.
    pub(super) fn rests_no_more(&mut self) {
        self.notice_sleep();
        self.next_tick = self.next_tick.min(self.brake.now() + TICK);
    }

    fn notice_sleep(&mut self) {
        let slept = self.sleep.slept();
        if slept >= ASLEEP && self.going {
            self.pull(Puller::Machine("this machine was asleep".into()));
        }
        if slept >= STOOD {
            self.stood = self.stood + slept;
        }
    }

    /// A line that is silent, takes nothing, or was closed and stays.
    pub(super) fn watch(&mut self, place: usize, now: ServerTime) {
        let Some(line) = self.lines.get_mut(place) else { return };
        if line.left.is_some_and(|left| now.since(left) >= LEAVE) {
            return self.remove(place);
        }
        if line.waits() && now.since(line.moved) >= SLOW {
            // What would tell it why does not reach it either.
            let end = End::Broken("it takes nothing that is sent".to_owned());
            return self.end(place, end);
        }
        let silence = now.since(line.heard);
        if line.left.is_some() || line.socket.is_none() || silence < SILENCE {
            return;
        }
        if silence >= DEAD {
            return self.end(place, End::Silent);
        }
        if !std::mem::replace(&mut line.silent, true) {
            let (member, link) = (line.member, line.link);
            let holds = line.holding;
            let _ = self.hub.lines.send(LineNews::Silent(member, link));
            if holds {
                self.is_lost(place, member);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;
    use std::sync::atomic::{AtomicI64, Ordering::Relaxed};

    use super::*;
    use crate::call::{MemberId, Taps};
    use crate::midi::MidiOut;
    use crate::osc::OscOut;
    use crate::production::Limits;
    use crate::server::brake::{Brake, Sounding};
    use crate::server::hub::Lanes;
    use crate::server::request::LinkId;
    use crate::server::sockets::Work;
    use crate::sound::Sound;
    use crate::time::{ServerClock, SleepClock};

    static NOW: AtomicI64 = AtomicI64::new(0);
    static SLEPT: AtomicI64 = AtomicI64::new(0);

    /// While nobody is here it rests; whoever comes, and whatever begins, is looked after as ever, and a sleep that was over
    /// before a run began does not hold it.
    #[test]
    fn a_rest_is_over_with_the_first_line_and_with_the_first_run() {
        let sounding = Sounding { sound: Sound::by_hand(48_000).0, midi: MidiOut::off(), osc: OscOut::off() };
        let brake = Arc::new(Brake::new(ServerClock::told(&NOW), sounding));
        let sleep = SleepClock::new(|| Micros(SLEPT.load(Relaxed)));
        let to_hub = Lanes::new().to_hub;
        let (lines, mut work) =
            Work::new(Arc::clone(&brake), to_hub, Taps::default(), (sleep, Limits::default())).unwrap();
        let mut reactor = work.reactor();
        let rests = |reactor: &Reactor<'_>| reactor.deadline().since(brake.now());
        reactor.settle();
        assert_eq!(rests(&reactor), REST);
        lines.watch(Some(Vec::new()));
        SLEPT.store(5_000_000, Relaxed);
        reactor.settle();
        assert!(rests(&reactor) <= TICK);
        NOW.fetch_add(TICK.0, Relaxed);
        reactor.settle();
        assert!(!brake.pulled(), "it slept before the run");
        lines.watch(None);
        for _ in 0..3 {
            NOW.fetch_add(TICK.0, Relaxed);
            reactor.settle();
        }
        assert!(rests(&reactor) > TICK, "nobody is here, and nothing goes on");
        lines.open(LinkId(1), MemberId(1));
        reactor.settle();
        assert!(rests(&reactor) <= TICK);
    }
}
