//! Patterns: what is written once with roles is done by people wherever it is used. A use is laid out here into the
//! lines that it means, in rounds like those of a repeat; everything after this knows lines and rounds, and where they
//! come from.

use std::collections::{HashMap, HashSet};

use super::phrase::PhraseBuilder;
use super::repeats::too_many;
use super::transform::{Floor, Shape};
use super::{MOST_UNROLLED, Resolver};
use crate::score::line::shown;
use crate::score::model::{Span, Used};
use crate::score::problem::{Problem, Problems, Severity};
use crate::score::quantity;
use crate::score::raw::{RawPattern, RawPoint, RawScore, RawUse, Statement, Text};
use crate::suggest::{any_of, did_you_mean};
use crate::units::Ticks;

/// A pattern as it is written.
pub(super) struct Pattern<'a> {
    raw: &'a RawPattern,
    span: &'a Span,
    lines: Vec<(&'a Statement, &'a Span)>,
}

impl Pattern<'_> {
    /// The names of its stages, in order.
    fn stages(&self) -> impl Iterator<Item = &Text> {
        self.lines.iter().filter_map(|(line, _)| if let Statement::Stage(name) = line { Some(name) } else { None })
    }

    /// How long a round is: as long as is written, or up to the first whole beat after the last line of all stages.
    fn every(&self) -> Ticks {
        let written = self.raw.every.as_ref().and_then(|every| quantity::beats(&every.value).ok());
        // A round of nothing has been reported, and is counted as one of a beat.
        let written = written.map(|every| if every > Ticks::ZERO { every } else { Ticks::beats(1) });
        written.unwrap_or_else(|| end_of(&self.lines).ceil_beat().max(Ticks::beats(1)))
    }
}

/// Where the lines of a round end; those of an inner repeat end with it.
fn end_of(lines: &[(&Statement, &Span)]) -> Ticks {
    let place = |beat: &Text| quantity::beats(&beat.value).unwrap_or_default() - Ticks::beats(1);
    let mut end = Ticks::ZERO;
    let mut depth = 0_usize;
    for (line, _) in lines {
        let own = match line {
            Statement::Repeat(raw) => {
                depth += 1;
                let every = quantity::beats(&raw.every.value).unwrap_or_default();
                Ticks(place(&raw.at).0.saturating_add(every.0.saturating_mul(i64::from(raw.times.value))))
            }
            Statement::End => {
                depth = depth.saturating_sub(1);
                Ticks::ZERO
            }
            Statement::Move(raw) => Ticks(place(&raw.at).0 + 1).ceil_beat(),
            Statement::Sound(raw) => Ticks(place(&raw.at).0 + 1).ceil_beat(),
            Statement::Walk(raw) => place(&raw.by),
            _ => Ticks::ZERO,
        };
        // The first line of a repeat has counted it already.
        if depth == 0 || matches!(line, Statement::Repeat(_) if depth == 1) {
            end = end.max(own);
        }
    }
    end
}

/// All patterns of a score, by name.
#[derive(Default)]
pub(super) struct Patterns<'a> {
    by_name: HashMap<&'a str, Pattern<'a>>,
    used: HashSet<&'a str>,
    /// Lines that uses were laid out into so far.
    laid_out: u64,
    /// What was said of a pattern's line already, so that it is said once.
    said: HashSet<(usize, &'static str, String)>,
}

