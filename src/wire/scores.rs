//! What the score page and the server say to each other. These go as JSON over HTTP and not over the link, so that a
//! long draft is never in front of a HOLD and the link's frames stay small. Every request is a POST to
//! `/api/scores/…` with the personal key in its `Authorization` header; lines, columns and phrases that a person counts
//! count from 1.

use serde::{Deserialize, Serialize};
use ts_rs::TS;

use super::run::PictureView;
use crate::call::Role;

/// The longest draft, in bytes: some ten thousand lines.
pub const MAX_DRAFT: usize = 512 * 1024;
/// The longest "why", in bytes.
pub const MAX_WHY: usize = 2_000;

/// `list`: every score of the production, and the words that scores are written in.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct ScoreList {
    /// In order of file name.
    pub scores: Vec<ScoreChoice>,
    /// True when whoever asks may save.
    pub may_write: bool,
    /// The vocabulary.
    pub words: ScoreWords,
    /// The file of the stage's plan, where there is one: it is opened, checked and saved as a score is.
    pub stage: Option<String>,
}

/// A score that can be chosen.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct ScoreChoice {
    /// Its file: `scores/quay.fight`.
    pub file: String,
    /// The fight's name.
    pub fight: String,
    /// SHA-256 of the file.
    pub revision: String,
}

/// The words of the vocabulary, for an editor that offers them.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct ScoreWords {
    /// What the attacking half of a move can be.
    pub actions: Vec<ActionWord>,
    /// Where an action can go.
    pub targets: Vec<TargetWord>,
    /// How an action can be answered.
    pub replies: Vec<ReplyWord>,
    /// Numbers and names of parries.
    pub parries: Vec<String>,
    /// What a fighter can hold.
    pub weapons: Vec<String>,
    /// What can be heard, the company's own recordings among them.
    pub sounds: Vec<String>,
    /// How a fight is written, and every word, as a text to read.
    pub reference: String,
}

/// An action.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct ActionWord {
    /// The word.
    pub word: String,
    /// The targets it may take.
    pub targets: Vec<String>,
}

/// A target.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct TargetWord {
    /// The word.
    pub word: String,
    /// Whether it has a left and a right.
    pub sided: bool,
}

/// A reply.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct ReplyWord {
    /// The word.
    pub word: String,
    /// What is written after it.
    pub argument: ReplyNeeds,
    /// The actions it answers; nothing for every one.
    pub actions: Option<Vec<String>>,
    /// The targets it answers; nothing for every one.
    pub targets: Option<Vec<String>>,
}

/// What is written after a reply.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(rename_all = "kebab-case")]
#[ts(rename_all = "kebab-case")]
pub enum ReplyNeeds {
    /// Nothing.
    Nothing,
    /// The number or name of a parry.
    Parry,
    /// The place that was hit.
    Target,
}

/// `open` and `here`: which score is meant.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
#[serde(deny_unknown_fields)]
pub struct ScoreAsked {
    /// Its file.
    pub file: String,
}

/// `new`: a fight is begun.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
#[serde(deny_unknown_fields)]
pub struct NewAsked {
    /// What it is called.
    pub fight: String,
}

/// `compare`: two texts are laid beside each other.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
#[serde(deny_unknown_fields)]
pub struct CompareAsked {
    /// The older one.
    pub older: String,
    /// The newer one.
    pub newer: String,
}

/// The answer: both texts, row by row.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct Compared {
    /// In order of the texts.
    pub rows: Vec<ComparedRow>,
}

/// A row of two texts that stand beside each other.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct ComparedRow {
    /// A line of the older text; nothing where the newer one has one more.
    pub older: Option<ComparedLine>,
    /// A line of the newer text.
    pub newer: Option<ComparedLine>,
}

/// A line, and where it stands.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct ComparedLine {
    /// Its number, from 1.
    pub line: u32,
    /// The line, without its end.
    pub text: String,
}

/// `open`: a score as it is in the production's folder; `revision`: as it was.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct ScoreText {
    /// Its file.
    pub file: String,
    /// The fight's name.
    pub fight: String,
    /// SHA-256 of the text.
    pub revision: String,
    /// The text.
    pub text: String,
}

