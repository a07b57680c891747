//! The machine itself: one state, one input at a time, a list of outputs. What it does about holds, runs and people
//! stands in `holding`, `running` and `people`.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::drive::Driver;
use super::ensemble::{Ensemble, Kept};
use super::sights::Sights;
use super::trial::Trial;
use super::unsettled::Unsettled;
use super::{
    Act, Evening, Fight, Hold, Input, LONGEST_PAUSE, MemberId, NearMiss, Output, Power, Role, Roster, Run, Signing,
    Spot, TapFate, Taps, UsualEvening, Why,
};
use crate::event::{Entry, Event, EventId, Maker, What, Who};
use crate::units::{Generation, Micros, ServerTime, Speed};

/// Why a run stands stopped after a new start of the server.
const ANEW: &str = "The server was started anew.";

/// What the house decides about its calls.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub struct Settings {
    /// How far ahead of its time a cue is sent.
    pub horizon: Micros,
    /// From "start" to the first beat of the count-in.
    pub lead: Micros,
    /// The roles whose lost link holds the run; the others' is only told.
    pub hold_on_lost_link: Vec<Role>,
    /// What is checked and signed before a call, in order.
    pub before_call: Vec<String>,
    /// The reasons that are given to holds, and whether near misses are reported.
    #[serde(default)]
    pub why: Why,
    /// What an evening usually is.
    #[serde(default)]
    pub evening: UsualEvening,
}

/// What was before this call: its numbers go on from there, so that nothing is mistaken for something older.
#[derive(Clone, Copy, Debug, Default, Serialize, Deserialize)]
pub struct Before {
    /// How many servers have run on this journal.
    pub sessions: u32,
    /// The highest number of a run; 0 for none.
    pub last_run: u32,
    /// The highest number of a hold; 0 for none.
    pub last_hold: u32,
}

impl Before {
    /// Every server is an epoch of its own, so that a tap which was meant for a run of an earlier one is known as late,
    /// and a page that has seen an earlier one takes this one's as new.
    fn first_generation(self) -> Generation {
        Generation::of(self.sessions, 1)
    }

    /// The name in front of those of this call's events.
    fn no_event(self) -> EventId {
        EventId { session: self.sessions, maker: Maker::Call, number: 0 }
    }
}

/// Where the call stands.
#[derive(Debug)]
pub enum Stage {
    /// Nothing is set up.
    Idle,
    /// Everybody goes to their place and says ready.
    Places(Run),
    /// Counting in or running.
    Going(Run, Going),
    /// Somebody called hold. The run that it hit, if any, is here to be looked at; it never goes on.
    Held(Box<Hold>, Option<Run>),
    /// Stopped, or released from a hold, with the reason: waits for places.
    Stopped(Option<Run>, String),
    /// The run came to its end.
    Complete(Run),
}

/// What a run that goes carries with it.
#[derive(Debug)]
pub struct Going {
    pub(super) driver: Box<dyn Driver>,
    /// Who reads what of it.
    pub(super) kept: Kept,
    /// The last phrase of the range that was journalled as reached.
    pub(super) phrase: Option<usize>,
    /// True until the first beat has been announced.
    pub(super) counting_in: bool,
    /// Until when a foot switch takes no step.
    pub(super) foot_rests: ServerTime,
}

impl Going {
    /// A run that begins.
    pub(super) fn begins(driver: Box<dyn Driver>, counting_in: bool) -> Going {
        Going { driver, kept: Kept::default(), phrase: None, counting_in, foot_rests: ServerTime(i64::MIN) }
    }

    /// A run by the clock that had come to its end, of which `phrase` was the last phrase that is on record.
    pub(super) fn ended(phrase: Option<usize>) -> Going {
        Going { phrase, ..Going::begins(super::drive::done(), false) }
    }
}

