//! Reading a score: bytes in; a checked score and everything that is wrong with it out.

use super::model::Score;
use super::parse::parse;
use super::problem::{Problem, Problems, Severity};
use super::raw::RawScore;
use super::render::{self, Report};
use super::resolve::resolve;
use super::vocabulary::Vocabulary;

/// The largest score file, in bytes: some two hundred thousand lines.
pub const LARGEST: usize = 8 * 1024 * 1024;

/// What came of reading a score.
#[derive(Clone, Debug)]
pub struct Reading {
    /// The file's name, for reports.
    pub file_name: String,
    /// The text that every span counts in. Bytes that are no UTF-8 are replaced by `\u{fffd}`.
    pub text: String,
    /// The same with the patterns of the production behind it, where it uses one: a score that needs nothing besides.
    pub whole: Option<String>,
    /// The fight; nothing when a problem is an error.
    pub score: Option<Score>,
    /// Whatever is wrong, in the order of the text.
    pub problems: Vec<Problem>,
}

impl Reading {
    /// True when the score cannot be used.
    pub fn has_errors(&self) -> bool {
        self.problems.iter().any(|problem| problem.severity == Severity::Error)
    }

    /// The problems for people: see [`render::render`].
    pub fn render(&self, colour: bool) -> String {
        render::render(&self.problems, &self.text, &self.file_name, colour)
    }

    /// The problems for programs: see [`render::reports`].
    pub fn reports(&self) -> Vec<Report> {
        render::reports(&self.problems, &self.text, &self.file_name)
    }
}

/// Reads a score, from a string or from any bytes. Reports every problem it finds, and never panics.
pub fn read(source: impl AsRef<[u8]>, file_name: &str, vocabulary: &Vocabulary) -> Reading {
    read_with_lines(source, file_name, vocabulary).0
}

/// The same, and every line as it was written, up to where reading was given up because there were too many problems.
pub fn read_with_lines(source: impl AsRef<[u8]>, file_name: &str, vocabulary: &Vocabulary) -> (Reading, RawScore) {
    let mut problems = Problems::new();
    let text = decode(source.as_ref(), &mut problems);
    let mut undecoded = Problems::new();
    std::mem::swap(&mut undecoded, &mut problems);
    let raw = parse(&text, &mut problems);
    let borrowed = vocabulary.patterns.lend(&text, &raw);
    let score = match &borrowed {
        Some(borrowed) => {
            problems = Problems::new();
            resolve(&parse(&borrowed.whole, &mut problems), vocabulary, &mut problems)
        }
        None => resolve(&raw, vocabulary, &mut problems),
    };
    let mut score = if problems.has_errors() || undecoded.has_errors() { None } else { score };
    let mut problems: Vec<Problem> = undecoded.into_sorted().into_iter().chain(problems.into_sorted()).collect();
    if let Some(borrowed) = &borrowed {
        problems = problems.into_iter().map(|problem| borrowed.brought_home(problem)).collect();
        score.iter_mut().for_each(|score| borrowed.bring_home(score));
    }
    problems.sort_by_key(|problem| problem.span.start);
    let whole = borrowed.map(|borrowed| borrowed.whole);
    (Reading { file_name: file_name.to_owned(), text, whole, score, problems }, raw)
}

/// The text of some bytes. What is not UTF-8 is replaced and reported where it stands.
pub(super) fn decode(bytes: &[u8], problems: &mut Problems) -> String {
    if bytes.len() > LARGEST {
        let message = format!("the file has {} bytes; a score has at most {LARGEST}", bytes.len());
        problems
            .push(Problem::error("S101", 0..0, message).help("is this the right file? otherwise cut the fight in two"));
        return String::new();
    }
    let mut text = String::with_capacity(bytes.len());
    for chunk in bytes.utf8_chunks() {
        text.push_str(chunk.valid());
        if !chunk.invalid().is_empty() {
            let start = text.len();
            text.push(char::REPLACEMENT_CHARACTER);
            let bad: Vec<String> = chunk.invalid().iter().map(|byte| format!("{byte:02X}")).collect();
            let message = format!("the byte {} is not UTF-8", bad.join(" "));
            problems.push(
                Problem::error("S100", start..text.len(), message).help("save the file as UTF-8 in your text editor"),
            );
        }
    }
    text
}
