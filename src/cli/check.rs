//! `holdfast check`: what is wrong with scores, and how fast they can safely go.

use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Args, ValueEnum};
use holdfast::check::{Checked, Fastest, HouseRules, PhraseLimit, check};
use holdfast::score::position::Lines;
use holdfast::score::problem::{Problem, Severity};
use holdfast::score::vocabulary::Vocabulary;
use holdfast::score::{Report, render, reports};
use holdfast::units::Bpm;
use serde::Serialize;

use super::score_file;

/// Checks scores: answers, bodies, times and the house's limits; then the fastest safe tempo of every phrase.
#[derive(Args)]
#[command(after_long_help = FIELDS)]
pub(crate) struct Check {
    /// The scores, `.fight` files.
    #[arg(required = true)]
    files: Vec<PathBuf>,
    /// How to print what is found.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// Exit with 1 on warnings, too.
    #[arg(long)]
    strict: bool,
    /// The production's vocabulary, laid over the built-in one.
    #[arg(long, value_name = "FILE")]
    vocabulary: Option<PathBuf>,
}

#[derive(Clone, Copy, PartialEq, Eq, ValueEnum)]
enum Format {
    /// Every finding with its line, then a summary.
    Text,
    /// One object.
    Json,
}

const FIELDS: &str = "\
Codes: S the score cannot be read so; A answer, B body, T time, H house. A code
never changes its meaning. Distances and tempos that the checks use are planning
values, not permission: the fight director decides.

Fields of --format json (stable), one object:
  findings  of all files, in order; each has
              file, line, column, end_line, end_column (counted from 1),
              code, severity (error, warning, advice),
              message, expected, help (the last two may be null)
  files     one for each file:
              file, fight (its name), unusable (why it cannot be read, or null),
              errors, warnings, advice (how many),
              phrases (none when the score itself has errors)
  phrases   the fastest safe tempo of each; null where nothing limits it:
              phrase (its name), percent (of performance tempo),
              bpm (beats a minute at the limiting move),
              move (its number in the phrase), beat, line, words,
              who (whose time is short), has_seconds, needs_seconds

Exit code:
  0  clean, or advice only
  1  errors; with --strict also warnings
  2  a file cannot be read or is not text";

/// One file, looked at.
#[derive(Serialize)]
struct Looked {
    file: String,
    fight: Option<String>,
    unusable: Option<String>,
    errors: usize,
    warnings: usize,
    advice: usize,
    phrases: Vec<PhraseRow>,
    #[serde(skip)]
    text: String,
    #[serde(skip)]
    findings: Vec<Problem>,
}

/// The fastest safe tempo of a phrase.
#[derive(Serialize)]
struct PhraseRow {
    phrase: String,
    percent: Option<f64>,
    bpm: Option<f64>,
    #[serde(rename = "move")]
    number: Option<u32>,
    beat: Option<String>,
    line: Option<usize>,
    words: Option<String>,
    who: Option<String>,
    has_seconds: Option<f64>,
    needs_seconds: Option<f64>,
}

/// Everything, for programs.
#[derive(Serialize)]
struct Whole<'l> {
    findings: Vec<Report>,
    files: &'l [Looked],
}

impl Check {
    pub(crate) fn run(&self) -> ExitCode {
        let vocabulary = match score_file::vocabulary(self.vocabulary.as_deref()) {
            Ok(vocabulary) => vocabulary,
            Err(sentence) => return score_file::refuse(&sentence),
        };
        let looked: Vec<Looked> = self.files.iter().map(|file| look(file, &vocabulary)).collect();
        for sentence in looked.iter().filter_map(|file| file.unusable.as_ref()) {
            score_file::refuse(sentence);
        }
        let output = match self.format {
            Format::Text => looked.iter().map(page).collect::<String>(),
            Format::Json => match json(&looked) {
                Ok(json) => json,
                Err(error) => return score_file::refuse(&error.to_string()),
            },
        };
        let printed = score_file::print(&output);
        if printed == ExitCode::SUCCESS { ExitCode::from(self.verdict(&looked)) } else { printed }
    }

    fn verdict(&self, looked: &[Looked]) -> u8 {
        if looked.iter().any(|file| file.unusable.is_some()) {
            return score_file::UNUSABLE;
        }
        u8::from(looked.iter().any(|file| file.errors > 0 || (self.strict && file.warnings > 0)))
    }
}

