//! What every check looks at: the score, the words it is written in, the house's limits, and the whole fight laid out
//! at performance tempo.

use crate::score::model::{FighterId, Person, Score};
use crate::score::vocabulary::{Action, Reply, Vocabulary};
use crate::timeline::{PhraseRange, Plan, PlannedMove};
use crate::units::{Speed, Ticks};

use super::rules::HouseRules;

pub(super) struct Scene<'a> {
    pub(super) score: &'a Score,
    pub(super) vocabulary: &'a Vocabulary,
    pub(super) rules: &'a HouseRules,
    /// The whole fight at performance tempo.
    pub(super) plan: Plan,
    /// What the vocabulary says of each move of the plan: looked up once, asked often.
    pub(super) rows: Vec<Rows<'a>>,
}

/// What the vocabulary says of the words of a move.
#[derive(Clone, Copy, Default)]
pub(super) struct Rows<'a> {
    pub(super) action: Option<&'a Action>,
    pub(super) reply: Option<&'a Reply>,
}

impl<'a> Rows<'a> {
    fn of(planned: &PlannedMove, vocabulary: &'a Vocabulary) -> Rows<'a> {
        let reply = planned.reply_word.as_ref().and_then(|word| vocabulary.replies.get(word.as_str()));
        Rows { action: vocabulary.actions.get(planned.action_word.as_str()), reply }
    }
}

impl<'a> Scene<'a> {
    pub(super) fn new(score: &'a Score, vocabulary: &'a Vocabulary, rules: &'a HouseRules) -> Scene<'a> {
        let whole = PhraseRange { first: 0, last: score.phrases.len().saturating_sub(1) };
        let plan = Plan::new(score, whole, Speed::FULL, 0);
        let rows = plan.moves().iter().map(|planned| Rows::of(planned, vocabulary)).collect();
        Scene { score, vocabulary, rules, plan, rows }
    }

    /// What the vocabulary says of a move, by its place in the plan.
    pub(super) fn rows_of(&self, index: usize) -> Rows<'a> {
        self.rows.get(index).copied().unwrap_or_default()
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
