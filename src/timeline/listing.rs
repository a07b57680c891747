//! A plan as rows in order of time: what `holdfast timeline` prints. The names of the fields are public and stay.

use serde::Serialize;

use crate::score::model::{Facing, FighterId, Person, Score, Side, Span, Way, Word};
use crate::score::words;
use crate::units::{Decibels, Micros, TICKS_PER_BEAT, Ticks};

use super::moments::{Click, Moment};
use super::plan::Plan;
use super::planned::{PlannedMove, PlannedPhrase, PlannedPlace, PlannedSound, PlannedWalk};
use super::tempo::Stretch;

/// Something that happens in a run.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Row {
    /// `phrase`, `place`, `tempo`, `beat`, `walk`, `move`, `sound` or `end`.
    pub kind: &'static str,
    /// The phrase's name.
    pub phrase: String,
    /// The beat as the score writes it, counted from 1 in its phrase; 0 and below in a count-in.
    pub beat: String,
    /// The bar, counted from 1 in each phrase; 0 in a count-in.
    pub bar: i64,
    /// Seconds from the first beat of the range, at the speed of the run, exact to the microsecond.
    pub seconds: f64,
    /// What only rows of this kind have.
    #[serde(flatten)]
    pub detail: Detail,
}

/// What only rows of one kind have.
#[derive(Clone, Debug, PartialEq, Serialize)]
#[serde(untagged)]
pub enum Detail {
    /// A phrase begins.
    Phrase {
        /// Its number in the score, counted from 1.
        number: usize,
        /// Its length in beats.
        length_beats: f64,
        /// Its speed, percent of performance tempo.
        speed: u16,
    },
    /// Somebody stands on a mark when a phrase begins.
    Place {
        /// Who.
        who: String,
        /// Metres to audience right.
        x: f64,
        /// Metres upstage.
        y: f64,
        /// Whom they face.
        #[serde(skip_serializing_if = "Option::is_none")]
        facing: Option<String>,
        /// Or the bearing they face, degrees; 0 is upstage, 90 audience right.
        #[serde(skip_serializing_if = "Option::is_none")]
        facing_degrees: Option<f64>,
    },
    /// A tempo begins.
    Tempo {
        /// Beats a minute from here, at the speed of the run.
        bpm: f64,
        /// For a change on the way: beats a minute at its end.
        #[serde(skip_serializing_if = "Option::is_none")]
        to_bpm: Option<f64>,
        /// For a change on the way: the beat at which it ends.
        #[serde(skip_serializing_if = "Option::is_none")]
        until: Option<String>,
    },
    /// A beat.
    Beat {
        /// The beat of the bar, counted from 1.
        count: u32,
        /// True on the first beat of a bar, where the click has its accent.
        accent: bool,
        /// In a count-in only: beats left, this one included.
        #[serde(skip_serializing_if = "Option::is_none")]
        count_in: Option<u32>,
    },
    /// Somebody sets off.
    Walk {
        /// Who.
        who: String,
        /// To here: metres to audience right.
        x: f64,
        /// To here: metres upstage.
        y: f64,
        /// True when the metres are counted from where they stand.
        #[serde(skip_serializing_if = "std::ops::Not::not")]
        further: bool,
        /// The middle of the circle that they go along.
        #[serde(skip_serializing_if = "Option::is_none")]
        around: Option<(f64, f64)>,
        /// Which way round; nothing is the shorter way.
        #[serde(skip_serializing_if = "Option::is_none")]
        way: Option<&'static str>,
        /// The way in words.
        #[serde(skip)]
        course: String,
        /// The beat at which they are there.
        until: String,
        /// When they are there.
        until_seconds: f64,
    },
    /// An attack and its reply.
    Move {
        /// Its number in its phrase, counted from 1 in order of performance.
        number: u32,
        /// Who acts.
        who: String,
        /// What they do.
        action: String,
        /// Where it goes.
        target: Option<String>,
        /// Which side of the target: `left` or `right`.
        side: Option<&'static str>,
        /// Who answers.
        to: Option<String>,
        /// How they answer, in words.
        reply: Option<String>,
        /// The sounds it makes.
        sounds: Vec<String>,
        /// The director's words.
        text: Option<String>,
    },
    /// A sound is heard. `seconds` has its trim in it; `beat` is that of its line.
    Sound {
        /// Its name.
        name: String,
        /// Louder or softer than its own level, decibels.
        level_db: f64,
        /// Milliseconds after the beat; negative before.
        trim_ms: f64,
        /// The number of the move that makes it.
        #[serde(rename = "move")]
        by_move: Option<u32>,
        /// The director's words, when the sound has a line of its own.
        #[serde(skip_serializing_if = "Option::is_none")]
        text: Option<String>,
    },
    /// The last phrase of the range is over.
    End {},
}

