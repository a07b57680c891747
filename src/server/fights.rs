//! The fights as they can be asked about over HTTP: those of the production as it was read last, and the pictures of these
//! and of those that were run before.

use std::collections::VecDeque;
use std::sync::{Arc, Mutex, PoisonError};

use crate::call::Fight;
use crate::figure::Pictures;

/// More pictures than are run in one evening, of fights and revisions of them; the oldest go.
const MOST: usize = 512;

/// The fights of the production as it was read last, and the pictures of these and of those that were run before.
#[derive(Debug, Default)]
pub(super) struct Fights {
    now: Mutex<Vec<Arc<Fight>>>,
    pictures: Mutex<VecDeque<Arc<Pictures>>>,
}

impl Fights {
    /// The production was read.
    pub(super) fn read(&self, fights: &[Arc<Fight>]) {
        fights.iter().for_each(|fight| self.draws(fight));
        *self.now.lock().unwrap_or_else(PoisonError::into_inner) = fights.to_vec();
    }

    /// Pages may ask for the pictures of that fight, and of it with each of its sets of weapons.
    pub(super) fn draws(&self, fight: &Arc<Fight>) {
        let mut known = self.pictures.lock().unwrap_or_else(PoisonError::into_inner);
        for fight in std::iter::once(fight).chain(&fight.sets) {
            let id = fight.pictures.id();
            known.retain(|pictures| pictures.id() != id);
            known.extend(id.map(|_| Arc::clone(&fight.pictures)));
        }
        let over = known.len().saturating_sub(MOST);
        known.drain(..over);
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
