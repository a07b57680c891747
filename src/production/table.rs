//! Reading a TOML table key by key, so that everything that is wrong with a file is told at once, each with its line and
//! its key: a value of the wrong kind, a value out of range, and, once all known keys are taken, the keys that are left.

use std::collections::BTreeSet;
use std::fmt;
use std::ops::RangeInclusive;

use toml::Spanned;
use toml::de::{DeTable, DeValue};

use crate::score::suggest::{any_of, did_you_mean};

/// One thing that is wrong with a configuration file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct ConfigProblem {
    /// The file, as the person knows it.
    pub file: String,
    /// The line, counted from 1.
    pub line: usize,
    /// The key with its tables, `rules.max_bpm`; nothing when the file is no TOML there.
    pub key: Option<String>,
    /// What is wrong and what to do.
    pub says: String,
}

impl fmt::Display for ConfigProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}, line {}: ", self.file, self.line)?;
        if let Some(key) = &self.key {
            write!(f, "`{key}` ")?;
        }
        // What they meant is asked at the end of some sentences; those have their mark.
        let mark = if self.says.ends_with('?') { "" } else { "." };
        write!(f, "{}{mark}", self.says)
    }
}

/// A file that is being read, and what was found wrong so far.
pub(super) struct ConfigFile<'a> {
    name: &'a str,
    text: &'a str,
    problems: Vec<ConfigProblem>,
}

impl<'a> ConfigFile<'a> {
    /// Reads the text with `read`, which takes what it knows from the top table.
    ///
    /// # Errors
    /// Everything that is wrong, in order of line.
    pub(super) fn read<T>(
        name: &'a str,
        text: &'a str,
        read: impl FnOnce(&mut ConfigFile<'a>, &mut Table<'a>) -> Option<T>,
    ) -> Result<T, Vec<ConfigProblem>> {
        let mut file = ConfigFile { name, text, problems: Vec::new() };
        let (top, errors) = DeTable::parse_recoverable(text);
        for error in errors {
            let says = error.message().trim_end_matches('.').replace('\n', ", ");
            let says = format!("this is not TOML: {says}");
            file.problems.push(ConfigProblem {
                file: name.to_owned(),
                line: file.line(&error.span()),
                key: None,
                says,
            });
        }
        let sound = file.problems.is_empty();
        let mut top = Table { path: String::new(), entries: top, known: BTreeSet::new() };
        // What is read from a file that is no TOML is only half of it: its own problems would mislead.
        let value = if sound { read(&mut file, &mut top) } else { None };
        if sound {
            top.finish(&mut file);
        }
        file.problems.sort_by_key(|problem| problem.line);
        value.filter(|_| file.problems.is_empty()).ok_or(file.problems)
    }

    /// Notes something that is wrong at a key.
    pub(super) fn problem(&mut self, span: std::ops::Range<usize>, key: &str, says: impl Into<String>) {
        let line = self.line(&Some(span));
        let (file, key) = (self.name.to_owned(), Some(key.to_owned()));
        self.problems.push(ConfigProblem { file, line, key, says: says.into() });
    }

    /// A list of texts, none of them empty.
    fn texts(&mut self, path: &str, value: Spanned<DeValue<'_>>) -> Option<Vec<String>> {
        self.list(path, value, "text in quotes that is not empty", |_, value| match value {
            DeValue::String(text) if !text.trim().is_empty() => Some(text.trim().to_owned()),
            _ => None,
        })
    }