/// Every row of a plan of this score, in order of time. At one time a phrase comes first, then places, tempo, the
/// beat, and what happens on it in the order in which it was written.
pub fn rows(score: &Score, plan: &Plan) -> Vec<Row> {
    let writer = Writer { score, plan };
    let mut keyed: Vec<(Key, Row)> = Vec::new();
    keyed.extend(plan.phrases().iter().enumerate().map(|(index, it)| writer.phrase(index, it)));
    keyed.extend(plan.places().iter().map(|it| writer.place(it)));
    keyed.extend(plan.tempo().stretches().iter().map(|it| writer.tempo(it)));
    keyed.extend(plan.moments().iter().filter(|it| it.click != Click::None).map(|it| writer.beat(it)));
    keyed.extend(plan.walks().iter().map(|it| writer.walk(it)));
    keyed.extend(plan.moves().iter().map(|it| writer.a_move(it)));
    keyed.extend(plan.sounds().iter().map(|it| writer.sound(it)));
    keyed.extend(plan.phrases().last().map(|it| writer.end(it)));
    keyed.sort_by_key(|(key, _)| *key);
    keyed.into_iter().map(|(_, row)| row).collect()
}

/// What rows are sorted by: time, rank of the kind, place in the text.
type Key = (Micros, u8, usize);

struct Writer<'p> {
    score: &'p Score,
    plan: &'p Plan,
}

