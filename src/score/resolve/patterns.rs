//! Patterns: what is written once with roles is done by people wherever it is used. A use is laid out here into the
//! lines that it means, in rounds like those of a repeat; everything after this knows lines and rounds, and where they
//! come from.

use std::collections::{HashMap, HashSet};

use super::phrase::PhraseBuilder;
use super::repeats::too_many;
use super::transform::{Floor, Shape, Turned};
use super::{MOST_UNROLLED, Resolver};
use crate::score::line::shown;
use crate::score::model::{Span, Used};
use crate::score::problem::{Problem, Problems, Severity};
use crate::score::quantity::{self, MOST_BEATS};
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

    /// The length of a round, where it is written. One of nothing has been reported, and is counted as one of a beat.
    fn written_length(&self) -> Option<Ticks> {
        let written = self.raw.every.as_ref().and_then(|every| quantity::beats(&every.value).ok())?;
        Some(if written > Ticks::ZERO { written } else { Ticks::beats(1) })
    }
}

/// Where the lines of a round end; those of an inner repeat end with it. `used` is where a use of another pattern ends.
fn end_of(lines: &[(&Statement, &Span)], used: impl Fn(&RawUse) -> Ticks) -> Ticks {
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
            Statement::Use(raw) => Ticks(place(&raw.at).0.saturating_add(used(raw).0)),
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
    /// How long a round of each is.
    lengths: HashMap<&'a str, Ticks>,
    /// What is named in a use, wherever it stands.
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
            if let Some(Statement::Use(raw)) = &line.statement {
                patterns.used.insert(&raw.pattern.value);
            }
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
        patterns.order(problems);
        patterns
    }

    /// Looks at every pattern after those that it uses: a use by which one would be done inside itself is reported and
    /// taken out, and the length of its round is found.
    fn order(&mut self, problems: &mut Problems) {
        let mut names: Vec<&str> = self.by_name.keys().copied().collect();
        names.sort_unstable_by_key(|name| self.by_name.get(name).map_or(0, |pattern| pattern.span.start));
        let mut begun: HashSet<&str> = HashSet::new();
        for first in names {
            // Each is open until all that it uses are done; without recursion, for a text may nest them without end.
            let mut open: Vec<(&str, usize)> = if begun.insert(first) { vec![(first, 0)] } else { Vec::new() };
            while let Some((name, at)) = open.last_mut() {
                let Some(pattern) = self.by_name.get_mut(name) else { break };
                let Some((line, span)) = pattern.lines.get(*at).copied() else {
                    let length = self.length_of(name);
                    self.lengths.insert(name, length);
                    open.pop();
                    continue;
                };
                let Statement::Use(raw) = line else {
                    *at += 1;
                    continue;
                };
                let used = raw.pattern.value.as_str();
                if begun.contains(used) && !self.lengths.contains_key(used) {
                    pattern.lines.remove(*at);
                    let message = format!("the pattern \"{}\" would be done inside itself", shown(used));
                    let problem = Problem::error("S232", span.clone(), message);
                    problems.push(problem.help("a pattern can use others, but none that uses it again"));
                    continue;
                }
                *at += 1;
                if self.by_name.contains_key(used) && begun.insert(used) {
                    open.push((used, 0));
                }
            }
        }
    }

    /// How long a round is: as long as is written, or up to the first whole beat after the last line of all stages, those of
    /// the patterns in it among them.
    fn length_of(&self, name: &str) -> Ticks {
        let Some(pattern) = self.by_name.get(name) else { return Ticks::beats(1) };
        pattern.written_length().unwrap_or_else(|| {
            let used = |raw: &RawUse| {
                let rounds = i64::from(raw.times.as_ref().map_or(1, |times| times.value));
                let length = self.lengths.get(raw.pattern.value.as_str()).copied().unwrap_or_default();
                Ticks(length.0.saturating_mul(rounds))
            };
            // One that is longer than any phrase is reported where it is used.
            end_of(&pattern.lines, used).ceil_beat().clamp(Ticks::beats(1), Ticks::beats(MOST_BEATS + 1))
        })
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

/// The uses that lines stand in, the innermost first: each says who does what where for the one inside it.
#[derive(Clone, Copy)]
struct Within<'s> {
    shape: &'s Shape<'s>,
    outer: Option<&'s Within<'s>>,
}

impl Within<'_> {
    /// The line that is meant, read from the inside out. A mirror in a mirror is none, so sides and heights are changed
    /// once, at the end, when it is known who does it and with which hand.
    fn line(&self, statement: &Statement, turned: &Turned<'_>) -> Result<Statement, Box<Problem>> {
        let (mut line, mut within) = (self.shape.line(statement)?, self);
        let (mut mirrored, mut other_height) = (self.shape.mirrored, self.shape.other_height);
        while let Some(outer) = within.outer {
            line = outer.shape.line(&line)?;
            mirrored ^= outer.shape.mirrored;
            other_height ^= outer.shape.other_height;
            within = outer;
        }
        turned.line(&mut line, mirrored, other_height)?;
        Ok(line)
    }

    /// Whoever a name in these lines stands for.
    fn person<'n>(&'n self, name: &'n str) -> &'n str {
        let person = self.shape.people.get(name).copied().unwrap_or(name);
        self.outer.map_or(person, |outer| outer.person(person))
    }
}

impl<'a> Resolver<'a> {
    /// Lays out a use of a pattern.
    pub(super) fn use_pattern(&mut self, phrase: &mut PhraseBuilder, raw: &'a RawUse, span: &Span) {
        let mut patterns = std::mem::take(&mut self.patterns);
        self.use_within(phrase, (raw, span), &mut patterns, None);
        self.patterns = patterns;
    }

