//! Patterns by themselves: each use of a pattern in a score, as a fight of its own that goes round and round, with a
//! phrase for each stage in which the pattern is taught. So a stage is chosen for a run as phrases are, and climbs the
//! steps of speed as they do.

use super::format::lay_out;
use super::model::{Item, Word};
use super::parse::parse;
use super::problem::Problems;
use super::raw::{Located, RawLine, RawPhrase, RawScore, RawTempo, RawTempoWhen, RawUse, Statement, Text};
use super::reading::Reading;

/// More of these from one score than anybody chooses from.
const MOST: usize = 40;

/// A pattern by itself, as a score's text.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Drill {
    /// The fight's name.
    pub name: String,
    /// The text, with the pattern in it; weapons are where they are at the start of the fight.
    pub text: String,
    /// The same with every weapon in hand.
    pub in_hand: String,
}

/// Each pattern that the score uses, by whom it is used and how, each once, in order: so many rounds a stage. None of a
/// score with errors.
pub fn drills(reading: &Reading, rounds: u32) -> Vec<Drill> {
    match &reading.score {
        Some(score) if score.phrases.iter().any(|phrase| uses_any(&phrase.items)) => {
            of_lines(&parse(reading.whole.as_ref().unwrap_or(&reading.text), &mut Problems::new()), rounds)
        }
        _ => Vec::new(),
    }
}

/// True when a pattern is used among these.
fn uses_any(items: &[Item]) -> bool {
    let uses = |item: &Item| matches!(item, Item::Repeat(repeat) if repeat.used.is_some() || uses_any(&repeat.items));
    items.iter().any(uses)
}

fn of_lines(raw: &RawScore, rounds: u32) -> Vec<Drill> {
    let header = Header::of(raw);
    let drawn = header.drawn();
    let mut drills: Vec<Drill> = Vec::new();
    let (mut tempo, mut in_pattern) = (None, false);
    for line in &raw.lines {
        match &line.statement {
            Some(Statement::Pattern(_)) => in_pattern = true,
            Some(Statement::Phrase(phrase)) => (in_pattern, tempo) = (false, phrase.tempo.as_ref().or(tempo)),
            Some(Statement::Tempo(changed)) => tempo = Some(reached(changed)),
            Some(Statement::Use(used)) if !in_pattern && drills.len() < MOST => {
                let name = name_of(used);
                if drills.iter().all(|drill| drill.name != name) {
                    let phrases = phrases(used, rounds, stages(raw, &used.pattern.value));
                    let [text, in_hand] = [&header, &drawn].map(|header| header.around(&name, tempo, phrases.clone()));
                    drills.push(Drill { name, text, in_hand });
                }
            }
            _ => {}
        }
    }
    drills
}

/// The tempo after a line that changes it.
fn reached(tempo: &RawTempo) -> &Text {
    match &tempo.when {
        RawTempoWhen::Ramp { end, .. } => end,
        RawTempoWhen::Start | RawTempoWhen::At(_) => &tempo.value,
    }
}

/// The use in words that tell it from every other: `Square by MARET and OSK, mirrored`.
fn name_of(used: &RawUse) -> String {
    let values =
        |texts: &[Text], between: &str| texts.iter().map(|text| text.value.as_str()).collect::<Vec<_>>().join(between);
    let mut name = format!("{} by {}", used.pattern.value, values(&used.by, " and "));
    if !used.with.is_empty() {
        name += &format!(" with {}", values(&used.with, ", "));
    }
    for (is_so, word) in [(used.mirrored, "mirrored"), (used.swapped, "swapped"), (used.other_height, "other height")] {
        if is_so {
            name += &format!(", {word}");
        }
    }
    name
}

/// What the lines of a score have before its phrases, and its patterns.
#[derive(Clone)]
struct Header {
    before: Vec<Statement>,
    tempo: Option<Text>,
    patterns: Vec<RawLine>,
}

