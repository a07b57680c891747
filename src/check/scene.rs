//! What every check looks at: the score, the words it is written in, the house's limits, and the whole fight laid out
//! at performance tempo.

use crate::score::model::{FighterId, Person, Score};
use crate::score::vocabulary::Vocabulary;
use crate::timeline::{PhraseRange, Plan, PlannedMove};
use crate::units::{Speed, Ticks};

use super::rules::HouseRules;

pub(super) struct Scene<'a> {
    pub(super) score: &'a Score,
    pub(super) vocabulary: &'a Vocabulary,
    pub(super) rules: &'a HouseRules,
    /// The whole fight at performance tempo.
    pub(super) plan: Plan,
}

impl<'a> Scene<'a> {
    pub(super) fn new(score: &'a Score, vocabulary: &'a Vocabulary, rules: &'a HouseRules) -> Scene<'a> {
        let whole = PhraseRange { first: 0, last: score.phrases.len().saturating_sub(1) };
        Scene { score, vocabulary, rules, plan: Plan::new(score, whole, Speed::FULL, 0) }
    }

    pub(super) fn fighter(&self, fighter: FighterId) -> &str {
        self.score.fighters.get(fighter.0).map_or("somebody", |it| it.name.as_str())
    }

    pub(super) fn person(&self, person: Person) -> &str {
        match person {
            Person::Fighter(fighter) => self.fighter(fighter),
            Person::Bystander(id) => self.score.bystanders.get(id.0).map_or("somebody", |it| it.name.as_str()),
        }
    }

    /// The other fighter, in a fight of two.
    pub(super) fn only_other(&self, fighter: FighterId) -> Option<FighterId> {
        (self.score.fighters.len() == 2).then(|| FighterId(1 - fighter.0.min(1)))
    }

    /// `OSK's cut head`.
    pub(super) fn whose(&self, planned: &PlannedMove) -> String {
        format!("{}'s {}", self.fighter(planned.who), planned.action)
    }
}

/// `a`, `a or b`, `a, b or c`.
pub(super) fn one_of(words: &[String]) -> String {
    match words {
        [] => "another word".to_owned(),
        [only] => only.clone(),
        [first @ .., last] => format!("{} or {last}", first.join(", ")),
    }
}

/// A length as people say it: `1 beat`, `2+1/2 beats`.
pub(super) fn beats(length: Ticks) -> String {
    if length == Ticks::beats(1) { "1 beat".to_owned() } else { format!("{} beats", length.length_label()) }
}
