//! The checked score: what a fight *is* once its text has been read and every name in it is known. It holds no text
//! positions but those a finding must point at, and nothing that is not true of a sound score: people are numbers into
//! the cast lists, words are words of the vocabulary, tempos are in range, beats are whole ticks inside their phrase
//! or repeat.

use std::ops::Range;

use compact_str::CompactString;

use crate::units::{Bpm, Decibels, Metres, Micros, Ticks};

/// Where in the score's text something stands, in bytes. Findings point with it.
pub type Span = Range<usize>;

/// A word, a name or a number as it is written: nearly always short enough to lie in place, so that thousands of moves are
/// read, resolved and planned without a thousand small allocations.
pub type Word = CompactString;

/// One fight.
#[derive(Clone, Debug, PartialEq)]
pub struct Score {
    /// The fight's name.
    pub name: String,
    /// Beats in a bar: where the accent of the click falls. At least 1, at most 32.
    pub beats_per_bar: u32,
    /// Performance tempo at the first phrase, unless the phrase states its own.
    pub tempo: Bpm,
    /// Everybody who fights, in the order of the score.
    pub fighters: Vec<Fighter>,
    /// Everybody on the stage who does not.
    pub bystanders: Vec<Bystander>,
    /// The phrases, in the order in which they are performed.
    pub phrases: Vec<Phrase>,
}

/// A fighter's place in [`Score::fighters`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct FighterId(pub usize);

/// A bystander's place in [`Score::bystanders`].
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct BystanderId(pub usize);

/// Anybody who has a mark on the floor.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Person {
    /// Somebody who fights.
    Fighter(FighterId),
    /// Somebody who does not.
    Bystander(BystanderId),
}

/// A character who fights.
#[derive(Clone, Debug, PartialEq)]
pub struct Fighter {
    /// The character's name.
    pub name: String,
    /// The weapon at the start, a word of the vocabulary.
    pub weapon: String,
    /// The hand that holds it.
    pub hand: Hand,
    /// Whether it is in its sheath at the start.
    pub sheathed: bool,
    /// A second weapon.
    pub second: Option<SecondWeapon>,
    /// The fighter's line in the text.
    pub span: Span,
}

/// What a fighter has beside the first weapon.
#[derive(Clone, Debug, PartialEq)]
pub struct SecondWeapon {
    /// A word of the vocabulary.
    pub weapon: String,
    /// The hand that holds it.
    pub hand: Hand,
    /// Whether it is in its sheath at the start.
    pub sheathed: bool,
}

/// A character who only has to be safe.
#[derive(Clone, Debug, PartialEq)]
pub struct Bystander {
    /// The character's name.
    pub name: String,
    /// The name in the text.
    pub span: Span,
}

/// The hand that holds the weapon.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Hand {
    /// Right.
    Right,
    /// Left: inside and outside are mirrored.
    Left,
    /// Neither.
    None,
}

/// Left or right, as the person who is hit sees it.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Side {
    /// Left.
    Left,
    /// Right.
    Right,
}

/// A run of moves that is taught, driven and repeated as one.
#[derive(Clone, Debug, PartialEq)]
pub struct Phrase {
    /// The phrase's name; no two phrases of a fight share one.
    pub name: String,
    /// The performance tempo at its first beat, when it states one. Without it the tempo goes on as it was.
    pub tempo: Option<Bpm>,
    /// What happens, in the order in which it was written.
    pub items: Vec<Item>,
    /// The phrase's head line in the text.
    pub span: Span,
}

/// One line of a phrase. Every `at` counts from the first beat of the phrase, or of the repeat it stands in.
#[derive(Clone, Debug, PartialEq)]
#[allow(clippy::large_enum_variant, reason = "nearly every line of a score is a move")]
pub enum Item {
    /// An attack and its reply.
    Move(Move),
    /// Footwork to a mark.
    Walk(Walk),
    /// Where somebody stands when the phrase begins.
    Place(Place),
    /// A change of tempo.
    Tempo(TempoChange),
    /// Lines done several times over.
    Repeat(Repeat),
    /// Beats added to the end of the phrase.
    Rest(Rest),
    /// A sound that belongs to no move.
    Sound(LoneSound),
}