fn look(path: &Path, vocabulary: &Vocabulary) -> Looked {
    let mut looked = Looked {
        file: path.display().to_string(),
        fight: None,
        unusable: None,
        errors: 0,
        warnings: 0,
        advice: 0,
        phrases: Vec::new(),
        text: String::new(),
        findings: Vec::new(),
    };
    let reading = match score_file::reading(path, vocabulary) {
        Ok(reading) => reading,
        Err(sentence) => {
            looked.unusable = Some(sentence);
            return looked;
        }
    };
    looked.findings = reading.problems;
    looked.text = reading.text;
    if let Some(score) = reading.score {
        let Checked { findings, fastest } = check(&score, vocabulary, &HouseRules::default());
        looked.findings.extend(findings);
        looked.findings.sort_by_key(|finding| finding.span.start);
        let lines = Lines::new(&looked.text);
        let who = |index: usize| score.fighters.get(index).map(|fighter| fighter.name.clone());
        looked.phrases = phrase_rows(&fastest, &lines, who);
        looked.fight = Some(score.name);
    }
    let count = |severity| looked.findings.iter().filter(|finding| finding.severity == severity).count();
    (looked.errors, looked.warnings, looked.advice) =
        (count(Severity::Error), count(Severity::Warning), count(Severity::Advice));
    looked
}

fn phrase_rows(fastest: &Fastest, lines: &Lines<'_>, who: impl Fn(usize) -> Option<String>) -> Vec<PhraseRow> {
    let row = |PhraseLimit { name, limit, .. }: &PhraseLimit| PhraseRow {
        phrase: name.clone(),
        percent: limit.as_ref().map(|it| it.factor * 100.0),
        bpm: limit.as_ref().map(|it| it.bpm),
        number: limit.as_ref().map(|it| it.number),
        beat: limit.as_ref().map(|it| it.beat.clone()),
        line: limit.as_ref().map(|it| lines.position(it.span.start).line),
        words: limit.as_ref().map(|it| it.words.clone()),
        who: limit.as_ref().and_then(|it| who(it.fighter.0)),
        has_seconds: limit.as_ref().map(|it| it.has.as_seconds()),
        needs_seconds: limit.as_ref().map(|it| it.needs.as_seconds()),
    };
    fastest.phrases.iter().map(row).collect()
}

fn json(looked: &[Looked]) -> Result<String, serde_json::Error> {
    let findings = looked.iter().flat_map(|file| reports(&file.findings, &file.text, &file.file)).collect();
    Ok(serde_json::to_string_pretty(&Whole { findings, files: looked })? + "\n")
}

/// The findings of a file with their lines, and the summary under them.
fn page(file: &Looked) -> String {
    if file.unusable.is_some() {
        return String::new();
    }
    let mut page = render(&file.findings, &file.text, &file.file, std::io::stdout().is_terminal());
    let counts = format!(
        "{}, {}, {}",
        counted(file.errors, "error", "errors"),
        counted(file.warnings, "warning", "warnings"),
        counted(file.advice, "piece of advice", "pieces of advice"),
    );
    match &file.fight {
        Some(fight) => page.push_str(&format!("{}: {fight}: {counts}\n", file.file)),
        None => page.push_str(&format!("{}: {counts}; mend the errors to have the fight itself checked\n", file.file)),
    }
    if !file.phrases.is_empty() {
        page.push_str("Fastest safe tempo, as planned and never as permission:\n");
        let width = file.phrases.iter().map(|row| row.phrase.chars().count()).max().unwrap_or(0);
        file.phrases.iter().for_each(|row| page.push_str(&limit_line(row, width)));
        page.push_str("Where people stand was not checked: there is no floor plan here.\n");
    }
    page.push('\n');
    page
}

fn limit_line(row: &PhraseRow, width: usize) -> String {
    let PhraseRow { phrase, percent: Some(percent), bpm: Some(bpm), beat: Some(beat), words: Some(words), .. } = row
    else {
        return format!("  {:width$}  nothing limits it\n", row.phrase);
    };
    let tempo = if *bpm > Bpm::FASTEST { format!("over {}", Bpm::FASTEST) } else { format!("{}", bpm.floor()) };
    format!("  {phrase:width$}  {tempo} beats a minute ({} %) at beat {beat}: {words}\n", percent.floor())
}

fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}
