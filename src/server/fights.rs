//! The fights as they can be asked about over HTTP: those of the production as it was read last, and the pictures of these
//! and of those that were run before; each on its stage, too.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, OnceLock, PoisonError};

use super::floor::floor_sheet;
use crate::call::Fight;
use crate::figure::Pictures;
use crate::score::vocabulary::Vocabulary;
use crate::stage::StagePlan;

/// More pictures than are run in one evening, of fights and revisions of them; the oldest go.
const MOST: usize = 512;

/// The fights of the production as it was read last, and the pictures of these and of those that were run before.
#[derive(Debug, Default)]
pub(super) struct Fights {
    now: Mutex<Vec<Arc<Fight>>>,
    pictures: Mutex<VecDeque<Arc<Pictures>>>,
    floors: Mutex<VecDeque<Arc<OnStage>>>,
}

/// A fight on its stage, laid out when somebody asks for it first.
#[derive(Debug)]
pub(super) struct OnStage {
    id: String,
    fight: Arc<Fight>,
    told: OnceLock<Arc<[u8]>>,
}

impl OnStage {
    fn of(fight: &Arc<Fight>) -> Option<OnStage> {
        let id = fight.floor.as_ref()?.id.clone();
        Some(OnStage { id, fight: Arc::clone(fight), told: OnceLock::new() })
    }

    /// What a page is told, JSON. Takes its time when it is asked for first.
    pub(super) fn told(&self) -> Arc<[u8]> {
        Arc::clone(self.told.get_or_init(|| {
            let stage = self.fight.floor.as_ref().map(|floor| &floor.stage);
            stage.and_then(|stage| self.laid_out(stage)).unwrap_or_default().into()
        }))
    }

    fn laid_out(&self, stage: &Arc<StagePlan>) -> Option<Vec<u8>> {
        let vocabulary = Vocabulary::from_texts(&self.fight.vocabulary).ok()?;
        serde_json::to_vec(&floor_sheet(&self.fight.score, &vocabulary, stage)?).ok()
    }
}

impl Fights {
    /// The production was read.
    pub(super) fn read(&self, fights: &[Arc<Fight>]) {
        fights.iter().for_each(|fight| self.shows(fight));
        *self.now.lock().unwrap_or_else(PoisonError::into_inner) = fights.to_vec();
    }

    /// Pages may ask for that fight, whether it is the production's still or that of a run of before.
    pub(super) fn shows(&self, fight: &Arc<Fight>) {
        self.draws(fight);
        self.stands(fight);
    }

    /// Pages may ask for the pictures of that fight, and of it with each of its sets of weapons.
    fn draws(&self, fight: &Arc<Fight>) {
        let mut known = self.pictures.lock().unwrap_or_else(PoisonError::into_inner);
        for fight in std::iter::once(fight).chain(&fight.sets) {
            let id = fight.pictures.id();
            known.retain(|pictures| pictures.id() != id);
            known.extend(id.map(|_| Arc::clone(&fight.pictures)));
        }
        let over = known.len().saturating_sub(MOST);
        known.drain(..over);
    }

    /// Pages may ask for that fight on its stage, and for it with each of its sets of weapons.
    fn stands(&self, fight: &Arc<Fight>) {
        let mut known = self.floors.lock().unwrap_or_else(PoisonError::into_inner);
        let all = std::iter::once(fight).chain(&fight.sets);
        for floor in all.filter_map(OnStage::of) {
            if known.iter().all(|it| it.id != floor.id) {
                known.push_back(Arc::new(floor));
            }
        }
        let over = known.len().saturating_sub(MOST);
        known.drain(..over);
    }

    /// The fight on its stage of that name.
    pub(super) fn floor(&self, id: &str) -> Option<Arc<OnStage>> {
        let known = self.floors.lock().unwrap_or_else(PoisonError::into_inner);
        known.iter().find(|floor| floor.id == id).cloned()
    }

    /// Those of the production.
    pub(super) fn now(&self) -> Vec<Arc<Fight>> {
        self.now.lock().unwrap_or_else(PoisonError::into_inner).clone()
    }

    /// The pictures of that name.
    pub(super) fn pictures(&self, id: &str) -> Option<Arc<Pictures>> {
        let known = self.pictures.lock().unwrap_or_else(PoisonError::into_inner);
        known.iter().find(|pictures| pictures.id() == Some(id)).cloned()
    }
}
