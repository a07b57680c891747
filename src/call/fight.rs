//! A fight that can be run, in one revision of its score.

use std::sync::Arc;

use crate::figure::{Drawn, Pictures};
use crate::score::model::{BystanderId, FighterId, Person, Score};
use crate::score::vocabulary::Texts;
use crate::stage::{Floor, Passages};
use crate::timeline::PlannedMove;

/// A fight in one revision of its score. A run keeps the one it was set up with, whatever is saved meanwhile.
#[derive(Clone, Debug)]
pub struct Fight {
    /// The checked score.
    pub score: Score,
    /// SHA-256 of the score's text, in hexadecimal.
    pub revision: String,
    /// The score's text.
    pub text: String,
    /// The words it is written in: the texts of the vocabulary, each laid over the one before it.
    pub vocabulary: Texts,
    /// How many errors the checks found.
    pub errors: usize,
    /// How many warnings.
    pub warnings: usize,
    /// The set of weapons that it is read with; nothing for those that the score names.
    pub weapons: Option<String>,
    /// The same fight with each set of weapons that concerns it.
    pub sets: Vec<Arc<Fight>>,
    /// True for a pattern of a score by itself.
    pub drill: bool,
    /// The pictures of its moves.
    pub pictures: Arc<Pictures>,
    /// What passes near whoever only stands by, as it is at performance tempo.
    pub passages: Passages,
    /// The stage that it is done on; nothing where none is known.
    pub floor: Option<Arc<Floor>>,
}

impl Fight {
    /// A fight in which no check has looked for anything, written in the built-in words.
    pub fn unchecked(score: Score, revision: String, text: String) -> Fight {
        let (vocabulary, sets) = (Texts::default(), Vec::new());
        Fight {
            score,
            revision,
            text,
            vocabulary,
            errors: 0,
            warnings: 0,
            weapons: None,
            sets,
            drill: false,
            pictures: Arc::default(),
            passages: Passages::default(),
            floor: None,
        }
    }

    /// The fight with a set of weapons, or as the score names them.
    pub(super) fn with(self: &Arc<Fight>, weapons: Option<&str>) -> Option<&Arc<Fight>> {
        match weapons {
            None => Some(self),
            Some(weapons) => self.sets.iter().find(|set| set.weapons.as_deref() == Some(weapons)),
        }
    }

    /// The parts of it, by name: who fights, then who only stands by. Somebody plays each.
    pub fn parts(&self) -> impl Iterator<Item = &str> {
        let Score { fighters, bystanders, .. } = &self.score;
        let stand_by = bystanders.iter().map(|bystander| bystander.name.as_str());
        fighters.iter().map(|fighter| fighter.name.as_str()).chain(stand_by)
    }

    /// The number of a fighter of that name.
    pub fn fighter(&self, name: &str) -> Option<usize> {
        self.score.fighters.iter().position(|fighter| fighter.name == name)
    }

    /// Whoever of that name is on the stage: somebody who fights, or who only stands by.
    pub fn person(&self, name: &str) -> Option<Person> {
        let bystander = || self.score.bystanders.iter().position(|bystander| bystander.name == name);
        let fighter = self.fighter(name).map(|fighter| Person::Fighter(FighterId(fighter)));
        fighter.or_else(|| bystander().map(|bystander| Person::Bystander(BystanderId(bystander))))
    }

    /// That name, where somebody called so is on the stage.
    pub fn part(&self, name: &str) -> Option<&str> {
        let mut bystanders = self.score.bystanders.iter().map(|bystander| bystander.name.as_str());
        match self.fighter(name) {
            Some(fighter) => self.score.fighters.get(fighter).map(|fighter| fighter.name.as_str()),
            None => bystanders.find(|bystander| *bystander == name),
        }
    }

    /// The number of the picture of a move of a plan of this fight among [`Fight::pictures`].
    pub fn picture(&self, planned: &PlannedMove) -> Option<u32> {
        self.pictures.number(&Drawn::of_planned(&self.score, planned))
    }

    /// A move of a plan of this fight in words: `MARET thrust belly / OSK parry 4`.
    pub fn words(&self, planned: &PlannedMove) -> String {
        planned.words(&self.score)
    }

    /// Who is in a move of a plan of this fight, by name: who acts and who answers.
    pub(super) fn pair(&self, planned: &PlannedMove) -> Vec<String> {
        [Some(planned.who), planned.to].into_iter().flatten().map(|id| self.name(id).to_owned()).collect()
    }

    fn name(&self, id: FighterId) -> &str {
        self.score.fighters.get(id.0).map_or("?", |fighter| fighter.name.as_str())
    }
}
