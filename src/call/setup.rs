//! The setting-up of a run. A [`SetupRequest`] is what somebody asked for; a [`Setup`] is what can be done: its fight is
//! there, its range is inside it, its speed is in range.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::Fight;
use crate::check::{Stand, starts};
use crate::score::vocabulary::Vocabulary;
use crate::timeline::PhraseRange;
use crate::units::Speed;

/// What drives a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub enum Drive {
    /// The clock: every beat has its time.
    Clock,
    /// The desk or the captain, move by move: nothing is timed.
    Step,
}

impl Drive {
    /// Its word in the journal.
    pub const fn word(self) -> &'static str {
        match self {
            Drive::Clock => "clock",
            Drive::Step => "step",
        }
    }
}

/// What somebody asks to be set up.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct SetupRequest {
    /// The fight's name.
    pub fight: String,
    /// The set of weapons; nothing for those that the score names.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub weapons: Option<String>,
    /// The first phrase, counted from 0.
    pub first: usize,
    /// The move of the first phrase from which it is run, counted from 1; nothing for its beginning.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub from_move: Option<u32>,
    /// The last phrase.
    pub last: usize,
    /// Percent of performance tempo.
    pub percent: u16,
    /// Beats of count-in.
    pub count_in: u32,
    /// What drives it.
    pub drive: Drive,
}

/// What is to be run, and how: possible by construction.
#[derive(Clone, Debug)]
pub struct Setup {
    /// The fight.
    pub fight: Arc<Fight>,
    /// Its phrases, first to last.
    pub range: PhraseRange,
    /// The move of the first phrase at which it begins; nothing for its beginning.
    pub begin: Option<Begin>,
    /// The speed.
    pub speed: Speed,
    /// Beats of count-in, 0 to 64.
    pub count_in: u32,
    /// What drives it.
    pub drive: Drive,
}

/// A run begins at a move in the middle of a phrase.
#[derive(Clone, Debug, PartialEq)]
pub struct Begin {
    /// The move's number in its phrase, from 2.
    pub number: u32,
    /// Where everybody is before it.
    pub stands: Vec<Stand>,
}

/// Why a run cannot be set up as asked.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum SetupError {
    /// Choose a fight that is in the list.
    #[error("There is no fight called “{0}” in this production. Choose one from the list.")]
    NoSuchFight(String),
    /// Choose weapons that are in the list.
    #[error("There are no weapons called “{1}” for {0} in this production. Choose others from the list.")]
    NoSuchWeapons(String, String),
    /// Choose phrases inside the fight, the first not after the last.
    #[error("Phrases {first} to {last} are not in this fight: it has {count}. Choose again.")]
    NoSuchPhrases {
        /// The first that was asked for, counted from 1.
        first: usize,
        /// The last, counted from 1.
        last: usize,
        /// How many there are.
        count: usize,
    },
    /// Choose a move that the phrase has.
    #[error("“{phrase}” has no move {number}: it has {count}. Choose again.")]
    NoSuchMove {
        /// The phrase.
        phrase: String,
        /// What was asked for.
        number: u32,
        /// How many there are.
        count: usize,
    },
    /// Begin at another move, which the sentence names.
    #[error("It cannot begin at move {number} of “{phrase}”: {why} {instead}")]
    CannotBegin {
        /// The phrase.
        phrase: String,
        /// What was asked for.
        number: u32,
        /// Who, and what.
        why: String,
        /// From where it can.
        instead: String,
    },
    /// Choose a speed from 10 to 150 percent.
    #[error("A speed of {0} % is out of range. Choose 10 % to 150 % of performance tempo.")]
    Speed(u16),
    /// Choose at most 64 beats.
    #[error("A count-in of {0} beats is too long. Choose 0 to 64.")]
    CountIn(u32),
}

/// The longest count-in, in beats.
const LONGEST_COUNT_IN: u32 = 64;

impl Setup {
    /// True when the other is the same run of the same text.
    pub(super) fn is_as(&self, other: &Setup) -> bool {
        let how = |setup: &Setup| {
            (setup.range, setup.begin.as_ref().map(|it| it.number), setup.speed, setup.count_in, setup.drive)
        };
        let what = |setup: &Setup| (setup.fight.revision.clone(), setup.fight.weapons.clone());
        what(self) == what(other) && how(self) == how(other)
    }

    /// Checks a request against the fights there are.
    ///
    /// # Errors
    /// [`SetupError`], which says what to choose instead.
    pub fn check(request: &SetupRequest, fights: &[Arc<Fight>]) -> Result<Setup, SetupError> {
        let fight = fights
            .iter()
            .find(|fight| fight.score.name == request.fight)
            .ok_or_else(|| SetupError::NoSuchFight(request.fight.clone()))?;
        let fight = fight.with(request.weapons.as_deref()).ok_or_else(|| {
            SetupError::NoSuchWeapons(request.fight.clone(), request.weapons.clone().unwrap_or_default())
        })?;
        let range = PhraseRange::new(&fight.score, request.first, request.last).ok_or(SetupError::NoSuchPhrases {
            first: request.first.saturating_add(1),
            last: request.last.saturating_add(1),
            count: fight.score.phrases.len(),
        })?;
        let speed = Speed::percent(request.percent).ok_or(SetupError::Speed(request.percent))?;
        if request.count_in > LONGEST_COUNT_IN {
            return Err(SetupError::CountIn(request.count_in));
        }
        let begin = request.from_move.filter(|number| *number > 1);
        let begin = begin.map(|number| Begin::at(fight, range.first, number)).transpose()?;
        Ok(Setup { fight: Arc::clone(fight), range, begin, speed, count_in: request.count_in, drive: request.drive })
    }
}

impl Begin {
    /// A run that begins at that move of a phrase, if the score says where everybody is there and a fight can be begun from it.
    fn at(fight: &Fight, phrase: usize, number: u32) -> Result<Begin, SetupError> {
        let name = || fight.score.phrases.get(phrase).map(|it| it.name.clone()).unwrap_or_default();
        // Its score was read with these words.
        let words = Vocabulary::from_texts(&fight.vocabulary).unwrap_or_else(|_| Vocabulary::built_in());
        let starts = starts(&fight.score, &words, phrase);
        let none = || SetupError::NoSuchMove { phrase: name(), number, count: starts.len() };
        let index = usize::try_from(number).ok().and_then(|number| number.checked_sub(1)).ok_or_else(none)?;
        match starts.get(index).ok_or_else(none)? {
            Ok(stands) => Ok(Begin { number, stands: stands.clone() }),
            Err(why) => Err(SetupError::CannotBegin {
                phrase: name(),
                number,
                why: why.clone(),
                instead: instead(&starts, index),
            }),
        }
    }
}

/// From where a run can begin that cannot begin at a move, by its place: the nearest move before it, and the nearest after.
/// At the first move it begins with its phrase.
fn instead(starts: &[Result<Vec<Stand>, String>], index: usize) -> String {
    let possible = |at: &usize| starts.get(*at).is_some_and(Result::is_ok);
    let before = match (1..index).rev().find(possible) {
        Some(before) => format!("at move {}", before + 1),
        None => "at the beginning of the phrase".to_owned(),
    };
    match (index + 1..starts.len()).find(possible) {
        Some(after) => format!("It can begin {before}, or at move {}.", after + 1),
        None => format!("It can begin {before}."),
    }
}
