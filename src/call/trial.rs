//! The trial of the hold, before a call: who was told of it, and what their pages answered.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::MemberId;
use crate::units::{Micros, ServerTime};

/// The name under which the trial stands among the checks of a call.
pub const TRIAL: &str = "Trial of the hold";
/// Whoever has not answered after this time is missing.
pub const TRIAL_LIMIT: Micros = Micros::seconds(3);
/// Whoever answers later than this is slow. From the desk's tap to the answer, the way back included: a person takes
/// about as long to react to a signal they wait for (common practice, no source).
pub const TRIAL_SLOW: Micros = Micros::millis(500);

/// A trial that goes on.
#[derive(Debug)]
pub(super) struct Trial {
    pub(super) number: u32,
    pub(super) by: MemberId,
    pub(super) at: ServerTime,
    /// Everybody who was told, with their answer.
    pub(super) told: BTreeMap<MemberId, Option<(Micros, TrialAnswer)>>,
    /// Who plays or leads and had no link to be told over, by name.
    pub(super) without_link: Vec<String>,
}

/// What a page did when it was told.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct TrialAnswer {
    /// The page was in sight and showed it.
    pub shown: bool,
    /// The device sounded or shook.
    pub felt: bool,
}

impl Trial {
    /// When it is over at the latest.
    pub(super) fn limit(&self) -> ServerTime {
        self.at + TRIAL_LIMIT
    }

    /// True once everybody who was told has answered.
    pub(super) fn is_complete(&self) -> bool {
        self.told.values().all(Option::is_some)
    }
}
