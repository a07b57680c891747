//! What is kept of a call so that it can be played again: what the server began with, every input, and the mark of what
//! was told. It is written as JSON, a row each; texts stand beside it, once each, under their SHA-256.

use std::sync::Arc;

use serde::{Deserialize, Serialize};
use sha2::{Digest, Sha256};

use crate::call::{Before, Fight, Input, MemberId, Role, Settings, TapFate, UsualEvening, Why};
use crate::figure::Pictures;
use crate::hex;
use crate::score::read;
use crate::score::vocabulary::{Texts, Vocabulary};
use crate::stage::{Floor, Passages, StageText};
use crate::units::{Micros, ServerTime};

/// One row.
#[derive(Clone, Debug, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub(super) enum Recorded {
    /// The server began. The first row of a start, and no other.
    Begin(Box<Begin>),
    /// Something came into the call.
    Input(Input),
    /// Links that were lost and came back, gathered, in order.
    Links(Vec<LinkChange>),
    /// The production was read anew.
    ReadAnew {
        /// Its fights.
        fights: Vec<FightText>,
        /// The company's list of checks before a call.
        checks: Vec<String>,
        /// The company's reasons, and whether near misses are reported.
        #[serde(default)]
        why: Why,
        /// What an evening usually is.
        #[serde(default)]
        evening: UsualEvening,
    },
    /// The state was told. The row's time is the latest that the call knew then.
    Told(Mark),
}

/// What the call said of itself, as a number: the first half of a SHA-256, in hexadecimal (see `picture`).
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(transparent)]
pub(super) struct Mark(pub(super) String);

/// A link that was lost or came back.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct LinkChange {
    /// When, on the server's clock.
    pub(super) at: ServerTime,
    pub(super) member: MemberId,
    pub(super) back: bool,
}

impl LinkChange {
    /// The change as the call takes it.
    pub(super) fn input(self) -> Input {
        if self.back { Input::LinkBack(self.member) } else { Input::LinkLost(self.member) }
    }
}

/// What a server began with.
#[derive(Clone, Debug, Serialize, Deserialize)]
pub(super) struct Begin {
    /// The program: its version, and a number for what it was made of.
    pub(super) build: String,
    /// The start whose call goes on; nothing when the call began with this one.
    pub(super) continues: Option<Continues>,
    pub(super) settings: Settings,
    pub(super) before: Before,
    pub(super) fights: Vec<FightText>,
    /// Who has joined and whose key is good.
    pub(super) members: Vec<Known>,
    /// Who had joined and is in no call any more, and may still have a tap on a phone.
    #[serde(default)]
    pub(super) left: Vec<Known>,
    /// The taps of late.
    pub(super) taps: Vec<KnownTap>,
}

/// A call that goes on.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct Continues {
    /// The start of the server before.
    pub(super) session: i64,
    /// What its clock showed when this one's began: so much is taken off its times.
    pub(super) shift: Micros,
}

/// Somebody who has joined.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(in crate::server) struct Known {
    pub(in crate::server) member: MemberId,
    pub(in crate::server) name: String,
    pub(in crate::server) role: Role,
    pub(in crate::server) part: Option<String>,
}

/// A tap and what became of it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(in crate::server) struct KnownTap {
    pub(in crate::server) member: MemberId,
    pub(in crate::server) tap: String,
    pub(in crate::server) fate: TapFate,
}

/// A fight, by its texts.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub(super) struct FightText {
    pub(super) revision: String,
    /// SHA-256 of the score's text.
    pub(super) text: String,
    /// SHA-256 of each text of the vocabulary.
    pub(super) vocabulary: Vec<String>,
    pub(super) errors: usize,
    pub(super) warnings: usize,
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) weapons: Option<String>,
    /// The same fight with each set of weapons.
    #[serde(default, skip_serializing_if = "Vec::is_empty")]
    pub(super) sets: Vec<FightText>,
    #[serde(default, skip_serializing_if = "std::ops::Not::not")]
    pub(super) drill: bool,
    /// SHA-256 of the text of the stage that it is done on.
    #[serde(default, skip_serializing_if = "Option::is_none")]
    pub(super) stage: Option<String>,
}

/// A text and its SHA-256 in hexadecimal.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Text {
    pub(super) sha256: String,
    pub(super) text: Arc<str>,
}

impl Text {
    fn of(text: &str) -> Text {
        Text { sha256: hex::encode(&Sha256::digest(text)), text: text.into() }
    }
}

impl FightText {
    /// A fight by its texts, and the texts.
    pub(super) fn of(fight: &Fight) -> (FightText, Vec<Text>) {
        let text = Text::of(&fight.text);
        let mut texts: Vec<Text> = fight.vocabulary.0.iter().map(|text| Text::of(text)).collect();
        let vocabulary = texts.iter().map(|text| text.sha256.clone()).collect();
        let revision = fight.revision.clone();
        let (sets, texts_of_sets): (Vec<_>, Vec<_>) = fight.sets.iter().map(|set| FightText::of(set)).unzip();
        let stage = fight.floor.as_ref().map(|floor| Text::of(&floor.text));
        let named = FightText {
            stage: stage.as_ref().map(|text| text.sha256.clone()),
            revision,
            text: text.sha256.clone(),
            vocabulary,
            errors: fight.errors,
            warnings: fight.warnings,
            weapons: fight.weapons.clone(),
            sets,
            drill: fight.drill,
        };
        texts.push(text);
        texts.extend(stage);
        texts.extend(texts_of_sets.into_iter().flatten());
        (named, texts)
    }

    /// The fight again, from texts by their SHA-256.
    ///
    /// # Errors
    /// Why not: a text is not there, or this program cannot read it.
    pub(super) fn fight(&self, text_of: &dyn Fn(&str) -> Option<Arc<str>>) -> Result<Fight, String> {
        // Nothing that is decided hangs on the stage: without it only the picture is not there.
        let stage = self.stage.as_ref().and_then(|sha256| text_of(sha256));
        let stage = stage.and_then(|text| StageText::read(&text, "the journal").0);
        let find = |sha256: &String| {
            text_of(sha256).ok_or_else(|| format!("the text {} of a score is not in the journal", first(sha256)))
        };
        let words = Texts(self.vocabulary.iter().map(find).collect::<Result<_, _>>()?);
        let vocabulary = Vocabulary::from_texts(&words)
            .map_err(|error| format!("the words of that time cannot be read by this Holdfast: {error}"))?;
        let text = find(&self.text)?;
        let score = read(text.as_bytes(), "the journal", &vocabulary).score;
        let score = score.ok_or_else(|| {
            format!("the score {} of that time cannot be read by this Holdfast", first(&self.revision))
        })?;
        let sets = self.sets.iter().map(|set| Ok(Arc::new(set.fight(text_of)?)));
        Ok(Fight {
            pictures: Arc::new(Pictures::of(&score, &vocabulary)),
            floor: stage.as_ref().map(|stage| Arc::new(Floor::of(&text, &words, stage))),
            passages: stage.map_or_else(Passages::default, |stage| Passages::later(&score, vocabulary, &stage.plan)),
            score,
            revision: self.revision.clone(),
            text: text.as_ref().to_owned(),
            vocabulary: words,
            errors: self.errors,
            warnings: self.warnings,
            weapons: self.weapons.clone(),
            sets: sets.collect::<Result<_, String>>()?,
            drill: self.drill,
        })
    }
}

/// As much of a SHA-256 as a person compares.
fn first(sha256: &str) -> &str {
    sha256.get(..12).unwrap_or(sha256)
}
