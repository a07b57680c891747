//! The setting-up of a run. A [`SetupRequest`] is what somebody asked for; a [`Setup`] is what can be done: its fight is
//! there, its range is inside it, its speed is in range.

use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::Fight;
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
    /// The speed.
    pub speed: Speed,
    /// Beats of count-in, 0 to 64.
    pub count_in: u32,
    /// What drives it.
    pub drive: Drive,
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
        let how = |setup: &Setup| (setup.range, setup.speed, setup.count_in, setup.drive);
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
        Ok(Setup { fight: Arc::clone(fight), range, speed, count_in: request.count_in, drive: request.drive })
    }
}
