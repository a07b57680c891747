//! A run as a page knows it: its sheet, and its cues.

use serde::{Deserialize, Serialize};
use ts_rs::TS;

use super::DriveKind;
use crate::figure::{Picture, View};

/// A run, described once: from it every beat can be computed.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct RunSheet {
    /// The run's number.
    pub run: u32,
    /// The generation it lives in.
    #[ts(type = "number")]
    pub generation: u64,
    /// The score's revision: the first 12 hexadecimal digits of the SHA-256 of its text.
    pub revision: String,
    /// The fight.
    pub fight: String,
    /// The set of weapons; nothing for those that the score names.
    pub weapons: Option<String>,
    /// What drives it.
    pub drive: DriveKind,
    /// Beats in a bar.
    pub beats_per_bar: u32,
    /// Beats of count-in.
    pub count_in: u32,
    /// Server time of the first beat of the range, once it is started by the clock.
    #[ts(type = "number | null")]
    pub start_us: Option<i64>,
    /// Ticks from the first beat to the end.
    #[ts(type = "number")]
    pub length_ticks: i64,
    /// The phrases of the range.
    pub phrases: Vec<PhraseView>,
    /// The tempo map, at the run's speed.
    pub tempo: Vec<TempoView>,
    /// The move in the middle of the first phrase at which it begins, and where everybody is before it.
    pub begins: Option<BeginView>,
    /// Every move of the range, in order.
    pub moves: Vec<MoveView>,
    /// Where everybody stands and walks, in order; the marks of a phrase before its walks.
    pub feet: Vec<FeetView>,
    /// What passes near whoever only stands by, in order: of each bar and each of them the nearest.
    pub near: Vec<NearView>,
    /// Who fights in it, in the order of the score.
    pub fighters: Vec<String>,
    /// Who only stands by in it, in the order of the score.
    pub bystanders: Vec<String>,
    /// The name of its moves' pictures, which are asked for at `/pictures/…`; nothing where there are none.
    pub pictures: Option<String>,
    /// The name of the fight on the stage's plan, which is asked for at `/floors/…`; nothing where no stage is known.
    #[serde(default)]
    pub floor: Option<String>,
}

/// A run begins in the middle of a phrase.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct BeginView {
    /// The number of the move in its phrase, counted from 1.
    pub number: u32,
    /// Its beat as the score writes it.
    pub beat: String,
    /// Where everybody is before it, in the order of the score.
    pub stands: Vec<StandView>,
}

/// Where a fighter is before the first move of a run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct StandView {
    /// Who.
    pub fighter: String,
    /// True on the mark that the phrase gives them.
    pub on_mark: bool,
    /// Metres to audience right of the middle; nothing where the score says nothing and they have nothing to do.
    pub x: Option<f64>,
    /// Metres upstage from the setting line.
    pub y: Option<f64>,
    /// How.
    pub posture: PostureView,
    /// What they have in hand.
    pub hands: Vec<InHandView>,
}

/// How a body is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(rename_all = "kebab-case")]
pub enum PostureView {
    /// On their feet.
    Standing,
    /// On a knee.
    Kneeling,
    /// On the floor.
    Down,
    /// On the floor, dead.
    Dead,
}

/// A weapon in hand.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
pub struct InHandView {
    /// Its word.
    pub weapon: String,
    /// The hand, where it is known.
    pub hand: Option<HandView>,
}

/// A hand.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(rename_all = "kebab-case")]
pub enum HandView {
    /// The right one.
    Right,
    /// The left one.
    Left,
}

/// A phrase of a run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct PhraseView {
    /// Its number in the score, counted from 0.
    pub phrase: u32,
    /// Its name.
    pub name: String,
    /// Ticks from the first beat of the range.
    #[ts(type = "number")]
    pub at_ticks: i64,
    /// Its length in ticks.
    #[ts(type = "number")]
    pub length_ticks: i64,
    /// Microseconds from the first beat of the range.
    #[ts(type = "number")]
    pub at_us: i64,
    /// Its speed, percent.
    pub percent: u16,
}

