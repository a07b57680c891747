//! What a member does, as a state machine without a socket: [`Follower::handle`] takes an event and the time and says
//! what is to be done; [`Follower::deadline`] says when it must be called again at the latest. It keeps the clock, the
//! link, the cues and the taps, and it alone decides whether a cue may be shown.

use std::collections::VecDeque;

use super::cues::{CueQueue, Waiting};
use super::taps::TapQueue;
use super::{Act, Ending, Event, Introduction, Shown, wait_before_retry};
use crate::clock::{ClockEstimator, Estimate, Exchange, MemberTime};
use crate::units::{Generation, Micros, ServerTime};
use crate::wire::{Cue, Fired, HoldTap, PROTOCOL, ToMember, ToServer};

/// A link without a message for this long is lost.
pub const SILENCE: Micros = Micros::seconds(1);

/// How long the answer to an introduction may take: a server that refuses many may take its time with each.
pub const INTRODUCTION: Micros = Micros::seconds(10);

/// How often a member says that it is there.
pub const PULSE: Micros = Micros::millis(300);

/// A cue that is shown later than this after its time makes no sound, even if it arrived in time: EBU R37 (as quoted by
/// a secondary page) lets sound be 60 ms late from end to end, and the way to the loudspeaker takes its share.
pub const LATEST_SOUND: Micros = Micros::millis(40);

/// How far the server's word about its time may be from what is believed of it before the clock is taken for another
/// one.
const ANOTHER_CLOCK: Micros = Micros::seconds(1);

const MOST_QUESTIONS: usize = 32;

/// So many taps come with the key, and fit a frame whatever their reasons; more of them follow the welcome.
const WITH_KEY: usize = 6;

/// A member's state machine.
#[derive(Debug)]
pub struct Follower {
    introduction: Introduction,
    clock: ClockEstimator,
    phase: Phase,
    cues: CueQueue,
    taps: TapQueue,
    /// The last cue on the screen: its number and, if it had one, its time.
    screen: Option<(u32, Option<ServerTime>)>,
    /// True from the person's own tap until the server's word on it: a phone stops for its own tap without asking.
    hushed: bool,
    /// True while a run goes or is about to: the clock is asked more often then.
    in_a_run: bool,
    failures: u32,
}

#[derive(Debug)]
enum Phase {
    Away { again: MemberTime },
    Opening,
    Open(Open),
    Closing,
    Over,
}

#[derive(Debug)]
struct Open {
    welcomed: bool,
    introduced: MemberTime,
    heard: MemberTime,
    pulse_at: MemberTime,
    /// When the time was last asked for; nothing makes it be asked for at once.
    asked_at: Option<MemberTime>,
    asked: VecDeque<MemberTime>,
}

impl Open {
    /// When the time is to be asked for, at one question each `every`.
    fn ask_at(&self, every: Micros) -> MemberTime {
        self.asked_at.map_or(self.introduced, |asked| asked + every)
    }

    /// When it is lost, if nothing is heard until then.
    fn silent_at(&self) -> MemberTime {
        self.heard + if self.welcomed { SILENCE } else { INTRODUCTION }
    }
}

impl Follower {
    /// A member that has not connected yet; the first [`Event::Time`] makes it.
    pub fn new(introduction: Introduction) -> Follower {
        Follower {
            introduction,
            clock: ClockEstimator::new(),
            phase: Phase::Away { again: MemberTime(i64::MIN) },
            cues: CueQueue::default(),
            taps: TapQueue::default(),
            screen: None,
            hushed: false,
            in_a_run: false,
            failures: 0,
        }
    }

    /// Takes an event in and says what is to be done, in this order.
    pub fn handle(&mut self, now: MemberTime, event: Event<'_>) -> Vec<Act> {
        let mut acts = Vec::new();
        self.check_silence(now, &mut acts);
        match event {
            Event::Time => {}
            Event::Slept => self.forget_clock(now),
            Event::Opened => self.opened(now, &mut acts),
            Event::Closed { chance } => self.closed(now, chance, &mut acts),
            Event::Heard(message) => self.heard(now, message, &mut acts),
            Event::Hold { tap, reason } => self.hold(now, tap, reason, &mut acts),
            Event::Say(message) if self.linked() => acts.push(Act::Send(message)),
            Event::Say(message) => acts.push(Act::Unsaid(message)),
        }
        self.show_due(now, &mut acts);
        self.speak(now, &mut acts);
        acts
    }