    fn use_within(
        &mut self,
        phrase: &mut PhraseBuilder,
        (raw, span): (&'a RawUse, &Span),
        patterns: &mut Patterns<'a>,
        within: Option<&Within<'_>>,
    ) {
        let Some((name, pattern)) = patterns.by_name.get_key_value(raw.pattern.value.as_str()) else {
            let message = format!("there is no pattern \"{}\"", shown(&raw.pattern.value));
            let own = patterns.by_name.keys().copied();
            let near = did_you_mean(&raw.pattern.value, own.chain(self.vocabulary.patterns.names()));
            let problem = Problem::error("S225", raw.pattern.span.clone(), message);
            self.problems.push(
                problem
.help("write above the phrases, or in a file of the production's folder patterns: pattern \"its name\" for A, B, and its moves")
.help_if(near),
            );
            return;
        };
        let name = *name;
        let Some(laid) = self.laid(phrase, raw, pattern, within, span) else { return };
        let every = patterns.lengths.get(name).copied().unwrap_or(Ticks::beats(1));
        for block in 0..laid.blocks {
            let lines = (laid.lines.len() as u64).max(1).saturating_mul(u64::from(laid.rounds));
            patterns.laid_out = patterns.laid_out.saturating_add(lines);
            if patterns.laid_out > MOST_UNROLLED {
                self.problems.push(too_many(span.clone()));
                return;
            }
            let shape = Shape {
                people: laid.people.clone(),
                words: laid.words.clone(),
                mirrored: raw.mirrored,
                other_height: raw.other_height,
                floor: floor(raw, laid.advance, block),
            };
            let person = |name: &'a str| within.map_or(name, |within| within.person(name)).to_owned();
            let people: Vec<String> = raw.by.iter().map(|name| person(&name.value)).collect();
            let used = Used { words: said_of(raw, &people, (block, laid.blocks)), span: span.clone() };
            let begins = Ticks(laid.at.0.saturating_add(every.0.saturating_mul(i64::from(block))));
            if !phrase.levels.open_rounds(laid.rounds, every, begins, used, self.problems) {
                return;
            }
            self.lines_of(phrase, &laid.lines, patterns, &Within { shape: &shape, outer: within }, span);
            phrase.levels.end(self.problems);
        }
    }

    /// What a use means, before its rounds are laid out. Reports what is wrong with it.
    fn laid<'u>(
        &mut self,
        phrase: &PhraseBuilder,
        raw: &'u RawUse,
        pattern: &Pattern<'u>,
        within: Option<&Within<'_>>,
        span: &Span,
    ) -> Option<Laid<'u>> {
        let at = phrase.levels.place(&raw.at, self.problems)?;
        let (people, words) = (self.cast(raw, pattern, within), self.chosen(raw, pattern));
        let (people, words) = (people?, words?);
        let (lines, advance) = self.staged(raw, pattern)?;
        let times = raw.times.as_ref().map_or(1, |times| times.value);
        if times == 0 {
            let at = raw.times.as_ref().map_or(span.clone(), |times| times.span.clone());
            self.problems.push(Problem::error("S306", at, "a use of no rounds is never done").help("write 1 or more"));
            return None;
        }
        // Rounds that move on are each other lines; those that do not are the same ones over again.
        let moves_on = advance != Advance::default();
        let (blocks, rounds) = if moves_on { (times, 1) } else { (1, times) };
        Some(Laid { at, people, words, lines, advance, blocks, rounds })
    }

    /// Reads the lines that are meant as if they were written here. What is wrong with one is said at its place in the
    /// pattern and at the use, once.
    fn lines_of(
        &mut self,
        phrase: &mut PhraseBuilder,
        lines: &[(&'a Statement, &'a Span)],
        patterns: &mut Patterns<'a>,
        within: &Within<'_>,
        used: &Span,
    ) {
        let mut found = Problems::new();
        std::mem::swap(self.problems, &mut found);
        for (line, span) in lines {
            if let Statement::Use(raw) = line {
                self.use_within(phrase, (raw, span), patterns, Some(within));
                continue;
            }
            let hand = |name: &str| self.people.hand(name);
            let turned = Turned { vocabulary: self.vocabulary, hand: &hand };
            match within.line(line, &turned) {
                Ok(line) => self.line_in(phrase, &line, span),
                Err(problem) => self.problems.push(*problem),
            }
        }
        std::mem::swap(self.problems, &mut found);
        for problem in found.into_sorted() {
            let new = patterns.said.insert((problem.span.start, problem.code, problem.message.clone()));
            if new || problem.severity == Severity::Error && !self.problems.has_errors() {
                self.problems.push(problem.related(used.clone(), "used here"));
            }
        }
    }

    /// Whoever does each role. Reports too few and too many.
    fn cast<'u>(
        &mut self,
        raw: &'u RawUse,
        pattern: &Pattern<'u>,
        within: Option<&Within<'_>>,
    ) -> Option<HashMap<&'u str, &'u str>> {
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
            match within {
                Some(within) => within.shape.is_role(name).unwrap_or_else(|problem| self.problems.push(*problem)),
                None => drop(self.people.person(name, self.problems)),
            }
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

/// A use, ready to be laid out: in so many blocks of so many rounds.
struct Laid<'u> {
    at: Ticks,
    people: HashMap<&'u str, &'u str>,
    words: HashMap<&'u str, &'u str>,
    lines: Vec<(&'u Statement, &'u Span)>,
    advance: Advance,
    blocks: u32,
    rounds: u32,
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
fn said_of(raw: &RawUse, people: &[String], (block, blocks): (u32, u32)) -> String {
    let mut said = format!("\"{}\" by {}", raw.pattern.value, people.join(", "));
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