/// `here`: who else has the score open, and which revision is in use now. Asked every few seconds by an open page.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct ScoreNews {
    /// The others.
    pub others: Vec<ScoreReader>,
    /// SHA-256 of the file as it is now.
    pub revision: String,
    /// What the checks go by, as a name: with another one, words, limits, stage or fights are others than before.
    pub judged_by: String,
}

/// Somebody who has a score open.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
pub struct ScoreReader {
    /// Their name.
    pub name: String,
    /// Their role.
    pub role: Role,
}

/// `check` and `format`: a text as it stands in the editor.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
#[serde(deny_unknown_fields)]
pub struct Draft {
    /// The file it is a draft of.
    pub file: String,
    /// The text.
    pub text: String,
}

/// `check`: what reading and the checks say of a draft.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct DraftReport {
    /// What is wrong, in order of the text; of very many the first.
    pub findings: Vec<FindingView>,
    /// How many more there are.
    pub left_out: u32,
    /// The phrases; empty when the text has errors of reading.
    pub phrases: Vec<DraftPhrase>,
    /// False when the text has errors of reading: as it is, nobody can run it.
    pub runs: bool,
    /// What the checks have not looked at, and what their tempos are worth: it stands beside whatever they say.
    pub unchecked: String,
}

/// One thing that is wrong, or could be better.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct FindingView {
    /// Its code, such as `A301`.
    pub code: String,
    /// How much it matters.
    pub severity: FindingSeverity,
    /// The line.
    pub line: u32,
    /// The column, in characters.
    pub column: u32,
    /// The line of the end.
    pub end_line: u32,
    /// The column after the last character.
    pub end_column: u32,
    /// What is wrong.
    pub message: String,
    /// What should stand there.
    pub expected: Option<String>,
    /// What to do.
    pub help: Option<String>,
}

/// How much a finding matters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(rename_all = "kebab-case")]
#[ts(rename_all = "kebab-case")]
pub enum FindingSeverity {
    /// It cannot be used, or somebody could be hurt.
    Error,
    /// Somebody should look.
    Warning,
    /// It could be said better.
    Advice,
}

/// A phrase of a draft.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct DraftPhrase {
    /// Its name.
    pub name: String,
    /// Its head line.
    pub line: u32,
    /// How fast it can safely go; nothing when nobody in it has two things to do one after the other.
    pub safe: Option<SafeTempo>,
    /// The same with each set of weapons with which it is another tempo.
    pub with_sets: Vec<SafeWithSet>,
}

/// How fast a phrase can safely go with a set of weapons.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct SafeWithSet {
    /// The set's name.
    pub weapons: String,
    /// How fast; nothing when nothing limits it.
    pub safe: Option<SafeTempo>,
}

/// The fastest safe tempo of a phrase.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct SafeTempo {
    /// Beats a minute at the move that limits it.
    pub bpm: f64,
    /// Percent of performance tempo, rounded down.
    pub percent: u32,
    /// The line of the move that limits it.
    pub line: u32,
    /// That move in words.
    pub words: String,
}

/// `format`: a draft in canonical columns.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct Formatted {
    /// The text; as it was when a line of it cannot be understood.
    pub text: String,
    /// How many lines could not be understood. Mend them and ask again.
    pub broken: u32,
}

/// `preview`: a phrase of a draft is to be heard or stepped on the page that asks. It touches no run.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
#[serde(deny_unknown_fields)]
pub struct PreviewAsked {
    /// The file it is a draft of.
    pub file: String,
    /// The text.
    pub text: String,
    /// The phrase, counted from 0.
    pub phrase: u32,
    /// Percent of performance tempo, 10 to 150.
    pub percent: u16,
}

/// `picture`: the move on a line of a draft.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
#[serde(deny_unknown_fields)]
pub struct PictureAsked {
    /// The file it is a draft of.
    pub file: String,
    /// The text.
    pub text: String,
    /// The line, counted from 1.
    pub line: u32,
}

/// The answer: its picture, or why there is none.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct DraftPicture {
    /// The picture; nothing where the line has no move, or its move no picture.
    pub picture: Option<PictureView>,
    /// The move in words; nothing where the line has none.
    pub of: Option<String>,
    /// Why the move has no picture, half a sentence.
    pub why: Option<String>,
}