    /// A list; `take` gives nothing for what is not `wanted`, having seen what came before.
    fn list<T>(
        &mut self,
        path: &str,
        value: Spanned<DeValue<'_>>,
        wanted: &str,
        take: impl Fn(&[T], &DeValue<'_>) -> Option<T>,
    ) -> Option<Vec<T>> {
        let (span, value) = (value.span(), value.into_inner());
        let DeValue::Array(values) = value else {
            self.problem(span, path, format!("is {}; it has to be a list in square brackets", kind(&value)));
            return None;
        };
        let mut list = Vec::new();
        for value in values.iter() {
            match take(&list, value.get_ref()) {
                Some(taken) => list.push(taken),
                None => {
                    let written = match value.get_ref() {
                        DeValue::String(text) => format!("“{}”", shorten(text)),
                        _ => shorten(self_text(self.text, &value.span())),
                    };
                    let says = format!("has {written} in it; there has to be {wanted}");
                    self.problem(value.span(), path, says);
                    return None;
                }
            }
        }
        Some(list)
    }

    fn line(&self, span: &Option<std::ops::Range<usize>>) -> usize {
        let start = span.as_ref().map_or(0, |span| span.start).min(self.text.len());
        self.text.as_bytes().iter().take(start).filter(|byte| **byte == b'\n').count() + 1
    }
}

/// A table of the file. Every `take` names a key that may stand in it.
pub(super) struct Table<'a> {
    path: String,
    entries: Spanned<DeTable<'a>>,
    known: BTreeSet<&'static str>,
}

