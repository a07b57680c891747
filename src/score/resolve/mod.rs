//! The raw score into a checked one: names are looked up, beats are placed, and every rule of the language that is
//! not grammar is applied. Everything wrong is reported; a score comes out only when nothing is.

mod moves;
mod patterns;
mod people;
mod phrase;
mod repeats;
mod tempo;
mod transform;

use std::collections::HashMap;

use super::model::{BystanderId, FighterId, Score, Span};
use super::problem::{Problem, Problems};
use super::raw::{Broken, Located, RawScore, RawTempo, Statement, Text};
use super::vocabulary::Vocabulary;
use crate::units::Bpm;
use patterns::Patterns;
use people::People;
use phrase::PhraseBuilder;

/// The beats of a bar when the header does not say.
const USUAL_BEATS: u32 = 4;
/// The most beats in a bar.
const MOST_BEATS_IN_BAR: u32 = 32;
/// The tempo when nothing says one: a beat a second.
const USUAL_TEMPO: f64 = 60.0;
/// The most lines that a score can have with its repeats laid out.
pub(super) const MOST_UNROLLED: u64 = 100_000;

/// Checks `raw` and makes the score of it. What is made while there are errors must not be used.
pub(super) fn resolve<'a>(raw: &'a RawScore, vocabulary: &'a Vocabulary, problems: &'a mut Problems) -> Option<Score> {
    let patterns = Patterns::of(raw, problems);
    let mut resolver = Resolver::new(vocabulary, patterns, problems);
    for line in &raw.lines {
        if resolver.problems.enough() {
            return None;
        }
        if let Some(statement) = &line.statement {
            resolver.statement(statement, &line.span);
        }
    }
    resolver.finish()
}

struct Resolver<'a> {
    vocabulary: &'a Vocabulary,
    problems: &'a mut Problems,
    name: Option<Text>,
    /// Set once a fight line was meant, so that a broken one is not also called missing.
    any_name: bool,
    beats: Option<Located<u32>>,
    tempo: Option<(Bpm, Span)>,
    people: People,
    patterns: Patterns<'a>,
    /// True in a pattern, whose lines are read where it is used.
    in_pattern: bool,
    phrase: Option<PhraseBuilder>,
    phrases: Vec<super::model::Phrase>,
    phrase_names: HashMap<String, Span>,
    /// Set once a phrase was meant, so that a broken phrase line is not also called missing.
    any_phrase: bool,
    unrolled: u64,
}