/// One action of one fighter and, where it needs one, the reply that answers it.
#[derive(Clone, Debug, PartialEq)]
pub struct Move {
    /// When.
    pub at: Ticks,
    /// Who acts.
    pub who: FighterId,
    /// What they do: an action of the vocabulary.
    pub action: Word,
    /// Where it goes: a target of the vocabulary.
    pub target: Option<Word>,
    /// Which side of the target.
    pub side: Option<Side>,
    /// How, with what, and for whom.
    pub manner: Manner,
    /// Who answers, and how.
    pub answer: Option<Answer>,
    /// What must be heard.
    pub sounds: Option<SoundCue>,
    /// The director's words.
    pub text: Option<String>,
    /// The line in the text.
    pub span: Span,
}

/// What a score says of an action besides where it goes.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Manner {
    /// The parries, by number, whose lines a bind carries the other blade from and to.
    pub carried: Option<(Word, Word)>,
    /// What touches, where it is not as the vocabulary says.
    pub touch: Option<StatedTouch>,
    /// The weapon it is done with, or [`FREE_HAND`]; nothing is the first that is in hand.
    pub with: Option<Word>,
    /// Whom it is meant for, when nobody answers.
    pub aimed: Option<FighterId>,
    /// On which side of the bodies the gap is to be hidden.
    pub hidden: Option<StageSide>,
}

/// A side of the stage: what lies on it is hidden from the seats on the other.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum StageSide {
    /// Away from the house.
    Upstage,
    /// Toward the house.
    Downstage,
    /// The left of somebody who faces the house: audience right.
    StageLeft,
    /// Their right.
    StageRight,
}

impl StageSide {
    /// Every one, in the order in which they are explained.
    pub const ALL: [StageSide; 4] =
        [StageSide::Upstage, StageSide::Downstage, StageSide::StageLeft, StageSide::StageRight];

    /// The word as a score writes it.
    pub const fn word(self) -> &'static str {
        match self {
            StageSide::Upstage => "upstage",
            StageSide::Downstage => "downstage",
            StageSide::StageLeft => "stage-left",
            StageSide::StageRight => "stage-right",
        }
    }

    /// The same in a mirror.
    pub const fn mirrored(self) -> StageSide {
        match self {
            StageSide::StageLeft => StageSide::StageRight,
            StageSide::StageRight => StageSide::StageLeft,
            other => other,
        }
    }

    /// The side across the stage.
    pub const fn opposite(self) -> StageSide {
        match self {
            StageSide::Upstage => StageSide::Downstage,
            StageSide::Downstage => StageSide::Upstage,
            other => other.mirrored(),
        }
    }
}

/// The word for a hand that holds no weapon.
pub const FREE_HAND: &str = "hand";

/// What touches, as a score can say of one move.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum StatedTouch {
    /// The full blow lands.
    Contact,
    /// The blade is laid on.
    Placed,
    /// It passes clear.
    Clear,
}

impl StatedTouch {
    /// Every one, in the order in which they are explained.
    pub const ALL: [StatedTouch; 3] = [StatedTouch::Contact, StatedTouch::Placed, StatedTouch::Clear];

    /// The word as a score writes it.
    pub const fn word(self) -> &'static str {
        match self {
            StatedTouch::Contact => "contact",
            StatedTouch::Placed => "placed",
            StatedTouch::Clear => "clear",
        }
    }
}

/// The reply half of a move.
#[derive(Clone, Debug, PartialEq)]
pub struct Answer {
    /// Who answers.
    pub who: FighterId,
    /// How: a reply of the vocabulary.
    pub reply: Word,
    /// Which: the number of a parry, the target that was hit.
    pub arg: Option<Word>,
    /// Which side.
    pub side: Option<Side>,
    /// The weapon it is done with, or [`FREE_HAND`]; nothing is the first that is in hand.
    pub with: Option<Word>,
    /// The reply in the text.
    pub span: Span,
}

/// Footwork: from wherever the person is at `at` to a mark, which is reached at `until`.
#[derive(Clone, Debug, PartialEq)]
pub struct Walk {
    /// When it begins.
    pub at: Ticks,
    /// Who walks.
    pub who: Person,
    /// Which way.
    pub course: Course,
    /// When they are there; later than `at`.
    pub until: Ticks,
    /// The line in the text.
    pub span: Span,
}