/// The call.
#[derive(Debug)]
pub struct Call {
    pub(super) settings: Settings,
    pub(super) fights: Vec<Arc<Fight>>,
    pub(super) generation: Generation,
    pub(super) stage: Stage,
    /// Everybody, and whom the desk has cast.
    pub(super) ensemble: Ensemble,
    pub(super) past_holds: Vec<Hold>,
    /// What nearly went wrong, newest first, and how often.
    pub(super) near_misses: Vec<NearMiss>,
    pub(super) near_miss_count: u32,
    pub(super) signing: Signing,
    /// Tonight's order.
    pub(super) evening: Evening,
    /// True from the end of a call until another begins.
    pub(super) over: bool,
    /// When something was last written down.
    pub(super) last_entry: ServerTime,
    /// What became of the taps of late, so that one sent again is known.
    pub(super) taps: Taps<Option<TapFate>>,
    /// What is written down once no pull can take it back.
    pub(super) unsettled: Unsettled,
    /// When a person stopped the run that stands stopped.
    pub(super) ended_at: Option<ServerTime>,
    /// The trial of the hold that goes on.
    pub(super) trial: Option<Trial>,
    pub(super) next_trial: u32,
    pub(super) next_hold: u32,
    pub(super) next_run: u32,
    /// The name of the event that was made last.
    pub(super) last_event: EventId,
    /// The last events that whoever decides must have seen.
    pub(super) sights: Sights,
    pub(super) now: ServerTime,
    pub(super) out: Vec<Output>,
}

impl Call {
    /// A call in which nothing is set up, counting on from what was before it.
    pub fn new(settings: Settings, fights: Vec<Arc<Fight>>, before: Before) -> Call {
        Call {
            signing: Signing::new(settings.before_call.clone()),
            last_entry: ServerTime::default(),
            evening: Evening::first(&settings.evening, before.sessions),
            over: false,
            settings,
            fights,
            generation: before.first_generation(),
            stage: Stage::Idle,
            ensemble: Ensemble::default(),
            past_holds: Vec::new(),
            near_misses: Vec::new(),
            near_miss_count: 0,
            taps: Taps::default(),
            unsettled: Unsettled::default(),
            ended_at: None,
            trial: None,
            next_trial: 0,
            next_hold: before.last_hold.saturating_add(1),
            next_run: before.last_run.saturating_add(1),
            last_event: before.no_event(),
            sights: Sights::new(before.no_event()),
            now: ServerTime::default(),
            out: Vec::new(),
        }
    }

    /// The server was started anew in the middle of the call, which goes on with what holds from now: in a new epoch, in
    /// which nothing runs and nobody is linked. A hold that stands goes on standing. Gives what is to be done.
    pub fn restart(
        &mut self,
        now: ServerTime,
        settings: Settings,
        fights: Vec<Arc<Fight>>,
        before: Before,
    ) -> Vec<Output> {
        // Nobody saw what would have come between: a run does not go on, nor to its end, while there is no server.
        (self.trial, self.ended_at) = (None, None);
        self.stage = match std::mem::replace(&mut self.stage, Stage::Idle) {
            Stage::Places(run) | Stage::Going(run, _) => Stage::Stopped(Some(run), ANEW.to_owned()),
            other => other,
        };
        self.pass(self.now.max(now));
        self.signing.set_list(settings.before_call.clone());
        self.evening.restart(before.sessions);
        self.set_usual_evening(settings.evening.clone());
        (self.settings, self.fights) = (settings, fights);
        self.generation = before.first_generation();
        self.next_hold = self.next_hold.max(before.last_hold.saturating_add(1));
        self.next_run = self.next_run.max(before.last_run.saturating_add(1));
        self.last_event = before.no_event();
        self.sights = Sights::new(before.no_event());
        self.ensemble.roster_mut().unlink_all();
        self.hold_on_record(before.last_hold);
        self.out.extend([Output::Lives(self.generation), Output::Changed]);
        std::mem::take(&mut self.out)
    }

