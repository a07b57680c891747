//! What a member does, as a state machine without a socket: [`Follower::handle`] takes an event and the time and says
//! what is to be done; [`Follower::deadline`] says when it must be called again at the latest. It keeps the clock, the
//! link, the cues and the taps, and it alone decides whether a cue may be shown.

use std::collections::VecDeque;

use super::cues::{CueQueue, order};
use super::taps::{TapState, Taps};
use super::{Act, Ending, Event, Introduction, Shown};
use crate::clock::{ClockEstimator, Estimate, Exchange, MemberTime};
use crate::rules::{INTRODUCTION, LATE, OPEN_QUESTIONS, OPENING, PULSE, SILENCE, wait_before_retry};
use crate::units::{Generation, Micros, ServerTime};
use crate::wire::{Back, Cue, Fired, HoldTap, PROTOCOL, Stage, ToMember, ToServer};

/// A member's state machine.
#[derive(Debug)]
pub struct Follower {
    introduction: Introduction,
    /// What this page calls itself; without a name it is another page on each line.
    page: Option<String>,
    clock: ClockEstimator,
    /// For how long the server's clock has stood still since its start.
    stood_us: i64,
    phase: Phase,
    cues: CueQueue,
    taps: Taps,
    /// The cue on the screen: its place in the order of the run, and its number.
    screen: Option<(u32, u32)>,
    /// True while a run goes or is about to: the clock is asked more often then.
    in_a_run: bool,
    failures: u32,
}

