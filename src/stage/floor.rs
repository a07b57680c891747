//! The stage that a fight is done on, under a name of its own; and what a picture that moves needs of everybody's ways besides
//! where they are.

use std::sync::Arc;

use super::body::Pose;
use super::plan::StagePlan;
use super::read::read;
use super::track::{Track, Tracks};
use crate::hex;
use crate::score::model::Facing;
use crate::score::vocabulary::Texts;
use crate::toml_table::TomlProblem;

/// The plan of a stage, and the text that it was read from.
#[derive(Clone, Debug)]
pub struct StageText {
    /// The text.
    pub text: Arc<str>,
    /// The plan that it says.
    pub plan: Arc<StagePlan>,
}

impl StageText {
    /// What a text says, and everything that is wrong with it; `name` is what the file is called in sentences.
    pub fn read(text: &str, name: &str) -> (Option<StageText>, Vec<TomlProblem>) {
        let (plan, problems) = read(text, name);
        (plan.map(|plan| StageText { text: text.into(), plan: Arc::new(plan) }), problems)
    }
}

/// The stage of a fight, and the name of the picture of the fight on it.
#[derive(Clone, Debug)]
pub struct Floor {
    /// The stage.
    pub stage: Arc<StagePlan>,
    /// The text of its plan.
    pub text: Arc<str>,
    /// A digest of everything that the picture is made of: score, words, stage. 24 hexadecimal digits.
    pub id: String,
}

impl Floor {
    /// The stage of the fight with that text, in those words.
    pub fn of(text: &str, words: &Texts, stage: &StageText) -> Floor {
        let StageText { text: its, plan } = stage;
        let parts = std::iter::once(text).chain(words.0.iter().map(AsRef::as_ref));
        let each: String = parts.map(hex::sha256).collect();
        // The plan as it was read: how its file is written makes no difference.
        let whole = hex::sha256(format!("{each} {plan:?}"));
        Floor { stage: Arc::clone(plan), text: Arc::clone(its), id: whole.chars().take(24).collect() }
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