impl Writer<'_> {
    fn row(
        &self,
        kind: &'static str,
        phrase: usize,
        at: Ticks,
        key: (Micros, u8, &Span),
        detail: Detail,
    ) -> (Key, Row) {
        let start = self.plan.phrases().get(phrase).map_or(Ticks::ZERO, |phrase| phrase.at);
        let name = self.plan.phrases().get(phrase).map_or(String::new(), |phrase| phrase.name.clone());
        let beat = at - start;
        let bar = beat.0.div_euclid(TICKS_PER_BEAT * i64::from(self.plan.beats_per_bar())) + 1;
        let (time, rank, span) = key;
        let bar = if beat < Ticks::ZERO { 0 } else { bar };
        let row = Row { kind, phrase: name, beat: beat.beat_label(), bar, seconds: time.as_seconds(), detail };
        ((time, rank, span.start), row)
    }

    fn phrase(&self, index: usize, it: &PlannedPhrase) -> (Key, Row) {
        let detail =
            Detail::Phrase { number: it.phrase + 1, length_beats: it.length.as_beats(), speed: it.speed.as_percent() };
        self.row("phrase", index, it.at, (it.time, 0, &(0..0)), detail)
    }

    fn place(&self, it: &PlannedPlace) -> (Key, Row) {
        let phrase = self.plan.phrases().get(it.phrase_in_range);
        let (at, time) = phrase.map_or_else(Default::default, |phrase| (phrase.at, phrase.time));
        let (facing, facing_degrees) = match it.facing {
            Some(Facing::Person(person)) => (Some(self.person(person)), None),
            Some(Facing::Degrees(degrees)) => (None, Some(degrees)),
            None => (None, None),
        };
        let (who, x, y) = (self.person(it.who), it.point.x.0, it.point.y.0);
        self.row(
            "place",
            it.phrase_in_range,
            at,
            (time, 1, &it.span),
            Detail::Place { who, x, y, facing, facing_degrees },
        )
    }

    fn tempo(&self, it: &Stretch) -> (Key, Row) {
        let phrase = self.plan.phrases().partition_point(|phrase| phrase.at <= it.at).saturating_sub(1);
        let start = self.plan.phrases().get(phrase).map_or(Ticks::ZERO, |phrase| phrase.at);
        let detail = Detail::Tempo {
            bpm: it.from_bpm,
            to_bpm: it.is_ramp().then_some(it.to_bpm),
            until: it.is_ramp().then(|| (it.end() - start).beat_label()),
        };
        self.row("tempo", phrase, it.at, (it.time, 2, &(0..0)), detail)
    }

    fn beat(&self, it: &Moment) -> (Key, Row) {
        let detail = Detail::Beat { count: it.count, accent: it.click == Click::Accent, count_in: it.count_in };
        self.row("beat", it.phrase_in_range, it.at, (it.time, 3, &(0..0)), detail)
    }

    fn walk(&self, it: &PlannedWalk) -> (Key, Row) {
        let start = self.plan.phrases().get(it.phrase_in_range).map_or(Ticks::ZERO, |phrase| phrase.at);
        let detail = Detail::Walk {
            who: self.person(it.who),
            x: it.course.to.x.0,
            y: it.course.to.y.0,
            further: it.course.further,
            around: it.course.around.map(|arc| (arc.centre.x.0, arc.centre.y.0)),
            way: it.course.around.and_then(|arc| arc.way).map(Way::word),
            course: words::course(&it.course, |point| format!("{},{}", point.x.0, point.y.0)),
            until: (it.until - start).beat_label(),
            until_seconds: it.until_time.as_seconds(),
        };
        self.row("walk", it.phrase_in_range, it.at, (it.time, 4, &it.span), detail)
    }

    fn a_move(&self, it: &PlannedMove) -> (Key, Row) {
        let detail = Detail::Move {
            number: it.number,
            who: self.fighter(it.who),
            action: it.action_word.to_string(),
            target: it.target.as_ref().map(Word::to_string),
            side: it.side.map(Side::word),
            to: it.to.map(|fighter| self.fighter(fighter)),
            reply: it.reply.as_ref().map(Word::to_string),
            sounds: it.sounds.iter().flat_map(|cue| &cue.names).map(Word::to_string).collect(),
            text: it.text.clone(),
        };
        self.row("move", it.phrase_in_range, it.at, (it.time, 4, &it.span), detail)
    }

    fn sound(&self, it: &PlannedSound) -> (Key, Row) {
        let Decibels(level_db) = it.level;
        let detail = Detail::Sound {
            name: it.name.to_string(),
            level_db,
            trim_ms: it.trim.as_millis(),
            by_move: it.by_move.and_then(|index| self.plan.moves().get(index)).map(|planned| planned.number),
            text: it.text.clone(),
        };
        self.row("sound", it.phrase_in_range, it.at, (it.time, 4, &it.span), detail)
    }

    fn end(&self, last: &PlannedPhrase) -> (Key, Row) {
        let phrase = self.plan.phrases().len() - 1;
        self.row("end", phrase, last.at + last.length, (self.plan.duration(), 5, &(0..0)), Detail::End {})
    }

    fn person(&self, person: Person) -> String {
        match person {
            Person::Fighter(fighter) => self.fighter(fighter),
            Person::Bystander(id) => self.score.bystanders.get(id.0).map_or(String::new(), |it| it.name.clone()),
        }
    }

    fn fighter(&self, FighterId(index): FighterId) -> String {
        self.score.fighters.get(index).map_or(String::new(), |it| it.name.clone())
    }
}
