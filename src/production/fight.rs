//! The scores of a production. One that has errors is kept with what is wrong, and keeps none of the others from use.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::Path;

use super::ProductionError;
use crate::call;
use crate::check::{Checked, HouseRules, check};
use crate::hex;
use crate::score::library::Library;
use crate::score::model::Score;
use crate::score::problem::{Problem, Severity};
use crate::score::raw::Statement;
use crate::score::vocabulary::Vocabulary;
use crate::score::{Reading, read};

/// As much of a score file as is read: more than a score may have, so that the reader of scores says that it is too long.
const MOST_BYTES: u64 = 16 * 1024 * 1024;

/// A fight of the production.
#[derive(Clone, Debug)]
pub struct Fight {
    /// Its name: that on its `fight` line, or the file's when it has none.
    pub name: String,
    /// The file, as the person knows it: `scores/quay.fight`.
    pub file: String,
    /// SHA-256 of the file's bytes, 64 hexadecimal digits: the revision.
    pub sha256: String,
    /// What came of reading it: the text, the score if it has no errors, the problems.
    pub reading: Reading,
    /// What the checks found, and how fast it can go; nothing when the text has errors.
    pub checked: Option<Checked>,
}

impl Fight {
    /// A fight from the bytes of its file, whether it can be used or not.
    pub fn read(bytes: &[u8], file: &str, vocabulary: &Vocabulary, rules: &HouseRules) -> Fight {
        fight(bytes, file.to_owned(), vocabulary, rules)
    }

    /// The checked score; nothing when the text has errors.
    pub fn score(&self) -> Option<&Score> {
        self.reading.score.as_ref()
    }

    /// The text.
    pub fn text(&self) -> &str {
        &self.reading.text
    }

    /// Everything that is wrong: what reading found, then what the checks found.
    pub fn problems(&self) -> impl Iterator<Item = &Problem> {
        self.reading.problems.iter().chain(self.checked.iter().flat_map(|checked| &checked.findings))
    }

    /// The same in the order of the text, as commands and pages tell it.
    pub fn findings(&self) -> Vec<Problem> {
        let mut findings: Vec<Problem> = self.problems().cloned().collect();
        findings.sort_by(|a, b| (a.span.start, a.span.end, a.code).cmp(&(b.span.start, b.span.end, b.code)));
        findings
    }

    /// How many problems there are of one severity.
    pub fn count(&self, severity: Severity) -> usize {
        self.problems().filter(|problem| problem.severity == severity).count()
    }

    /// The fight as a call takes it, written in those words; nothing when the text has errors.
    pub(super) fn playable(&self, words: &Vocabulary) -> Option<call::Fight> {
        // What is kept of a run is a whole text: with the patterns that lie in other files.
        let whole = self.reading.whole.as_ref();
        let alone = whole.and_then(|whole| read(whole, &self.file, words).score);
        Some(call::Fight {
            vocabulary: words.texts.clone(),
            score: alone.or_else(|| self.score().cloned())?,
            revision: whole.map_or_else(|| self.sha256.clone(), hex::sha256),
            text: whole.map_or(self.text(), String::as_str).to_owned(),
            errors: self.count(Severity::Error),
            warnings: self.count(Severity::Warning),
        })
    }
}

/// Reads every `*.fight` in the folder, in order of file name. Gives the fights, and a sentence for each file that could
/// not be read at all.
///
/// # Errors
/// [`ProductionError::SameName`].
pub(super) fn load(
    scores: &Path,
    vocabulary: &Vocabulary,
    rules: &HouseRules,
) -> Result<(Vec<Fight>, Vec<String>), ProductionError> {
    let (mut fights, mut unread) = (Vec::new(), Vec::new());
    for name in fight_files(scores, &mut unread) {
        let file = format!("scores/{name}");
        match bytes(&scores.join(&name), MOST_BYTES) {
            Ok(bytes) => fights.push(fight(&bytes, file, vocabulary, rules)),
            Err(error) => unread.push(format!("{file} cannot be read: {error}.")),
        }
    }
    two_of_a_name(&fights)?;
    Ok((fights, unread))
}

/// The bytes of a file, `most` at most.
pub(super) fn bytes(path: &Path, most: u64) -> io::Result<Vec<u8>> {
    let mut bytes = Vec::new();
    File::open(path)?.take(most).read_to_end(&mut bytes)?;
    Ok(bytes)
}

/// The patterns that every score of the production may use, and a sentence for each that cannot be used.
pub(super) fn patterns(folder: &Path) -> (Library, Vec<String>) {
    let mut unread = Vec::new();
    let mut files = Vec::new();
    if folder.is_dir() {
        for name in fight_files(folder, &mut unread) {
            let file = format!("patterns/{name}");
            match bytes(&folder.join(&name), MOST_BYTES).map(String::from_utf8) {
                Ok(Ok(text)) => files.push((file, text)),
                Ok(Err(_)) => unread.push(format!("{file} is not UTF-8: save it as UTF-8 in your text editor.")),
                Err(error) => unread.push(format!("{file} cannot be read: {error}.")),
            }
        }
    }
    let (library, more) = Library::of(files);
    unread.extend(more);
    (library, unread)
}

fn fight_files(scores: &Path, unread: &mut Vec<String>) -> Vec<String> {
    let entries = match fs::read_dir(scores) {
        Ok(entries) => entries,
        Err(error) => {
            unread.push(format!(
                "There are no scores: the folder scores cannot be read ({error}). Make it, and put *.fight files in it."
            ));
            return Vec::new();
        }
    };
    let mut names: Vec<String> = Vec::new();
    for entry in entries.flatten() {
        let name = entry.file_name();
        match name.to_str() {
            // Editors keep hidden copies of what is being written.
            Some(name) if name.ends_with(".fight") && !name.starts_with('.') => names.push(name.to_owned()),
            None if name.to_string_lossy().ends_with(".fight") => {
                unread.push(format!("scores/{} has a name that is no UTF-8: rename it.", name.to_string_lossy()));
            }
            _ => {}
        }
    }
    names.sort();
    names
}

fn fight(bytes: &[u8], file: String, vocabulary: &Vocabulary, rules: &HouseRules) -> Fight {
    let reading = read(bytes, &file, vocabulary);
    let written = reading.raw.lines.iter().find_map(|line| match &line.statement {
        Some(Statement::Fight(name)) => Some(name.value.trim().to_owned()),
        _ => None,
    });
    let stem = || file.trim_start_matches("scores/").trim_end_matches(".fight").to_owned();
    let name = written.filter(|name| !name.is_empty()).unwrap_or_else(stem);
    let sha256 = hex::sha256(bytes);
    let checked = reading.score.as_ref().map(|score| check(score, vocabulary, rules));
    Fight { name, file, sha256, reading, checked }
}

/// Names that differ only in capitals are one name to the person who says them.
fn two_of_a_name(fights: &[Fight]) -> Result<(), ProductionError> {
    let mut seen: BTreeMap<String, &Fight> = BTreeMap::new();
    for fight in fights {
        if let Some(first) = seen.insert(fight.name.to_lowercase(), fight) {
            return Err(ProductionError::SameName {
                name: fight.name.clone(),
                first: first.file.clone(),
                second: fight.file.clone(),
            });
        }
    }
    Ok(())
}