    /// True while something of this call is to be kept over a new start of the server: what was signed and noted, where it
    /// stands, what was held, that it is over. After a long pause, what comes is another call; a hold that stands, stands.
    pub fn is_under_way(&self, now: ServerTime) -> bool {
        let held = matches!(self.stage, Stage::Held(..));
        let nothing_said = self.past_holds.is_empty() && self.near_misses.is_empty();
        let nothing_planned = self.evening.is_untouched() && self.ensemble.casts().is_empty();
        let nothing_stands = matches!(self.stage, Stage::Idle) && !self.over;
        let blank = nothing_stands && nothing_said && nothing_planned && self.signing.is_blank();
        held || !blank && now.since(self.last_entry) <= LONGEST_PAUSE
    }

    /// Takes one input and says what must be done, in order. Time never runs backwards: an earlier `now` counts as the
    /// latest one known. What time alone does by `now` is done first, each at its own instant: it makes no difference how
    /// often a tick comes in between.
    pub fn handle(&mut self, now: ServerTime, input: Input) -> Vec<Output> {
        self.pass(self.now.max(now));
        self.take(input);
        std::mem::take(&mut self.out)
    }

    /// Lets time pass, from deadline to deadline.
    fn pass(&mut self, until: ServerTime) {
        while let Some(at) = self.deadline().filter(|at| *at <= until) {
            self.arrive(self.now.max(at));
            if self.deadline().is_some_and(|next| next <= at) {
                // Whatever waits for this instant was done, so nothing more comes of waiting for it.
                break;
            }
        }
        self.arrive(until);
    }

    /// It is so late now.
    fn arrive(&mut self, now: ServerTime) {
        self.now = now;
        if now.since(self.last_entry) > LONGEST_PAUSE {
            let missed = !self.near_misses.is_empty();
            self.forget_near_misses();
            let planned = !self.evening.is_untouched() || !self.ensemble.casts().is_empty();
            let over = std::mem::replace(&mut self.over, false);
            if planned {
                self.begin_evening();
            }
            if self.signing.clear() || missed || planned || over {
                self.out.push(Output::Changed);
            }
        }
        self.advance();
    }

    /// The same call, begun at that time: earlier ones than 0 are of a clock that is not running any more.
    pub fn begun_at(self, at: ServerTime) -> Call {
        Call { now: at, last_entry: at, ..self }
    }

    /// The latest time that it knows.
    pub fn now(&self) -> ServerTime {
        self.now
    }

    /// No pull can arrive any more for an instant before `until`: what time alone did up to there is written down.
    pub fn settle(&mut self, until: ServerTime) -> Vec<Output> {
        let settled = self.unsettled.settle(until);
        settled.into_iter().map(Output::Journal).collect()
    }

    /// When the call wants a [`Input::Tick`] next.
    pub fn deadline(&self) -> Option<ServerTime> {
        let trial = self.trial.as_ref().map(Trial::limit);
        let Stage::Going(run, going) = &self.stage else { return trial };
        let first_beat = run.start.filter(|_| going.counting_in);
        let next_moment = going.driver.reached(self.now, run).map_or(0, |reached| reached + 1);
        let next_phrase = run.plan.moments().get(next_moment).and_then(|moment| run.due(moment));
        [going.driver.deadline(run), first_beat, next_phrase, run.end(), trial].into_iter().flatten().min()
    }

    /// The generation that lives.
    pub fn generation(&self) -> Generation {
        self.generation
    }

    /// Where the call stands.
    pub fn stage(&self) -> &Stage {
        &self.stage
    }

    /// True while a run counts in.
    pub fn counts_in(&self) -> bool {
        matches!(&self.stage, Stage::Going(_, going) if going.counting_in)
    }

    /// The last event that whoever calls places or starts must have seen.
    pub fn last_event(&self) -> EventId {
        self.sights.last()
    }

    /// What became of a member's tap; nothing when it is not known, or on its way to the disk.
    pub fn fate_of(&self, member: MemberId, tap: &str) -> Option<TapFate> {
        self.taps.get(member, tap).copied().flatten()
    }

    /// Everybody.
    pub fn roster(&self) -> &Roster {
        self.ensemble.roster()
    }

