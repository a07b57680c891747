//! Signing the checks of a call, and noting who is there.

use super::checks::Presence;
use super::{Call, MemberId, Output, Signature, Stage, TRIAL};
use crate::event::{Event, What};

/// The longest name of a person, in characters.
const LONGEST_NAME: usize = 40;
/// How many people the desk can note in one call; no company is larger.
const MOST_PEOPLE: usize = 200;

impl Call {
    /// A check is signed: by the member who asks, or by somebody at their side whose name they give.
    pub(super) fn sign(
        &mut self,
        member: MemberId,
        check: String,
        in_order: bool,
        note: Option<String>,
        by: Option<String>,
    ) -> Result<(), String> {
        if check == TRIAL {
            return Err("The trial of the hold signs itself. Try the hold, and its result stands here.".to_owned());
        }
        if !self.signing.list.contains(&check) {
            return Err(format!("“{check}” is not on the company's list any more. Look at the list again."));
        }
        let Some((own, _)) = self.named(member) else { return Ok(()) };
        let by = named(by)?.filter(|by| *by != own);
        let note = note.map(|note| note.trim().to_owned()).filter(|note| !note.is_empty());
        let signature = Signature { by: by.clone().unwrap_or(own), at: self.now, in_order, note: note.clone() };
        self.signing.put(check.clone(), signature);
        self.out.push(Output::Changed);
        let event = Event { who: self.who(member), ..self.event(What::Check { check, in_order, note, by }) };
        self.write(event);
        Ok(())
    }

    /// Somebody is there, or is not: then they play nothing, in no fight, until they are there. To say the same again is
    /// nothing new. A run that goes keeps its people.
    pub(super) fn attend(&mut self, member: MemberId, person: String, present: bool) -> Result<(), String> {
        let Some(person) = named(Some(person))? else {
            return Err("Write the name of the person first.".to_owned());
        };
        let before = self.signing.noted_of(&person);
        if before.is_some_and(|before| (*before == Presence::Present) == present) {
            return Ok(());
        }
        if before.is_none() && self.signing.noted_count() >= MOST_PEOPLE {
            return Err(format!("{MOST_PEOPLE} people are noted already. Write the others into the report."));
        }
        let known = self.ensemble.roster().iter().find(|(_, member)| member.name == person);
        let (whose, had) = known.map_or((None, None), |(id, member)| (Some(id), member.part.clone()));
        let part = had.filter(|_| !present);
        let noted = if present { Presence::Present } else { Presence::Absent { part: part.clone() } };
        self.signing.note(person.clone(), noted);
        if !matches!(self.stage, Stage::Going(..)) {
            whose.into_iter().for_each(|whose| self.not_ready(whose));
        }
        self.out.push(Output::Changed);
        let event = Event { who: self.who(member), ..self.event(What::Attendance { person, present, part }) };
        self.write(event);
        Ok(())
    }
}

/// A name that is one; nothing for an empty one.
///
/// # Errors
/// A sentence.
pub(super) fn named(name: Option<String>) -> Result<Option<String>, String> {
    let name = name.unwrap_or_default().split_whitespace().collect::<Vec<_>>().join(" ");
    if name.chars().count() > LONGEST_NAME || name.chars().any(char::is_control) {
        return Err(format!("A name may have {LONGEST_NAME} letters at the most. Write a shorter one."));
    }
    Ok((!name.is_empty()).then_some(name))
}
