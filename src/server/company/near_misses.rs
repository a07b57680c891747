//! Near misses that people report: with a name or without one, as the house and they choose. Whoever reports without a
//! name is forgotten here, before anything is kept: neither the call nor the journal hears of them.

use super::Company;
use super::texts::letters;
use crate::call::{Asked, Call, Input, NearMisses, Reported};
use crate::server::deed::Deed;
use crate::server::request::Speaker;
use crate::wire::ToMember;

impl Company {
    /// What becomes of a near miss that is reported over a line.
    pub(in crate::server) fn near_miss(&self, call: &Call, by: Speaker, named: bool, said: Reported) -> Vec<Deed> {
        if let Some(why) = self.takes_none(call, by, named, &said) {
            return vec![Deed::Refuse(by.link, Asked::NearMiss.word(), why)];
        }
        let keeps_name = named && call.why().near_misses != NearMisses::Unnamed;
        let reported = Reported { by: keeps_name.then_some(by.member), ..said };
        let taken = ToMember::Taken { asked: Asked::NearMiss.word().to_owned(), named: keeps_name };
        vec![Deed::Give(Input::Reported(reported)), Deed::Say(by.link, Box::new(taken))]
    }

    /// Why it is not taken, in words.
    fn takes_none(&self, call: &Call, by: Speaker, named: bool, said: &Reported) -> Option<String> {
        let why = call.why();
        let note = said.note.as_deref().unwrap_or_default();
        let longest = self.reached.limits().text_letters;
        let unlisted = said.reason.as_ref().filter(|reason| !why.reasons.contains(*reason));
        match why.near_misses {
            NearMisses::No => Some("This company takes no near misses here. Say it to the stage manager.".to_owned()),
            NearMisses::Named if !named => Some(
                "This company takes near misses with a name. Report it with yours, or say it to somebody you trust."
                    .to_owned(),
            ),
            _ if !note.is_empty() && !self.takes_notes_of(by.member) => Some(super::NO_NOTES.to_owned()),
            _ if letters(note) > longest => Some(format!(
                "The note has {} letters, and {longest} are the most that are kept. Nothing was done. Make it shorter.",
                letters(note)
            )),
            _ => unlisted.map(|reason| {
                format!("“{reason}” is not on the company's list of reasons any more. Look at the list again.")
            }),
        }
    }
}
