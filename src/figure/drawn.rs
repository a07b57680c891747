//! What of a score's move a picture needs: the words, the sides, and who has which weapon in which hand.

use crate::score::model::{FREE_HAND, Fighter, FighterId, Hand, Move, Score, Side, StatedTouch, Word};
use crate::timeline::PlannedMove;

/// The hand and the weapon with which somebody acts or answers.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Armed {
    /// The hand; inside and outside are counted from it. Without one they are counted as for a right-hander.
    pub hand: Hand,
    /// The weapon, a word of the vocabulary; nothing is the empty hand.
    pub weapon: Option<String>,
}

impl Default for Armed {
    fn default() -> Armed {
        Armed { hand: Hand::None, weapon: None }
    }
}

/// How a move is answered.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct DrawnReply {
    /// A reply of the vocabulary.
    pub reply: Word,
    /// The number of a parry, or the target that was hit.
    pub arg: Option<Word>,
    /// Which side was hit.
    pub side: Option<Side>,
}

/// A move as it is to be drawn.
#[derive(Clone, Debug, PartialEq, Eq, Hash)]
pub struct Drawn {
    /// An action of the vocabulary.
    pub action: Word,
    /// A target of the vocabulary.
    pub target: Option<Word>,
    /// Left or right, as the person who is hit sees it.
    pub side: Option<Side>,
    /// What touches, where the score says it.
    pub touch: Option<StatedTouch>,
    /// The parries, by number, whose lines a blade is carried from and to.
    pub carried: Option<(Word, Word)>,
    /// How it is answered.
    pub answer: Option<DrawnReply>,
    /// With what the one acts.
    pub doer: Armed,
    /// With what the other answers.
    pub partner: Armed,
    /// Whether the one acts with a hand that holds no weapon.
    pub free_hand: bool,
    /// Whether the other answers with a hand that holds no weapon.
    pub answers_with_free_hand: bool,
}

impl Drawn {
    /// A move of a plan of a score: the same.
    pub fn of_planned(score: &Score, planned: &PlannedMove) -> Drawn {
        let PlannedMove { manner, reply_word, reply_with, .. } = planned;
        let answer = reply_word.as_ref().map(|reply| DrawnReply {
            reply: reply.clone(),
            arg: planned.reply_arg.clone(),
            side: planned.reply_side,
        });
        Drawn {
            action: planned.action_word.clone(),
            target: planned.target.clone(),
            side: planned.side,
            touch: manner.touch,
            carried: manner.carried.clone(),
            answer,
            doer: armed(score, Some(planned.who), manner.with.as_deref()),
            partner: armed(score, planned.to.or(manner.aimed), reply_with.as_deref()),
            free_hand: manner.with.as_deref() == Some(FREE_HAND),
            answers_with_free_hand: reply_with.as_deref() == Some(FREE_HAND),
        }
    }

    /// A move of a score. Weapons and hands are those of the fighters' lines, and those that the move names.
    pub fn of(score: &Score, planned: &Move) -> Drawn {
        let answer = planned.answer.as_ref();
        let manner = &planned.manner;
        let answers_with = answer.and_then(|answer| answer.with.as_deref());
        let partner = answer.map(|answer| answer.who).or(manner.aimed);
        Drawn {
            action: planned.action.clone(),
            target: planned.target.clone(),
            side: planned.side,
            touch: manner.touch,
            carried: manner.carried.clone(),
            answer: answer.map(|answer| DrawnReply {
                reply: answer.reply.clone(),
                arg: answer.arg.clone(),
                side: answer.side,
            }),
            doer: armed(score, Some(planned.who), manner.with.as_deref()),
            partner: armed(score, partner, answers_with),
            free_hand: manner.with.as_deref() == Some(FREE_HAND),
            answers_with_free_hand: answers_with == Some(FREE_HAND),
        }
    }
}

fn armed(score: &Score, who: Option<FighterId>, with: Option<&str>) -> Armed {
    let Some(fighter) = who.and_then(|who| score.fighters.get(who.0)) else { return Armed::default() };
    let (first, second) = weapons(fighter);
    match with {
        // Lines are counted from the hand of the weapon, whatever the other one does.
        Some(FREE_HAND) => Armed { weapon: None, ..first },
        Some(word) => second
            .filter(|second| second.weapon.as_deref() == Some(word))
            .unwrap_or_else(|| Armed { hand: first.hand, weapon: Some(word.to_owned()) }),
        None => first,
    }
}

/// The first weapon that is in hand, and the other one.
fn weapons(fighter: &Fighter) -> (Armed, Option<Armed>) {
    let first = Armed { hand: fighter.hand, weapon: Some(fighter.weapon.clone()) };
    let second = fighter.second.as_ref();
    let other = second.map(|second| Armed { hand: second.hand, weapon: Some(second.weapon.clone()) });
    match other {
        Some(other) if fighter.sheathed && second.is_some_and(|second| !second.sheathed) => (other, Some(first)),
        other => (first, other),
    }
}
