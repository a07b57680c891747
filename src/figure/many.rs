//! The pictures of a whole fight, each once: what a page takes when a run is set up.

use std::collections::HashMap;

use super::{Drawn, Picture, View};
use crate::hex;
use crate::score::model::Score;
use crate::score::vocabulary::Vocabulary;
use crate::timeline::{PhraseRange, Plan};
use crate::units::Speed;

/// More pictures than any fight has moves that differ.
const MOST: usize = 2_000;
/// How many digits of a SHA-256 name the pictures of a fight.
const DIGITS: usize = 24;

/// The pictures of a fight. Two that are drawn alike are one.
#[derive(Clone, Debug, Default)]
pub struct Pictures {
    id: String,
    all: Vec<Picture>,
    by: HashMap<Drawn, Option<u32>>,
}

impl Pictures {
    /// The pictures of every move of a score, in the words that it is written in.
    pub fn of(score: &Score, vocabulary: &Vocabulary) -> Pictures {
        let Some(whole) = PhraseRange::whole(score) else { return Pictures::default() };
        let plan = Plan::new(score, whole, Speed::FULL, 0);
        let mut pictures = Pictures::default();
        for planned in plan.moves() {
            pictures.add(Drawn::of_planned(score, planned), vocabulary);
        }
        let text: String = pictures.all.iter().map(|it| it.inline(View::Doer) + &it.inline(View::Partner)).collect();
        pictures.id = hex::sha256(text.as_bytes()).chars().take(DIGITS).collect();
        pictures
    }

    fn add(&mut self, drawn: Drawn, vocabulary: &Vocabulary) {
        if self.all.len() >= MOST || self.by.contains_key(&drawn) {
            return;
        }
        let number = Picture::of(vocabulary, &drawn).and_then(|picture| {
            let known = self.all.iter().position(|it| it.shown == picture.shown && it.words() == picture.words());
            let number = known.unwrap_or(self.all.len());
            if known.is_none() {
                self.all.push(picture);
            }
            u32::try_from(number).ok()
        });
        self.by.insert(drawn, number);
    }

    /// A name of exactly these pictures: 24 hexadecimal digits. Nothing where there is none.
    pub fn id(&self) -> Option<&str> {
        (!self.all.is_empty()).then_some(self.id.as_str())
    }

    /// All of them.
    pub fn all(&self) -> &[Picture] {
        &self.all
    }

    /// The number of the picture of a move, from 0; nothing where it has none.
    pub fn number(&self, drawn: &Drawn) -> Option<u32> {
        self.by.get(drawn).copied().flatten()
    }
}
