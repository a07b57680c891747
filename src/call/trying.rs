//! The trial of the hold, before a call: every phone is told as a hold would tell it, shows and sounds it, and answers by
//! itself. Nothing is held. Once all have answered, or after three seconds, the result is a check of the call that names
//! who is missing or slow; a later trial replaces it.

use super::trial::Trial;
use super::{Call, Member, MemberId, Output, Role, Signature, Stage, TRIAL, TRIAL_SLOW, TrialAnswer};
use crate::event::{Event, What};
use crate::units::Micros;

impl Call {
    /// Tells every phone. Only while nothing runs, is held or stands at places.
    pub(super) fn try_hold(&mut self, by: MemberId) -> Result<(), String> {
        if !matches!(self.stage, Stage::Idle | Stage::Stopped(..) | Stage::Complete(_)) {
            return Err(
                "The hold is tried before places are called, while nothing runs and nothing is held.".to_owned()
            );
        }
        if self.trial.is_some() {
            return Err("The hold is being tried already. The result comes in a moment.".to_owned());
        }
        let Some((name, _)) = self.named(by) else { return Ok(()) };
        let (linked, others): (Vec<_>, Vec<_>) = self.ensemble.roster().iter().partition(|(_, member)| member.linked);
        let plays = |member: &Member| member.part.is_some() && !self.signing.is_away(&member.name);
        let needed = others.into_iter().filter(|(_, member)| plays(member) || member.role == Role::Captain);
        self.next_trial += 1;
        let trial = Trial {
            number: self.next_trial,
            by,
            at: self.now,
            told: linked.iter().map(|(id, _)| (*id, None)).collect(),
            without_link: needed.map(|(_, member)| member.name.clone()).collect(),
        };
        self.out.push(Output::Try { trial: trial.number, by: name, members: trial.told.keys().copied().collect() });
        self.trial = Some(trial);
        Ok(())
    }

    /// A page has answered a trial. One that is over, or that it was not told of, is nothing any more.
    pub(super) fn tried(&mut self, member: MemberId, number: u32, answer: TrialAnswer) {
        let now = self.now;
        let Some(trial) = self.trial.as_mut().filter(|trial| trial.number == number) else { return };
        if let Some(told @ None) = trial.told.get_mut(&member) {
            *told = Some((now.since(trial.at), answer));
        }
        if trial.is_complete() {
            self.end_trial();
        }
    }

    /// What time alone does to a trial.
    pub(super) fn trial_is_over(&mut self) {
        if self.trial.as_ref().is_some_and(|trial| trial.limit() <= self.now) {
            self.end_trial();
        }
    }

    /// The result is signed as a check, by whoever tried.
    fn end_trial(&mut self) {
        let Some(trial) = self.trial.take() else { return };
        let Some((name, _)) = self.named(trial.by) else { return };
        let (in_order, note) = self.result_of(&trial);
        let note = Some(note);
        let signature = Signature { by: name, at: self.now, in_order, note: note.clone() };
        self.signing.put(TRIAL.to_owned(), signature);
        self.out.push(Output::Changed);
        let what = What::Check { check: TRIAL.to_owned(), in_order, note, by: None };
        let event = Event { who: self.who(trial.by), ..self.event(what) };
        self.write(event);
    }

    /// Whether everybody was reached, and the sentences that say so.
    fn result_of(&self, trial: &Trial) -> (bool, String) {
        let name =
            |id: &MemberId| self.ensemble.roster().name_of(*id).map_or_else(String::new, |(name, _)| name.to_owned());
        let answers = || trial.told.iter().filter_map(|(id, answer)| Some((id, (*answer)?)));
        let missing = trial.told.iter().filter(|(_, answer)| answer.is_none()).map(|(id, _)| name(id)).collect();
        let slow = answers().filter(|(_, (after, _))| *after > TRIAL_SLOW);
        let slow = slow.map(|(id, (after, _))| format!("{} after {}", name(id), seconds(after))).collect();
        let hidden = answers().filter(|(_, (_, answer))| !answer.shown).map(|(id, _)| name(id)).collect();
        let unfelt = answers().filter(|(_, (_, answer))| !answer.felt).map(|(id, _)| name(id)).collect();
        let slowest = answers().map(|(_, (after, _))| after).max();
        let answered = answers().count();
        let count = match (answered, trial.told.len(), slowest) {
            (answered, all, Some(slowest)) => {
                format!("{answered} of {all} answered, the slowest after {}.", seconds(slowest))
            }
            (_, all, None) => format!("0 of {all} answered."),
        };
        let faults = [
            named("No answer", missing),
            named("No link", trial.without_link.clone()),
            named("Slow", slow),
            named("Page not in sight", hidden),
        ];
        let in_order = faults.iter().all(Option::is_none);
        // A phone that stays silent is a choice of the person's, and no fault.
        let silent = named("Shown only, without sound or vibration", unfelt);
        let sentences: Vec<String> = [Some(count)].into_iter().chain(faults).chain([silent]).flatten().collect();
        (in_order, sentences.join(" "))
    }
}

fn seconds(after: Micros) -> String {
    format!("{:.2} s", after.as_seconds())
}

/// Names under what is the matter with them; nothing when there are none.
fn named(what: &str, names: Vec<String>) -> Option<String> {
    (!names.is_empty()).then(|| format!("{what}: {}.", names.join(", ")))
}
