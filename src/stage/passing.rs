//! What passes near whoever only stands by, as a run keeps it: known from the checks, or worked out when it is asked for first, as
//! for a fight that comes from the journal.

use std::fmt;
use std::sync::{Arc, LazyLock};

use super::passage::{Passage, passages};
use super::plan::StagePlan;
use super::track::Tracks;
use crate::score::model::Score;
use crate::score::vocabulary::Vocabulary;
use crate::timeline::{PhraseRange, Plan};
use crate::units::Speed;

type Work = Box<dyn FnOnce() -> Vec<Passage> + Send>;

/// What passes near everybody who only stands by in a fight, in order.
#[derive(Clone)]
pub struct Passages(Arc<LazyLock<Vec<Passage>, Work>>);

impl Passages {
    /// Those that are known.
    pub fn known(passages: Vec<Passage>) -> Passages {
        Passages::of(Box::new(|| passages))
    }

    /// Those of a fight on a stage at performance tempo. Nothing is worked out before it is asked for.
    pub fn later(score: &Score, vocabulary: Vocabulary, stage: &Arc<StagePlan>) -> Passages {
        if score.bystanders.is_empty() {
            return Passages::default();
        }
        let (score, stage) = (score.clone(), Arc::clone(stage));
        Passages::of(Box::new(move || {
            let Some(range) = PhraseRange::whole(&score) else { return Vec::new() };
            let plan = Plan::new(&score, range, Speed::FULL, 0);
            passages(&plan, &Tracks::of(&score, &vocabulary, &plan, &stage), &stage.least)
        }))
    }

    fn of(work: Work) -> Passages {
        Passages(Arc::new(LazyLock::new(work)))
    }

    /// All of them. Takes its time when they are asked for first.
    pub fn all(&self) -> &[Passage] {
        &self.0
    }
}

impl Default for Passages {
    fn default() -> Passages {
        Passages::known(Vec::new())
    }
}

impl fmt::Debug for Passages {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.debug_tuple("Passages").field(&LazyLock::get(&self.0).map(Vec::len)).finish()
    }
}