impl<'a> Resolver<'a> {
    fn new(vocabulary: &'a Vocabulary, patterns: Patterns<'a>, problems: &'a mut Problems) -> Resolver<'a> {
        Resolver {
            vocabulary,
            problems,
            name: None,
            any_name: false,
            beats: None,
            tempo: None,
            people: People::default(),
            patterns,
            in_pattern: false,
            phrase: None,
            phrases: Vec::new(),
            phrase_names: HashMap::new(),
            any_phrase: false,
            unrolled: 0,
        }
    }

    fn statement(&mut self, statement: &'a Statement, span: &Span) {
        match statement {
            Statement::Pattern(_) | Statement::Broken(Broken::Pattern) => {
                self.close_phrase();
                self.in_pattern = true;
            }
            Statement::Fight(name) => self.fight(name),
            Statement::Beats(beats) => self.beats_in_bar(beats),
            Statement::Tempo(tempo) if self.phrase.is_none() && !self.in_pattern => self.header_tempo(tempo, span),
            Statement::FightersHead | Statement::BystandersHead => {}
            Statement::Fighter(fighter) => self.people.fighter(fighter, span, self.vocabulary, self.problems),
            Statement::Bystander(name) => self.people.bystander(name, self.problems),
            Statement::Broken(Broken::Fight) => self.any_name = true,
            Statement::Broken(Broken::Person(name)) => self.people.broken(name),
            Statement::Broken(Broken::Phrase) => self.open_phrase(None, span),
            Statement::Phrase(phrase) => self.open_phrase(Some(phrase), span),
            Statement::Use(raw) if !self.in_pattern => self.used(raw, span),
            _ if self.in_pattern => {}
            other => self.phrase_line(other, span),
        }
    }

    fn fight(&mut self, name: &Text) {
        self.any_name = true;
        if let Some(first) = &self.name {
            self.problems.push(
                Problem::error("S202", name.span.clone(), "the fight is named twice")
                    .related(first.span.clone(), "first here")
                    .help("one file is one fight"),
            );
        } else {
            self.name = Some(name.clone());
        }
    }

    fn beats_in_bar(&mut self, beats: &Located<u32>) {
        if !(1..=MOST_BEATS_IN_BAR).contains(&beats.value) {
            let message = format!("a bar cannot have {} beats", beats.value);
            let help = format!("write a number from 1 to {MOST_BEATS_IN_BAR}");
            self.problems.push(Problem::error("S312", beats.span.clone(), message).help(help));
        }
        if let Some(first) = &self.beats {
            self.problems.push(
                Problem::error("S202", beats.span.clone(), "the beats of a bar are given twice")
                    .related(first.span.clone(), "first here"),
            );
        }
        self.beats = Some(beats.clone());
    }

    fn header_tempo(&mut self, tempo: &RawTempo, span: &Span) {
        if let Some((_, first)) = &self.tempo {
            self.problems.push(
                Problem::error("S202", span.clone(), "the header gives two tempos")
                    .related(first.clone(), "first here")
                    .help("write later tempos into the phrases"),
            );
        }
        if let Some(bpm) = tempo::bpm(&tempo.value, self.problems) {
            self.tempo = Some((bpm, span.clone()));
        }
    }

    fn finish(mut self) -> Option<Score> {
        self.close_phrase();
        self.patterns.unused(self.problems);
        if !self.any_name {
            self.problems.push(
                Problem::error("S201", 0..0, "the score has no `fight` line")
                    .help("begin the file with: fight \"The name\""),
            );
        }
        let end = 0..0;
        if self.people.is_empty() {
            let problem = Problem::error("S203", end.clone(), "the score has no fighters");
            self.problems.push(problem.help("write `fighters`, and below it a line for each: NAME weapon hand"));
        }
        if !self.any_phrase {
            let problem = Problem::error("S204", end, "the score has no phrases");
            self.problems.push(problem.help("write: phrase \"The name\", and below it its moves"));
        }
        let tempo = self.opening_tempo()?;
        Some(Score {
            name: self.name?.value.into(),
            beats_per_bar: self.beats.map_or(USUAL_BEATS, |beats| beats.value),
            tempo,
            fighters: self.people.fighters,
            bystanders: self.people.bystanders,
            phrases: self.phrases,
        })
    }

    /// The header's tempo, or that of the first phrase, or the usual one with advice.
    fn opening_tempo(&mut self) -> Option<Bpm> {
        if let Some((tempo, _)) = &self.tempo {
            return Some(*tempo);
        }
        if let Some(tempo) = self.phrases.first().and_then(tempo::at_first_beat) {
            return Some(tempo);
        }
        if !self.problems.has_errors() {
            let at = self.name.as_ref().map_or(0..0, |name| name.span.clone());
            let message = format!("no tempo is given before the first phrase, so {USUAL_TEMPO} is assumed");
            self.problems
                .push(Problem::advice("S314", at, message).help("write `tempo` and beats per minute below the fight"));
        }
        Bpm::new(USUAL_TEMPO)
    }
}

/// Somebody by name.
#[derive(Clone, Copy, Debug, PartialEq)]
enum Known {
    Fighter(FighterId),
    Bystander(BystanderId),
    /// Somebody whose own line could not be understood: what is said of them is not wrong for that.
    Broken,
}
