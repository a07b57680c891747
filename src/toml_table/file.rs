//! A TOML file that is being read: its text, where its lines begin, and everything that was found wrong so far.

use std::ops::Range;

use toml::Spanned;
use toml::de::DeValue;

use super::problem::TomlProblem;
use super::value::{kind, shorten};

/// A file that is being read, and what was found wrong so far.
pub(crate) struct TomlFile<'a> {
    name: &'a str,
    text: &'a str,
    /// The byte at which each line begins, without the first line's 0.
    starts: Vec<usize>,
    problems: Vec<TomlProblem>,
}

impl<'a> TomlFile<'a> {
    /// A file of which nothing is read yet. `name` is what it is called in sentences.
    pub(super) fn new(name: &'a str, text: &'a str) -> TomlFile<'a> {
        let breaks = text.bytes().enumerate().filter(|(_, byte)| *byte == b'\n');
        TomlFile { name, text, starts: breaks.map(|(at, _)| at + 1).collect(), problems: Vec::new() }
    }

    /// Notes where the text is no TOML.
    pub(super) fn no_toml(&mut self, error: &toml::de::Error) {
        let says = error.message().trim_end_matches('.').replace('\n', ", ");
        self.note(error.span().unwrap_or(0..0), None, format!("this is not TOML: {says}"));
    }

    /// Notes something that is wrong at a key.
    pub(crate) fn problem(&mut self, span: Range<usize>, key: &str, says: impl Into<String>) {
        self.note(span, Some(key.to_owned()), says.into());
    }

    /// True when nothing was found wrong so far.
    pub(super) fn is_sound(&self) -> bool {
        self.problems.is_empty()
    }

    /// Everything that was found wrong, in order of line.
    pub(super) fn into_problems(self) -> Vec<TomlProblem> {
        let mut problems = self.problems;
        problems.sort_by_key(|problem| problem.line);
        problems
    }

    /// What is written there.
    pub(super) fn written(&self, span: &Range<usize>) -> &'a str {
        self.text.get(span.clone()).unwrap_or("")
    }

    /// A list. For an element that is wrong `take` says what there has to be; every such element is told.
    pub(super) fn list<T>(
        &mut self,
        path: &str,
        value: Spanned<DeValue<'_>>,
        mut take: impl FnMut(&DeValue<'_>) -> Result<T, String>,
    ) -> Option<Vec<T>> {
        let (span, value) = (value.span(), value.into_inner());
        let DeValue::Array(values) = value else {
            self.problem(span, path, format!("is {}; it has to be a list in square brackets", kind(&value)));
            return None;
        };
        let mut list = Vec::new();
        for value in values.iter() {
            match take(value.get_ref()) {
                Ok(taken) => list.push(taken),
                Err(wanted) => {
                    let written = match value.get_ref() {
                        DeValue::String(text) => format!("“{}”", shorten(text)),
                        _ => shorten(self.written(&value.span())),
                    };
                    self.problem(value.span(), path, format!("has {written} in it; there has to be {wanted}"));
                }
            }
        }
        // What was wrong has been told, and half a list is no list.
        (list.len() == values.len()).then_some(list)
    }

    /// A list of texts, none of them empty.
    pub(super) fn texts(&mut self, path: &str, value: Spanned<DeValue<'_>>) -> Option<Vec<String>> {
        self.list(path, value, |value| match value {
            DeValue::String(text) if !text.trim().is_empty() => Ok(text.trim().to_owned()),
            _ => Err("text in quotes that is not empty".to_owned()),
        })
    }

    fn note(&mut self, span: Range<usize>, key: Option<String>, says: String) {
        let line = self.starts.partition_point(|start| *start <= span.start) + 1;
        self.problems.push(TomlProblem { file: self.name.to_owned(), line, key, says });
    }
}