    /// The fights that can be run.
    pub fn fights(&self) -> &[Arc<Fight>] {
        &self.fights
    }

    /// The holds of this call that were released, newest first.
    pub fn past_holds(&self) -> &[Hold] {
        &self.past_holds
    }

    /// The checks of this call and who is there.
    pub fn signing(&self) -> &Signing {
        &self.signing
    }

    /// The run that is set up, going, held, stopped or complete.
    pub fn run(&self) -> Option<&Run> {
        match &self.stage {
            Stage::Idle => None,
            Stage::Places(run) | Stage::Going(run, _) | Stage::Complete(run) => Some(run),
            Stage::Held(_, run) | Stage::Stopped(run, _) => run.as_ref(),
        }
    }

    /// Where the run is, or was when it was held.
    pub fn spot(&self) -> Option<Spot> {
        match &self.stage {
            Stage::Going(run, going) => run.spot(going.driver.reached(self.now, run)?),
            Stage::Held(hold, _) => hold.spot.clone(),
            _ => None,
        }
    }

    /// How many steps a walk-through has taken that goes; nothing when none goes.
    pub fn steps(&self) -> Option<u32> {
        let Stage::Going(_, going) = &self.stage else { return None };
        going.driver.steps()
    }

    /// A speed that was asked for and whose phrase has not come: its phrase's name with it.
    pub fn next_speed(&self) -> Option<(Speed, &str)> {
        let Stage::Going(run, going) = &self.stage else { return None };
        let here = going.phrase.unwrap_or(0);
        let speed = run.plan.phrases().get(here)?.speed;
        run.plan
            .phrases()
            .iter()
            .skip(here + 1)
            .find(|phrase| phrase.speed != speed)
            .map(|p| (p.speed, p.name.as_str()))
    }

    fn take(&mut self, input: Input) {
        match input {
            Input::Joined { member, name, role, part, instead_of } => {
                self.joined(member, (name, role), part, instead_of);
            }
            Input::Known { member, name, role, part } => self.known(member, name, role, part),
            Input::Left { member, name, role } => self.ensemble.roster_mut().has_left(member, name, role),
            Input::SamePerson { member, of } => self.same_person(member, of),
            Input::Gone(member) => self.gone(member),
            Input::LinkBack(member) => self.link_back(member),
            Input::LinkLost(member) => self.link_lost(member),
            Input::From(member, act) => self.act(member, act),
            Input::Tried { member, trial, answer } => self.tried(member, trial, answer),
            Input::Pulled(pulling) => self.pulled(pulling),
            Input::Tap(member, tap) => self.tap(member, tap),
            Input::KnownTap(member, tap, fate) => drop(self.taps.put(member, &tap, Some(fate))),
            Input::FootStep => self.foot_step(),
            Input::HoldWritten { hold, tap } => self.hold_written(hold, tap),
            Input::LateWritten { member, tap } => self.late_written(member, tap),
            Input::Reported(reported) => self.reported(reported),
            Input::ReadAnew { fights, checks, why, evening } => {
                self.fights = fights;
                self.signing.set_list(checks);
                self.settings.why = why;
                self.set_usual_evening(evening);
                self.out.push(Output::Changed);
            }
            Input::Hush => {
                if matches!(self.stage, Stage::Idle | Stage::Stopped(..) | Stage::Complete(_)) {
                    self.raise();
                    self.out.push(Output::Changed);
                }
            }
            Input::Tick => {}
        }
    }