/// A stretch of the tempo map: tempo is linear in beats from `from_bpm` to `to_bpm`.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct TempoView {
    /// Where it begins, ticks from the first beat of the range.
    #[ts(type = "number")]
    pub at_ticks: i64,
    /// Its length; the last stretch goes on for ever.
    #[ts(type = "number")]
    pub length_ticks: i64,
    /// When it begins, microseconds from the first beat of the range.
    #[ts(type = "number")]
    pub at_us: i64,
    /// Tempo at its beginning, beats per minute.
    pub from_bpm: f64,
    /// Tempo at its end.
    pub to_bpm: f64,
}

/// A move, in words that need no vocabulary.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct MoveView {
    /// The phrase, counted from 0.
    pub phrase: u32,
    /// Its number in the phrase, counted from 1.
    pub number: u32,
    /// Ticks from the first beat of the range.
    #[ts(type = "number")]
    pub at_ticks: i64,
    /// The beat as the score writes it.
    pub beat: String,
    /// Who attacks or acts.
    pub who: String,
    /// What they do, with target and side: `thrust belly`, `cut flank right`.
    pub action: String,
    /// Whom it goes to.
    pub to: Option<String>,
    /// How they answer: `parry 4`.
    pub reply: Option<String>,
    /// The sounds it makes.
    pub sounds: Vec<String>,
    /// The director's words.
    pub text: Option<String>,
    /// The number of its picture among those of the run; nothing where it has none.
    pub picture: Option<u32>,
}

/// A mark or a walk.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct FeetView {
    /// The phrase, counted from 0.
    pub phrase: u32,
    /// When, ticks from the first beat of the range: for a mark the beginning of the phrase.
    #[ts(type = "number")]
    pub at_ticks: i64,
    /// The beat as the score writes it; nothing for a mark.
    pub beat: Option<String>,
    /// Who: a fighter or a bystander.
    pub who: String,
    /// The mark, or where the walk leads.
    pub to: PointView,
    /// True for a walk that is counted from where they stand.
    pub further: bool,
    /// The circle along which the walk goes; straight without one.
    pub around: Option<AroundView>,
    /// Whom they face on their mark.
    pub facing: Option<String>,
    /// Or which way, degrees: 0 upstage, 90 stage left.
    pub bearing: Option<f64>,
    /// When they are there, ticks; nothing for a mark.
    #[ts(type = "number | null")]
    pub until_ticks: Option<i64>,
    /// By which beat, as the score writes it.
    pub until: Option<String>,
}

/// Something that passes near somebody who only stands by.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct NearView {
    /// The phrase, counted from 0.
    pub phrase: u32,
    /// When, ticks from the first beat of the range.
    #[ts(type = "number")]
    pub at_ticks: i64,
    /// The beat as the score writes it.
    pub beat: String,
    /// Whom it passes.
    pub who: String,
    /// Whose blow or walk it is.
    pub by: String,
    /// The blow in words; nothing for somebody who walks past.
    pub action: Option<String>,
    /// How near it comes to their body, metres; as planned, at performance tempo.
    pub metres: f64,
    /// On which side of them.
    pub side: BesideView,
}

/// On which side of somebody: as they look, or on the stage where the score does not say which way they do.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(rename_all = "kebab-case")]
pub enum BesideView {
    /// In front of them.
    Front,
    /// At their right.
    Right,
    /// Behind them.
    Behind,
    /// At their left.
    Left,
    /// Upstage of them.
    Upstage,
    /// At stage left of them.
    StageLeft,
    /// Downstage of them.
    Downstage,
    /// At stage right of them.
    StageRight,
}

/// A place on the floor, or so far from another.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct PointView {
    /// Metres to stage left of the middle, which is audience right; negative to stage right.
    pub x: f64,
    /// Metres upstage of the setting line; negative downstage.
    pub y: f64,
}