impl<'a> Patterns<'a> {
    /// Finds every pattern, wherever it stands; reports names that are there twice and lines that cannot stand in one.
    pub(super) fn of(raw: &'a RawScore, problems: &mut Problems) -> Patterns<'a> {
        let mut patterns = Patterns::default();
        let mut open: Option<Pattern<'a>> = None;
        for line in &raw.lines {
            match &line.statement {
                Some(Statement::Pattern(raw)) => {
                    patterns.close(open.take(), problems);
                    open = Some(Pattern { raw, span: &line.span, lines: Vec::new() });
                }
                Some(Statement::Phrase(_)) => patterns.close(open.take(), problems),
                Some(statement) => {
                    if let Some(pattern) = &mut open
                        && belongs(statement, &line.span, problems)
                    {
                        pattern.lines.push((statement, &line.span));
                    }
                }
                None => {}
            }
        }
        patterns.close(open, problems);
        patterns
    }

    fn close(&mut self, pattern: Option<Pattern<'a>>, problems: &mut Problems) {
        let Some(pattern) = pattern else { return };
        let name = &pattern.raw.name;
        twice(&pattern.raw.roles, "role", problems);
        twice(&pattern.raw.parameters, "word", problems);
        let nothing = |every: &&Text| quantity::beats(&every.value).is_ok_and(|every| every <= Ticks::ZERO);
        if let Some(every) = pattern.raw.every.as_ref().filter(nothing) {
            let problem = Problem::error("S307", every.span.clone(), "a round must be longer than nothing");
            problems.push(problem.help("write how many beats a round lasts, such as `every 4`"));
        }
        if let Some(first) = self.by_name.get(name.value.as_str()) {
            let message = format!("two patterns are called \"{}\"", shown(&name.value));
            problems.push(
                Problem::error("S229", name.span.clone(), message)
                    .related(first.raw.name.span.clone(), "first here")
                    .help("give this one another name"),
            );
            return;
        }
        self.by_name.insert(&name.value, pattern);
    }

    /// Advice on every pattern that is used nowhere: its lines were not looked at.
    pub(super) fn unused(&self, problems: &mut Problems) {
        for (name, pattern) in &self.by_name {
            if !self.used.contains(name) {
                let message = format!("the pattern \"{}\" is used nowhere, so its moves were not checked", shown(name));
                let help = format!("write in a phrase: use \"{}\" at 1 by …", shown(name));
                problems.push(Problem::advice("S230", pattern.span.clone(), message).help(help));
            }
        }
    }
}

/// Reports a line that cannot stand in a pattern. True when it can.
fn belongs(statement: &Statement, span: &Span, problems: &mut Problems) -> bool {
    let (what, help) = match statement {
        Statement::Tempo(_) => ("a tempo", "write it into the phrase that uses the pattern"),
        Statement::Place(_) => ("a place", "write it into the phrase that uses the pattern; on the way use walk"),
        Statement::Rest(_) => ("a rest", "make the rounds longer with `every` in the pattern's first line"),
        Statement::Use(_) => ("a use of a pattern", "use both in a phrase, one after the other"),
        Statement::Broken(_) => return false,
        _ => return true,
    };
    let message = format!("{what} cannot stand in a pattern");
    problems.push(Problem::error("S226", span.clone(), message).help(help));
    false
}

fn twice(names: &[Text], what: &str, problems: &mut Problems) {
    let mut seen = HashSet::new();
    for name in names {
        if !seen.insert(&name.value) {
            let message = format!("the {what} `{}` is there twice", shown(&name.value));
            problems.push(Problem::error("S229", name.span.clone(), message).help("give one of them another name"));
        }
    }
}

impl<'a> Resolver<'a> {
    /// Lays out a use of a pattern.
    pub(super) fn use_pattern(&mut self, phrase: &mut PhraseBuilder, raw: &'a RawUse, span: &Span) {
        let mut patterns = std::mem::take(&mut self.patterns);
        if let Some((name, pattern)) = patterns.by_name.get_key_value(raw.pattern.value.as_str()) {
            patterns.used.insert(name);
            let lines = pattern.lines.len() as u64 * u64::from(raw.times.as_ref().map_or(1, |times| times.value));
            patterns.laid_out = patterns.laid_out.saturating_add(lines.max(1));
            if patterns.laid_out > MOST_UNROLLED {
                self.problems.push(too_many(span.clone()));
            } else {
                self.lay_out(phrase, raw, pattern, &mut patterns.said, span);
            }
        } else {
            let message = format!("there is no pattern \"{}\"", shown(&raw.pattern.value));
            let near = did_you_mean(&raw.pattern.value, patterns.by_name.keys().copied());
            let problem = Problem::error("S225", raw.pattern.span.clone(), message);
            self.problems.push(
                problem.help("write above the phrases: pattern \"its name\" for A, B, and its moves").help_if(near),
            );
        }
        self.patterns = patterns;
    }

