//! `holdfast check`: what is wrong with scores, and how fast they can safely go.

use std::collections::HashMap;
use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Args, ValueEnum};
use holdfast::check::{self, Fastest, PhraseLimit, UNCHECKED, UNCHECKED_ON_STAGE};
use holdfast::production::{CONFIG_FILE, Fight, Judge, PATTERNS, Production, WithSet, home_of};
use holdfast::safe_text;
use holdfast::score::library::Library;
use holdfast::score::position::Lines;
use holdfast::score::problem::{Problem, Severity};
use holdfast::score::{Report, render, reports};
use holdfast::units::Bpm;
use serde::Serialize;

use super::score_file;

/// Checks scores: answers, bodies, times, the house's limits and, on the plan of a stage, where people stand and go; then the
/// fastest safe tempo of every phrase.
///
/// A score is judged by the rules, words and recordings of the production that it lies in, as the score page judges it;
/// one that lies in none by the built-in rules, and that is said.
#[derive(Args)]
#[command(after_long_help = FIELDS)]
pub(crate) struct Check {
    /// What to check: scores (`.fight` files), productions, or folders with scores in them.
    #[arg(required = true, value_name = "PATH")]
    paths: Vec<PathBuf>,
    /// How to print what is found.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// Exit with 1 on warnings, too.
    #[arg(long)]
    strict: bool,
    /// Other words than the production's: a vocabulary that is laid over the built-in one.
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
Codes: S the score cannot be read so; A answer, B body, T time, H house; and
with a stage.toml in the production M measure (too far apart, too near), C
clearance (what a blow comes near to, who walks through whom), F flow (walks), P
marks and edges. A code never changes its meaning. Distances and tempos that the
checks use are planning values, not permission: the fight director decides.

Fields of --format json (stable), one object:
  findings  of all files, in order; each has
              file, line, column, end_line, end_column (counted from 1),
              code, severity (error, warning, advice),
              message, expected, help (the last two may be null)
  files     one for each file:
              file, fight (its name), unusable (why it cannot be read, or null),
              errors, warnings, advice (how many),
              phrases (none when the score itself has errors),
              weapon_sets (for each set of the production that concerns it:
              weapons, errors, warnings, phrases; its findings stand with
              the others and name it),
              production (the name of the one whose rules and words it was
              judged by; null when it was judged by the built-in ones)
  phrases   the fastest safe tempo of each; null where nothing limits it:
              phrase (its name), percent (of performance tempo),
              bpm (beats a minute at the limiting move),
              move (its number in the phrase), beat, line, words,
              who (whose time is short), has_seconds, needs_seconds
  unchecked what the checks have not looked at: a sentence

Exit code:
  0  clean, or advice only
  1  errors; with --strict also warnings
  2  a file cannot be read or is not text, or a production cannot be used";

/// One file, looked at.
#[derive(Default, Serialize)]
struct Looked {
    file: String,
    fight: Option<String>,
    unusable: Option<String>,
    errors: usize,
    warnings: usize,
    advice: usize,
    phrases: Vec<PhraseRow>,
    weapon_sets: Vec<SetRow>,
    production: Option<String>,
    #[serde(skip)]
    judged: String,
    #[serde(skip)]
    unchecked: Option<&'static str>,
    #[serde(skip)]
    text: String,
    #[serde(skip)]
    findings: Vec<Problem>,
}

/// The same with a set of weapons.
#[derive(Serialize)]
struct SetRow {
    weapons: String,
    errors: usize,
    warnings: usize,
    phrases: Vec<PhraseRow>,
}

/// The fastest safe tempo of a phrase.
#[derive(PartialEq, Serialize)]
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
    unchecked: String,
}

impl Check {
    pub(crate) fn run(&self) -> ExitCode {
        let looked: Vec<Looked> = match Looking::new(self.vocabulary.as_deref()) {
            Ok(mut looking) => {
                let looked = self.paths.iter().flat_map(|path| looking.path(path)).collect();
                // The program is about to end: giving a long score back bit by bit would only take time.
                std::mem::forget(looking);
                looked
            }
            Err(sentence) => return score_file::refuse(&sentence),
        };
        for sentence in looked.iter().filter_map(|file| file.unusable.as_ref()) {
            score_file::refuse(sentence);
        }
        let printed = match self.format {
            Format::Text => score_file::print_file(&text(&looked)),
            Format::Json => match json(&looked) {
                Ok(json) => score_file::print_json(&json),
                Err(error) => return score_file::refuse(&error.to_string()),
            },
        };
        if printed == ExitCode::SUCCESS { ExitCode::from(self.verdict(&looked)) } else { printed }
    }

