//! The cast of the score: fighters with weapons and hands, bystanders, and who is meant by a name.

use std::collections::HashMap;

use super::Known;
use crate::score::line::shown;
use crate::score::model::{Bystander, BystanderId, Fighter, FighterId, Hand, Person, SecondWeapon, Span};
use crate::score::problem::{Problem, Problems};
use crate::score::raw::{Located, RawFighter, Text};
use crate::score::vocabulary::Vocabulary;
use crate::suggest::did_you_mean;

/// Everybody in the score.
#[derive(Default)]
pub(super) struct People {
    pub(super) fighters: Vec<Fighter>,
    pub(super) bystanders: Vec<Bystander>,
    by_name: HashMap<String, (Known, Span)>,
}

impl People {
    /// True when nobody fights.
    pub(super) fn is_empty(&self) -> bool {
        self.fighters.is_empty() && !self.by_name.values().any(|(known, _)| *known == Known::Broken)
    }

    pub(super) fn fighter(&mut self, raw: &RawFighter, span: &Span, vocabulary: &Vocabulary, problems: &mut Problems) {
        let id = Known::Fighter(FighterId(self.fighters.len()));
        if !self.enter(&raw.name, id, problems) {
            return;
        }
        armed(&raw.name, &raw.weapon, &raw.hand, vocabulary, problems);
        if let Some(second) = &raw.second {
            armed(&raw.name, &second.weapon, &second.hand, vocabulary, problems);
            let both_in = |hand: Hand| hand != Hand::None && raw.hand.value == hand && second.hand.value == hand;
            if (both_in(Hand::Right) || both_in(Hand::Left)) && !raw.sheathed && !second.sheathed {
                let message = format!("{} holds two weapons in one hand", raw.name.value);
                let problem = Problem::error("S224", second.hand.span.clone(), message);
                problems.push(problem.help("give the second the other hand, or write `sheathed` behind one of them"));
            }
        }
        self.fighters.push(Fighter {
            name: raw.name.value.to_string(),
            weapon: raw.weapon.value.to_string(),
            hand: raw.hand.value,
            sheathed: raw.sheathed,
            second: raw.second.as_ref().map(|second| SecondWeapon {
                weapon: second.weapon.value.to_string(),
                hand: second.hand.value,
                sheathed: second.sheathed,
            }),
            span: span.clone(),
        });
    }

    pub(super) fn bystander(&mut self, name: &Text, problems: &mut Problems) {
        if self.enter(name, Known::Bystander(BystanderId(self.bystanders.len())), problems) {
            self.bystanders.push(Bystander { name: name.value.to_string(), span: name.span.clone() });
        }
    }

    /// Somebody whose line could not be understood.
    /// The weapon hand of somebody by name; right for whoever is not known.
    pub(super) fn hand(&self, name: &str) -> Hand {
        match self.by_name.get(name) {
            Some((Known::Fighter(id), _)) => self.fighters.get(id.0).map_or(Hand::Right, |fighter| fighter.hand),
            _ => Hand::Right,
        }
    }

    pub(super) fn broken(&mut self, name: &Text) {
        self.by_name.entry(name.value.to_string()).or_insert((Known::Broken, name.span.clone()));
    }

    fn enter(&mut self, name: &Text, known: Known, problems: &mut Problems) -> bool {
        if let Some((_, first)) = self.by_name.get(name.value.as_str()) {
            let message = format!("{} is in the cast twice", shown(&name.value));
            problems.push(
                Problem::error("S205", name.span.clone(), message)
                    .related(first.clone(), "first here")
                    .help("give one of them another name"),
            );
            return false;
        }
        self.by_name.insert(name.value.to_string(), (known, name.span.clone()));
        true
    }

    /// Anybody. Reports a name that nobody has; nothing also when the name's own line is broken.
    pub(super) fn person(&self, name: &Text, problems: &mut Problems) -> Option<Person> {
        match self.by_name.get(name.value.as_str()) {
            Some((Known::Fighter(id), _)) => Some(Person::Fighter(*id)),
            Some((Known::Bystander(id), _)) => Some(Person::Bystander(*id)),
            Some((Known::Broken, _)) => None,
            None => {
                self.unknown(name, problems);
                None
            }
        }
    }

    /// A fighter. Reports a name that nobody has or that a bystander has.
    pub(super) fn acting(&self, name: &Text, problems: &mut Problems) -> Option<FighterId> {
        match self.person(name, problems)? {
            Person::Fighter(id) => Some(id),
            Person::Bystander(id) => {
                let message = format!("{} is a bystander, and bystanders only stand and walk", shown(&name.value));
                let mut problem = Problem::error("S208", name.span.clone(), message)
                    .help("write the name under `fighters` if this character fights");
                if let Some(bystander) = self.bystanders.get(id.0) {
                    problem = problem.related(bystander.span.clone(), "named here");
                }
                problems.push(problem);
                None
            }
        }
    }

    fn unknown(&self, name: &Text, problems: &mut Problems) {
        let message = format!("nobody in this fight is called `{}`", shown(&name.value));
        let mut names: Vec<&str> = self.by_name.keys().map(String::as_str).collect();
        names.sort_unstable();
        problems.push(
            Problem::error("S207", name.span.clone(), message)
                .help("write the name under `fighters` or `bystanders`")
                .help_if(did_you_mean(&name.value, names)),
        );
    }
}

/// Reports a weapon that there is not, and one without a hand.
fn armed(name: &Text, weapon: &Text, hand: &Located<Hand>, vocabulary: &Vocabulary, problems: &mut Problems) {
    match vocabulary.weapons.get(weapon.value.as_str()) {
        None => {
            let message = format!("`{}` is not a weapon of the vocabulary", shown(&weapon.value));
            let known = vocabulary.weapons.keys().map(String::as_str);
            problems.push(
                Problem::error("S209", weapon.span.clone(), message)
                    .expected("expected a weapon, or `none`")
                    .help("add it to the production's vocabulary, or use one of its weapons")
                    .help_if(did_you_mean(&weapon.value, known)),
            );
        }
        Some(row) if row.armed && hand.value == Hand::None => {
            let message = format!("{} has a {} but no hand that holds it", name.value, weapon.value);
            problems.push(
                Problem::warning("S219", hand.span.clone(), message)
                    .help("write right or left, or the weapon `none`; with two hands, the one in front"),
            );
        }
        Some(_) => {}
    }
}
