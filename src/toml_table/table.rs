//! A table of a TOML file, from which what is known is taken key by key. What is wrong with a value is told to the
//! file.

use std::borrow::Cow;
use std::collections::BTreeSet;
use std::fmt;
use std::ops::{Range, RangeInclusive};

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use super::file::TomlFile;
use super::value::{kind, shorten};
use crate::suggest::{any_of, did_you_mean, nearest};

/// A table of the file. Every `take` names a key that may stand in it.
pub(crate) struct Table<'a> {
    path: String,
    entries: Spanned<DeTable<'a>>,
    known: BTreeSet<&'static str>,
}

impl<'a> Table<'a> {
    /// The whole file as a table.
    pub(super) fn top(entries: Spanned<DeTable<'a>>) -> Table<'a> {
        Table { path: String::new(), entries, known: BTreeSet::new() }
    }

    /// A table in this one; an empty one when it is not there.
    pub(crate) fn table(&mut self, file: &mut TomlFile<'_>, key: &'static str) -> Table<'a> {
        let path = self.key(key);
        let empty = Spanned::new(self.entries.span(), DeTable::default());
        let entries = match self.take(key) {
            None => empty,
            Some((_, value)) => {
                let span = value.span();
                match value.into_inner() {
                    DeValue::Table(table) => Spanned::new(span, table),
                    other => {
                        let how = format!("write [{path}] on a line of its own, and its keys under it");
                        file.problem(span, &path, format!("is {}; it has to be a table: {how}", kind(&other)));
                        empty
                    }
                }
            }
        };
        Table { path, entries, known: BTreeSet::new() }
    }

