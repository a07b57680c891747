//! A production's own patterns: written once in `patterns/*.fight`, used by every score of it. A score that uses one is
//! read as if the pattern stood at its end, so that what is kept of a run is a whole text; what is found in the pattern
//! is said at the line that uses it, with the file and line of the pattern.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

use super::model::{Item, Score, Span};
use super::parse::parse;
use super::position::Lines;
use super::problem::{Problem, Problems, Severity};
use super::raw::{RawScore, Statement};

/// Patterns by name, each with where it is written.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Library {
    patterns: BTreeMap<String, Written>,
}

/// A pattern as it is written.
#[derive(Clone, Debug, PartialEq)]
struct Written {
    file: String,
    /// Its first line, counted from 1.
    line: usize,
    text: String,
    /// The patterns that it uses.
    uses: BTreeSet<String>,
}

/// What a score borrows: its text with the patterns behind it.
#[derive(Clone, Debug)]
pub(super) struct Borrowed {
    pub(super) whole: String,
    /// The length of the score's own text.
    own: usize,
    /// Where each pattern begins in the whole, with its file and its first line there.
    places: Vec<(usize, String, usize)>,
}

impl Library {
    /// The patterns of some files, each with its name and its text, and a sentence for whatever keeps one from use.
    pub fn of(files: impl IntoIterator<Item = (String, String)>) -> (Library, Vec<String>) {
        let (mut library, mut unread) = (Library::default(), Vec::new());
        for (file, text) in files {
            let mut problems = Problems::new();
            let raw = parse(&text, &mut problems);
            let lines = Lines::new(&text);
            for problem in problems.into_sorted().into_iter().filter(|it| it.severity == Severity::Error) {
                let line = lines.position(problem.span.start).line;
                unread.push(format!("{file}, line {line}: {}.", problem.message));
            }
            for (name, range) in blocks(&raw, &text) {
                let line = lines.position(range.start).line;
                let uses = uses(&raw, &range);
                let written =
                    Written { file: file.clone(), line, text: text.get(range).unwrap_or_default().to_owned(), uses };
                match library.patterns.get(&name) {
                    Some(first) => unread.push(format!(
                        "{file}, line {line}: the pattern \"{name}\" is in {}, line {}, already, and that one is used.",
                        first.file, first.line
                    )),
                    None => drop(library.patterns.insert(name, written)),
                }
            }
            if let Some(line) = raw.lines.iter().find(|line| is_no_pattern(line.statement.as_ref())) {
                let line = lines.position(line.span.start).line;
                unread.push(format!(
                    "{file}, line {line}: only patterns stand in this folder; a fight belongs in scores/."
                ));
            }
        }
        (library, unread)
    }

    /// The names of the patterns.
    pub fn names(&self) -> impl Iterator<Item = &str> {
        self.patterns.keys().map(String::as_str)
    }

    /// The score's text with the patterns that it uses and has not written itself; nothing when it uses none of these.
    pub(super) fn lend(&self, text: &str, raw: &RawScore) -> Option<Borrowed> {
        if self.patterns.is_empty() {
            return None;
        }
        let own: BTreeSet<&str> = raw.lines.iter().filter_map(|line| pattern_name(line.statement.as_ref())).collect();
        let mut wanted: Vec<&str> = raw.lines.iter().filter_map(|line| used_name(line.statement.as_ref())).collect();
        let mut lent: BTreeMap<&str, &Written> = BTreeMap::new();
        while let Some(name) = wanted.pop() {
            if let Some((name, written)) = self.patterns.get_key_value(name).filter(|_| !own.contains(name))
                && lent.insert(name, written).is_none()
            {
                wanted.extend(written.uses.iter().map(String::as_str));
            }
        }
        if lent.is_empty() {
            return None;
        }
        let mut borrowed = Borrowed { whole: text.to_owned(), own: text.len(), places: Vec::new() };
        for written in lent.values() {
            borrowed.add(written);
        }
        Some(borrowed)
    }
}