#[derive(Debug)]
enum Phase {
    Away {
        again: MemberTime,
    },
    Opening {
        /// When it is given up.
        until: MemberTime,
    },
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
            page: None,
            clock: ClockEstimator::new(),
            stood_us: 0,
            phase: Phase::Away { again: MemberTime(i64::MIN) },
            cues: CueQueue::default(),
            taps: Taps::default(),
            screen: None,
            in_a_run: false,
            failures: 0,
        }
    }

    /// The same member after a restart, with the taps that it had kept: [`Follower::kept_taps`] of the life before.
    pub fn restarted(introduction: Introduction, kept: Vec<HoldTap>) -> Follower {
        Follower { taps: Taps::kept(kept), ..Follower::new(introduction) }
    }

    /// The same, with a name by which the server knows this page on its next line: at most 64 bytes, and no other page's.
    pub fn named(self, page: String) -> Follower {
        Follower { page: Some(page), ..self }
    }

    /// Takes an event in and says what is to be done, in this order.
    pub fn handle(&mut self, now: MemberTime, event: Event<'_>) -> Vec<Act> {
        let mut acts = Vec::new();
        // What arrives ends a silence, and a tap goes out before anything is asked.
        if !matches!(event, Event::Heard(_) | Event::Alive | Event::Hold { .. }) {
            self.give_up(now, &mut acts);
        }
        match event {
            Event::Time => {}
            Event::Alive => self.alive(now),
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
            Phase::Opening { until } => Some(*until),
            Phase::Closing | Phase::Over => None,
            Phase::Open(open) => {
                let silent = open.silent_at();
                let ask_at = open.ask_at(self.clock.ask_every(self.in_a_run));
                let speak = if open.welcomed { open.pulse_at.min(ask_at) } else { silent };
                let due = self.cues.next_due().filter(|_| self.may_show());
                let cue = due.and_then(|due| self.clock.to_member(due, now)).unwrap_or(silent);
                let again = self.taps.again().unwrap_or(silent);
                Some(silent.min(speak).min(cue).min(again))
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
        self.taps.waiting().count()
    }

    /// What the person is told of their last tap.
    pub fn tap_state(&self) -> TapState {
        self.taps.state()
    }

    /// The taps that are not settled, oldest first: what must outlive a restart of this member.
    pub fn kept_taps(&self) -> Vec<HoldTap> {
        self.taps.unsettled().cloned().collect()
    }

    /// How the member will make itself known the next time.
    pub fn introduction(&self) -> &Introduction {
        &self.introduction
    }

    /// Nothing counts without a link, nor from the person's own tap until the server has answered it: a phone stops for
    /// its own tap without asking.
    fn may_show(&self) -> bool {
        self.linked() && !self.taps.are_waiting()
    }
}

/// The link.
impl Follower {
    /// Gives up a connection that does not come about, and one that has been silent for too long.
    fn give_up(&mut self, now: MemberTime, acts: &mut Vec<Act>) {
        let until = match &self.phase {
            Phase::Opening { until } => *until,
            Phase::Open(open) => open.silent_at(),
            _ => return,
        };
        if until <= now {
            self.hang_up(acts);
        }
    }

    fn hang_up(&mut self, acts: &mut Vec<Act>) {
        self.lose(acts);
        self.phase = Phase::Closing;
        acts.push(Act::Disconnect);
    }

    /// The cues that wait are not shown without a link, and the next one begins without them.
    fn lose(&mut self, acts: &mut Vec<Act>) {
        self.taps.lost();
        self.screen = None;
        if self.linked() {
            acts.push(Act::Lost);
        }
    }

    fn opened(&mut self, now: MemberTime, acts: &mut Vec<Act>) {
        if !matches!(self.phase, Phase::Opening { .. }) {
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
        let page = self.page.clone();
        match self.introduction.clone() {
            Introduction::Join { invitation, name, part } => {
                acts.push(Act::Send(ToServer::Join { protocol: PROTOCOL, invitation, name, part, page }));
            }
            // What is not written comes with the key: it is obeyed before the return is answered.
            Introduction::Return { key } => {
                let (taps, after) = self.taps.opened();
                acts.push(Act::Send(ToServer::Return { protocol: PROTOCOL, key, page, taps }));
                acts.extend(after.into_iter().map(|tap| Act::Send(ToServer::Hold(tap))));
            }
        }
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
        self.taps.refused();
        self.stay_away(ending, acts);
    }

    /// The key is good, and used elsewhere: what is not written stays, and comes with the next line.
    fn stay_away(&mut self, ending: Ending, acts: &mut Vec<Act>) {
        self.lose(acts);
        self.phase = Phase::Over;
        acts.push(Act::Disconnect);
        acts.push(Act::Over(ending));
    }

    fn alive(&mut self, now: MemberTime) {
        if let Phase::Open(open) = &mut self.phase {
            open.heard = now;
        }
    }

    /// What is said without being asked: a new attempt, a tap that nobody has answered, a pulse, a question about the
    /// time.
    fn speak(&mut self, now: MemberTime, acts: &mut Vec<Act>) {
        let clock = &self.clock;
        let ask_every = clock.ask_every(self.in_a_run);
        match &mut self.phase {
            Phase::Away { again } if *again <= now => {
                self.phase = Phase::Opening { until: now + OPENING };
                acts.push(Act::Connect);
            }
            Phase::Open(open) if open.welcomed => {
                acts.extend(self.taps.due(now).into_iter().map(|tap| Act::Send(ToServer::Hold(tap))));
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
                    if open.asked.len() > OPEN_QUESTIONS {
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
            // A tap is answered before the welcome too: one that came with a key that was replaced.
            ToMember::TapAnswer { tap, outcome, .. } => self.taps.answered(tap, *outcome),
            ToMember::Welcome(welcome) => {
                if let Some(key) = &welcome.key {
                    self.introduction = Introduction::Return { key: key.clone() };
                }
                self.welcomed(now, ServerTime(welcome.state.now_us), Generation(welcome.state.generation), acts);
                self.stands(welcome.state.stage);
            }
            ToMember::Goodbye { back: Back::ByItself, .. } => self.hang_up(acts),
            ToMember::Goodbye { back: Back::WhenAsked, .. } if self.taps.are_waiting() => self.hang_up(acts),
            ToMember::Goodbye { back: Back::WhenAsked, reason } => {
                self.stay_away(Ending::Goodbye(reason.clone()), acts);
            }
            ToMember::Refused { reason, .. } | ToMember::Goodbye { reason, .. } if !welcomed => {
                self.end(Ending::Refused(reason.clone()), acts);
            }
            // What nobody has heard of is brought once more: a key that was replaced may still hold.
            ToMember::Goodbye { .. } if self.taps.are_waiting() => self.hang_up(acts),
            ToMember::Goodbye { reason, .. } => self.end(Ending::Goodbye(reason.clone()), acts),
            _ if welcomed => self.told(now, message, acts),
            _ => {}
        }
    }

    /// What a member is told once it is let in.
    fn told(&mut self, now: MemberTime, message: &ToMember, acts: &mut Vec<Act>) {
        match message {
            ToMember::Clock { sent_us, received_us, answered_us } => {
                self.clock_answered(now, MemberTime(*sent_us), ServerTime(*received_us), ServerTime(*answered_us));
            }
            ToMember::Pulse { now_us, generation, stood_us } => {
                self.stood_still(now, *stood_us);
                self.check_clock(ServerTime(*now_us), MemberTime(i64::MIN), now);
                self.raise(Generation(*generation));
            }
            ToMember::State(state) => {
                self.raise(Generation(state.generation));
                self.stands(state.stage);
            }
            ToMember::Run(run) => self.raise(Generation(run.generation)),
            ToMember::Stop { generation, .. } => self.raise(Generation(*generation).next()),
            ToMember::Held(hold) => self.raise(Generation(hold.generation)),
            ToMember::Cue(cue) => self.cue(now, cue),
            // A member without a screen has shown what it was told, and nothing sounds.
            ToMember::Trial { trial, .. } => {
                acts.push(Act::Send(ToServer::Tried { trial: *trial, shown: true, felt: false }));
            }
            ToMember::Invited { .. }
            | ToMember::Welcome(_)
            | ToMember::TapAnswer { .. }
            | ToMember::Refused { .. }
            | ToMember::Invitations { .. }
            | ToMember::Sound { .. }
            | ToMember::Piece { .. }
            | ToMember::You(_)
            | ToMember::Subject { .. }
            | ToMember::Taken { .. }
            | ToMember::Goodbye { .. } => {}
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
        // Every start of the server counts its time from nothing, and one whose clock is not known to be the one of before
        // may be another one.
        let same_start = generation.epoch() == self.cues.alive().epoch();
        if !same_start {
            self.stood_us = 0;
            self.forget_clock(now);
        }
        let known = self.clock.estimate(now).is_some();
        let same_server = self.check_clock(server, introduced, now) && known;
        self.cues.begin_anew(generation, same_server);
        self.screen = None;
        self.failures = 0;
        self.taps.linked(now);
        acts.push(Act::Linked);
    }

    /// Where the call stands.
    fn stands(&mut self, stage: Stage) {
        self.in_a_run = stage.needs_the_clock();
        if stage != Stage::Held {
            self.taps.nothing_held();
        }
    }

    fn raise(&mut self, generation: Generation) {
        if self.cues.raise(generation) {
            self.screen = None;
        }
    }

    /// False, and everything about the clock forgotten, when the server cannot have read that time between these
    /// moments: one of the two machines slept, or the server is another one.
    fn check_clock(&mut self, server: ServerTime, earliest: MemberTime, now: MemberTime) -> bool {
        let agrees = self.clock.could_be(server, earliest, now);
        if !agrees {
            self.forget_clock(now);
        }
        agrees
    }

    /// The server's clock has stood still so long since its start. What was measured before it last did is forgotten.
    fn stood_still(&mut self, now: MemberTime, stood_us: Option<i64>) {
        if stood_us.is_some_and(|stood| stood != self.stood_us) {
            self.stood_us = stood_us.unwrap_or_default();
            self.forget_clock(now);
        }
    }

    /// What was known of the clock is known no more, and asked for at once.
    fn forget_clock(&mut self, now: MemberTime) {
        self.clock.forget(now);
        if let Phase::Open(open) = &mut self.phase {
            open.asked_at = None;
        }
    }

    /// Only answers to questions that this link asked count.
    fn clock_answered(&mut self, now: MemberTime, sent: MemberTime, received: ServerTime, answered: ServerTime) {
        let Phase::Open(open) = &mut self.phase else { return };
        let Some(place) = open.asked.iter().position(|asked| *asked == sent) else { return };
        open.asked.remove(place);
        self.clock.add(Exchange { sent, received, answered, returned: now });
    }
}

/// Cues and taps.
impl Follower {
    fn cue(&mut self, now: MemberTime, cue: &Cue) {
        self.raise(Generation(cue.generation));
        let server = self.clock.to_server(now);
        let came_late = cue.due_us.map(ServerTime).zip(server).is_some_and(|(due, server)| due < server);
        self.cues.take(cue.clone(), came_late);
    }

    fn show_due(&mut self, now: MemberTime, acts: &mut Vec<Act>) {
        if !self.may_show() || self.cues.is_empty() {
            return;
        }
        let known = self.clock.estimate(now);
        let server = known.map(|Estimate { offset, .. }| ServerTime(now.0) + offset);
        let bound = known.map(|known| known.bound);
        while let Some((waiting, again)) = self.cues.pop_due(server) {
            let (due, came_late, cue) = (waiting.due(), waiting.came_late, waiting.cue);
            let after = due.zip(server).map(|(due, server)| server.since(due));
            let late = after.filter(|after| came_late || *after > LATE);
            // A late cue never takes a newer one off the screen.
            let overtaken = self.screen.is_some_and(|(on_screen, _)| on_screen > order(&cue));
            if !overtaken {
                self.screen = Some((order(&cue), cue.cue));
            }
            if let Some(due) = due.filter(|_| !again) {
                acts.push(Act::Send(ToServer::Report(Fired {
                    generation: cue.generation,
                    cue: cue.cue,
                    due_us: due.0,
                    fired_us: server.filter(|_| !overtaken).map(|server| server.0),
                    bound_us: bound.map(|bound| bound.0),
                })));
            }
            acts.push(Act::Show(Box::new(Shown { cue, at: server, bound, late, overtaken, again })));
        }
    }

    fn hold(&mut self, now: MemberTime, tap: String, reason: Option<String>, acts: &mut Vec<Act>) {
        let good = matches!(&self.phase, Phase::Open(open) if open.welcomed && now < open.silent_at());
        let tap = HoldTap {
            tap,
            generation: self.cues.alive().0,
            queued: !good,
            tapped_us: self.clock.to_server(now).map(|server| server.0),
            screen_cue: self.screen.map(|(_, cue)| cue),
            reason,
        };
        let waiting = self.taps.tap(now, tap, self.linked(), good);
        match (&self.phase, &self.introduction) {
            (Phase::Open(_), _) => acts.extend(waiting.into_iter().map(|tap| Act::Send(ToServer::Hold(tap)))),
            // Nobody waits for the next attempt with a tap; a key that was replaced may still hold.
            (Phase::Away { .. }, _) | (Phase::Over, Introduction::Return { .. }) => {
                self.phase = Phase::Away { again: now }
            }
            (Phase::Over, Introduction::Join { .. }) => self.taps.refused(),
            (Phase::Opening { .. } | Phase::Closing, _) => {}
        }
    }
}
