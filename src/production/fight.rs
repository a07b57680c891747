//! The scores of a production. One that has errors is kept with what is wrong, and keeps none of the others from use.

use std::collections::BTreeMap;
use std::fs::{self, File};
use std::io::{self, Read};
use std::path::Path;
use std::sync::Arc;

use super::ProductionError;
use super::rearmed::Rearmed;
use crate::call;
use crate::check::{Checked, Fastest, HouseRules, check};
use crate::figure::Pictures;
use crate::hex;
use crate::score::drill::{Drill, drills};
use crate::score::library::Library;
use crate::score::model::Score;
use crate::score::problem::{Problem, Severity};
use crate::score::raw::Statement;
use crate::score::vocabulary::Vocabulary;
use crate::score::{Reading, read, read_with_lines};
use crate::stage::{Floor, Passages, StageText};

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
    /// The same with each set of weapons that concerns it.
    pub with_sets: Vec<WithSet>,
}

/// A fight as it is with other weapons.
#[derive(Clone, Debug)]
pub struct WithSet {
    /// The set's name.
    pub weapons: String,
    /// The words with these weapons.
    pub vocabulary: Arc<Vocabulary>,
    /// The score; nothing when it has errors with them.
    pub score: Option<Score>,
    /// What is found with these weapons and not with those that the score names.
    pub findings: Vec<Problem>,
    /// How fast it can go with them; nothing when the score has errors.
    pub fastest: Option<Fastest>,
    /// How many errors there are with them, those without them too.
    pub errors: usize,
    /// How many warnings.
    pub warnings: usize,
}

impl Fight {
    /// A fight from the bytes of its file, whether it can be used or not: as its score names the weapons, and with each
    /// of these sets that concerns it.
    pub fn read(bytes: &[u8], file: &str, vocabulary: &Vocabulary, rules: &HouseRules, sets: &[Rearmed]) -> Fight {
        let mut fight = fight(bytes, file.to_owned(), vocabulary, rules);
        fight.with_sets = sets.iter().filter_map(|set| fight.with(set, rules)).collect();
        fight
    }

    /// The fight with a set of weapons; nothing when none of them is in it.
    fn with(&self, rearmed: &Rearmed, rules: &HouseRules) -> Option<WithSet> {
        let Rearmed { set, vocabulary } = rearmed;
        let fighters = &self.score()?.fighters;
        let theirs = fighters.iter().flat_map(|it| [Some(&it.weapon), it.second.as_ref().map(|it| &it.weapon)]);
        if !theirs.flatten().any(|weapon| set.instead.contains_key(weapon)) {
            return None;
        }
        let other = fight(self.text().as_bytes(), self.file.clone(), vocabulary, rules);
        let is_new = |problem: &&Problem| self.as_written().all(|it| !is_same(it, problem));
        let findings = other.as_written().filter(is_new).map(|problem| said_with(&set.name, problem)).collect();
        Some(WithSet {
            weapons: set.name.clone(),
            vocabulary: Arc::clone(vocabulary),
            findings,
            fastest: other.checked.as_ref().map(|checked| checked.fastest.clone()),
            errors: counted(other.as_written(), Severity::Error),
            warnings: counted(other.as_written(), Severity::Warning),
            score: other.reading.score,
        })
    }

    /// The checked score; nothing when the text has errors.
    pub fn score(&self) -> Option<&Score> {
        self.reading.score.as_ref()
    }

    /// What a set of the stage can be for, as it is named there: the fight by its name, then `Fight: Phrase` with each phrase
    /// before which the scene can change. The phrases of a score with errors are not known.
    pub fn for_sets(&self) -> impl Iterator<Item = (String, Option<&str>)> {
        let phrases = self.score().into_iter().flat_map(|score| &score.phrases);
        let changes = phrases.map(|it| (format!("{}: {}", self.name, it.name), Some(it.name.as_str())));
        std::iter::once((self.name.clone(), None)).chain(changes)
    }

    /// The text.
    pub fn text(&self) -> &str {
        &self.reading.text
    }

    /// Everything that is wrong as the score names the weapons: what reading found, then what the checks found.
    fn as_written(&self) -> impl Iterator<Item = &Problem> {
        self.reading.problems.iter().chain(self.checked.iter().flat_map(|checked| &checked.findings))
    }

    /// Everything that is wrong: as the score names the weapons, then what each set of weapons brings besides.
    pub fn problems(&self) -> impl Iterator<Item = &Problem> {
        self.as_written().chain(self.with_sets.iter().flat_map(|set| &set.findings))
    }

    /// The same in the order of the text, as commands and pages tell it.
    pub fn findings(&self) -> Vec<Problem> {
        let mut findings: Vec<Problem> = self.problems().cloned().collect();
        findings.sort_by(|a, b| (a.span.start, a.span.end, a.code).cmp(&(b.span.start, b.span.end, b.code)));
        findings
    }

    /// How many problems there are of one severity.
    pub fn count(&self, severity: Severity) -> usize {
        counted(self.problems(), severity)
    }