    /// When [`Follower::handle`] must be called again at the latest, with [`Event::Time`] if nothing else happened.
    pub fn deadline(&self, now: MemberTime) -> Option<MemberTime> {
        match &self.phase {
            Phase::Away { again } => Some(*again),
            Phase::Opening | Phase::Closing | Phase::Over => None,
            Phase::Open(open) => {
                let silent = open.silent_at();
                let ask_at = open.ask_at(self.clock.ask_every(self.in_a_run));
                let speak = if open.welcomed { open.pulse_at.min(ask_at) } else { silent };
                let due = self.cues.next_due().filter(|_| self.may_show());
                let cue = due.and_then(|due| self.clock.to_member(due, now)).unwrap_or(silent);
                Some(silent.min(speak).min(cue))
            }
        }
    }

    /// True while the link is up and the state is known.
    pub fn linked(&self) -> bool {
        matches!(&self.phase, Phase::Open(open) if open.welcomed)
    }

    /// The generation that lives, as far as is known.
    pub fn generation(&self) -> Generation {
        self.cues.alive()
    }

    /// What is known of the server's clock.
    pub fn clock(&self) -> &ClockEstimator {
        &self.clock
    }

    /// How many taps on HOLD nobody is known to have heard of. While there are any, the person must call it out loud.
    pub fn untold_taps(&self) -> usize {
        self.taps.untold()
    }

    /// How the member will make itself known the next time.
    pub fn introduction(&self) -> &Introduction {
        &self.introduction
    }

    fn may_show(&self) -> bool {
        self.linked() && !self.hushed
    }
}

/// The link.
impl Follower {
    fn check_silence(&mut self, now: MemberTime, acts: &mut Vec<Act>) {
        let Phase::Open(open) = &self.phase else { return };
        if open.silent_at() <= now {
            self.lose(acts);
            self.phase = Phase::Closing;
            acts.push(Act::Disconnect);
        }
    }

    /// The cues that wait are not shown without a link, and the next one begins without them.
    fn lose(&self, acts: &mut Vec<Act>) {
        if self.linked() {
            acts.push(Act::Lost);
        }
    }

    fn opened(&mut self, now: MemberTime, acts: &mut Vec<Act>) {
        if !matches!(self.phase, Phase::Opening) {
            return;
        }
        self.phase = Phase::Open(Open {
            welcomed: false,
            introduced: now,
            heard: now,
            pulse_at: now,
            asked_at: None,
            asked: VecDeque::new(),
        });
        self.taps.new_link();
        acts.push(Act::Send(match self.introduction.clone() {
            Introduction::Join { invitation, name, part } => {
                ToServer::Join { protocol: PROTOCOL, invitation, name, part }
            }
            // What nobody has answered comes with the key: it is obeyed before the return is answered.
            Introduction::Return { key } => {
                ToServer::Return { protocol: PROTOCOL, key, taps: self.taps.unsent(WITH_KEY) }
            }
        }));
    }

    fn closed(&mut self, now: MemberTime, chance: f64, acts: &mut Vec<Act>) {
        if matches!(self.phase, Phase::Over | Phase::Away { .. }) {
            return;
        }
        self.lose(acts);
        self.phase = Phase::Away { again: now + wait_before_retry(self.failures, chance) };
        self.failures = self.failures.saturating_add(1);
    }

    fn end(&mut self, ending: Ending, acts: &mut Vec<Act>) {
        self.lose(acts);
        self.phase = Phase::Over;
        acts.push(Act::Disconnect);
        acts.push(Act::Over(ending));
    }