    /// Tables in a row, each under a line `[[key]]` of its own; none when there is no such line.
    pub(crate) fn tables(&mut self, file: &mut TomlFile<'_>, key: &'static str) -> Vec<Table<'a>> {
        let path = self.key(key);
        let Some((_, value)) = self.take(key) else { return Vec::new() };
        let span = value.span();
        let how = format!("write [[{path}]] on a line of its own, and its keys under it");
        let DeValue::Array(values) = value.into_inner() else {
            file.problem(span, &path, format!("has to be tables in a row: {how}"));
            return Vec::new();
        };
        let mut tables = Vec::new();
        for value in values {
            let span = value.span();
            match value.into_inner() {
                DeValue::Table(table) => {
                    let entries = Spanned::new(span, table);
                    tables.push(Table { path: path.clone(), entries, known: BTreeSet::new() });
                }
                other => file.problem(span, &path, format!("has {} in it: {how}", kind(&other))),
            }
        }
        tables
    }

    /// A text that is not empty.
    pub(crate) fn text(&mut self, file: &mut TomlFile<'_>, key: &'static str) -> Option<String> {
        let (span, value) = self.take(key).map(|(_, value)| (value.span(), value.into_inner()))?;
        match value {
            DeValue::String(text) if !text.trim().is_empty() => return Some(text.trim().to_owned()),
            DeValue::String(_) => {
                file.problem(span, &self.key(key), "is empty; write something between the quotes, or leave the key out")
            }
            other => file.problem(span, &self.key(key), format!("is {}; it has to be text in quotes", kind(&other))),
        }
        None
    }

    /// A text as it is written, empty or not.
    pub(crate) fn text_as_written(&mut self, file: &mut TomlFile<'_>, key: &'static str) -> Option<String> {
        let (span, value) = self.take(key).map(|(_, value)| (value.span(), value.into_inner()))?;
        match value {
            DeValue::String(text) => return Some(text.into_owned()),
            other => file.problem(span, &self.key(key), format!("is {}; it has to be text in quotes", kind(&other))),
        }
        None
    }

    /// A text that has to be there.
    pub(crate) fn needed_text(&mut self, file: &mut TomlFile<'_>, key: &'static str) -> Option<String> {
        if !self.has(key) {
            self.known.insert(key);
            file.problem(self.entries.span(), &self.key(key), "is missing; add it near the top, in quotes");
        }
        self.text(file, key)
    }

    /// A whole number that has to be there.
    pub(crate) fn needed_whole(
        &mut self,
        file: &mut TomlFile<'_>,
        key: &'static str,
        range: RangeInclusive<u32>,
    ) -> Option<u32> {
        if !self.has(key) {
            self.known.insert(key);
            let says = format!("is missing; it has to be a whole number from {} to {}", range.start(), range.end());
            file.problem(self.entries.span(), &self.key(key), says);
        }
        self.whole(file, key, range, "")
    }

    /// A text with a form of its own. What `read` refuses is told after the value: `is "…"; it has to be …`.
    pub(crate) fn read_text<T, E: fmt::Display>(
        &mut self,
        file: &mut TomlFile<'_>,
        key: &'static str,
        read: impl FnOnce(&str) -> Result<T, E>,
    ) -> Option<T> {
        let span = self.place_of(key);
        let text = self.text(file, key)?;
        read(&text).map_err(|why| file.problem(span, &self.key(key), format!("is \"{}\"; {why}", shorten(&text)))).ok()
    }

    /// The tables in this one, by names that the company chose. Other values are told as problems.
    pub(crate) fn named_tables(mut self, file: &mut TomlFile<'_>) -> Vec<(String, Table<'a>)> {
        let entries = std::mem::take(self.entries.as_mut());
        let mut tables = Vec::new();
        for (key, value) in entries {
            let name = key.get_ref().to_string();
            let (path, span) = (join(&self.path, &shorten(&name)), value.span());
            match value.into_inner() {
                DeValue::Table(table) => {
                    let entries = Spanned::new(span, table);
                    tables.push((name, Table { path, entries, known: BTreeSet::new() }));
                }
                other => file.problem(span, &path, format!("is {}; it has to be a table in braces", kind(&other))),
            }
        }
        tables
    }

    /// Texts that are not empty, by names that the company chose. Other values are told as problems.
    pub(crate) fn named_texts(mut self, file: &mut TomlFile<'_>) -> Vec<(String, String)> {
        let entries = std::mem::take(self.entries.as_mut());
        let mut texts = Vec::new();
        for (key, value) in entries {
            let name = key.get_ref().to_string();
            let (path, span) = (join(&self.path, &shorten(&name)), value.span());
            match value.into_inner() {
                DeValue::String(text) if !text.trim().is_empty() => texts.push((name, text.trim().to_owned())),
                other => file.problem(span, &path, format!("is {}; it has to be a word in quotes", kind(&other))),
            }
        }
        texts
    }

    /// Where the table stands in the file.
    pub(crate) fn place(&self) -> Range<usize> {
        self.entries.span()
    }

    /// Where the value of a key stands in the file.
    pub(crate) fn place_of(&self, key: &str) -> Range<usize> {
        self.entries.get_ref().get(key).map_or(0..0, Spanned::span)
    }

    /// The table's own name, with the tables that it stands in.
    pub(crate) fn path(&self) -> &str {
        &self.path
    }

    /// A key with the tables that it stands in.
    pub(crate) fn key(&self, key: &str) -> String {
        join(&self.path, key)
    }

    /// Whether that key is written.
    pub(crate) fn says(&self, key: &str) -> bool {
        self.has(key)
    }

    /// One of some words.
    pub(crate) fn word<T: Copy>(
        &mut self,
        file: &mut TomlFile<'_>,
        key: &'static str,
        words: &[(&'static str, T)],
    ) -> Option<T> {
        let span = self.place_of(key);
        let text = self.text(file, key)?;
        let found = find(words, &text);
        if let Err(wanted) = &found {
            file.problem(span, &self.key(key), format!("is \"{}\"; it has to be {wanted}", shorten(&text)));
        }
        found.ok()
    }

    /// A list of some words.
    pub(crate) fn words<T: Copy>(
        &mut self,
        file: &mut TomlFile<'_>,
        key: &'static str,
        words: &[(&'static str, T)],
    ) -> Option<Vec<T>> {
        self.list(file, key, |value| match value {
            DeValue::String(text) => find(words, text),
            _ => Err(any_of(words.iter().map(|(word, _)| *word))),
        })
    }

    /// True or false.
    pub(crate) fn flag(&mut self, file: &mut TomlFile<'_>, key: &'static str) -> Option<bool> {
        let (span, value) = self.take(key).map(|(_, value)| (value.span(), value.into_inner()))?;
        match value {
            DeValue::Boolean(flag) => return Some(flag),
            other => {
                let says = format!("is {}; it has to be true or false, without quotes", kind(&other));
                file.problem(span, &self.key(key), says);
            }
        }
        None
    }

    /// A number in a range, whole or not.
    pub(crate) fn number(
        &mut self,
        file: &mut TomlFile<'_>,
        key: &'static str,
        range: RangeInclusive<f64>,
        unit: &str,
    ) -> Option<f64> {
        let (span, value) = self.take(key).map(|(_, value)| (value.span(), value.into_inner()))?;
        let wanted = || format!("it has to be a number from {} to {}{unit}", range.start(), range.end());
        let number = match &value {
            DeValue::Integer(digits) => i64::from_str_radix(digits.as_str(), digits.radix()).ok().map(|n| n as f64),
            DeValue::Float(digits) => digits.as_str().parse::<f64>().ok(),
            other => {
                file.problem(span, &self.key(key), format!("is {}; {}", kind(other), wanted()));
                return None;
            }
        };
        let found = number.filter(|number| range.contains(number));
        if found.is_none() {
            let written = shorten(file.written(&span));
            file.problem(span, &self.key(key), format!("is {written}; {}", wanted()));
        }
        found
    }

    /// A whole number in a range.
    pub(crate) fn whole(
        &mut self,
        file: &mut TomlFile<'_>,
        key: &'static str,
        range: RangeInclusive<u32>,
        unit: &str,
    ) -> Option<u32> {
        let span = self.place_of(key);
        let number = self.number(file, key, f64::from(*range.start())..=f64::from(*range.end()), unit)?;
        if number.fract() != 0.0 {
            let wanted =
                format!("is {number}; it has to be a whole number from {} to {}{unit}", range.start(), range.end());
            file.problem(span, &self.key(key), wanted);
            return None;
        }
        // In range and whole, so nothing is cut off.
        Some(number as u32)
    }

    /// A list of texts, none of them empty.
    pub(crate) fn texts(&mut self, file: &mut TomlFile<'_>, key: &'static str) -> Option<Vec<String>> {
        let value = self.take(key).map(|(_, value)| value)?;
        file.texts(&self.key(key), value)
    }

    /// A list of texts as they are written, empty or not.
    pub(crate) fn texts_as_written(&mut self, file: &mut TomlFile<'_>, key: &'static str) -> Option<Vec<String>> {
        self.list(file, key, |value| match value {
            DeValue::String(text) => Ok(text.as_ref().to_owned()),
            _ => Err("text in quotes".to_owned()),
        })
    }

    /// A list of texts as they are written, or the one word that stands for all of them.
    pub(crate) fn texts_or<T>(
        &mut self,
        file: &mut TomlFile<'_>,
        key: &'static str,
        all: (&'static str, T),
        these: impl FnOnce(Vec<String>) -> T,
    ) -> Option<T> {
        let (word, value) = all;
        let (span, is, near) = match self.entries.get_ref().get(key).map(|entry| (entry.span(), entry.get_ref())) {
            Some((_, DeValue::Array(_))) | None => return self.texts_as_written(file, key).map(these),
            Some((_, DeValue::String(text))) if text == word => return self.take(key).map(|_| value),
            Some((span, DeValue::String(text))) => {
                (span, format!("\"{}\"", shorten(text)), did_you_mean(text, [word]).map(|near| format!("; {near}")))
            }
            Some((span, other)) => (span, kind(other).to_owned(), None),
        };
        self.take(key);
        let says = format!("is {is}; it has to be \"{word}\" or a list in square brackets");
        file.problem(span, &self.key(key), says + &near.unwrap_or_default());
        None
    }

    /// A list of whole numbers in a range, each greater than the one before it.
    pub(crate) fn rising(
        &mut self,
        file: &mut TomlFile<'_>,
        key: &'static str,
        range: RangeInclusive<u16>,
    ) -> Option<Vec<u16>> {
        let wanted =
            format!("a whole number from {} to {}, greater than the one before it", range.start(), range.end());
        let mut before = None;
        self.list(file, key, |value| {
            let DeValue::Integer(digits) = value else { return Err(wanted.clone()) };
            let number = u16::from_str_radix(digits.as_str(), digits.radix()).ok();
            let rises = number.filter(|number| range.contains(number) && before.is_none_or(|before| before < *number));
            before = number.or(before);
            rises.ok_or_else(|| wanted.clone())
        })
    }

    /// Lists of texts, by names that the company chose. Other values are told as problems.
    pub(crate) fn named_lists(mut self, file: &mut TomlFile<'_>) -> Vec<(String, Vec<String>)> {
        let entries = std::mem::take(self.entries.as_mut());
        let mut lists = Vec::new();
        for (key, value) in entries {
            let name = key.get_ref().to_string();
            let path = join(&self.path, &shorten(&name));
            if let Some(texts) = file.texts(&path, value) {
                lists.push((name, texts));
            }
        }
        lists
    }

    /// A value with a form of its own; for one that is wrong `take` says what it has to be.
    pub(crate) fn value<T>(
        &mut self,
        file: &mut TomlFile<'_>,
        key: &'static str,
        take: impl FnOnce(&DeValue<'_>) -> Result<T, String>,
    ) -> Option<T> {
        let (_, value) = self.take(key)?;
        let taken = take(value.get_ref());
        if let Err(wanted) = &taken {
            let written = shorten(file.written(&value.span()));
            file.problem(value.span(), &self.key(key), format!("is {written}; it has to be {wanted}"));
        }
        taken.ok()
    }

    /// A list; for an element that is wrong `take` says what there has to be.
    pub(crate) fn list<T>(
        &mut self,
        file: &mut TomlFile<'_>,
        key: &'static str,
        take: impl FnMut(&DeValue<'_>) -> Result<T, String>,
    ) -> Option<Vec<T>> {
        let value = self.take(key).map(|(_, value)| value)?;
        file.list(&self.key(key), value, take)
    }

    /// Which of the known keys were meant by those that are left.
    pub(crate) fn meant(&self) -> BTreeSet<&'static str> {
        let left = self.entries.get_ref().keys();
        left.filter_map(|key| nearest(key.get_ref(), self.known.iter().copied())).collect()
    }

    /// True when no key is left.
    pub(crate) fn is_taken(&self) -> bool {
        self.entries.get_ref().is_empty()
    }

    /// The keys that are left, each with the place of its value.
    pub(crate) fn left(&self) -> impl Iterator<Item = (&str, Range<usize>)> {
        self.entries.get_ref().iter().map(|(key, value)| (key.get_ref().as_ref(), value.span()))
    }

    /// Everything that is left in the table has a name that nobody knows.
    pub(crate) fn finish(self, file: &mut TomlFile<'_>) {
        for key in self.entries.get_ref().keys() {
            let name = key.get_ref().as_ref();
            let path = join(&self.path, &shorten(name));
            let says = match did_you_mean(name, self.known.iter().copied()) {
                Some(near) => format!("is not known here; {near}"),
                None => format!("is not known here; there is {}", any_of(self.known.iter().copied())),
            };
            file.problem(key.span(), &path, says);
        }
    }

    fn has(&self, key: &str) -> bool {
        self.entries.get_ref().contains_key(key)
    }

    fn take(&mut self, key: &'static str) -> Option<(Spanned<Cow<'a, str>>, Spanned<DeValue<'a>>)> {
        self.known.insert(key);
        self.entries.as_mut().remove_entry(key)
    }
}

fn join(path: &str, key: &str) -> String {
    if path.is_empty() { key.to_owned() } else { format!("{path}.{key}") }
}

/// The value of one of some words; for another word the words there are, and the nearest.
fn find<T: Copy>(words: &[(&'static str, T)], text: &str) -> Result<T, String> {
    let known = || words.iter().map(|(word, _)| *word);
    let found = words.iter().find(|(word, _)| *word == text).map(|(_, value)| *value);
    found.ok_or_else(|| {
        let near = did_you_mean(text, known()).map_or_else(String::new, |near| format!("; {near}"));
        any_of(known()) + &near
    })
}
