//! The stage that a fight is done on, under a name of its own; and what a picture that moves needs of everybody's ways besides
//! where they are.

use std::sync::Arc;

use super::body::Pose;
use super::plan::StagePlan;
use super::track::{Track, Tracks};
use crate::hex;
use crate::score::model::Facing;
use crate::score::vocabulary::Texts;

/// The stage of a fight, and the name of the picture of the fight on it.
#[derive(Clone, Debug)]
pub struct Floor {
    /// The stage.
    pub stage: Arc<StagePlan>,
    /// A digest of everything that the picture is made of: score, words, stage. 24 hexadecimal digits.
    pub id: String,
}

impl Floor {
    /// The stage of the fight with that text, in those words.
    pub fn of(text: &str, words: &Texts, stage: &Arc<StagePlan>) -> Floor {
        let parts = std::iter::once(text).chain(words.0.iter().map(AsRef::as_ref));
        let each: String = parts.map(hex::sha256).collect();
        // The plan as it was read: how its file is written makes no difference.
        let whole = hex::sha256(format!("{each} {stage:?}"));
        Floor { stage: Arc::clone(stage), id: whole.chars().take(24).collect() }
    }
}

impl Track {
    /// How they are from each time on, in order.
    pub fn poses(&self) -> &[(f64, Pose)] {
        &self.poses
    }

    /// Whom or which way they look from each time on, in order.
    pub fn looks(&self) -> &[(f64, Facing)] {
        &self.faces
    }
}

impl Tracks<'_> {
    /// How long the blade in somebody's hand is from each time on, in order, metres; 0 for none.
    pub fn held(&self, person: usize) -> &[(f64, f64)] {
        self.weapons.get(person).map_or(&[], Vec::as_slice)
    }
}
