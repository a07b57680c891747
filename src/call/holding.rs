//! Holds: what pulled the brake becomes one or joins the one that stands, a release lets go of it, a note is added to it.
//! By the time the call hears of a pull everything is silent and everybody has the stop; the call gives it a number, a
//! place and names. The place is that of the instant of the pull, however late the call takes it.

use std::collections::BTreeMap;

use super::{
    Call, Caller, FightCast, Hold, HoldId, Member, MemberId, Output, Puller, Pulling, Role, Run, Spot, Stage, Tap,
    TapFate,
};
use crate::event::{Called, Event, EventId, RunEnd, RunEnded, UnderWay, What, Who};
use crate::units::{ServerTime, Speed};

/// How many past holds the screens are told of; the journal has them all.
const PAST_HOLDS: usize = 20;

/// Where a hold hit, how fast it went there, and what it broke off.
#[derive(Clone, Debug, Default)]
struct Place {
    run: Option<u32>,
    spot: Option<Spot>,
    speed: Option<Speed>,
    under_way: Vec<UnderWay>,
    ended: Option<RunEnded>,
}

impl Call {
    /// The brake was pulled: a hold, whatever goes on and whatever has become of whoever pulled it.
    pub(super) fn pulled(&mut self, pulling: Pulling) {
        // Of what time alone has done by now nothing is carried out any more; what it has written down stays written.
        let mut written = std::mem::take(&mut self.out);
        written.retain(|output| matches!(output, Output::Journal(_)));
        let at = pulling.at.min(self.now);
        let (caller, tap) = self.caller(pulling.by);
        let called = |hold| Called { hold, tap, reason: caller.reason.clone(), screen: caller.screen.clone() };
        if let Stage::Held(hold, run) = &mut self.stage {
            let call = called(hold.id);
            let run = run.as_ref().and_then(Run::begun_number);
            let place = Place { run, spot: hold.spot.clone(), speed: hold.speed, ..Place::default() };
            self.out = written;
            return self.announce(caller, place, at, What::HoldJoined(call));
        }
        self.take_back(at);
        // What is real ends what was tried.
        self.trial = None;
        let ended = self.generation;
        self.generation = self.generation.max(pulling.dead).next();
        self.out.push(Output::Silence(self.generation));
        let id = HoldId(self.next_hold);
        self.next_hold += 1;
        let call = called(id);
        let (run, mut place) = self.hit(at, caller.member);
        let hold = Hold {
            id,
            generation: self.generation,
            ended,
            at,
            spot: place.spot.clone(),
            speed: place.speed,
            under_way: place.under_way.clone(),
            callers: Vec::new(),
            calls: 0,
            last_event: self.last_event,
            event: self.last_event,
            reason: None,
            written: false,
            released_by: None,
            notes: Vec::new(),
            forgotten_notes: 0,
        };
        self.stage = Stage::Held(Box::new(hold), run);
        self.out.push(Output::Held);
        self.out.append(&mut written);
        // A still earlier pull would only join: what stands before the hold is settled with it.
        let settled = self.unsettled.settle(ServerTime(i64::MAX));
        settled.into_iter().for_each(|entry| self.write(entry));
        let under_way = std::mem::take(&mut place.under_way);
        self.announce(caller, place, at, What::Hold { call, under_way });
    }

    /// A tap that did not pull: one that is known is answered as before, one that was kept for a generation that has
    /// ended is only written down, and answered once it is on disk: its page keeps it until then.
    pub(super) fn tap(&mut self, member: MemberId, tap: Tap) {
        match self.taps.get(member, &tap.id).copied() {
            Some(Some(fate)) => return self.out.push(Output::TapAnswer { member, tap: tap.id, fate }),
            // It is on its way to the disk, from where its answer comes.
            Some(None) => return,
            None => drop(self.taps.put(member, &tap.id, None)),
        }
        let (who, run) = (self.who(member), self.run().and_then(Run::begun_number));
        let event = Event { who, run, ..self.event(What::HoldLate { tap: Some(tap.id), reason: tap.reason }) };
        self.write(event);
    }

