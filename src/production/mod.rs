//! The production: the folder that a company keeps. `production.toml` says what it decides for itself, `scores/` holds
//! its fights, `vocabulary.toml` its own words, `stage.toml` the plan of its stage, `sounds/` its recordings, and `data/` what the program
//! writes: journal, invitations, what was chosen for the sounds.

mod config;
mod copying;
pub mod device;
mod error;
mod evening;
mod fight;
pub mod invitations;
mod judge;
mod limits;
mod outputs;
mod pictures;
mod rearmed;
pub mod saving;
mod sounds;
mod stamp;
mod start;
pub mod trims;

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::Arc;

pub use config::{Config, Links, OnLostLink, SoundChoice, VocabularyChoice};
pub use copying::{Copied, copy_files};
pub use device::DeviceChoice;
pub use error::ProductionError;
pub use fight::{Fight, WithSet};
pub(crate) use invitations::write_private;
pub use judge::{Home, Judge, home_of};
pub use limits::Limits;
pub use rearmed::Rearmed;
pub use stamp::Stamp;
pub use start::{PLAIN_STAGE, start, start_demo};

use crate::check::HouseRules;
use crate::score::problem::Severity;
use crate::score::vocabulary::Vocabulary;
use crate::sound::recordings::ENDINGS;
use crate::stage::{StagePlan, StageText};
use fight::JudgedBy;

/// The file that makes a folder a production.
pub const CONFIG_FILE: &str = "production.toml";
/// The plan of the stage, where there is one.
pub const STAGE_FILE: &str = "stage.toml";
/// The folder of the patterns that every score may use.
pub const PATTERNS: &str = "patterns";
/// The folder of the company's own pictures of words.
pub const PICTURES: &str = "pictures";
/// The folder for what the program writes.
pub const DATA: &str = "data";
/// The largest configuration or vocabulary file that is read, bytes.
const LARGEST: u64 = 4 * 1024 * 1024;

/// A production, read.
#[derive(Clone, Debug)]
pub struct Production {
    /// The folder.
    pub folder: PathBuf,
    /// What the company decides.
    pub config: Config,
    /// The limits that its fights were checked against: the company's own, with the names of its recordings.
    pub rules: HouseRules,
    /// The plan of its stage with its text; nothing where there is none.
    pub stage: Option<StageText>,
    /// The words that its scores are written in.
    pub vocabulary: Vocabulary,
    /// The words with each of its sets of weapons.
    pub sets: Vec<Rearmed>,
    /// Its fights, in order of file name, those with errors too.
    pub fights: Vec<Fight>,
    /// What the files looked like just before they were read.
    pub stamp: Stamp,
    /// Sentences about files that could not be read at all. The others are in use all the same.
    pub unread: Vec<String>,
}

impl Production {
    /// Reads a production folder. Writes nothing.
    ///
    /// # Errors
    /// `Missing`, `Unreadable`, `Config`, `Vocabulary`, `SameName`. A score with errors is none: see [`Fight`].
    pub fn open(folder: &Path) -> Result<Production, ProductionError> {
        let stamp = Stamp::of(folder);
        let Judge { home, rules, stage, vocabulary, sets, unread: unread_words } = Judge::of_production(folder)?;
        let Some(Home { config, .. }) = home else { return Err(ProductionError::Missing(folder.into())) };
        let judge = JudgedBy { vocabulary: &vocabulary, rules: &rules, stage: stage.as_ref(), sets: &sets };
        let (fights, mut unread) = fight::load(&folder.join("scores"), &judge)?;
        unread.extend(unread_words);
        unread.extend(rules.stage.iter().flat_map(|stage| unknown_fights(stage, &fights)));
        Ok(Production { folder: folder.into(), config, rules, stage, vocabulary, sets, fights, stamp, unread })
    }

    /// Where the program keeps its own files. It is there once the journal was opened.
    pub fn data(&self) -> PathBuf {
        self.folder.join(DATA)
    }

    /// Where the company keeps its recordings.
    pub fn sounds(&self) -> PathBuf {
        self.folder.join("sounds")
    }

    /// A score's bytes, read and judged as one of its own.
    pub fn read_fight(&self, bytes: &[u8], file: &str) -> Fight {
        Fight::read(bytes, file, &self.vocabulary, &self.rules, &self.sets)
    }

    /// The fights that can be run: those whose scores have no errors of reading, then the patterns in them by themselves.
    pub fn playable(&self) -> Vec<Arc<crate::call::Fight>> {
        let stage = self.stage.as_ref();
        let judge = JudgedBy { vocabulary: &self.vocabulary, rules: &self.rules, stage, sets: &self.sets };
        let fights = self.fights.iter().filter_map(|fight| fight.playable(&self.vocabulary, stage));
        let drills = self.fights.iter().flat_map(|fight| fight.drills(&judge, self.config.drill_rounds));
        let mut playable: Vec<crate::call::Fight> = fights.collect();
        for drill in drills {
            // Two fights with the same pattern by the same people: one of the two is enough, and names tell fights apart.
            if playable.iter().all(|fight| fight.score.name != drill.score.name) {
                playable.push(drill);
            }
        }
        playable.into_iter().map(Arc::new).collect()
    }

