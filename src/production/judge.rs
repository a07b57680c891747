//! What a score is judged by: the words it is written in and the house's limits. There is one way to come by them, for
//! commands and pages alike: those of the production that the score lies in or, where it lies in none, the built-in ones.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use super::fight::patterns;
use super::pictures::with_pictures;
use super::rearmed::Rearmed;
use super::{CONFIG_FILE, Config, Fight, PATTERNS, PICTURES, ProductionError, recordings, stage, text, vocabulary};
use crate::call;
use crate::check::HouseRules;
use crate::score::vocabulary::Vocabulary;
use crate::stage::StageText;

/// What a score is judged by.
#[derive(Clone, Debug)]
pub struct Judge {
    /// The production whose rules and words these are; nothing for the built-in ones.
    pub home: Option<Home>,
    /// The limits: the company's own, with the names of its recordings and the plan of its stage.
    pub rules: HouseRules,
    /// The plan of the stage with its text; nothing where there is none.
    pub stage: Option<StageText>,
    /// The words that scores are written in, with the production's own patterns.
    pub vocabulary: Vocabulary,
    /// The words with each of the production's sets of weapons.
    pub sets: Vec<Rearmed>,
    /// A sentence for each of these patterns and sets that cannot be used, and for what is wrong with the stage's plan.
    pub unread: Vec<String>,
}

/// A production without its fights.
#[derive(Clone, Debug)]
pub struct Home {
    /// The folder.
    pub folder: PathBuf,
    /// What the company decides.
    pub config: Config,
}

impl Judge {
    /// The built-in rules and words, for a score that lies in no production.
    pub fn alone() -> Judge {
        Judge {
            home: None,
            rules: HouseRules::default(),
            stage: None,
            vocabulary: Vocabulary::built_in(),
            sets: Vec::new(),
            unread: Vec::new(),
        }
    }

    /// The rules and words of a production's folder. Reads no score, writes nothing.
    ///
    /// # Errors
    /// `Missing`, `Unreadable`, `Config`, `Vocabulary`.
    pub fn of_production(folder: &Path) -> Result<Judge, ProductionError> {
        let config_file = folder.join(CONFIG_FILE);
        if !config_file.is_file() {
            return Err(ProductionError::Missing(folder.into()));
        }
        let config = Config::read(&text(&config_file)?, CONFIG_FILE).map_err(ProductionError::Config)?;
        let (patterns, mut unread) = patterns(&folder.join(PATTERNS));
        let (words, more) = with_pictures(&folder.join(PICTURES), vocabulary(folder, &config)?);
        unread.extend(more);
        let vocabulary = Vocabulary { patterns: Arc::new(patterns), ..words };
        let (stage, wrong) = stage(folder);
        unread.extend(wrong);
        let sounds = recordings(&folder.join("sounds"));
        let plan = stage.as_ref().map(|stage| Arc::clone(&stage.plan));
        let rules = HouseRules { sounds, stage: plan, ..config.rules.clone() };
        let (sets, more) = Rearmed::all(&config.weapon_sets, &vocabulary);
        unread.extend(more);
        let home = Some(Home { folder: folder.into(), config });
        Ok(Judge { home, rules, stage, vocabulary, sets, unread })
    }

    /// What a file is judged by: the production in the nearest folder above it, or nobody's.
    ///
    /// # Errors
    /// Those of [`Judge::of_production`].
    pub fn of_file(file: &Path) -> Result<Judge, ProductionError> {
        home_of(file).map_or_else(|| Ok(Judge::alone()), |folder| Judge::of_production(&folder))
    }

    /// Reads a score and judges it.
    pub fn fight(&self, bytes: &[u8], file: &str) -> Fight {
        Fight::read(bytes, file, &self.vocabulary, &self.rules, &self.sets)
    }

    /// A fight that was read here, as a call takes it; nothing when its text has errors.
    pub fn playable(&self, fight: &Fight) -> Option<call::Fight> {
        fight.playable(&self.vocabulary, self.stage.as_ref())
    }

    /// Whose rules and words these are, as a sentence for people.
    pub fn said(&self) -> String {
        let unread = self.unread.iter().map(|sentence| format!(" {sentence}")).collect::<String>();
        let said = match &self.home {
            Some(home) => {
                format!("Judged by the rules and words of {} ({CONFIG_FILE} of its folder).", home.config.name)
            }
            None => format!("Judged by the built-in rules and words: there is no {CONFIG_FILE} in a folder above it."),
        };
        said + &unread
    }
}

/// The production that a file lies in: the nearest folder above it with a `production.toml`. The file need not be there.
pub fn home_of(file: &Path) -> Option<PathBuf> {
    let folder = file.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let folder = folder.canonicalize().ok()?;
    folder.ancestors().find(|folder| folder.join(CONFIG_FILE).is_file()).map(Path::to_path_buf)
}
