//! A row as a file gives it: a patch, laid over the row of the same name that there was before. A field that is not
//! given stays as it was; a new row has to give every field that has no usual value.

use std::ops::RangeInclusive;

use super::choices::Choice;
use crate::suggest::any_of;
use crate::toml_table::{Table, TomlFile};
use crate::units::Micros;

/// The longest time that a single action can be given, milliseconds.
const LONGEST_MS: u32 = 60_000;

/// A row that is being read, and the row that it is laid over.
pub(super) struct Patch<'r, 'f, 't, R> {
    file: &'r mut TomlFile<'f>,
    table: Table<'t>,
    before: Option<&'r R>,
    missing: Vec<&'static str>,
}

impl<'r, 'f, 't, R> Patch<'r, 'f, 't, R> {
    /// A table of the file, over the row that there was before.
    pub(super) fn new(file: &'r mut TomlFile<'f>, table: Table<'t>, before: Option<&'r R>) -> Patch<'r, 'f, 't, R> {
        Patch { file, table, before, missing: Vec::new() }
    }

    /// A field that a new row needs; nothing when neither row has it, or when what is written is wrong in a new row.
    pub(super) fn needed<T>(
        &mut self,
        key: &'static str,
        read: impl FnOnce(&mut Table<'t>, &mut TomlFile<'f>, &'static str) -> Option<T>,
        before: impl FnOnce(&R) -> T,
    ) -> Option<T> {
        if self.before.is_none() && !self.table.says(key) {
            self.missing.push(key);
        }
        read(&mut self.table, self.file, key).or_else(|| self.before.map(before))
    }

    /// A field that a new row may leave at its usual value.
    pub(super) fn usual<T>(
        &mut self,
        key: &'static str,
        read: impl FnOnce(&mut Table<'t>, &mut TomlFile<'f>, &'static str) -> Option<T>,
        before: impl FnOnce(&R) -> T,
        usual: T,
    ) -> T {
        read(&mut self.table, self.file, key).or_else(|| self.before.map(before)).unwrap_or(usual)
    }

    /// A word that a row may go without; an empty one takes away the word that was there before.
    pub(super) fn name(&mut self, key: &'static str, before: impl FnOnce(&R) -> Option<String>) -> Option<String> {
        let read = |table: &mut Table<'t>, file: &mut TomlFile<'f>, key| table.text_as_written(file, key).map(Some);
        self.usual(key, read, before, None).filter(|word| !word.is_empty())
    }

    /// Tells which fields are missing and which are not known. `near` is the row that was meant, as a sentence.
    pub(super) fn finish(mut self, near: impl FnOnce() -> Option<String>) {
        let meant = self.table.meant();
        self.missing.retain(|field| !meant.contains(field));
        let fields: Vec<String> = self.missing.iter().map(|field| format!("`{field}`")).collect();
        if !fields.is_empty() {
            let them = if fields.len() == 1 { "it" } else { "them all" };
            let near = near().map_or_else(String::new, |near| format!("; {near}"));
            let fields = any_of(fields.iter().map(String::as_str));
            let says = format!("has no {fields}; a new row needs {them}{near}");
            self.file.problem(self.table.place(), self.table.path(), says);
        }
        self.table.finish(self.file);
    }
}

/// One of a few words.
pub(super) fn choice<T: Choice>(table: &mut Table<'_>, file: &mut TomlFile<'_>, key: &'static str) -> Option<T> {
    table.word(file, key, T::WORDS)
}

/// Some of a few words.
pub(super) fn choices<T: Choice>(table: &mut Table<'_>, file: &mut TomlFile<'_>, key: &'static str) -> Option<Vec<T>> {
    table.words(file, key, T::WORDS)
}

/// How long something takes: at most a minute.
pub(super) fn length(table: &mut Table<'_>, file: &mut TomlFile<'_>, key: &'static str) -> Option<Micros> {
    millis(table, file, key, 0..=LONGEST_MS)
}

/// How long something takes that may be as long as it likes.
pub(super) fn any_length(table: &mut Table<'_>, file: &mut TomlFile<'_>, key: &'static str) -> Option<Micros> {
    millis(table, file, key, 0..=u32::MAX)
}

fn millis(
    table: &mut Table<'_>,
    file: &mut TomlFile<'_>,
    key: &'static str,
    range: RangeInclusive<u32>,
) -> Option<Micros> {
    table.whole(file, key, range, " milliseconds").map(|length| Micros::millis(i64::from(length)))
}

/// Where a row comes from.
pub(super) fn source(table: &mut Table<'_>, file: &mut TomlFile<'_>, key: &'static str) -> Option<String> {
    let (place, path) = (table.place_of(key), table.key(key));
    let source = table.text_as_written(file, key)?;
    if source.trim().is_empty() {
        file.problem(place, &path, "is empty; write where it comes from, or \"common practice, no source\"");
        return None;
    }
    Some(source)
}