    /// Whoever pulled, with the name of their tap.
    fn caller(&self, by: Puller) -> (Caller, Option<String>) {
        let why = match &by {
            Puller::Member(_, tap) => tap.reason.clone(),
            Puller::LostLink(_) => Some("link lost".to_owned()),
            Puller::Machine(why) => Some(why.clone().into_owned()),
            Puller::FootSwitch => None,
        };
        let (member, tap) = match by {
            Puller::Member(member, tap) => (member, Some(tap)),
            Puller::LostLink(member) => (member, None),
            Puller::FootSwitch => (MemberId::FOOT_SWITCH, None),
            Puller::Machine(_) => (MemberId::MACHINE, None),
        };
        let by_lost_link = tap.is_none() && member.of_person().is_some();
        let (name, role) = self.named(member).unwrap_or_else(|| ("somebody who has left".to_owned(), Role::Observer));
        let screen = tap.as_ref().and_then(|tap| self.screen_spot(tap));
        let caller = Caller {
            member,
            name,
            role,
            reason: why,
            screen,
            by_lost_link,
            times: 0,
            last_call: self.last_event,
            warned: BTreeMap::new(),
        };
        (caller, tap.map(|tap| tap.id))
    }

    /// What the call did for later instants by time alone, before it took the pull, is taken back: it is in no record.
    fn take_back(&mut self, at: ServerTime) {
        let phrases = self.unsettled.take_back(at);
        if let Stage::Going(_, going) = &mut self.stage {
            going.phrase = going.phrase.and_then(|last| last.checked_sub(phrases));
        }
        let ended_later = matches!(&self.stage, Stage::Complete(run) if run.end().is_some_and(|end| at < end));
        if ended_later && let Stage::Complete(run) = std::mem::replace(&mut self.stage, Stage::Idle) {
            self.evening.take_back(run.number);
            let last = run.plan.phrases().len().checked_sub(1 + phrases);
            self.stage = Stage::Going(run, super::machine::Going::ended(last));
        }
    }

    /// The run that an instant hit, taken off the stage, and where it was then.
    fn hit(&mut self, at: ServerTime, by: MemberId) -> (Option<Run>, Place) {
        let part = match &mut self.stage {
            Stage::Going(run, going) => run.part(going.kept.reading(&self.ensemble, run).of(by)).map(str::to_owned),
            _ => self.part_of(by).map(str::to_owned),
        };
        let place = |run: &Run, reached: Option<usize>| {
            let called = reached.map(|moment| run.called_at(moment, part.as_deref()));
            let (spot, under_way) = called.unwrap_or_default();
            let speed = run.speed_at(reached.unwrap_or(0));
            Place { run: Some(run.number), spot, speed, under_way, ended: None }
        };
        match std::mem::replace(&mut self.stage, Stage::Idle) {
            Stage::Going(run, going) => {
                let reached = going.driver.reached(at, &run);
                let place = place(&run, reached);
                let last = reached.and_then(|moment| run.spot(moment));
                let ended = Some(run.ended(RunEnd::Held, last, at));
                (Some(run), Place { ended, ..place })
            }
            // A person ended it after that instant: the hold hit it all the same.
            Stage::Stopped(Some(run), _) if run.start.is_some() && self.ended_at.is_some_and(|ended| at <= ended) => {
                let place = place(&run, run.reached(at));
                (Some(run), place)
            }
            Stage::Places(run) | Stage::Complete(run) | Stage::Stopped(Some(run), _) => {
                let number = run.begun_number();
                (Some(run), Place { run: number, ..Place::default() })
            }
            Stage::Stopped(None, _) | Stage::Idle | Stage::Held(..) => (None, Place::default()),
        }
    }

    /// Counts the call to the hold that stands, answers whoever called, and writes it down.
    fn announce(&mut self, caller: Caller, place: Place, at: ServerTime, what: What) {
        let named = self.event(what);
        if let Stage::Held(hold, _) = &mut self.stage {
            hold.join(&caller, named.id);
        }
        if let (Some(tap), Some(hold)) = (named.what.tap(), named.what.hold()) {
            let fate = TapFate::Held(hold);
            self.taps.put(caller.member, tap, Some(fate));
            self.out.push(Output::TapAnswer { member: caller.member, tap: tap.to_owned(), fate });
        }
        self.out.push(Output::Changed);
        let event = Event {
            at,
            who: Some(Who { name: caller.name, member: caller.member.of_person(), role: Some(caller.role) }),
            run: place.run,
            spot: place.spot,
            percent: place.speed.map(Speed::as_percent),
            ..named
        };
        self.write(event);
        if let Some(ended) = place.ended {
            self.write(ended);
        }
    }