impl Header {
    fn of(raw: &RawScore) -> Header {
        let (mut header, mut part) = (Header { before: Vec::new(), tempo: None, patterns: Vec::new() }, Part::Header);
        for line in &raw.lines {
            match &line.statement {
                Some(Statement::Pattern(_)) => part = Part::Pattern,
                Some(Statement::Phrase(_)) => part = Part::Phrase,
                _ => {}
            }
            match (part, &line.statement) {
                (Part::Pattern, _) => header.patterns.push(line.clone()),
                (Part::Header, Some(Statement::Tempo(tempo))) if matches!(tempo.when, RawTempoWhen::Start) => {
                    header.tempo = Some(tempo.value.clone());
                }
                (Part::Header, Some(statement)) if !matches!(statement, Statement::Fight(_)) => {
                    header.before.push(statement.clone());
                }
                _ => {}
            }
        }
        header
    }

    /// The same with every weapon in hand.
    fn drawn(&self) -> Header {
        let mut drawn = self.clone();
        for statement in &mut drawn.before {
            if let Statement::Fighter(fighter) = statement {
                fighter.sheathed = false;
                fighter.second.iter_mut().for_each(|second| second.sheathed = false);
            }
        }
        drawn
    }

    /// The text of a fight of these phrases.
    fn around(&self, name: &str, tempo: Option<&Text>, phrases: Vec<RawLine>) -> String {
        let mut lines = vec![says(Statement::Fight(text(name)))];
        if let Some(value) = tempo.or(self.tempo.as_ref()) {
            let when = RawTempoWhen::Start;
            lines.push(says(Statement::Tempo(RawTempo { value: value.clone(), when })));
        }
        lines.extend(self.before.iter().cloned().map(says));
        lines.extend(phrases);
        lines.push(BLANK);
        lines.extend(self.patterns.iter().cloned());
        lay_out(&RawScore { lines })
    }
}

#[derive(Clone, Copy, PartialEq, Eq)]
enum Part {
    Header,
    Pattern,
    Phrase,
}

const BLANK: RawLine = RawLine { span: 0..0, statement: None, comment: None };

fn says(statement: Statement) -> RawLine {
    RawLine { span: 0..0, statement: Some(statement), comment: None }
}

fn text(value: &str) -> Text {
    Text { value: value.into(), span: 0..0 }
}

/// A phrase for each stage, or one of the whole pattern where it is taught in none.
fn phrases(used: &RawUse, rounds: u32, stages: Vec<Word>) -> Vec<RawLine> {
    let staged: Vec<(Word, Option<Text>)> = match stages.as_slice() {
        [] => vec![(used.pattern.value.clone(), None)],
        stages => stages.iter().map(|stage| (stage.clone(), Some(text(stage)))).collect(),
    };
    let phrase = |(name, stage): (Word, Option<Text>)| {
        let times = Some(Located { value: rounds, span: 0..0 });
        let again = RawUse { at: text("1"), times, stage, ..used.clone() };
        let head = RawPhrase { name: text(&name), tempo: None };
        [BLANK, says(Statement::Phrase(head)), says(Statement::Use(Box::new(again)))]
    };
    staged.into_iter().flat_map(phrase).collect()
}

/// The stages of a pattern, in order.
fn stages(raw: &RawScore, pattern: &str) -> Vec<Word> {
    let is_it = |line: &RawLine| matches!(&line.statement, Some(Statement::Pattern(it)) if it.name.value == pattern);
    let goes_on = |line: &&RawLine| !matches!(line.statement, Some(Statement::Pattern(_) | Statement::Phrase(_)));
    let stage = |line: &RawLine| match &line.statement {
        Some(Statement::Stage(name)) => Some(name.value.clone()),
        _ => None,
    };
    raw.lines.iter().skip_while(|line| !is_it(line)).skip(1).take_while(goes_on).filter_map(stage).collect()
}