/// The way of a walk.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Course {
    /// To where.
    pub to: Point,
    /// True when its points are counted from where they stand when they set off.
    pub further: bool,
    /// The circle it goes along; straight without one.
    pub around: Option<Arc>,
}

/// A part of a circle.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Arc {
    /// The middle of the circle.
    pub centre: Point,
    /// Which way round; nothing is the shorter way.
    pub way: Option<Way>,
}

/// Which way round, as seen from above.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Way {
    /// With the clock.
    Clockwise,
    /// Against the clock.
    Anticlockwise,
}

impl Way {
    /// Both, in the order in which they are explained.
    pub const ALL: [Way; 2] = [Way::Clockwise, Way::Anticlockwise];

    /// The word as a score writes it.
    pub const fn word(self) -> &'static str {
        match self {
            Way::Clockwise => "clockwise",
            Way::Anticlockwise => "anticlockwise",
        }
    }

    /// The same in a mirror.
    pub const fn mirrored(self) -> Way {
        match self {
            Way::Clockwise => Way::Anticlockwise,
            Way::Anticlockwise => Way::Clockwise,
        }
    }
}

/// A mark on the floor at the start of the phrase.
#[derive(Clone, Debug, PartialEq)]
pub struct Place {
    /// Who stands there.
    pub who: Person,
    /// Where.
    pub point: Point,
    /// Which way they look.
    pub facing: Option<Facing>,
    /// The line in the text.
    pub span: Span,
}

/// Which way a person looks.
#[derive(Clone, Copy, Debug, PartialEq)]
pub enum Facing {
    /// Towards another person.
    Person(Person),
    /// A bearing in degrees: 0 is upstage, 90 is audience right.
    Degrees(f64),
}

/// A place on the floor, in metres: `x` to audience right, `y` upstage from the setting line.
#[derive(Clone, Copy, Debug, Default, PartialEq)]
pub struct Point {
    /// To audience right.
    pub x: Metres,
    /// Upstage from the setting line.
    pub y: Metres,
}

/// A change of tempo.
#[derive(Clone, Debug, PartialEq)]
pub enum TempoChange {
    /// A new tempo from a beat on.
    Step {
        /// From when; the first beat when the line names none.
        at: Ticks,
        /// The tempo from there.
        to: Bpm,
        /// The line in the text.
        span: Span,
    },
    /// A change that is linear in beats.
    Ramp {
        /// Where it begins.
        from: Ticks,
        /// Where it is complete; later than `from`.
        to: Ticks,
        /// The tempo at `from`.
        start: Bpm,
        /// The tempo at `to` and after.
        end: Bpm,
        /// The line in the text.
        span: Span,
    },
}

/// Lines done `times` over, laid end to end every `every`.
#[derive(Clone, Debug, PartialEq)]
pub struct Repeat {
    /// When the first round begins.
    pub at: Ticks,
    /// How many rounds; at least 1.
    pub times: u32,
    /// The length of a round; more than nothing.
    pub every: Ticks,
    /// What happens in a round, counted from the round's first beat. No rest among them.
    pub items: Vec<Item>,
    /// The use of a pattern that it comes from; nothing for a repeat that is written out.
    pub used: Option<Used>,
    /// The line that opens it.
    pub span: Span,
}

/// Where lines come from that are written in a pattern.
#[derive(Clone, Debug, PartialEq)]
pub struct Used {
    /// The use in words: `"Square" by MARET, OSK, mirrored`.
    pub words: String,
    /// The line of the use.
    pub span: Span,
}

/// Beats added to the end of a phrase.
#[derive(Clone, Debug, PartialEq)]
pub struct Rest {
    /// How long.
    pub length: Ticks,
    /// The line in the text.
    pub span: Span,
}

/// A sound that no move makes.
#[derive(Clone, Debug, PartialEq)]
pub struct LoneSound {
    /// When.
    pub at: Ticks,
    /// What.
    pub sounds: SoundCue,
    /// The director's words.
    pub text: Option<String>,
    /// The line in the text.
    pub span: Span,
}

/// One or more sounds started together.
#[derive(Clone, Debug, PartialEq)]
pub struct SoundCue {
    /// The sounds' names.
    pub names: Vec<Word>,
    /// How much later than the beat they are heard; negative is earlier.
    pub trim: Micros,
    /// Louder or softer than the sound's own level.
    pub level: Decibels,
    /// The cue in the text.
    pub span: Span,
}
