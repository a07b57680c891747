//! The vocabulary's TOML form. A row in a file is a patch: laid over the row of the same name it changes only the
//! fields it gives; a new word has to give them all. What comes out is checked, so that nothing after this has to ask.

use std::collections::BTreeMap;
use std::fmt;
use std::sync::Arc;

use super::Vocabulary;
use super::check::check;
use super::patch::Patch;
use super::patches;
use super::places::Places;
use super::rows::Reaction;
use crate::suggest::did_you_mean;
use crate::toml_table::{self, Table, TomlFile, TomlProblem};

/// How a production's vocabulary meets the built-in one.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Mode {
    /// Rows are laid over the built-in rows of the same name; all other built-in rows stay.
    #[default]
    Extend,
    /// Nothing is taken from the built-in vocabulary.
    Replace,
}

/// A vocabulary file that cannot be used. Mend the lines and try again.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct VocabularyError {
    /// Everything that is wrong with it, in order of line; never empty.
    pub problems: Vec<TomlProblem>,
}

impl fmt::Display for VocabularyError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let sentences: Vec<String> = self.problems.iter().map(ToString::to_string).collect();
        f.write_str(&sentences.join("\n"))
    }
}

impl std::error::Error for VocabularyError {}

/// Reads a file, over `base` when there is one.
pub(super) fn read(text: &str, file_name: &str, base: Option<&Vocabulary>) -> Result<Vocabulary, VocabularyError> {
    let read = toml_table::read(file_name, text, |file, top| {
        let (vocabulary, places) = over(file, top, base)?;
        // A slip in the name of a table takes its rows away; who names them is not to blame.
        if top.is_taken() {
            check(file, &vocabulary, &places);
        }
        Some(vocabulary)
    });
    let mut vocabulary = read.map_err(|problems| VocabularyError { problems })?;
    vocabulary.texts.0.push(text.into());
    Ok(vocabulary)
}

/// Everything that the file says, laid over `base`, and where it says it.
fn over(file: &mut TomlFile<'_>, top: &mut Table<'_>, base: Option<&Vocabulary>) -> Option<(Vocabulary, Places)> {
    let mut rows = Rows { file, top, places: Places::default() };
    let actions = rows.over("actions", base.map(|base| &base.actions), patches::action);
    let targets = rows.over("targets", base.map(|base| &base.targets), patches::target);
    let replies = rows.over("replies", base.map(|base| &base.replies), patches::reply);
    let parries = rows.over("parries", base.map(|base| &base.parries), patches::parry);
    let weapons = rows.over("weapons", base.map(|base| &base.weapons), patches::weapon);
    let drawings = rows.over("drawings", base.map(|base| base.drawings.as_ref()), patches::drawing);
    let sounds = rows.over("sounds", base.map(|base| &base.sounds), patches::sound);
    let reaction = rows.reaction(base.map(|base| &base.reaction))?;
    let texts = base.map(|base| base.texts.clone()).unwrap_or_default();
    let (patterns, drawings) = (Arc::default(), Arc::new(drawings));
    let vocabulary =
        Vocabulary { reaction, actions, targets, replies, parries, weapons, sounds, drawings, patterns, texts };
    Some((vocabulary, rows.places))
}

/// The tables of a file whose rows are being read.
struct Rows<'r, 'f, 't> {
    file: &'r mut TomlFile<'f>,
    top: &'r mut Table<'t>,
    places: Places,
}

impl Rows<'_, '_, '_> {
    /// The rows of a table, laid over those that there were before. A new row that is not sound is left out.
    fn over<R: Clone>(
        &mut self,
        table: &'static str,
        base: Option<&BTreeMap<String, R>>,
        read: impl Fn(&mut Patch<'_, '_, '_, R>) -> Option<R>,
    ) -> BTreeMap<String, R> {
        let mut merged = base.cloned().unwrap_or_default();
        for (word, row) in self.top.table(self.file, table).named_tables(self.file) {
            self.places.note(table, &word, &row);
            let mut patch = Patch::new(self.file, row, base.and_then(|rows| rows.get(&word)));
            let row = read(&mut patch);
            patch.finish(|| did_you_mean(&word, base?.keys().map(String::as_str)));
            merged.extend(row.map(|row| (word, row)));
        }
        merged
    }

    fn reaction(&mut self, base: Option<&Reaction>) -> Option<Reaction> {
        let is_written = self.top.says("reaction");
        let row = self.top.table(self.file, "reaction");
        if !is_written {
            if base.is_none() && !self.top.meant().contains("reaction") {
                let fields = "least_ms, usual_ms, most_ms and source";
                let says = format!("is missing; write [reaction] on a line of its own, and {fields} under it");
                self.file.problem(0..0, "reaction", says);
            }
            return base.cloned();
        }
        let place = row.place();
        let mut patch = Patch::new(self.file, row, base);
        let read = patches::reaction(&mut patch);
        patch.finish(|| None);
        if read.as_ref().is_some_and(|reaction| !reaction.rises()) {
            self.file.problem(place, "reaction", "has to rise from least_ms by usual_ms to most_ms, above 0");
        }
        read
    }
}