    fn screen_spot(&self, tap: &Tap) -> Option<Spot> {
        let meant = match &self.stage {
            Stage::Held(hold, _) => hold.ended,
            _ => self.generation,
        };
        let cue = usize::try_from(tap.screen_cue?).ok()?;
        (tap.generation == meant).then(|| self.run()?.spot(cue)).flatten()
    }

    pub(super) fn hold_written(&mut self, id: HoldId, tap: Option<(MemberId, String)>) {
        if let Some(hold) = self.hold_mut(id) {
            hold.written = true;
        }
        if let Some((member, tap)) = tap {
            let fate = TapFate::Written(id);
            self.taps.put(member, &tap, Some(fate));
            self.out.push(Output::TapAnswer { member, tap, fate });
        }
        self.out.push(Output::Changed);
    }

    /// Holds up to that one are on disk.
    pub(super) fn hold_on_record(&mut self, last: u32) {
        let standing = match &mut self.stage {
            Stage::Held(hold, _) => Some(hold.as_mut()),
            _ => None,
        };
        for hold in standing.into_iter().chain(&mut self.past_holds).filter(|hold| hold.id.0 <= last) {
            hold.written = true;
        }
    }

    pub(super) fn late_written(&mut self, member: MemberId, tap: String) {
        self.taps.put(member, &tap, Some(TapFate::Late));
        self.out.push(Output::TapAnswer { member, tap, fate: TapFate::Late });
    }

    pub(super) fn release(&mut self, member: MemberId, id: HoldId, seen: EventId) -> Result<(), String> {
        let Stage::Held(hold, _) = &mut self.stage else {
            return Err("Nothing is held, so there is nothing to release.".to_owned());
        };
        if hold.id != id {
            return Err("That hold is over; another one stands. Look again before you release it.".to_owned());
        }
        hold.refuse_unseen(member, seen)?;
        let Stage::Held(mut hold, run) = std::mem::replace(&mut self.stage, Stage::Idle) else { return Ok(()) };
        let who = self.who(member);
        hold.released_by = who.as_ref().map(|who| who.name.clone());
        let (spot, speed) = (hold.spot.clone(), hold.speed);
        let number = run.as_ref().and_then(Run::begun_number);
        self.past_holds.insert(0, *hold);
        self.past_holds.truncate(PAST_HOLDS);
        self.stage = match run {
            None => Stage::Idle,
            run => Stage::Stopped(run, "Released.".to_owned()),
        };
        self.ended_at = None;
        self.out.push(Output::Free);
        self.out.push(Output::Lives(self.generation));
        self.out.push(Output::Changed);
        let percent = speed.map(Speed::as_percent);
        let event = Event { who, spot, percent, run: number, ..self.event(What::Release { hold: id }) };
        self.write(event);
        Ok(())
    }

    pub(super) fn note(&mut self, member: MemberId, id: HoldId, text: String) -> Result<(), String> {
        let text = text.trim().to_owned();
        if text.is_empty() {
            return Err("The note is empty. Write a word first.".to_owned());
        }
        let Some(hold) = self.hold_mut(id) else {
            return Err(
                "That hold is no longer on the desk, so the note was not taken. Write it into the report.".to_owned()
            );
        };
        hold.note(text.clone());
        let spot = hold.spot.clone();
        self.out.push(Output::Changed);
        let what = What::Note { hold: Some(id), text: Some(text) };
        let event = Event { who: self.who(member), spot, ..self.event(what) };
        self.write(event);
        Ok(())
    }

    /// True when the lost link of that member holds now: the house holds for their role, and they take part in what goes, by
    /// its cast.
    pub fn holds_if_lost(&self, cast: &FightCast<'_>, id: MemberId, member: &Member) -> bool {
        if !matches!(self.stage, Stage::Going(..)) {
            return false;
        }
        let takes_part = match member.role {
            Role::Performer => cast.part_of(id).is_some(),
            _ => true,
        };
        takes_part && self.settings.hold_on_lost_link.contains(&member.role)
    }
}
