//! A fight to be learned, outside of any run: what is read, heard and asked alone.

use serde::{Deserialize, Serialize};
use ts_rs::TS;

use super::{PictureView, RunSheet};

/// `/api/part`: a fight to read, outside of any run. `/api/part/sounds` and `/api/part/home` ask for the same.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
#[serde(deny_unknown_fields)]
pub struct PartAsked {
    /// Its name; nothing for the first.
    pub fight: Option<String>,
    /// Whose part; nothing for nobody's.
    #[serde(default)]
    pub part: Option<String>,
}

/// The answer of `/api/part`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct PartSheet {
    /// Everything that can be read, in the order in which it is run.
    pub fights: Vec<FightToRead>,
    /// The one that was asked for; nothing where it has no phrase.
    pub lesson: Option<Box<Lesson>>,
    /// What is another since the one who asks ran that part last; nothing when they never did, or when that text cannot be
    /// read any more.
    pub since: Option<Since>,
}

/// A fight that can be read.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct FightToRead {
    /// Its name.
    pub fight: String,
    /// Who fights in it.
    pub fighters: Vec<String>,
    /// Who only stands by in it.
    pub bystanders: Vec<String>,
    /// True for a pattern of a score by itself.
    pub drill: bool,
}

/// A fight to be learned, whole, at performance tempo.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct Lesson {
    /// The fight as a run of all of it would be told: of no run and of no generation.
    pub sheet: RunSheet,
    /// What is heard, in order.
    pub sounds: Vec<SoundAt>,
}

/// A sound at its place.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct SoundAt {
    /// Its tick, from the first beat.
    #[ts(type = "number")]
    pub at_ticks: i64,
    /// So much later it is heard, microseconds; negative for earlier.
    #[ts(type = "number")]
    pub later_us: i64,
    /// Louder or softer than its own level.
    pub gain_db: f64,
    /// Its name.
    pub name: String,
    /// The move that makes it, by its place among those of the sheet; nothing for a sound on a line of its own.
    pub by_move: Option<u32>,
}

/// What is another in somebody's part since they ran it last.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct Since {
    /// When they ran it, RFC 3339.
    pub utc: String,
    /// The score's revision then.
    pub revision: String,
    /// Moves that are new to them, by their place among those of the sheet.
    pub new: Vec<u32>,
    /// Moves that come at another distance from the move of theirs before.
    pub moved: Vec<u32>,
    /// Moves that are gone.
    pub gone: Vec<GoneView>,
}

/// A move that is not in the fight any more.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct GoneView {
    /// The phrase that it was in.
    pub phrase: String,
    /// The move in words.
    pub words: String,
}

/// The answer of `/api/part/sounds`: what a device needs in order to play a fight by itself.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct SoundClips {
    /// One of each sound that the fight asks for and that there is.
    pub clips: Vec<SoundClip>,
}

/// A sound.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct SoundClip {
    /// Its name.
    pub name: String,
    /// Louder or softer than all others, as the company chose.
    pub gain_db: f64,
    /// Its first sample is played so much before it is to be heard, microseconds; negative for after.
    #[ts(type = "number")]
    pub early_us: i64,
    /// Its samples: a FLAC file (RFC 9639) in base64 (RFC 4648, section 4).
    pub flac: String,
}

/// What a file for home carries: everything that a performer learns alone, for a page that asks no server for anything.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct HomeFile {
    /// The production.
    pub production: String,
    /// The day on which it was made: `2026-11-27`.
    pub made: String,
    /// Whose part it opens with; nothing for a file of the whole cast, which asks.
    pub part: Option<String>,
    /// The fights.
    pub fights: Vec<HomeFight>,
    /// Their sounds.
    pub clips: Vec<SoundClip>,
    /// True when the sounds were left out, because the file would have been too large for a mail.
    pub mute: bool,
}

/// A fight of a file for home.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct HomeFight {
    /// The fight.
    pub lesson: Lesson,
    /// Its pictures, in the order of their numbers.
    pub pictures: Vec<PictureView>,
}
