//! What a plan is made of: the phrases, moves, walks, marks and sounds of a run, each with its ticks and times.

use crate::score::model::{Course, Facing, FighterId, Manner, Person, Point, Score, Side, SoundCue, Span, Word};
use crate::units::{Decibels, Micros, Speed, Ticks};

/// A phrase of a run.
#[derive(Clone, Debug, PartialEq)]
pub struct PlannedPhrase {
    /// Its place in the score, counted from 0.
    pub phrase: usize,
    /// Its name.
    pub name: String,
    /// When it begins, or the run in the middle of it.
    pub at: Ticks,
    /// How much of it lies before the run: nothing unless the run begins at a move in it.
    pub skipped: Ticks,
    /// How long the rest of it is.
    pub length: Ticks,
    /// When it begins.
    pub time: Micros,
    /// Its speed.
    pub speed: Speed,
}

/// A move of a run.
#[derive(Clone, Debug, PartialEq)]
pub struct PlannedMove {
    /// Its phrase, counted from 0 in the range.
    pub phrase_in_range: usize,
    /// Its number in its phrase, counted from 1 in order of performance; every round of a repeat counts.
    pub number: u32,
    /// When, from the first beat of the range.
    pub at: Ticks,
    /// When, from the first beat of the range.
    pub time: Micros,
    /// When, from the first beat of its phrase.
    pub beat: Ticks,
    /// Who acts.
    pub who: FighterId,
    /// What they do, in words: `cut flank right`.
    pub action: Word,
    /// The action alone: `cut`.
    pub action_word: Word,
    /// The target alone: `flank`.
    pub target: Option<Word>,
    /// Which side of the target.
    pub side: Option<Side>,
    /// How, with what, and for whom.
    pub manner: Manner,
    /// Who answers.
    pub to: Option<FighterId>,
    /// How, in words: `parry 4`.
    pub reply: Option<Word>,
    /// The reply alone: `parry`.
    pub reply_word: Option<Word>,
    /// Which: the number of a parry, the place that was hit.
    pub reply_arg: Option<Word>,
    /// On which side, where the reply says so.
    pub reply_side: Option<Side>,
    /// What the reply is done with, where it says so.
    pub reply_with: Option<Word>,
    /// What must be heard.
    pub sounds: Option<SoundCue>,
    /// The director's words.
    pub text: Option<String>,
    /// The line of the use, for a move that is written in a pattern.
    pub used: Option<Span>,
    /// The line in the score's text.
    pub span: Span,
}

impl PlannedMove {
    /// True when this fighter acts or answers in it.
    pub fn involves(&self, fighter: FighterId) -> bool {
        self.who == fighter || self.to == Some(fighter)
    }

    /// The move in words, with the names of that score: `MARET thrust belly / OSK parry 4`.
    pub fn words(&self, score: &Score) -> String {
        let name = |id: FighterId| score.fighters.get(id.0).map_or("?", |fighter| fighter.name.as_str());
        match (self.to, &self.reply) {
            (Some(to), Some(reply)) => format!("{} {} / {} {reply}", name(self.who), self.action, name(to)),
            _ => format!("{} {}", name(self.who), self.action),
        }
    }
}

/// Footwork of a run.
#[derive(Clone, Debug, PartialEq)]
pub struct PlannedWalk {
    /// Its phrase, counted from 0 in the range.
    pub phrase_in_range: usize,
    /// When it begins, from the first beat of the range.
    pub at: Ticks,
    /// When it begins.
    pub time: Micros,
    /// When they are there, from the first beat of the range.
    pub until: Ticks,
    /// When they are there.
    pub until_time: Micros,
    /// Who walks.
    pub who: Person,
    /// Which way.
    pub course: Course,
    /// The line of the use, for a walk that is written in a pattern.
    pub used: Option<Span>,
    /// The line in the score's text.
    pub span: Span,
}

/// Where somebody stands when a phrase begins.
#[derive(Clone, Debug, PartialEq)]
pub struct PlannedPlace {
    /// Its phrase, counted from 0 in the range.
    pub phrase_in_range: usize,
    /// Who.
    pub who: Person,
    /// Where.
    pub point: Point,
    /// Which way they look.
    pub facing: Option<Facing>,
    /// The line in the score's text.
    pub span: Span,
}

/// One sound that is to be heard, with its trim applied.
#[derive(Clone, Debug, PartialEq)]
pub struct PlannedSound {
    /// Its phrase, counted from 0 in the range.
    pub phrase_in_range: usize,
    /// The tick of the line it belongs to, from the first beat of the range.
    pub at: Ticks,
    /// When it is heard, from the first beat of the range.
    pub time: Micros,
    /// Its name.
    pub name: Word,
    /// Louder or softer than its own level.
    pub level: Decibels,
    /// How much later than its tick it is heard.
    pub trim: Micros,
    /// The move that makes it, by its place in [`super::Plan::moves`]; nothing for a sound on its own line.
    pub by_move: Option<usize>,
    /// The director's words on a line of its own.
    pub text: Option<String>,
    /// The cue in the score's text.
    pub span: Span,
}