    fn lay_out(
        &mut self,
        phrase: &mut PhraseBuilder,
        raw: &RawUse,
        pattern: &Pattern<'_>,
        said: &mut HashSet<(usize, &'static str, String)>,
        span: &Span,
    ) {
        let Some(at) = phrase.levels.place(&raw.at, self.problems) else { return };
        let (Some(people), Some(words)) = (self.cast(raw, pattern), self.chosen(raw, pattern)) else { return };
        let Some((lines, advance)) = self.staged(raw, pattern) else { return };
        let times = raw.times.as_ref().map_or(1, |times| times.value);
        if times == 0 {
            let at = raw.times.as_ref().map_or(span.clone(), |times| times.span.clone());
            self.problems.push(Problem::error("S306", at, "a use of no rounds is never done").help("write 1 or more"));
            return;
        }
        let every = pattern.every();
        let moves_on = advance != Advance::default();
        let blocks = if moves_on { times } else { 1 };
        for block in 0..blocks {
            let shape = Shape {
                vocabulary: self.vocabulary,
                people: people.clone(),
                words: words.clone(),
                mirrored: raw.mirrored,
                other_height: raw.other_height,
                floor: floor(raw, advance, block),
            };
            let used = Used { words: said_of(raw, (block, blocks)), span: span.clone() };
            let rounds = if moves_on { 1 } else { times };
            let begins = Ticks(at.0.saturating_add(every.0.saturating_mul(i64::from(block))));
            if !phrase.levels.open_rounds(rounds, every, begins, used, self.problems) {
                return;
            }
            self.lines_of(phrase, &lines, &shape, said, span);
            phrase.levels.end(self.problems);
        }
    }

    /// Reads the lines that are meant as if they were written here. What is wrong with one is said at its place in the
    /// pattern and at the use, once.
    fn lines_of(
        &mut self,
        phrase: &mut PhraseBuilder,
        lines: &[(&Statement, &Span)],
        shape: &Shape<'_>,
        said: &mut HashSet<(usize, &'static str, String)>,
        used: &Span,
    ) {
        let mut found = Problems::new();
        std::mem::swap(self.problems, &mut found);
        for (line, span) in lines {
            match shape.line(line) {
                Ok(line) => self.line_in(phrase, &line, span),
                Err(problem) => self.problems.push(*problem),
            }
        }
        std::mem::swap(self.problems, &mut found);
        for problem in found.into_sorted() {
            let new = said.insert((problem.span.start, problem.code, problem.message.clone()));
            if new || problem.severity == Severity::Error && !self.problems.has_errors() {
                self.problems.push(problem.related(used.clone(), "used here"));
            }
        }
    }

    /// Whoever does each role. Reports too few and too many.
    fn cast<'u>(&mut self, raw: &'u RawUse, pattern: &Pattern<'u>) -> Option<HashMap<&'u str, &'u str>> {
        let roles = &pattern.raw.roles;
        if raw.by.len() != roles.len() {
            let names = any_of(roles.iter().map(|role| role.value.as_str())).replace(" or ", " and ");
            let message = format!("\"{}\" is for {} people: {names}", shown(&raw.pattern.value), roles.len());
            let at = raw.by.last().map_or(raw.pattern.span.clone(), |last| last.span.clone());
            self.problems.push(
                Problem::error("S227", at, message)
                    .related(pattern.raw.name.span.clone(), "the pattern")
                    .help("name one for each, with commas between them"),
            );
            return None;
        }
        let before = self.problems.errors();
        for name in &raw.by {
            self.people.person(name, self.problems);
        }
        twice(&raw.by, "name", self.problems);
        if self.problems.errors() > before {
            return None;
        }
        let mut people: Vec<&str> = raw.by.iter().map(|name| name.value.as_str()).collect();
        if raw.swapped && people.len() > 1 {
            people.swap(0, 1);
        }
        Some(roles.iter().map(|role| role.value.as_str()).zip(people).collect())
    }

    /// The word for each parameter. Reports too few and too many.
    fn chosen<'u>(&mut self, raw: &'u RawUse, pattern: &Pattern<'u>) -> Option<HashMap<&'u str, &'u str>> {
        let parameters = &pattern.raw.parameters;
        if raw.with.len() == parameters.len() {
            let words = raw.with.iter().map(|word| word.value.as_str());
            return Some(parameters.iter().map(|it| it.value.as_str()).zip(words).collect());
        }
        let names = any_of(parameters.iter().map(|it| it.value.as_str())).replace(" or ", " and ");
        let message = format!("\"{}\" leaves open: {names}", shown(&raw.pattern.value));
        let at = raw.with.last().map_or(raw.pattern.span.clone(), |last| last.span.clone());
        self.problems.push(
            Problem::error("S227", at, message)
                .related(pattern.raw.name.span.clone(), "the pattern")
                .help("write `with` and a word for each, with commas between them"),
        );
        None
    }

