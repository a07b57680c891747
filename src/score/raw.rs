//! The raw score: every line of the text as it was written, understood as grammar but not yet as a fight. Names are
//! not looked up, beats are not placed, numbers keep their spelling. It is what `fmt` writes back, so it forgets
//! nothing but the spaces.

use super::model::{Hand, Side, Span, StageSide, StatedTouch, Way, Word};

/// A value and where it stands.
#[derive(Clone, Debug, PartialEq)]
pub struct Located<T> {
    /// The value.
    pub value: T,
    /// Where it stands in the text.
    pub span: Span,
}

/// A word or a name, without quotes.
pub type Text = Located<Word>;

/// The lines of a score, in order.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RawScore {
    /// Every line of the text, blank ones too.
    pub lines: Vec<RawLine>,
}

/// One line.
#[derive(Clone, Debug, PartialEq)]
pub struct RawLine {
    /// Where its words stand, without comment and surrounding spaces. Empty when it has none.
    pub span: Span,
    /// What it says. Nothing when it has no words.
    pub statement: Option<Statement>,
    /// Its comment, from the `#` on.
    pub comment: Option<Text>,
}

impl RawLine {
    /// True when there are words in the line that could not be understood.
    pub fn is_broken(&self) -> bool {
        matches!(self.statement, Some(Statement::Broken(_)))
    }
}

/// What a line can say.
#[derive(Clone, Debug, PartialEq)]
pub enum Statement {
    /// `fight NAME`
    Fight(Text),
    /// `beats N`
    Beats(Located<u32>),
    /// `fighters`
    FightersHead,
    /// A line under `fighters`.
    Fighter(Box<RawFighter>),
    /// `bystanders`
    BystandersHead,
    /// A line under `bystanders`.
    Bystander(Text),
    /// `phrase NAME [tempo N]`
    Phrase(RawPhrase),
    /// `tempo …`, in the header or in a phrase.
    Tempo(RawTempo),
    /// `place …`
    Place(RawPlace),
    /// A beat, a name and an action.
    Move(Box<RawMove>),
    /// A beat, a name and `walk`.
    Walk(Box<RawWalk>),
    /// A beat and a sound.
    Sound(RawSound),
    /// `repeat …`
    Repeat(RawRepeat),
    /// `end`
    End,
    /// `rest N`
    Rest(Text),
    /// `pattern …`
    Pattern(RawPattern),
    /// `stage NAME`
    Stage(Text),
    /// `travel POINT`
    Travel(RawPoint),
    /// `turn DEGREES`
    Turn(Located<(f64, String)>),
    /// `use …`
    Use(Box<RawUse>),
    /// Words that could not be understood.
    Broken(Broken),
}

/// The line that opens a pattern.
#[derive(Clone, Debug, PartialEq)]
pub struct RawPattern {
    /// The pattern's name.
    pub name: Text,
    /// Who is in it, by role.
    pub roles: Vec<Text>,
    /// The words that each use chooses.
    pub parameters: Vec<Text>,
    /// The length of a round as written; without it, the round ends on the first whole beat after its last line.
    pub every: Option<Text>,
}

/// A use of a pattern.
#[derive(Clone, Debug, PartialEq)]
pub struct RawUse {
    /// The pattern's name.
    pub pattern: Text,
    /// The beat of its first round, as written.
    pub at: Text,
    /// Who does it, in the order of the roles.
    pub by: Vec<Text>,
    /// The words for its parameters, in their order.
    pub with: Vec<Text>,
    /// How many rounds.
    pub times: Option<Located<u32>>,
    /// Left and right exchanged.
    pub mirrored: bool,
    /// The first two roles exchanged.
    pub swapped: bool,
    /// High and low exchanged.
    pub other_height: bool,
    /// The last stage that is done; nothing is all of them.
    pub stage: Option<Text>,
    /// Where the pattern's own 0,0 lies on the stage.
    pub about: Option<RawPoint>,
    /// By how many degrees all of it is turned.
    pub turned: Option<Located<(f64, String)>>,
    /// How much further each round is than the one before, on the pattern's own floor.
    pub travel: Option<RawPoint>,
    /// By how many degrees each round is turned further than the one before, about the pattern's own 0,0.
    pub turn: Option<Located<(f64, String)>>,
}

impl Default for RawUse {
    fn default() -> RawUse {
        let nothing = || Text { value: Word::default(), span: 0..0 };
        RawUse {
            pattern: nothing(),
            at: nothing(),
            by: Vec::new(),
            with: Vec::new(),
            times: None,
            mirrored: false,
            swapped: false,
            other_height: false,
            stage: None,
            about: None,
            turned: None,
            travel: None,
            turn: None,
        }
    }
}

/// What can still be said of a line that could not be understood, so that the lines around it are not blamed.
#[derive(Clone, Debug, PartialEq)]
pub enum Broken {
    /// It was to name the fight.
    Fight,
    /// It was to open a phrase.
    Phrase,
    /// It was to open a pattern.
    Pattern,
    /// It was to open a repeat.
    Repeat,
    /// It was to name somebody.
    Person(Text),
    /// Nothing.
    Other,
}

/// A fighter's line.
#[derive(Clone, Debug, PartialEq)]
pub struct RawFighter {
    /// The character.
    pub name: Text,
    /// The weapon's word.
    pub weapon: Text,
    /// The hand.
    pub hand: Located<Hand>,
    /// Whether it is in its sheath at the start.
    pub sheathed: bool,
    /// A second weapon.
    pub second: Option<RawSecond>,
}

