//! A fight on the stage's plan, as pages draw it and move it. Everything is in metres and in seconds of the whole fight at
//! performance tempo: a page finds by beat where that is in a run of any speed and any phrases.

use serde::{Deserialize, Serialize};
use ts_rs::TS;

use super::TempoView;

/// `/floors/…`: a fight on the stage's plan.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct FloorSheet {
    /// True where this production says lengths in feet.
    pub feet: bool,
    /// The phrases of the whole fight.
    pub phrases: Vec<FloorPhrase>,
    /// The tempo map of the whole fight at performance tempo.
    pub tempo: Vec<TempoView>,
    /// What stands where, each set once.
    pub grounds: Vec<GroundView>,
    /// The fighters, then the bystanders, in the order of the score.
    pub people: Vec<WayThrough>,
    /// What the blows sweep, in order of their beats.
    pub sweeps: Vec<SweepView>,
    /// To what each blow comes nearest of all that it is not meant for, in order.
    pub approaches: Vec<ApproachView>,
}

/// A phrase of the whole fight.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct FloorPhrase {
    /// Its name.
    pub name: String,
    /// Ticks from the first beat of the fight.
    #[ts(type = "number")]
    pub at_ticks: i64,
    /// Its length in ticks.
    #[ts(type = "number")]
    pub length_ticks: i64,
    /// What stands where in it, by place in `grounds`.
    pub ground: u32,
}

/// What stands where, the playing area first.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct GroundView {
    /// The set; nothing for the bare stage.
    pub set: Option<String>,
    /// In the order in which they are drawn, from below.
    pub things: Vec<ThingView>,
}

/// Something on the stage or beside it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
#[serde(deny_unknown_fields)]
pub struct ThingView {
    /// What it is.
    pub kind: ThingKind,
    /// Its name; empty for the playing area.
    pub name: String,
    /// Its corners in order round it, each to stage left and upstage; the two ends of an edge.
    #[ts(type = "[number, number][]")]
    pub corners: Vec<[f64; 2]>,
    /// How high its top is above the stage floor, how deep it goes down at an edge, or how high the floor of the seats is.
    pub height: Option<f64>,
    /// How high eyes are above the floor of the seats.
    pub eyes: Option<f64>,
}

/// What something on the stage is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(rename_all = "kebab-case")]
pub enum ThingKind {
    /// Where there is playing.
    Area,
    /// A place beside it where somebody may wait.
    Wing,
    /// A block of seats.
    Seats,
    /// A platform.
    Level,
    /// Steps or a ramp.
    Steps,
    /// A wall or a piece of furniture.
    Piece,
    /// An opening.
    Door,
    /// An edge that one can fall off.
    Edge,
}

/// Somebody's way through the fight.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct WayThrough {
    /// Who.
    pub who: String,
    /// True for somebody who only stands by.
    pub bystander: bool,
    /// How far an arm reaches.
    pub reach: f64,
    /// How tall they are.
    pub stature: f64,
    /// Where they stand and go: when it begins and ends, then the place; or the two ends of a straight way; or of a way round
    /// a middle the middle, the first bearing from it, how far round in degrees, and how far from it it begins and ends. After
    /// the end of one and before the next they stand where it ends.
    #[ts(type = "number[][]")]
    pub legs: Vec<Vec<f64>>,
    /// Which of them the score writes, as a mark or a walk, by place; the others follow from moves.
    pub written: Vec<u32>,
    /// How they are from each time on.
    pub poses: Vec<PoseAt>,
    /// Whom or which way they look from each time on.
    pub looks: Vec<LookAt>,
    /// From each time on how long the blade in hand is; 0 for none.
    #[ts(type = "[number, number][]")]
    pub blades: Vec<[f64; 2]>,
}

/// How a body is from a time on.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct PoseAt {
    /// The time.
    pub at: f64,
    /// How.
    pub pose: PoseView,
}

/// How a body is, seen from above.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(rename_all = "kebab-case")]
pub enum PoseView {
    /// On their feet.
    Standing,
    /// Under a blow.
    Ducking,
    /// Over a blow.
    Jumping,
    /// On a knee.
    Kneeling,
    /// On a chair.
    Seated,
    /// On the floor.
    Lying,
}

/// Which way somebody looks from a time on: to a person, by place in `people`, or along a bearing in degrees.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct LookAt {
    /// The time.
    pub at: f64,
    /// Whom.
    pub person: Option<u32>,
    /// Which way: 0 upstage, 90 stage left.
    pub bearing: Option<f64>,
}

/// What a blow sweeps: a part of a disc around the one who strikes.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct SweepView {
    /// Who strikes, by place in `people`.
    pub person: u32,
    /// When it begins.
    pub from: f64,
    /// When it is where it goes.
    pub beat: f64,
    /// When it is over.
    pub until: f64,
    /// How far from the middle of the body.
    pub radius: f64,
    /// How far against the clock from the way they look, degrees.
    pub left: f64,
    /// How far with it.
    pub right: f64,
    /// True when what sweeps is a weapon.
    pub armed: bool,
}