impl<'a> Table<'a> {
    /// A table in this one; an empty one when it is not there.
    pub(super) fn table(&mut self, file: &mut ConfigFile<'_>, key: &'static str) -> Table<'a> {
        let path = self.key(key);
        let empty = Spanned::new(self.entries.span(), DeTable::default());
        let entries = match self.take(key) {
            None => empty,
            Some((_, value)) => {
                let span = value.span();
                match value.into_inner() {
                    DeValue::Table(table) => Spanned::new(span, table),
                    other => {
                        file.problem(span, &path, format!("is {}; it has to be a table: write [{path}] on a line of its own, and its keys under it", kind(&other)));
                        empty
                    }
                }
            }
        };
        Table { path, entries, known: BTreeSet::new() }
    }

    /// A text that is not empty.
    pub(super) fn text(&mut self, file: &mut ConfigFile<'_>, key: &'static str) -> Option<String> {
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

    /// A text that has to be there.
    pub(super) fn needed_text(&mut self, file: &mut ConfigFile<'_>, key: &'static str) -> Option<String> {
        if !self.has(key) {
            self.known.insert(key);
            file.problem(self.entries.span(), &self.key(key), "is missing; add it near the top, in quotes");
        }
        self.text(file, key)
    }

    /// A whole number that has to be there.
    pub(super) fn needed_whole(
        &mut self,
        file: &mut ConfigFile<'_>,
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
    pub(super) fn read_text<T, E: fmt::Display>(
        &mut self,
        file: &mut ConfigFile<'_>,
        key: &'static str,
        read: impl FnOnce(&str) -> Result<T, E>,
    ) -> Option<T> {
        let span = self.span(key);
        let text = self.text(file, key)?;
        read(&text).map_err(|why| file.problem(span, &self.key(key), format!("is \"{}\"; {why}", shorten(&text)))).ok()
    }

    /// The tables in this one, by names that the company chose. Other values are told as problems.
    pub(super) fn named_tables(mut self, file: &mut ConfigFile<'_>) -> Vec<(String, Table<'a>)> {
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

    /// Where the table stands in the file.
    pub(super) fn place(&self) -> std::ops::Range<usize> {
        self.entries.span()
    }

    /// Whether that key is written.
    pub(super) fn says(&self, key: &str) -> bool {
        self.has(key)
    }

    /// One of some words.
    pub(super) fn word<T: Copy>(
        &mut self,
        file: &mut ConfigFile<'_>,
        key: &'static str,
        words: &[(&'static str, T)],
    ) -> Option<T> {
        let span = self.span(key);
        let text = self.text(file, key)?;
        let found = words.iter().find(|(word, _)| *word == text).map(|(_, value)| *value);
        if found.is_none() {
            let known = || words.iter().map(|(word, _)| *word);
            let near = did_you_mean(&text, known()).map_or_else(String::new, |near| format!("; {near}"));
            let shown = shorten(&text);
            file.problem(span, &self.key(key), format!("is \"{shown}\"; it has to be {}{near}", any_of(known())));
        }
        found
    }

    /// A number in a range, whole or not.
    pub(super) fn number(
        &mut self,
        file: &mut ConfigFile<'_>,
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
            let written = shorten(self_text(file.text, &span));
            file.problem(span, &self.key(key), format!("is {written}; {}", wanted()));
        }
        found
    }

    /// A whole number in a range.
    pub(super) fn whole(
        &mut self,
        file: &mut ConfigFile<'_>,
        key: &'static str,
        range: RangeInclusive<u32>,
        unit: &str,
    ) -> Option<u32> {
        let span = self.span(key);
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
    pub(super) fn texts(&mut self, file: &mut ConfigFile<'_>, key: &'static str) -> Option<Vec<String>> {
        let value = self.take(key).map(|(_, value)| value)?;
        file.texts(&self.key(key), value)
    }

    /// A list of whole numbers in a range, each greater than the one before it.
    pub(super) fn rising(
        &mut self,
        file: &mut ConfigFile<'_>,
        key: &'static str,
        range: RangeInclusive<u16>,
    ) -> Option<Vec<u16>> {
        let wanted =
            format!("a whole number from {} to {}, greater than the one before it", range.start(), range.end());
        self.list(file, key, &wanted, |before: &[u16], value| match value {
            DeValue::Integer(digits) => u16::from_str_radix(digits.as_str(), digits.radix())
                .ok()
                .filter(|number| range.contains(number) && before.last().is_none_or(|last| last < number)),
            _ => None,
        })
    }

    /// Lists of texts, by names that the company chose. Other values are told as problems.
    pub(super) fn named_lists(mut self, file: &mut ConfigFile<'_>) -> Vec<(String, Vec<String>)> {
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

    /// A list; `take` gives nothing for what is not `wanted`, having seen what came before.
    fn list<T>(
        &mut self,
        file: &mut ConfigFile<'_>,
        key: &'static str,
        wanted: &str,
        take: impl Fn(&[T], &DeValue<'_>) -> Option<T>,
    ) -> Option<Vec<T>> {
        let value = self.take(key).map(|(_, value)| value)?;
        file.list(&self.key(key), value, wanted, take)
    }

    /// Everything that is left in the table has a name that nobody knows.
    pub(super) fn finish(self, file: &mut ConfigFile<'_>) {
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

    fn span(&self, key: &str) -> std::ops::Range<usize> {
        self.entries.get_ref().get(key).map_or(0..0, Spanned::span)
    }

    fn take(&mut self, key: &'static str) -> Option<(Spanned<std::borrow::Cow<'a, str>>, Spanned<DeValue<'a>>)> {
        self.known.insert(key);
        self.entries.as_mut().remove_entry(key)
    }

    fn key(&self, key: &str) -> String {
        join(&self.path, key)
    }
}

fn join(path: &str, key: &str) -> String {
    if path.is_empty() { key.to_owned() } else { format!("{path}.{key}") }
}

fn self_text<'t>(text: &'t str, span: &std::ops::Range<usize>) -> &'t str {
    text.get(span.clone()).unwrap_or("")
}

/// What somebody wrote, short enough for a sentence.
fn shorten(text: &str) -> String {
    let short: String = text.chars().take(40).flat_map(char::escape_debug).collect();
    if text.chars().nth(40).is_some() { short + "…" } else { short }
}

fn kind(value: &DeValue<'_>) -> &'static str {
    match value {
        DeValue::String(_) => "text",
        DeValue::Integer(_) | DeValue::Float(_) => "a number",
        DeValue::Boolean(_) => "true or false",
        DeValue::Datetime(_) => "a date",
        DeValue::Array(_) => "a list",
        DeValue::Table(_) => "a table",
    }
}