/// A phrase as it is heard: a bar of count-in, then every beat and what happens on it.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct Preview {
    /// Its name.
    pub name: String,
    /// In order of time.
    pub moments: Vec<PreviewMoment>,
    /// When it is over, seconds after its first beat.
    pub seconds: f64,
}

/// A beat, or a place between two beats where something begins.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct PreviewMoment {
    /// Seconds after the phrase's first beat; negative in the count-in.
    pub seconds: f64,
    /// The beat as the score writes it.
    pub beat: String,
    /// The click.
    pub click: super::Click,
    /// Beats of count-in left.
    pub count_in: Option<u32>,
    /// The lines of the text that begin here.
    pub lines: Vec<u32>,
    /// What happens, in words, a line each.
    pub words: Vec<String>,
}

/// `save`: a draft becomes the score.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
#[serde(deny_unknown_fields)]
pub struct SaveAsked {
    /// The file.
    pub file: String,
    /// The whole text that the draft was begun from. By it the server sees what the draft changes.
    pub base: String,
    /// The draft.
    pub text: String,
    /// Why, in the saver's words.
    pub why: String,
}

/// What became of a save.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
#[serde(tag = "outcome", rename_all = "kebab-case", rename_all_fields = "snake_case")]
pub enum SaveAnswer {
    /// It is the score now, as it was sent.
    Saved(SavedScore),
    /// Somebody had saved another revision meanwhile, in other lines: the score has the changes of both now.
    Merged(SavedScore),
    /// It says what the score says already.
    Unchanged(SavedScore),
    /// Somebody changed the same lines meanwhile. The score is as they saved it; the draft is kept beside it among the
    /// revisions. A person has to settle it.
    Conflict(Box<SaveConflict>),
}

/// A score that is in the production's folder.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct SavedScore {
    /// SHA-256 of the text.
    pub revision: String,
    /// The text.
    pub text: String,
    /// True when the log has it too.
    pub written: bool,
}

/// Two texts that change the same lines.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct SaveConflict {
    /// SHA-256 of the score as it is in the folder.
    pub revision: String,
    /// The score as it is in the folder: the base of whatever is saved next.
    pub theirs: String,
    /// Who saved it last, if it was saved here.
    pub by: Option<RevisionView>,
    /// The whole text in pieces, in order: agreed ones, and ones to be settled.
    pub pieces: Vec<MergePiece>,
}

/// A piece of two texts laid side by side; every piece is whole lines.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(tag = "piece", rename_all = "kebab-case", rename_all_fields = "snake_case")]
pub enum MergePiece {
    /// Both say this, or only one of them changed it.
    Agreed {
        /// The lines.
        text: String,
    },
    /// Both changed it.
    Both {
        /// What it was.
        base: String,
        /// What the draft makes of it.
        mine: String,
        /// What the score says now.
        theirs: String,
    },
}

/// `revision`: which one is meant.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
#[serde(deny_unknown_fields)]
pub struct RevisionAsked {
    /// The file.
    pub file: String,
    /// SHA-256 of the text.
    pub revision: String,
}

/// `revisions`: what the log knows of a score.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct Revisions {
    /// Newest first.
    pub revisions: Vec<RevisionView>,
}

/// A revision of a score.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct RevisionView {
    /// SHA-256 of the text.
    pub revision: String,
    /// When, RFC 3339.
    pub utc: String,
    /// Who saved it; nothing when it was not saved here.
    pub who: Option<String>,
    /// Their role.
    pub role: Option<Role>,
    /// Why, in their words.
    pub why: Option<String>,
    /// How it came to be.
    pub how: RevisionKind,
    /// True when it is the score now.
    pub in_use: bool,
}

/// How a revision came to be.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize, Deserialize, TS)]
#[serde(rename_all = "kebab-case")]
#[ts(rename_all = "kebab-case")]
pub enum RevisionKind {
    /// It was saved.
    Saved,
    /// It was made of two that were saved at once.
    Merged,
    /// It was kept beside the score, because somebody had changed the same lines.
    Kept,
    /// It was found in the folder: written with another program.
    Found,
}

/// Anything that is not done.
#[derive(Clone, Debug, PartialEq, Serialize, Deserialize, TS)]
pub struct NotDone {
    /// A sentence for a person.
    pub reason: String,
}
