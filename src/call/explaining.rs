//! The reason of a hold, given after it and never before, and what nearly went wrong without one. Nothing of it bears on
//! whether anything stands, runs or is released.

use super::{Call, Hold, HoldId, MemberId, NearMiss, Output, Reason, Reported, Run, Stage, Why};
use crate::event::{Event, What};
use crate::units::Speed;

/// How many near misses of a call the screens are told of; the journal has them all.
const MOST_NEAR_MISSES: usize = 20;

impl Call {
    /// What the house decides about reasons and near misses.
    pub fn why(&self) -> &Why {
        &self.settings.why
    }

    /// The near misses of this call that screens are told of, newest first, and how many there were.
    pub fn near_misses(&self) -> (&[NearMiss], u32) {
        (&self.near_misses, self.near_miss_count)
    }

    /// The hold that was released last, until something is set up or ends: its callers may still be asked why.
    pub fn released(&self) -> Option<&Hold> {
        let stands = matches!(self.stage, Stage::Idle | Stage::Stopped(..));
        self.past_holds.first().filter(|hold| stands && hold.generation == self.generation)
    }

    /// True when that member has called that hold.
    pub(super) fn has_called(&self, member: MemberId, id: HoldId) -> bool {
        let called = |hold: &Hold| hold.callers.iter().any(|caller| caller.member == member && !caller.by_lost_link);
        self.hold(id).is_some_and(called)
    }

    fn hold(&self, id: HoldId) -> Option<&Hold> {
        match &self.stage {
            Stage::Held(hold, _) if hold.id == id => Some(hold.as_ref()),
            _ => self.past_holds.iter().find(|hold| hold.id == id),
        }
    }

    pub(super) fn hold_mut(&mut self, id: HoldId) -> Option<&mut Hold> {
        match &mut self.stage {
            Stage::Held(hold, _) if hold.id == id => Some(hold.as_mut()),
            _ => self.past_holds.iter_mut().find(|hold| hold.id == id),
        }
    }

    /// Somebody says why a hold was called. Said again it is nothing new; another reason takes its place.
    pub(super) fn give_reason(&mut self, member: MemberId, id: HoldId, reason: String) -> Result<(), String> {
        if !self.settings.why.reasons.contains(&reason) {
            return Err(format!(
                "“{reason}” is not on the company's list of reasons any more. Look at the list again."
            ));
        }
        let Some((by, _)) = self.named(member) else { return Ok(()) };
        let Some(hold) = self.hold_mut(id) else {
            return Err(
                "That hold is no longer on the desk, so the reason was not taken. Write it into the report.".to_owned()
            );
        };
        if hold.reason.as_ref().is_some_and(|given| given.says == reason) {
            return Ok(());
        }
        hold.reason = Some(Reason { says: reason.clone(), by });
        let (of, spot, percent) = (hold.event, hold.spot.clone(), hold.speed.map(Speed::as_percent));
        self.out.push(Output::Changed);
        let what = What::Reason { of, hold: Some(id), reason };
        let event = Event { who: self.who(member), spot, percent, ..self.event(what) };
        self.write(event);
        Ok(())
    }

    /// Something nearly went wrong. It is kept whatever goes on, and changes nothing of it.
    pub(super) fn reported(&mut self, reported: Reported) {
        let Reported { by, run, at, reason, note } = reported;
        let meant = self.run().filter(|it| it.begun_number().is_some() && it.begun_number() == run);
        let place = meant.zip(at).and_then(|(run, (phrase, number))| run.moment_of(phrase, number).map(|at| (run, at)));
        let spot = place.and_then(|(run, moment)| run.spot_of(moment, at.map(|(_, number)| number)));
        let percent = place.and_then(|(run, moment)| run.speed_at(moment)).map(Speed::as_percent);
        let number = meant.and_then(Run::begun_number);
        let note = note.map(|note| note.trim().to_owned()).filter(|note| !note.is_empty());
        let who = by.and_then(|by| self.who(by));
        let miss = NearMiss {
            at: self.now,
            by: who.as_ref().map(|who| who.name.clone()),
            spot: spot.clone(),
            reason: reason.clone(),
            note: note.clone(),
        };
        self.near_misses.insert(0, miss);
        self.near_misses.truncate(MOST_NEAR_MISSES);
        self.near_miss_count = self.near_miss_count.saturating_add(1);
        self.out.push(Output::Changed);
        let event = Event { who, run: number, spot, percent, ..self.event(What::NearMiss { reason, note }) };
        self.write(event);
    }

    /// Another call begins, of which nothing is known.
    pub(super) fn forget_near_misses(&mut self) {
        self.near_misses.clear();
        self.near_miss_count = 0;
    }
}