/// A part of a circle.
#[derive(Clone, Copy, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct AroundView {
    /// Its middle, counted as the walk's end is.
    pub centre: PointView,
    /// Which way round, as seen from above; nothing is the shorter way.
    pub way: Option<WayView>,
}

/// Which way round.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(rename_all = "kebab-case")]
pub enum WayView {
    /// With the clock.
    Clockwise,
    /// Against it.
    Anticlockwise,
}

/// The pictures of a run's moves, in the order of their numbers: what `/pictures/…` answers.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct PictureSet {
    /// The pictures.
    pub pictures: Vec<PictureView>,
}

/// A picture of a move, from both sides, as SVG that takes its colours from the page.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct PictureView {
    /// What is seen, in words.
    pub words: String,
    /// As the one who acts sees it.
    pub doer: String,
    /// As the one who answers sees it.
    pub partner: String,
    /// The part of it that matters, for a small size: a view box.
    pub doer_near: String,
    /// The same for the other.
    pub partner_near: String,
}

impl PictureView {
    /// A picture, drawn from both sides.
    pub fn of(picture: &Picture) -> PictureView {
        PictureView {
            words: picture.words(),
            doer: picture.inline(View::Doer),
            partner: picture.inline(View::Partner),
            doer_near: picture.near(View::Doer),
            partner_near: picture.near(View::Partner),
        }
    }
}

/// What the reader of a cue does in a move.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(rename_all = "kebab-case")]
pub enum Part {
    /// You act.
    Act,
    /// You answer.
    Answer,
    /// Others do it.
    Watch,
}

/// A move as a cue tells it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct CueMove {
    /// What you do in it.
    pub part: Part,
    /// The move.
    #[serde(rename = "move")]
    pub r#move: MoveView,
}

/// A walk in a cue, and what the reader does in it: they walk, or others do.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct CueWalk {
    /// [`Part::Act`] or [`Part::Watch`].
    pub part: Part,
    /// The walk.
    pub walk: FeetView,
}

/// One beat, or one moment between beats, addressed to one reader.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct Cue {
    /// The run.
    pub run: u32,
    /// The generation: dead when it is not the one that lives.
    #[ts(type = "number")]
    pub generation: u64,
    /// The number of the cue in its run, from 0; the first beat of a count-in is 0.
    pub cue: u32,
    /// The number of the step that it comes with, from 1, in a walk-through: it only grows, also when the step went back
    /// to an earlier cue. Of two cues without a time the one with the higher number is the newer.
    pub step: Option<u32>,
    /// When it is due, server time; nothing in a walk-through, where a cue is due on arrival.
    #[ts(type = "number | null")]
    pub due_us: Option<i64>,
    /// The phrase, counted from 0.
    pub phrase: u32,
    /// Its name.
    pub phrase_name: String,
    /// The beat as the score writes it.
    pub beat: String,
    /// The bar, counted from 1 in each phrase; 0 in a count-in.
    pub bar: u32,
    /// The beat of the bar, counted from 1.
    pub count: u32,
    /// Beats of count-in left, this one included; nothing once the fight runs.
    pub count_in: Option<u32>,
    /// What the click does.
    pub click: Click,
    /// What happens now.
    pub moves: Vec<CueMove>,
    /// The walks that begin now: the reader's own; everybody's for those who see all.
    #[serde(default)]
    pub walks: Vec<CueWalk>,
    /// What happens next to this reader (to anybody, for those who see all).
    pub next: Vec<CueMove>,
    /// Beats from here to `next`.
    pub next_in_beats: Option<f64>,
    /// The walks that this reader begins next, all that begin together; to those who see all none.
    #[serde(default)]
    pub next_walks: Vec<CueWalk>,
    /// Beats from here to `next_walks`.
    #[serde(default)]
    pub next_walk_in_beats: Option<f64>,
}

/// What the click does at a cue.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(rename_all = "kebab-case")]
pub enum Click {
    /// The first beat of a bar.
    Accent,
    /// Any other beat.
    Beat,
    /// Between beats: nothing.
    None,
}