    /// What is wrong with the files, a sentence each, for the desk.
    pub fn troubles(&self) -> Vec<String> {
        let broken = self.fights.iter().filter(|fight| fight.score().is_none()).map(|fight| {
            let errors = fight.count(Severity::Error);
            let word = if errors == 1 { "error" } else { "errors" };
            format!("{} cannot be run: it has {errors} {word}. See `holdfast check {}`.", fight.name, fight.file)
        });
        let evening = &self.config.evening;
        let planned = !evening.order.is_empty() || !evening.covers.is_empty();
        let unknown = if planned { evening::unknown(evening, &self.playable()) } else { Vec::new() };
        self.unread.iter().cloned().chain(broken).chain(unknown).collect()
    }

    /// The fight of that name, as it is written.
    pub fn fight(&self, name: &str) -> Option<&Fight> {
        self.fights.iter().find(|fight| fight.name == name)
    }
}

/// A sentence for each fight that a set of the stage is for and that is not there, and for each phrase that is not in it.
fn unknown_fights(stage: &StagePlan, fights: &[Fight]) -> Vec<String> {
    let known = |named: &str| fights.iter().flat_map(Fight::for_sets).any(|(known, _)| known == named);
    // The phrases of a score with errors are not known.
    let unread =
        |named: &str| fights.iter().any(|it| it.score().is_none() && named.starts_with(&format!("{}: ", it.name)));
    let named = stage.sets.iter().flat_map(|set| set.fights.iter().map(move |fight| (&set.name, fight)));
    let unknown = named.filter(|(_, named)| !known(named) && !unread(named));
    unknown
        .map(|(set, named)| {
            format!(
                "{STAGE_FILE}: the set “{set}” is for “{named}”, and there is no such fight; write a fight's name, or \
                 \"Fight: Phrase\" where the scene changes before a phrase."
            )
        })
        .collect()
}

/// The plan of a production's stage, and a sentence for whatever is wrong with it; without the file there is none.
fn stage(folder: &Path) -> (Option<StageText>, Vec<String>) {
    let path = folder.join(STAGE_FILE);
    if !path.exists() {
        return (None, Vec::new());
    }
    match text(&path) {
        Ok(text) => {
            let (stage, problems) = StageText::read(&text, STAGE_FILE);
            (stage, problems.iter().map(ToString::to_string).collect())
        }
        Err(error) => (None, vec![error.to_string()]),
    }
}

/// The names that scores can call the company's recordings by: `sounds/thud.wav` is `thud`, and so are
/// the takes in `sounds/thud/`. Without the folder, none.
fn recordings(sounds: &Path) -> BTreeSet<String> {
    let recorded = |path: &PathBuf| {
        let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase());
        ending.is_some_and(|ending| ENDINGS.contains(&ending.as_str()))
    };
    let (folders, files): (Vec<PathBuf>, Vec<PathBuf>) = listed(sounds).partition(|path| path.is_dir());
    let takes = folders.into_iter().filter(|folder| listed(folder).any(|path| recorded(&path)));
    let alone = files.into_iter().filter(recorded).map(|path| path.with_extension(""));
    takes.chain(alone).filter_map(|path| Some(path.file_name()?.to_str()?.to_owned())).collect()
}

fn listed(folder: &Path) -> impl Iterator<Item = PathBuf> + use<> {
    std::fs::read_dir(folder).into_iter().flatten().flatten().map(|entry| entry.path())
}

fn vocabulary(folder: &Path, config: &Config) -> Result<Vocabulary, ProductionError> {
    let choice = &config.vocabulary;
    let name = choice.file.as_deref().unwrap_or("vocabulary.toml");
    let path = folder.join(name);
    if choice.file.is_none() && !path.exists() {
        return Ok(Vocabulary::built_in());
    }
    Vocabulary::from_toml(&text(&path)?, name, choice.mode).map_err(ProductionError::Vocabulary)
}

/// A file's text.
fn text(path: &Path) -> Result<String, ProductionError> {
    let unreadable = |why: String| ProductionError::Unreadable { path: path.into(), why };
    let bytes = fight::bytes(path, LARGEST + 1).map_err(|error| unreadable(error.to_string()))?;
    if bytes.len() as u64 > LARGEST {
        return Err(unreadable(format!("it has more than {LARGEST} bytes; is it the right file?")));
    }
    String::from_utf8(bytes).map_err(|error| {
        let at = error.utf8_error().valid_up_to();
        let line = error.as_bytes().iter().take(at).filter(|byte| **byte == b'\n').count() + 1;
        unreadable(format!("line {line} is not UTF-8; save the file as UTF-8 in your text editor"))
    })
}