/// A fighter's second weapon.
#[derive(Clone, Debug, PartialEq)]
pub struct RawSecond {
    /// The weapon's word.
    pub weapon: Text,
    /// The hand.
    pub hand: Located<Hand>,
    /// Whether it is in its sheath at the start.
    pub sheathed: bool,
}

/// A phrase's head.
#[derive(Clone, Debug, PartialEq)]
pub struct RawPhrase {
    /// The phrase's name.
    pub name: Text,
    /// The tempo as written.
    pub tempo: Option<Text>,
}

/// A tempo line.
#[derive(Clone, Debug, PartialEq)]
pub struct RawTempo {
    /// The tempo, or that at the beginning of a ramp.
    pub value: Text,
    /// When it counts.
    pub when: RawTempoWhen,
}

/// When a tempo counts. Beats are as written.
#[derive(Clone, Debug, PartialEq)]
pub enum RawTempoWhen {
    /// From the first beat.
    Start,
    /// From a beat on.
    At(Text),
    /// A ramp.
    Ramp {
        /// The tempo at its end.
        end: Text,
        /// Its first beat.
        from: Text,
        /// Its last beat.
        to: Text,
    },
}

/// A point as written.
#[derive(Clone, Debug, PartialEq)]
pub struct RawPoint {
    /// To audience right.
    pub x: Located<(f64, String)>,
    /// Upstage.
    pub y: Located<(f64, String)>,
}

/// A place line.
#[derive(Clone, Debug, PartialEq)]
pub struct RawPlace {
    /// Who stands there.
    pub who: Text,
    /// Where.
    pub point: RawPoint,
    /// Which way they look.
    pub facing: Option<RawFacing>,
}

/// Which way somebody looks, as written.
#[derive(Clone, Debug, PartialEq)]
pub enum RawFacing {
    /// Towards a name.
    Person(Text),
    /// A bearing.
    Degrees(Located<(f64, String)>),
}

/// A word with what may follow it: action, target, side; or reply, which, side.
#[derive(Clone, Debug, PartialEq)]
pub struct RawHalf {
    /// Who does it.
    pub who: Text,
    /// What.
    pub word: Text,
    /// Where to, or which.
    pub arg: Option<Text>,
    /// Which side.
    pub side: Option<Located<Side>>,
    /// How, with what, and for whom; nothing when nothing is said of it. Most halves say nothing, and a score has thousands.
    pub manner: Option<Box<RawManner>>,
    /// From the name to the last word.
    pub span: Span,
}

impl RawHalf {
    /// How, with what, and for whom.
    pub fn manner(&self) -> &RawManner {
        static UNSAID: RawManner = RawManner { carried: None, touch: None, hidden: None, with: None, aimed: None };
        self.manner.as_deref().unwrap_or(&UNSAID)
    }
}

/// What may follow the words of a half.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct RawManner {
    /// `from LINE to LINE`: how a bind carries the other blade.
    pub carried: Option<(Text, Text)>,
    /// `contact`, `placed` or `clear`.
    pub touch: Option<Located<StatedTouch>>,
    /// `hidden SIDE`: on which side of the bodies the gap is.
    pub hidden: Option<Located<StageSide>>,
    /// `with WEAPON` or `with hand`.
    pub with: Option<Text>,
    /// `at NAME`: whom an action without a reply is meant for.
    pub aimed: Option<Text>,
}

/// A move line.
#[derive(Clone, Debug, PartialEq)]
pub struct RawMove {
    /// The beat as written.
    pub at: Text,
    /// The action half.
    pub action: RawHalf,
    /// The reply half.
    pub reply: Option<RawHalf>,
    /// The sound cues, each with its own `!`.
    pub sounds: Vec<RawSounds>,
    /// The director's words.
    pub text: Option<Text>,
}

/// A walk line.
#[derive(Clone, Debug, PartialEq)]
pub struct RawWalk {
    /// The beat as written.
    pub at: Text,
    /// Who walks.
    pub who: Text,
    /// True when its points are counted from where they stand when they set off.
    pub further: bool,
    /// To where.
    pub to: RawPoint,
    /// The beat at which they are there, as written.
    pub by: Text,
    /// The circle it goes along.
    pub around: Option<RawArc>,
}

/// A part of a circle as written.
#[derive(Clone, Debug, PartialEq)]
pub struct RawArc {
    /// The middle.
    pub centre: RawPoint,
    /// Which way round.
    pub way: Option<Located<Way>>,
}

/// A sound line.
#[derive(Clone, Debug, PartialEq)]
pub struct RawSound {
    /// The beat as written.
    pub at: Text,
    /// The cues, each with its own `!`.
    pub sounds: Vec<RawSounds>,
    /// The director's words.
    pub text: Option<Text>,
}

/// What stands after one `!`.
#[derive(Clone, Debug, PartialEq)]
pub struct RawSounds {
    /// The sounds' names.
    pub names: Vec<Text>,
    /// Milliseconds later than the beat.
    pub trim: Option<Located<i64>>,
    /// Decibels, with their spelling.
    pub level: Option<Located<(f64, String)>>,
    /// From the `!` to the last word.
    pub span: Span,
}

/// The line that opens a repeat.
#[derive(Clone, Debug, PartialEq)]
pub struct RawRepeat {
    /// How many rounds.
    pub times: Located<u32>,
    /// The length of a round, as written.
    pub every: Text,
    /// The beat of the first round, as written.
    pub at: Text,
}
