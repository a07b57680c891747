//! What the record of a fight call needs besides its runs: the company's checks with who signed them, and whom the desk
//! noted as present or absent. A new call begins with nothing signed: when the desk has ended the
//! one before, or when nothing happened for so long that it must have been another.

use std::collections::BTreeMap;

use crate::units::{Micros, ServerTime};

/// So long without anything written down, and what comes is another call: an hour and a half. The review divides the
/// journal by the same rule.
pub const LONGEST_PAUSE: Micros = Micros(90 * 60 * 1_000_000);

/// A check, signed.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Signature {
    /// Who signed.
    pub by: String,
    /// When.
    pub at: ServerTime,
    /// False when it was signed as not in order.
    pub in_order: bool,
    /// What was noted.
    pub note: Option<String>,
}

/// The checks of this call, and who is there.
#[derive(Clone, Debug, Default)]
pub struct Signing {
    pub(super) list: Vec<String>,
    signed: BTreeMap<String, Signature>,
    noted: BTreeMap<String, Presence>,
}

/// What the desk noted of somebody.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) enum Presence {
    /// They are there.
    Present,
    /// They are not.
    Absent {
        /// The part that they had, which somebody may cover.
        part: Option<String>,
    },
}

impl Signing {
    pub(super) fn new(list: Vec<String>) -> Signing {
        Signing { list, ..Signing::default() }
    }

    /// The company's list, in its order, each with its signature; then what was signed and is no longer on the list.
    pub fn checks(&self) -> impl Iterator<Item = (&str, Option<&Signature>)> {
        let listed = self.list.iter().map(|check| (check.as_str(), self.signed.get(check)));
        let others = self.signed.iter().filter(|(check, _)| !self.list.contains(check));
        listed.chain(others.map(|(check, signature)| (check.as_str(), Some(signature))))
    }

    /// Whom the desk noted, by name, and whether they are there.
    pub fn noted(&self) -> impl Iterator<Item = (&str, bool)> {
        self.noted.iter().map(|(person, noted)| (person.as_str(), *noted == Presence::Present))
    }

    /// Everybody who is noted as absent.
    pub(super) fn away(&self) -> impl Iterator<Item = &str> {
        self.noted().filter(|(_, present)| !present).map(|(person, _)| person)
    }

    /// True when that person is noted as absent.
    pub fn is_away(&self, person: &str) -> bool {
        self.noted.get(person).is_some_and(|noted| *noted != Presence::Present)
    }

    /// Who is noted as absent and had that part.
    pub(super) fn absent_with(&self, part: &str) -> Option<&str> {
        let had = |noted: &Presence| matches!(noted, Presence::Absent { part: Some(had) } if had == part);
        self.noted.iter().find(|(_, noted)| had(noted)).map(|(person, _)| person.as_str())
    }

    /// What is noted of somebody.
    pub(super) fn noted_of(&self, person: &str) -> Option<&Presence> {
        self.noted.get(person)
    }

    /// Something is noted of somebody.
    pub(super) fn note(&mut self, person: String, noted: Presence) {
        self.noted.insert(person, noted);
    }

    /// Of how many people something is noted.
    pub(super) fn noted_count(&self) -> usize {
        self.noted.len()
    }

    /// What speaks against starting, a sentence each.
    pub(super) fn doubts(&self) -> Vec<String> {
        let quoted = |check: &String| format!("“{check}”");
        let unsigned = self.list.iter().filter(|check| !self.signed.contains_key(*check)).map(quoted);
        let wrong = self.signed.iter().filter(|(_, signature)| !signature.in_order).map(|(check, _)| quoted(check));
        let sentence = |checks: Vec<String>, one: &str, many: &str| match checks.as_slice() {
            [] => None,
            [check] => Some(format!("{check} {one}.")),
            several => Some(format!("{} {many}.", several.join(", "))),
        };
        let unsigned = sentence(unsigned.collect(), "is not signed", "are not signed");
        let wrong = sentence(wrong.collect(), "was signed as not in order", "were signed as not in order");
        unsigned.into_iter().chain(wrong).collect()
    }

    /// Nothing is signed and nobody noted any more. True when something was.
    pub(super) fn clear(&mut self) -> bool {
        let had = !self.signed.is_empty() || !self.noted.is_empty();
        self.signed.clear();
        self.noted.clear();
        had
    }

    /// A check is signed; signed again, the last signature counts.
    pub(super) fn put(&mut self, check: String, signature: Signature) {
        self.signed.insert(check, signature);
    }

    pub(super) fn set_list(&mut self, list: Vec<String>) {
        self.list = list;
    }

    /// True when nothing is signed and nobody noted.
    pub(super) fn is_blank(&self) -> bool {
        self.signed.is_empty() && self.noted.is_empty()
    }
}