    fn verdict(&self, looked: &[Looked]) -> u8 {
        if looked.iter().any(|file| file.unusable.is_some()) {
            return score_file::UNUSABLE;
        }
        u8::from(looked.iter().any(|file| file.errors > 0 || (self.strict && file.warnings > 0)))
    }
}

/// Looks at one path after another; a production's rules are read once.
struct Looking<'w> {
    words: Option<&'w Path>,
    /// The score that was looked at last.
    last: Option<Fight>,
    judges: HashMap<Option<PathBuf>, Result<Judge, String>>,
}

impl<'w> Looking<'w> {
    /// # Errors
    /// A sentence: the vocabulary that was named cannot be used.
    fn new(words: Option<&'w Path>) -> Result<Looking<'w>, String> {
        let alone = score_file::with_words(Judge::alone(), words)?;
        Ok(Looking { words, last: None, judges: HashMap::from([(None, Ok(alone))]) })
    }

    /// What is at a path: a score, the scores of a production, or those of a folder.
    fn path(&mut self, path: &Path) -> Vec<Looked> {
        if !path.is_dir() {
            vec![self.score(path)]
        } else if path.join(CONFIG_FILE).is_file() {
            self.production(path)
        } else {
            self.folder(path)
        }
    }

    fn judge(&mut self, home: Option<PathBuf>) -> &Result<Judge, String> {
        let words = self.words;
        self.judges.entry(home.clone()).or_insert_with(|| {
            let judge = home.map_or_else(|| Ok(Judge::alone()), |folder| Judge::of_production(&folder));
            score_file::with_words(judge.map_err(|error| error.to_string())?, words)
        })
    }

    fn score(&mut self, path: &Path) -> Looked {
        let file = path.display().to_string();
        if let Some(home) = home_of(path).filter(|home| is_in(path, &home.join(PATTERNS))) {
            return patterns(file, path, &home);
        }
        let judge = match self.judge(home_of(path)) {
            Ok(judge) => judge,
            Err(sentence) => return unusable(file, sentence.clone()),
        };
        match score_file::fight(path, judge) {
            Ok(fight) => {
                let looked = look(file, &fight, judge);
                self.last = Some(fight);
                looked
            }
            Err(sentence) => unusable(file, sentence),
        }
    }

    /// A production as the desk opens it: what keeps the desk from its fights is told, too.
    fn production(&mut self, folder: &Path) -> Vec<Looked> {
        let name = folder.display().to_string();
        let production = match Production::open(folder) {
            Ok(production) => production,
            Err(error) => return vec![unusable(name, error.to_string())],
        };
        let mut looked: Vec<Looked> = production.unread.iter().map(|it| unusable(name.clone(), it.clone())).collect();
        if self.words.is_some() {
            looked.extend(production.fights.iter().map(|fight| self.score(&folder.join(&fight.file))));
            return looked;
        }
        match self.judge(folder.canonicalize().ok()) {
            Ok(judge) => {
                let file = |fight: &Fight| folder.join(&fight.file).display().to_string();
                looked.extend(production.fights.iter().map(|fight| look(file(fight), fight, judge)));
            }
            Err(sentence) => looked.push(unusable(name, sentence.clone())),
        }
        looked
    }

    fn folder(&mut self, folder: &Path) -> Vec<Looked> {
        let name = folder.display().to_string();
        let entries = match std::fs::read_dir(folder) {
            Ok(entries) => entries,
            Err(error) => return vec![unusable(name.clone(), format!("{name} cannot be read ({error})"))],
        };
        let is_score = |path: &PathBuf| {
            let name = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
            name.ends_with(".fight") && !name.starts_with('.')
        };
        let mut files: Vec<PathBuf> = entries.flatten().map(|entry| entry.path()).filter(is_score).collect();
        files.sort();
        if files.is_empty() {
            let sentence =
                format!("{name} has no scores (*.fight) and no {CONFIG_FILE}; name another folder or a score");
            return vec![unusable(name, sentence)];
        }
        files.iter().map(|file| self.score(file)).collect()
    }
}

fn is_in(path: &Path, folder: &Path) -> bool {
    path.canonicalize().is_ok_and(|path| path.parent() == Some(folder))
}

/// A file of patterns: it is read by itself, and judged in the scores that use it.
fn patterns(file: String, path: &Path, home: &Path) -> Looked {
    let text = match score_file::text(path) {
        Ok(text) => text,
        Err(sentence) => return unusable(file, sentence),
    };
    let (library, unread) = Library::of([(file.clone(), text)]);
    if !unread.is_empty() {
        return unusable(file, unread.join(" "));
    }
    let names: Vec<String> = library.names().map(|name| format!("\"{name}\"")).collect();
    let judged = format!("Their moves are judged in the scores of {} that use them.", home.display());
    Looked { file, fight: Some(format!("patterns {}", names.join(", "))), judged, ..Looked::default() }
}

fn unusable(file: String, sentence: String) -> Looked {
    Looked { file, unusable: Some(sentence), ..Looked::default() }
}

fn look(file: String, fight: &Fight, judge: &Judge) -> Looked {
    let lines = Lines::new(fight.text());
    let score = fight.score();
    let who = |index: usize| Some(score?.fighters.get(index)?.name.clone());
    Looked {
        file,
        fight: score.map(|score| score.name.clone()),
        errors: fight.count(Severity::Error),
        warnings: fight.count(Severity::Warning),
        advice: fight.count(Severity::Advice),
        phrases: fight.checked.as_ref().map_or_else(Vec::new, |it| phrase_rows(&it.fastest, &lines, who)),
        weapon_sets: fight.with_sets.iter().map(|set| set_row(set, &lines, who)).collect(),
        production: judge.home.as_ref().map(|home| home.config.name.clone()),
        judged: judge.said(),
        unchecked: Some(check::unchecked(&judge.rules)),
        text: fight.text().to_owned(),
        findings: fight.findings(),
        unusable: None,
    }
}

fn set_row(set: &WithSet, lines: &Lines<'_>, who: impl Fn(usize) -> Option<String>) -> SetRow {
    let phrases = set.fastest.as_ref().map_or_else(Vec::new, |fastest| phrase_rows(fastest, lines, who));
    SetRow { weapons: set.weapons.clone(), errors: set.errors, warnings: set.warnings, phrases }
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
    Ok(serde_json::to_string_pretty(&Whole { findings, files: looked, unchecked: unchecked(looked) })? + "\n")
}

/// What was not looked at: a sentence, or one for those on a stage and one for the others.
fn unchecked(looked: &[Looked]) -> String {
    let mut said: Vec<&str> = looked.iter().filter_map(|file| file.unchecked).collect();
    said.sort_unstable();
    said.dedup();
    match said.as_slice() {
        [] => UNCHECKED.to_owned(),
        [only] => (*only).to_owned(),
        _ => {
            let split = looked.iter().filter(|file| file.unchecked.is_some());
            let (on, off): (Vec<_>, Vec<_>) = split.partition(|file| file.unchecked != Some(UNCHECKED));
            let files = |files: &[&Looked]| files.iter().map(|it| it.file.as_str()).collect::<Vec<_>>().join(", ");
            format!("{}: {UNCHECKED}\n{}: {UNCHECKED_ON_STAGE}", files(&off), files(&on))
        }
    }
}

/// Every file with its findings and summary, then what none of it says.
fn text(looked: &[Looked]) -> String {
    let mut text: String = looked.iter().map(page).collect();
    if looked.iter().any(|file| file.unusable.is_none()) {
        text.push_str(&unchecked(looked));
        text.push('\n');
    }
    text
}

/// The findings of a file with their lines, drawn in colour where there is a terminal, and the summary under them.
fn page(file: &Looked) -> String {
    if file.unusable.is_some() {
        return String::new();
    }
    render(&file.findings, &file.text, &file.file, std::io::stdout().is_terminal())
        + &safe_text::terminal(&summary(file))
}

fn summary(file: &Looked) -> String {
    let mut page = String::new();
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
    page.push_str(&format!("{}\n", file.judged));
    if !file.phrases.is_empty() {
        page.push_str("Fastest safe tempo, as planned and never as permission:\n");
        page.push_str(&limit_lines(&file.phrases));
    }
    for set in &file.weapon_sets {
        page.push_str(&set_lines(set, &file.phrases));
    }
    page.push('\n');
    page
}

/// What is otherwise with a set of weapons.
fn set_lines(set: &SetRow, as_written: &[PhraseRow]) -> String {
    let SetRow { weapons, errors, phrases, .. } = set;
    if phrases.is_empty() {
        return format!("With the weapons “{weapons}” it cannot be run: {}.\n", counted(*errors, "error", "errors"));
    }
    if phrases.as_slice() == as_written {
        return format!("With the weapons “{weapons}” the same.\n");
    }
    format!("With the weapons “{weapons}”:\n{}", limit_lines(phrases))
}

fn limit_lines(rows: &[PhraseRow]) -> String {
    let width = rows.iter().map(|row| row.phrase.chars().count()).max().unwrap_or(0);
    rows.iter().map(|row| limit_line(row, width)).collect()
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