    /// The lines up to the chosen stage, and how each round moves on in it.
    fn staged<'u>(&mut self, raw: &RawUse, pattern: &Pattern<'u>) -> Option<(Vec<(&'u Statement, &'u Span)>, Advance)> {
        if let Some(stage) = raw.stage.as_ref().filter(|stage| pattern.stages().all(|it| it.value != stage.value)) {
            let message = format!("\"{}\" has no stage \"{}\"", shown(&raw.pattern.value), shown(&stage.value));
            let all = any_of(pattern.stages().map(|it| it.value.as_str()));
            let near = did_you_mean(&stage.value, pattern.stages().map(|it| it.value.as_str()));
            self.problems
                .push(Problem::error("S231", stage.span.clone(), message).help(format!("it has {all}")).help_if(near));
            return None;
        }
        let (mut lines, mut advance) = (Vec::new(), Advance::default());
        let mut reached = false;
        for &(line, span) in &pattern.lines {
            match line {
                Statement::Stage(_) if reached => break,
                Statement::Stage(name) => reached = raw.stage.as_ref().is_some_and(|it| it.value == name.value),
                Statement::Travel(by) => advance.travel = point(by),
                Statement::Turn(by) => advance.turn = by.value.0,
                _ => lines.push((line, span)),
            }
        }
        advance.travel = raw.travel.as_ref().map_or(advance.travel, point);
        advance.turn = raw.turn.as_ref().map_or(advance.turn, |turn| turn.value.0);
        Some((lines, advance))
    }
}

/// How each round moves on from the one before.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
struct Advance {
    travel: (f64, f64),
    turn: f64,
}

fn floor(raw: &RawUse, advance: Advance, round: u32) -> Floor {
    let rounds = f64::from(round);
    Floor {
        advanced: (advance.travel.0 * rounds, advance.travel.1 * rounds),
        round_turned: advance.turn * rounds,
        mirrored: raw.mirrored,
        turned: raw.turned.as_ref().map_or(0.0, |turned| turned.value.0),
        about: raw.about.as_ref().map_or((0.0, 0.0), point),
    }
}

fn point(raw: &RawPoint) -> (f64, f64) {
    (raw.x.value.0, raw.y.value.0)
}

/// A use in words; of one that moves on, with its round.
fn said_of(raw: &RawUse, (block, blocks): (u32, u32)) -> String {
    let by = raw.by.iter().map(|name| name.value.as_str()).collect::<Vec<_>>().join(", ");
    let mut said = format!("\"{}\" by {by}", raw.pattern.value);
    let choices =
        [(raw.mirrored, "mirrored"), (raw.swapped, "roles swapped"), (raw.other_height, "at the other height")];
    choices.iter().filter(|(is_so, _)| *is_so).for_each(|(_, word)| said += &format!(", {word}"));
    if let Some(stage) = &raw.stage {
        said += &format!(", stage \"{}\"", stage.value);
    }
    if blocks > 1 {
        said += &format!(", round {} of {blocks}", block + 1);
    }
    said
}
