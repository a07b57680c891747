//! The house's own limits. Every one is a planning value that a production may set for itself; none is a permission.

use std::collections::BTreeSet;
use std::sync::Arc;

use serde::Deserialize;

use crate::stage::StagePlan;
use crate::units::Decibels;

/// What the production allows.
#[derive(Clone, Debug, PartialEq, Deserialize)]
#[serde(default, deny_unknown_fields)]
pub struct HouseRules {
    /// The fastest performance tempo, beats per minute. Planning value: 180, no source.
    pub max_bpm: f64,
    /// How much louder than its own level a sound may be cued, decibels. Planning value: 6, no source.
    pub max_level_db: f64,
    /// Screen flashes in any second that are one too many: 3 are allowed, and a beat of a third of a second puts four
    /// into a closed second, so a tempo of exactly 60 × this counts as too fast. WCAG 2.2, 2.3.1 (Three Flashes).
    pub max_flashes: f64,
    /// How much longer than its least time somebody who acts should have, as a factor. Planning value: 1.1, no source.
    pub act_margin: f64,
    /// Sounds that the production has beside those of the vocabulary.
    pub sounds: BTreeSet<String>,
    /// The stage that the fights are on; without it nothing is said of where people stand.
    #[serde(skip)]
    pub stage: Option<Arc<StagePlan>>,
}

impl HouseRules {
    /// The loudest that a sound may be cued.
    pub fn max_level(&self) -> Decibels {
        Decibels(self.max_level_db)
    }
}

impl Default for HouseRules {
    fn default() -> HouseRules {
        HouseRules {
            max_bpm: 180.0,
            max_level_db: 6.0,
            max_flashes: 3.0,
            act_margin: 1.1,
            sounds: BTreeSet::new(),
            stage: None,
        }
    }
}