    /// The fight as a call takes it, written in those words, with its sets of weapons; nothing when the text has errors.
    pub(super) fn playable(&self, words: &Vocabulary, stage: Option<&StageText>) -> Option<call::Fight> {
        let sets = self.with_sets.iter().filter_map(|set| {
            let (errors, warnings) = (set.errors, set.warnings);
            let fight = self.kept(&set.vocabulary, stage, set.score.as_ref()?, (errors, warnings));
            Some(Arc::new(call::Fight { weapons: Some(set.weapons.clone()), ..fight }))
        });
        let count = |severity| counted(self.as_written(), severity);
        let found = (count(Severity::Error), count(Severity::Warning));
        let fight = self.kept(words, stage, self.score()?, found);
        Some(call::Fight { sets: sets.collect(), ..fight })
    }

    /// The score in those words as a run keeps it: a whole text, with the patterns that lie in other files.
    fn kept(
        &self,
        words: &Vocabulary,
        stage: Option<&StageText>,
        score: &Score,
        (errors, warnings): (usize, usize),
    ) -> call::Fight {
        let whole = self.reading.whole.as_ref();
        let alone = whole.and_then(|whole| read(whole, &self.file, words).score);
        let score = alone.unwrap_or_else(|| score.clone());
        let text = whole.map_or(self.text(), String::as_str).to_owned();
        let passages = self.checked.as_ref().map(|checked| checked.passages.clone());
        call::Fight {
            floor: stage.map(|stage| Arc::new(Floor::of(&text, &words.texts, stage))),
            vocabulary: words.texts.clone(),
            pictures: Arc::new(Pictures::of(&score, words)),
            passages: Passages::known(passages.unwrap_or_default()),
            score,
            revision: whole.map_or_else(|| self.sha256.clone(), hex::sha256),
            text,
            errors,
            warnings,
            weapons: None,
            sets: Vec::new(),
            drill: false,
        }
    }

    /// The patterns that it uses, each as a fight of its own. One whose weapons cannot stay as they are at the start of
    /// the fight, in their sheaths say, begins with all of them in hand.
    pub(super) fn drills(&self, judge: &JudgedBy<'_>, rounds: u32) -> Vec<call::Fight> {
        let one = |Drill { text, in_hand, .. }: Drill| {
            let read = |text: &str| Fight::read(text.as_bytes(), &self.file, judge.vocabulary, judge.rules, judge.sets);
            let as_begun = read(&text);
            let errors = as_begun.count(Severity::Error);
            let drawn = (errors > 0).then(|| read(&in_hand)).filter(|drawn| drawn.count(Severity::Error) < errors);
            let fight = drawn.unwrap_or(as_begun).playable(judge.vocabulary, judge.stage)?;
            let drill = |fight: Arc<call::Fight>| Arc::new(call::Fight { drill: true, ..Arc::unwrap_or_clone(fight) });
            let sets = fight.sets.into_iter().map(drill).collect();
            Some(call::Fight { drill: true, sets, ..fight })
        };
        drills(&self.reading, rounds).into_iter().filter_map(one).collect()
    }
}

/// What a fight is judged by.
pub(super) struct JudgedBy<'j> {
    pub(super) vocabulary: &'j Vocabulary,
    pub(super) rules: &'j HouseRules,
    /// The plan of the stage that the rules have, with its text.
    pub(super) stage: Option<&'j StageText>,
    pub(super) sets: &'j [Rearmed],
}

fn counted<'p>(problems: impl Iterator<Item = &'p Problem>, severity: Severity) -> usize {
    problems.filter(|problem| problem.severity == severity).count()
}

fn is_same(one: &Problem, other: &Problem) -> bool {
    one.code == other.code && one.span == other.span && one.message == other.message
}

/// A problem that there is with a set of weapons alone.
fn said_with(set: &str, problem: &Problem) -> Problem {
    Problem { message: format!("with the weapons “{set}”: {}", problem.message), ..problem.clone() }
}

/// Reads every `*.fight` in the folder, in order of file name. Gives the fights, and a sentence for each file that could
/// not be read at all.
///
/// # Errors
/// [`ProductionError::SameName`].
pub(super) fn load(scores: &Path, judge: &JudgedBy<'_>) -> Result<(Vec<Fight>, Vec<String>), ProductionError> {
    let (mut fights, mut unread) = (Vec::new(), Vec::new());
    for name in fight_files(scores, &mut unread) {
        let file = format!("scores/{name}");
        match bytes(&scores.join(&name), MOST_BYTES) {
            Ok(bytes) => fights.push(Fight::read(&bytes, &file, judge.vocabulary, judge.rules, judge.sets)),
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
    let (reading, raw) = read_with_lines(bytes, &file, vocabulary);
    let written = raw.lines.iter().find_map(|line| match &line.statement {
        Some(Statement::Fight(name)) => Some(name.value.trim().to_owned()),
        _ => None,
    });
    let stem = || file.trim_start_matches("scores/").trim_end_matches(".fight").to_owned();
    drop(raw);
    let name = written.filter(|name| !name.is_empty()).unwrap_or_else(stem);
    let sha256 = hex::sha256(bytes);
    let checked = reading.score.as_ref().map(|score| check(score, vocabulary, rules));
    Fight { name, file, sha256, reading, checked, with_sets: Vec::new() }
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
