//! The vocabulary: the words that scores are written in, as data. A built-in default (`configs/vocabulary.toml`) is
//! part of the program; a production's own file extends or replaces it. What a word *means* is in its row, so that
//! nothing else in the program knows one word from another, but for the sides, which are grammar.

mod check;
mod choices;
mod drawing;
mod file;
#[cfg(test)]
mod file_tests;
mod lines;
mod mirror;
mod motion;
mod patch;
mod patches;
mod places;
mod reach;
mod rows;
mod travel;
mod usual;
mod weapon_set;

use std::collections::BTreeMap;
use std::sync::{Arc, LazyLock};

use super::library::Library;

pub use drawing::Drawing;
pub use file::{Mode, VocabularyError};
pub use lines::{Line, Turn};
pub use motion::{Goes, Limb, Part, Spot};
pub use rows::{
    Across, Action, Effect, Height, Makes, Need, OwnPicture, Parry, Posture, Reaction, Reply, ReplyArgument, ReplyKind,
    SoundWord, Target, Touch, Vital, Weapon, Words,
};
pub use travel::{STEP_IN, SweepAngles};
pub use weapon_set::WeaponSet;

/// All words, each with its row.
#[derive(Clone, Debug, PartialEq)]
pub struct Vocabulary {
    /// How long somebody needs before they begin to react.
    pub reaction: Reaction,
    /// What the attacking half of a move can be.
    pub actions: BTreeMap<String, Action>,
    /// Where an action can go.
    pub targets: BTreeMap<String, Target>,
    /// How an action can be answered.
    pub replies: BTreeMap<String, Reply>,
    /// The parries, by number.
    pub parries: BTreeMap<String, Parry>,
    /// What a fighter can hold.
    pub weapons: BTreeMap<String, Weapon>,
    /// The sounds that the program makes by itself.
    pub sounds: BTreeMap<String, SoundWord>,
    /// The company's own pictures of words, by the names of their files.
    pub drawings: Arc<BTreeMap<String, Drawing>>,
    /// The production's own patterns.
    pub patterns: Arc<Library>,
    /// What it was read from; the patterns are not among it, for whoever uses one has it in their text.
    pub texts: Texts,
}

/// The texts that a vocabulary was read from, each laid over the one before it: whoever keeps them can read it again.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct Texts(pub Vec<Arc<str>>);

/// The built-in file's text, for people who want to read or copy it.
pub const BUILT_IN_TEXT: &str = include_str!("../../../configs/vocabulary.toml");

static BUILT_IN: LazyLock<Vocabulary> = LazyLock::new(|| {
    #[allow(clippy::expect_used, reason = "the text is part of the program, and a test reads it")]
    file::read(BUILT_IN_TEXT, "vocabulary.toml", None).expect("the built-in vocabulary is sound")
});

impl Vocabulary {
    /// The vocabulary that a production has when it brings none.
    pub fn built_in() -> Vocabulary {
        BUILT_IN.clone()
    }

    /// A production's vocabulary from the text of its file: laid over the built-in one, or alone.
    ///
    /// # Errors
    ///
    /// Everything that is wrong with the file: for each a sentence with its line, and how to mend it.
    pub fn from_toml(text: &str, file_name: &str, mode: Mode) -> Result<Vocabulary, VocabularyError> {
        match mode {
            Mode::Extend => file::read(text, file_name, Some(&BUILT_IN)),
            Mode::Replace => file::read(text, file_name, None),
        }
    }

    /// The vocabulary that was read from these texts.
    ///
    /// # Errors
    ///
    /// As [`Vocabulary::from_toml`]: words that this program does not know, of a newer one say.
    pub fn from_texts(texts: &Texts) -> Result<Vocabulary, VocabularyError> {
        let (built_in, own) = match texts.0.split_first() {
            // It is read already.
            Some((first, own)) if first.as_ref() == BUILT_IN_TEXT => (Some(Vocabulary::built_in()), own),
            _ => (None, texts.0.as_slice()),
        };
        let over =
            |under: Option<Vocabulary>, text: &Arc<str>| file::read(text, "the journal", under.as_ref()).map(Some);
        Ok(own.iter().try_fold(built_in, over)?.unwrap_or_default())
    }

    /// The names of the files of the company's own pictures, each with the words that it shows.
    pub fn picture_files(&self) -> BTreeMap<&str, Vec<&str>> {
        let actions = self.actions.iter().map(|(word, row)| (word, &row.picture));
        let replies = self.replies.iter().map(|(word, row)| (word, &row.picture));
        let mut files: BTreeMap<&str, Vec<&str>> = BTreeMap::new();
        for (word, picture) in actions.chain(replies) {
            if let Some(picture) = picture {
                files.entry(&picture.file).or_default().push(word);
            }
        }
        files
    }

    /// The vocabulary with these pictures, by the names of their files. Its texts are those of this one and one more, so that
    /// whoever keeps them has the pictures.
    ///
    /// # Errors
    ///
    /// None that a drawing which was read can cause.
    pub fn with_drawings(&self, drawings: &BTreeMap<String, Drawing>) -> Result<Vocabulary, VocabularyError> {
        let row = |drawing: &Drawing| toml::Table::from_iter([("data".to_owned(), drawing.as_written().into())]);
        let rows = drawings.iter().map(|(file, drawing)| (file.clone(), toml::Value::Table(row(drawing))));
        let text = toml::Table::from_iter([("drawings".to_owned(), toml::Value::Table(rows.collect()))]).to_string();
        let with = file::read(&text, "the folder pictures", Some(self))?;
        Ok(Vocabulary { patterns: self.patterns.clone(), ..with })
    }

    /// A parry by its number or one of its names, with its number.
    pub fn parry(&self, word: &str) -> Option<(&str, &Parry)> {
        let found = self.parries.get_key_value(word);
        let found =
            found.or_else(|| self.parries.iter().find(|(_, parry)| parry.names.iter().any(|name| name == word)));
        found.map(|(number, parry)| (number.as_str(), parry))
    }

    /// The word of an action that makes this of the body, for remedies.
    pub fn action_that(&self, makes: Makes) -> Option<&str> {
        self.actions.iter().find(|(_, row)| row.makes.contains(&makes)).map(|(word, _)| word.as_str())
    }

    /// The word of a reply that makes this of the body, for remedies.
    pub fn reply_that(&self, makes: Makes) -> Option<&str> {
        self.replies.iter().find(|(_, row)| row.makes.contains(&makes)).map(|(word, _)| word.as_str())
    }

    /// True when a `take` that names `named` fits a hit on `target`.
    pub fn take_fits(&self, target: &str, named: &str) -> bool {
        self.targets.get(target).is_some_and(|row| row.takes.iter().any(|place| place == named))
    }

    /// Every number and name of a parry, for suggestions.
    pub fn parry_words(&self) -> impl Iterator<Item = &str> {
        self.parries.iter().flat_map(|(number, parry)| std::iter::once(number).chain(&parry.names)).map(String::as_str)
    }
}

impl Default for Vocabulary {
    fn default() -> Vocabulary {
        Vocabulary::built_in()
    }
}
