//! Where the rows of a vocabulary file stand, and their fields, so that what is wrong with a row is told with its line.

use std::collections::BTreeMap;
use std::ops::Range;

use crate::toml_table::Table;

/// Where each row of the file stands, by table and word.
#[derive(Default)]
pub(super) struct Places(BTreeMap<(&'static str, String), Place>);

struct Place {
    row: Range<usize>,
    fields: BTreeMap<String, Range<usize>>,
}

impl Places {
    /// Notes a row of which nothing is read yet.
    pub(super) fn note(&mut self, table: &'static str, word: &str, row: &Table<'_>) {
        let fields = row.left().map(|(field, span)| (field.to_owned(), span)).collect();
        self.0.insert((table, word.to_owned()), Place { row: row.place(), fields });
    }

    /// True when the file has that row, sound or not.
    pub(super) fn has(&self, table: &'static str, word: &str) -> bool {
        self.0.contains_key(&(table, word.to_owned()))
    }

    /// The file's rows, each with its table and word.
    pub(super) fn rows(&self) -> impl Iterator<Item = (&'static str, &str)> {
        self.0.keys().map(|(table, word)| (*table, word.as_str()))
    }

    /// A row, and its key as it is told. A row that the file does not have stands at its beginning.
    pub(super) fn row(&self, table: &'static str, word: &str) -> (Range<usize>, String) {
        let place = self.0.get(&(table, word.to_owned()));
        (place.map_or(0..0, |place| place.row.clone()), format!("{table}.{word}"))
    }

    /// A field of a row, and its key as it is told; the row itself when the file gives it no such field.
    pub(super) fn field(&self, table: &'static str, word: &str, field: &str) -> (Range<usize>, String) {
        let place = self.0.get(&(table, word.to_owned()));
        match place.and_then(|place| place.fields.get(field)) {
            Some(span) => (span.clone(), format!("{table}.{word}.{field}")),
            None => self.row(table, word),
        }
    }
}