    /// What is said without being asked: a new attempt, a pulse, a question about the time.
    fn speak(&mut self, now: MemberTime, acts: &mut Vec<Act>) {
        let clock = &self.clock;
        let ask_every = clock.ask_every(self.in_a_run);
        match &mut self.phase {
            Phase::Away { again } if *again <= now => {
                self.phase = Phase::Opening;
                acts.push(Act::Connect);
            }
            Phase::Open(open) if open.welcomed => {
                if open.pulse_at <= now {
                    open.pulse_at = now + PULSE;
                    let known = clock.estimate(now);
                    let bound_us = known.map(|known| known.bound.0);
                    let round_trip_us = known.map(|known| known.round_trip.0);
                    acts.push(Act::Send(ToServer::Pulse { visible: true, bound_us, round_trip_us }));
                }
                if open.ask_at(ask_every) <= now {
                    open.asked_at = Some(now);
                    open.asked.push_back(now);
                    if open.asked.len() > MOST_QUESTIONS {
                        open.asked.pop_front();
                    }
                    acts.push(Act::Send(ToServer::Clock { sent_us: now.0 }));
                }
            }
            _ => {}
        }
    }
}

/// What arrives.
impl Follower {
    fn heard(&mut self, now: MemberTime, message: &ToMember, acts: &mut Vec<Act>) {
        let Phase::Open(open) = &mut self.phase else { return };
        open.heard = now;
        let welcomed = open.welcomed;
        match message {
            ToMember::Welcome(welcome) => {
                if let Some(key) = &welcome.key {
                    self.introduction = Introduction::Return { key: key.clone() };
                }
                self.in_a_run = welcome.state.stage.needs_the_clock();
                self.welcomed(now, ServerTime(welcome.state.now_us), Generation(welcome.state.generation), acts);
            }
            ToMember::Refused { reason, .. } | ToMember::Goodbye { reason, for_good: true } if !welcomed => {
                self.end(Ending::Refused(reason.clone()), acts);
            }
            ToMember::Goodbye { reason, for_good: true } => self.end(Ending::Goodbye(reason.clone()), acts),
            _ if !welcomed => {}
            ToMember::Clock { sent_us, received_us, answered_us } => {
                self.answered(now, MemberTime(*sent_us), ServerTime(*received_us), ServerTime(*answered_us));
            }
            ToMember::Pulse { now_us, generation } => {
                self.check_clock(ServerTime(*now_us), MemberTime(i64::MIN), now, Micros::ZERO);
                self.raise(Generation(*generation));
            }
            ToMember::State(state) => {
                self.in_a_run = state.stage.needs_the_clock();
                self.raise(Generation(state.generation));
            }
            ToMember::Run(run) => self.raise(Generation(run.generation)),
            ToMember::Stop { generation, .. } => {
                self.raise(Generation(*generation).next());
                self.hushed = false;
            }
            ToMember::Held(hold) => {
                self.raise(Generation(hold.generation));
                // The word on an older hold says nothing about the tap that hushes.
                self.hushed &= Generation(hold.generation) < self.cues.alive();
            }
            ToMember::TapAnswer { tap, outcome, .. } => {
                self.taps.answered(tap, *outcome);
                self.hushed &= self.taps.untold() > 0;
            }
            ToMember::Cue(cue) => self.cue(now, cue, acts),
            // A member without a screen has shown what it was told, and nothing sounds.
            ToMember::Trial { trial, .. } => {
                acts.push(Act::Send(ToServer::Tried { trial: *trial, shown: true, felt: false }));
            }
            ToMember::Invited { .. }
            | ToMember::Refused { .. }
            | ToMember::Invitations { .. }
            | ToMember::Sound { .. }
            | ToMember::Piece { .. }
            | ToMember::You(_)
            | ToMember::Subject { .. }
            | ToMember::Goodbye { for_good: false, .. } => {}
        }
    }

    /// The whole present state over a new link: nothing that came before counts.
    fn welcomed(&mut self, now: MemberTime, server: ServerTime, generation: Generation, acts: &mut Vec<Act>) {
        let Phase::Open(open) = &mut self.phase else { return };
        let again = std::mem::replace(&mut open.welcomed, true);
        let introduced = open.introduced;
        if again {
            return self.raise(generation);
        }
        let same_server = self.check_clock(server, introduced, now, ANOTHER_CLOCK);
        self.cues.begin_anew(generation, same_server);
        self.screen = None;
        self.hushed = self.taps.untold() > 0;
        self.failures = 0;
        acts.push(Act::Linked);
        acts.extend(self.taps.unsent(usize::MAX).into_iter().map(|tap| Act::Send(ToServer::Hold(tap))));
    }