    fn act(&mut self, member: MemberId, act: Act) {
        let Some(role) = self.ensemble.roster().get(member).map(|member| member.role) else { return };
        let asked = act.asked();
        let power = match &act {
            Act::Release { .. } => Power::Release,
            Act::Stop(_) => Power::Stop,
            Act::Ready { .. } => Power::Perform,
            Act::TakePart { member: whose, .. } if *whose == member => Power::Perform,
            Act::TakePart { .. } | Act::Cast { .. } => Power::Invite,
            Act::PlacesFor { .. } | Act::Order { .. } => Power::Drive,
            Act::Places { .. } | Act::Start { .. } | Act::Speed(_) | Act::EndCall { .. } => Power::Drive,
            Act::Step(_) => Power::Step,
            Act::Note { .. } | Act::Reason { .. } => Power::Note,
            Act::Sign { .. } | Act::TryHold => Power::Sign,
            Act::Attend { .. } => Power::Attend,
        };
        // Whoever has called a hold says why, and what there is to say of it, whatever their role.
        let own = match &act {
            Act::Note { hold, .. } | Act::Reason { hold, .. } => self.has_called(member, *hold),
            _ => false,
        };
        let done = if own || role.may(power) {
            self.allowed(member, act)
        } else {
            Err(format!("A {} has no power to {}. Ask the stage manager.", role.title(), power.phrase()))
        };
        if let Err(reason) = done {
            self.out.push(Output::Refused { member, asked, reason });
        }
    }

    fn allowed(&mut self, member: MemberId, act: Act) -> Result<(), String> {
        match act {
            Act::Release { hold, seen } => self.release(member, hold, seen),
            Act::Stop(reason) => self.stop(member, reason),
            Act::Ready { ready, generation } => self.ready(member, ready, generation),
            Act::TakePart { member: whose, part } => self.take_part(member, whose, part),
            Act::Places { request, seen } => self.places(member, &request, seen, None),
            Act::PlacesFor { item, seen } => self.places_for(member, item, seen),
            Act::Order { items, seen } => self.order(member, items, seen),
            Act::Cast { fight, part, member: whom } => self.cast(member, fight, part, whom),
            Act::Start { generation, anyway, seen } => self.start(member, generation, anyway, seen),
            Act::Step(step) => self.step(member, step),
            Act::Speed(percent) => self.speed(member, percent),
            Act::Note { hold, text } => self.note(member, hold, text),
            Act::Reason { hold, reason } => self.give_reason(member, hold, reason),
            Act::Sign { check, in_order, note, by } => self.sign(member, check, in_order, note, by),
            Act::Attend { person, present } => self.attend(member, person, present),
            Act::EndCall { signed_by } => self.end_call(member, signed_by),
            Act::TryHold => self.try_hold(member),
        }
    }
}

// What the parts of the machine share.
impl Call {
    /// A new generation: every older cue and sound is dead.
    pub(super) fn raise(&mut self) {
        self.generation = self.generation.next();
        self.out.push(Output::Lives(self.generation));
    }

    /// Somebody by name and role, also when they have left.
    pub(super) fn named(&self, id: MemberId) -> Option<(String, Role)> {
        match id {
            MemberId::FOOT_SWITCH => Some((MemberId::FOOT_SWITCH_NAME.to_owned(), Role::Desk)),
            MemberId::MACHINE => Some((MemberId::MACHINE_NAME.to_owned(), Role::Desk)),
            _ => self.ensemble.roster().name_of(id).map(|(name, role)| (name.to_owned(), role)),
        }
    }

    /// Somebody as an event names them.
    pub(super) fn who(&self, id: MemberId) -> Option<Who> {
        self.named(id).map(|(name, role)| Who { name, member: id.of_person(), role: Some(role) })
    }

    /// An event with nothing in it but its name, the time and what happened.
    pub(super) fn event(&mut self, what: What) -> Event {
        self.last_event.number += 1;
        Event::new(self.last_event, self.now, what)
    }

    /// Writes down what somebody did, behind what still may be taken back.
    pub(super) fn write(&mut self, entry: impl Into<Entry>) {
        self.last_entry = self.now;
        let entry = entry.into();
        self.sights.take(&entry);
        self.out.extend(self.unsettled.by_somebody(entry).map(Output::Journal));
    }

    /// Writes down what time alone did at that instant, once no pull can take it back.
    pub(super) fn write_by_time(&mut self, at: ServerTime, entry: impl Into<Entry>) {
        self.last_entry = self.now;
        let entry = entry.into();
        self.sights.take(&entry);
        self.unsettled.by_time(at, entry);
    }
}