impl Borrowed {
    fn add(&mut self, written: &Written) {
        if !self.whole.ends_with('\n') {
            self.whole.push('\n');
        }
        self.whole += &format!("# {}, line {}\n", written.file, written.line);
        self.places.push((self.whole.len(), written.file.clone(), written.line));
        self.whole += &written.text;
    }

    fn is_lent(&self, span: &Span) -> bool {
        span.start > self.own
    }

    /// A problem at the score's own line that uses the pattern, with where it is in the pattern.
    pub(super) fn brought_home(&self, mut problem: Problem) -> Problem {
        if self.is_lent(&problem.span) {
            let at = self.places.partition_point(|(start, ..)| *start <= problem.span.start);
            if let Some((start, file, first)) = at.checked_sub(1).and_then(|at| self.places.get(at)) {
                let before = self.whole.get(*start..problem.span.start).unwrap_or_default();
                let line = first + before.matches('\n').count();
                problem.message += &format!(" ({file}, line {line})");
            }
            let home = problem.related.iter().map(|(span, _)| span).find(|span| !self.is_lent(span));
            problem.span = home.cloned().unwrap_or(0..0);
        }
        let own = problem.span.clone();
        problem.related.retain(|(span, _)| !self.is_lent(span) && *span != own);
        problem
    }

    /// Every line that comes from a pattern stands where the score uses it.
    pub(super) fn bring_home(&self, score: &mut Score) {
        for phrase in &mut score.phrases {
            self.items_home(&mut phrase.items, None);
        }
    }

    fn items_home(&self, items: &mut [Item], home: Option<&Span>) {
        let bring = |span: &mut Span| {
            if let Some(home) = home.filter(|_| self.is_lent(span)) {
                span.clone_from(home);
            }
        };
        for item in items {
            match item {
                Item::Move(it) => {
                    bring(&mut it.span);
                    it.answer.iter_mut().for_each(|answer| bring(&mut answer.span));
                    it.sounds.iter_mut().for_each(|cue| bring(&mut cue.span));
                }
                Item::Walk(it) => bring(&mut it.span),
                Item::Sound(it) => {
                    bring(&mut it.span);
                    bring(&mut it.sounds.span);
                }
                Item::Repeat(it) => {
                    bring(&mut it.span);
                    it.used.iter_mut().for_each(|used| bring(&mut used.span));
                    let here = it.used.as_ref().map(|used| used.span.clone());
                    self.items_home(&mut it.items, here.as_ref().or(home));
                }
                Item::Place(_) | Item::Tempo(_) | Item::Rest(_) => {}
            }
        }
    }
}

fn pattern_name(statement: Option<&Statement>) -> Option<&str> {
    match statement {
        Some(Statement::Pattern(raw)) => Some(&raw.name.value),
        _ => None,
    }
}

fn used_name(statement: Option<&Statement>) -> Option<&str> {
    match statement {
        Some(Statement::Use(raw)) => Some(&raw.pattern.value),
        _ => None,
    }
}

fn is_no_pattern(statement: Option<&Statement>) -> bool {
    matches!(statement, Some(Statement::Fight(_) | Statement::FightersHead | Statement::Phrase(_)))
}

/// Each pattern's name, with its bytes: from its first line to the next pattern's or the first phrase.
fn blocks(raw: &RawScore, text: &str) -> Vec<(String, Range<usize>)> {
    let heads: Vec<(usize, Option<&str>)> = raw
        .lines
        .iter()
        .filter(|line| matches!(line.statement, Some(Statement::Pattern(_) | Statement::Phrase(_))))
        .map(|line| (line.span.start, pattern_name(line.statement.as_ref())))
        .collect();
    let ends = heads.iter().skip(1).map(|(start, _)| *start).chain([text.len()]);
    heads.iter().zip(ends).filter_map(|((start, name), end)| Some(((*name)?.to_owned(), *start..end))).collect()
}

fn uses(raw: &RawScore, range: &Range<usize>) -> BTreeSet<String> {
    let own = raw.lines.iter().filter(|line| range.contains(&line.span.start));
    own.filter_map(|line| used_name(line.statement.as_ref())).map(str::to_owned).collect()
}