    fn raise(&mut self, generation: Generation) {
        if self.cues.raise(generation) {
            self.screen = None;
        }
    }

    /// False, and everything about the clock forgotten, when the server cannot have read that time between these
    /// moments, give or take `slack`: this machine slept, or the server is another one.
    fn check_clock(&mut self, server: ServerTime, earliest: MemberTime, now: MemberTime, slack: Micros) -> bool {
        let agrees = self.clock.could_be(server, earliest, now, slack);
        if !agrees {
            self.forget_clock(now);
        }
        agrees
    }

    /// What was known of the clock is known no more, and asked for at once.
    fn forget_clock(&mut self, now: MemberTime) {
        self.clock.forget(now);
        if let Phase::Open(open) = &mut self.phase {
            open.asked_at = None;
        }
    }

    /// Only answers to questions that this link asked count.
    fn answered(&mut self, now: MemberTime, sent: MemberTime, received: ServerTime, answered: ServerTime) {
        let Phase::Open(open) = &mut self.phase else { return };
        let Some(place) = open.asked.iter().position(|asked| *asked == sent) else { return };
        open.asked.remove(place);
        self.clock.add(Exchange { sent, received, answered, returned: now });
    }
}

/// Cues and taps.
impl Follower {
    fn cue(&mut self, now: MemberTime, cue: &Cue, acts: &mut Vec<Act>) {
        self.raise(Generation(cue.generation));
        if !self.cues.accepts(cue) {
            return;
        }
        if let Some(due) = cue.due_us.map(ServerTime) {
            let came_late = self.clock.to_server(now).is_some_and(|server| due < server);
            self.cues.wait(Waiting { cue: cue.clone(), due, came_late });
        } else if self.may_show() {
            self.cues.shown(cue.cue);
            let overtaken = self.screen.is_some_and(|(on_screen, _)| on_screen > cue.cue);
            if !overtaken {
                self.screen = Some((cue.cue, None));
            }
            let known = self.clock.estimate(now);
            let at = known.map(|known| ServerTime(now.0) + known.offset);
            let bound = known.map(|known| known.bound);
            acts.push(Act::Show(Box::new(Shown { cue: cue.clone(), at, bound, late: None, overtaken })));
        }
    }

    fn show_due(&mut self, now: MemberTime, acts: &mut Vec<Act>) {
        if !self.may_show() || self.cues.next_due().is_none() {
            return;
        }
        let Some(Estimate { offset, bound, .. }) = self.clock.estimate(now) else { return };
        let server = ServerTime(now.0) + offset;
        while let Some(Waiting { cue, due, came_late }) = self.cues.pop_due(server) {
            let after = Micros(server.0.saturating_sub(due.0));
            let overtaken = self.screen.is_some_and(|(_, on_screen)| on_screen.is_some_and(|last| last > due));
            if !overtaken {
                self.screen = Some((cue.cue, Some(due)));
            }
            acts.push(Act::Send(ToServer::Report(Fired {
                generation: cue.generation,
                cue: cue.cue,
                due_us: due.0,
                fired_us: (!overtaken).then_some(server.0),
                bound_us: Some(bound.0),
            })));
            let late = (came_late || after > LATEST_SOUND).then_some(after);
            acts.push(Act::Show(Box::new(Shown { cue, at: Some(server), bound: Some(bound), late, overtaken })));
        }
    }

    fn hold(&mut self, now: MemberTime, tap: String, reason: Option<String>, acts: &mut Vec<Act>) {
        let linked = self.linked();
        let tap = HoldTap {
            tap,
            generation: self.cues.alive().0,
            queued: !linked,
            tapped_us: self.clock.to_server(now).map(|server| server.0),
            screen_cue: self.screen.map(|(cue, _)| cue),
            reason,
        };
        self.taps.push(tap.clone(), linked);
        self.hushed = true;
        if linked {
            acts.push(Act::Send(ToServer::Hold(tap)));
        }
    }
}