/// How near what a blow sweeps comes to something that it is not meant for.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct ApproachView {
    /// When it is nearest.
    pub at: f64,
    /// How near, metres.
    pub gap: f64,
    /// Who strikes.
    pub who: String,
    /// With what: `cut head`.
    pub action: String,
    /// Its phrase, by place.
    pub phrase: u32,
    /// Its beat as the score writes it.
    pub beat: String,
    /// To whom or what.
    pub to: String,
    /// True for a block of seats.
    pub seats: bool,
}

/// `/api/scores/floor`: a draft on the stage's plan, with the marks and walks as they stand in its text.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct DraftFloor {
    /// The fight on the stage; nothing while the text has errors of reading, or where no stage is known.
    pub floor: Option<FloorSheet>,
    /// Why there is none, in a sentence.
    pub why: Option<String>,
    /// Every mark, and every walk to a place, in the order of the text; those of patterns are not among them.
    pub marks: Vec<DraftMark>,
    /// The lines of the phrases' heads, from 1.
    pub phrases: Vec<u32>,
}

/// A mark, or where a walk leads, in a draft.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct DraftMark {
    /// The phrase, counted from 0.
    pub phrase: u32,
    /// Who.
    pub who: String,
    /// The beat at which they set off, as written; nothing for a mark.
    pub beat: Option<String>,
    /// The line, from 1.
    pub line: u32,
    /// Where its two numbers begin in the text, in UTF-16 units from the first.
    pub from: u32,
    /// Where they end.
    pub to: u32,
    /// Metres to stage left.
    pub x: f64,
    /// Metres upstage.
    pub y: f64,
}

/// `/api/scores/new-stage`: the plan of a stage where there was none.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
pub struct StageBegun {
    /// Its file, which is opened as a score is.
    pub file: String,
    /// False where there was one already, which stays as it is.
    pub begun: bool,
}

/// `/api/scores/stage`: the text of stage.toml as it stands in the editor, and what is to be changed in it; without a change
/// only what it says is told.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
#[serde(deny_unknown_fields)]
pub struct StageAsked {
    /// The text.
    pub text: String,
    /// The change.
    pub change: Option<StageChange>,
}

/// A change of the stage.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
#[serde(rename_all = "kebab-case")]
#[ts(rename_all = "kebab-case")]
pub enum StageChange {
    /// Of one thing on it.
    Thing(ThingChange),
    /// Of one set.
    Set(SetChange),
}

/// A change of one thing on the stage.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
#[serde(deny_unknown_fields)]
pub struct ThingChange {
    /// The set that it belongs to; nothing for what stands there always.
    pub set: Option<String>,
    /// What it is.
    pub kind: ThingKind,
    /// What it is called so far; nothing for a thing that is new.
    pub was: Option<String>,
    /// How it is to be; nothing takes it away.
    pub now: Option<ThingView>,
}

/// A change of one set. A fight is named as in [`SetFor`].
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(tag = "act", rename_all = "kebab-case", rename_all_fields = "snake_case", deny_unknown_fields)]
pub enum SetChange {
    /// It is begun.
    Begin {
        /// What it is called.
        set: String,
        /// What it is for.
        fights: Vec<String>,
    },
    /// It is called something else.
    Rename {
        /// What it is called so far.
        set: String,
        /// What it is to be called.
        to: String,
    },
    /// It is for one fight more.
    Add {
        /// The set.
        set: String,
        /// The fight.
        fight: String,
    },
    /// It is for one fight fewer.
    Remove {
        /// The set.
        set: String,
        /// The fight.
        fight: String,
    },
    /// It is taken away, with what stands on it.
    TakeAway {
        /// The set.
        set: String,
    },
}

/// What a set can be for: a fight, or a fight from one of its phrases on.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
pub struct SetFor {
    /// As the text of stage.toml names it: the fight's name, or `Fight: Phrase`.
    pub named: String,
    /// The fight's name.
    pub fight: String,
    /// The phrase before which the scene changes; nothing for the whole fight.
    pub phrase: Option<String>,
}

/// The answer: the text, and the stage that it says.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct StageTold {
    /// The text; the same where nothing was changed.
    pub text: String,
    /// True where its numbers are feet. Here everything is in metres.
    pub feet: bool,
    /// The bare stage, then the sets; nothing where the text says no stage.
    pub sets: Vec<StageSetView>,
    /// What a set can be for, the fights of the production in their order.
    pub for_sets: Vec<SetFor>,
}

/// What stands on the stage always, or a set.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct StageSetView {
    /// Its name; nothing for the bare stage.
    pub set: Option<String>,
    /// The fights that are on it.
    pub fights: Vec<String>,
    /// Everything that stands there, what stands there always among it, in the order in which it is drawn.
    pub things: Vec<ThingView>,
    /// What it brings itself.
    pub own: Vec<ThingView>,
}
