//! What a row of the vocabulary says, one type for each kind of word. Every row names its source.

use serde::{Deserialize, Serialize};

use super::lines::{Line, Turn};
use crate::units::{Metres, Micros};

/// How long somebody needs before they begin to react. A range, because people and books differ.
#[derive(Clone, Debug, PartialEq)]
pub struct Reaction {
    /// Somebody who expects just this.
    pub least: Micros,
    /// What the checks plan with.
    pub usual: Micros,
    /// Somebody who has to recognise what comes.
    pub most: Micros,
    /// Where the figures come from.
    pub source: String,
}

/// What meets when an action is done as it is rehearsed.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Touch {
    /// Blade and blade.
    Blades,
    /// Body and body.
    Bodies,
    /// Nothing: it misses, or it stops short.
    Nothing,
}

/// Who can do it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Posture {
    /// Somebody on their feet or a knee.
    #[default]
    Standing,
    /// Somebody on the floor.
    Down,
    /// Either.
    Any,
}

/// What an action or a reply changes from then on. *Self* is the one who does it, *other* the partner.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Effect {
    /// The partner loses the weapon.
    DisarmsOther,
    /// The one who does it puts the weapon down or away.
    DisarmsSelf,
    /// The one who does it has the weapon in hand.
    TakesWeapon,
    /// The partner is on the floor.
    DownsOther,
    /// The one who does it is on the floor.
    GoesDown,
    /// The one who does it is on their feet.
    GetsUp,
}

/// The attacking half of a move.
#[derive(Clone, Debug, PartialEq)]
pub struct Action {
    /// The targets it may take; empty when it takes none.
    pub targets: Vec<String>,
    /// Whether it must name one.
    pub target_needed: bool,
    /// What meets.
    pub touch: Touch,
    /// Whether it needs an answer.
    pub attack: bool,
    /// The least time from its beginning to its end.
    pub least: Micros,
    /// The sound it makes when the score names none.
    pub sound: Option<String>,
    /// Whether the weapon must be in hand.
    pub needs_weapon: bool,
    /// Who can do it.
    pub posture: Posture,
    /// What it changes.
    pub effects: Vec<Effect>,
    /// Where the row comes from.
    pub source: String,
}

/// How high a target lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Height {
    /// Above the hand on guard.
    High,
    /// Below it.
    Low,
    /// On top of the head.
    Overhead,
}

/// Where a target without sides lies, as seen from the weapon hand.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Across {
    /// Away from the weapon hand.
    Inside,
    /// On its side.
    Outside,
    /// In the middle: it can be reached by both.
    #[default]
    Either,
}

/// Where an action can go.
#[derive(Clone, Debug, PartialEq)]
pub struct Target {
    /// The heights of the lines it lies in; none when no blade closes it.
    pub heights: Vec<Height>,
    /// Whether it has a left and a right.
    pub sided: bool,
    /// Where it lies when it has no sides.
    pub across: Across,
    /// The places that a `take` may name for a hit here.
    pub takes: Vec<String>,
    /// Where the row comes from.
    pub source: String,
}

/// What sort of answer a reply is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum ReplyKind {
    /// The blade goes the straight way into the attacked line.
    Parry,
    /// The point makes a full circle and ends in the same position.
    CircularParry,
    /// The body is not there.
    Avoid,
    /// The blow is received, as rehearsed.
    Take,
    /// The partner goes along with it, or struggles without a counter.
    Yield,
    /// Arms or hands in the way.
    Block,
}

/// What a reply is written with.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum ReplyArgument {
    /// Nothing.
    None,
    /// The number or name of a parry.
    Parry,
    /// The place that was hit.
    Target,
}

impl ReplyKind {
    /// What such a reply is written with.
    pub const fn argument(self) -> ReplyArgument {
        match self {
            ReplyKind::Parry | ReplyKind::CircularParry => ReplyArgument::Parry,
            ReplyKind::Take => ReplyArgument::Target,
            ReplyKind::Avoid | ReplyKind::Yield | ReplyKind::Block => ReplyArgument::None,
        }
    }
}

/// Some words, or all of them.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Words {
    /// Every word of that kind, and none.
    Any,
    /// These.
    These(Vec<String>),
}

impl Words {
    /// True when `word` is one of them.
    pub fn contains(&self, word: &str) -> bool {
        match self {
            Words::Any => true,
            Words::These(words) => words.iter().any(|known| known == word),
        }
    }
}

/// How an action can be answered.
#[derive(Clone, Debug, PartialEq)]
pub struct Reply {
    /// What sort of answer it is.
    pub kind: ReplyKind,
    /// The actions it answers.
    pub actions: Words,
    /// The targets it answers. For a parry its line decides as well.
    pub targets: Words,
    /// The least time it takes, without the reaction before it.
    pub least: Micros,
    /// Whether the weapon must be in hand.
    pub needs_weapon: bool,
    /// Who can do it.
    pub posture: Posture,
    /// What it changes.
    pub effects: Vec<Effect>,
    /// Where the row comes from.
    pub source: String,
}

/// A parry of the table.
#[derive(Clone, Debug, PartialEq)]
pub struct Parry {
    /// Its traditional names.
    pub names: Vec<String>,
    /// The line it closes.
    pub closes: Line,
    /// Lines it closes as well in some schools.
    pub also_closes: Vec<Line>,
    /// How the hand is turned.
    pub hand: Turn,
    /// Whether schools teach it differently.
    pub school_dependent: bool,
    /// Where the row comes from.
    pub source: String,
}

/// What a fighter can hold.
#[derive(Clone, Debug, PartialEq)]
pub struct Weapon {
    /// What is swept beyond the hand.
    pub blade: Metres,
    /// The whole length.
    pub total: Metres,
    /// How many hands it fills.
    pub hands: u8,
    /// False for the bare hand.
    pub armed: bool,
    /// Where the row comes from.
    pub source: String,
}

/// A sound that the program makes by itself.
#[derive(Clone, Debug, PartialEq)]
pub struct SoundWord {
    /// What it is the sound of.
    pub about: String,
    /// Where the row comes from.
    pub source: String,
}
