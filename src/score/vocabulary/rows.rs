//! What a row of the vocabulary says, one type for each kind of word. Every row names its source.

use super::lines::{Line, Turn};
use super::motion::{Goes, Limb, Part};
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

impl Reaction {
    /// True when the figures rise, above 0.
    pub(super) fn rises(&self) -> bool {
        Micros::ZERO < self.least && self.least <= self.usual && self.usual <= self.most
    }
}

/// What meets when an action is done as it is rehearsed.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Touch {
    /// Blade and blade.
    Blades,
    /// Body and body.
    Bodies,
    /// Blade and body, laid on under control.
    Placed,
    /// Nothing: it passes clear of the body, or it stops short.
    Nothing,
}

/// Who can do it.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Posture {
    /// Somebody on their feet or a knee.
    #[default]
    Standing,
    /// Somebody on their feet.
    Feet,
    /// Somebody on the floor.
    Down,
    /// Somebody on the floor or a knee.
    Low,
    /// Anybody who is alive.
    Any,
}

/// What a body has to be free of, or to have, to do something.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Need {
    /// Nobody holds them; for what is done with a weapon: nobody holds them where it keeps them from using it.
    Unheld,
    /// They hold nobody.
    HoldsNobody,
    /// They are not body to body with anybody.
    Room,
    /// They hold somebody.
    Grip,
    /// A hand of theirs holds neither a weapon nor anybody.
    Hand,
    /// Neither hand of theirs holds anything.
    BothHands,
    /// Nobody holds the arm of their weapon.
    WeaponArm,
    /// Nobody holds a leg of theirs.
    Legs,
    /// Their blade lies at the partner's: it was parried, met, beaten or engaged, and nothing came between.
    Blades,
}

/// What an action or a reply makes of the bodies, beside its effects.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Makes {
    /// The one who does it holds the partner.
    Holds,
    /// The one who does it lets go.
    Releases,
    /// Nobody holds the one who does it any more.
    Frees,
    /// The two are body to body.
    Closes,
    /// The two are apart: neither holds the other.
    Parts,
    /// The one who does it is on a knee.
    Kneels,
    /// The one who does it is dead.
    Dies,
    /// The weapon that is taken comes from the sheath.
    FromSheath,
    /// The weapon that is taken was lying on the floor.
    FromFloor,
    /// The weapon that is put away is in the sheath.
    ToSheath,
    /// The weapon that is let go is caught by whom it is meant for.
    HandsOver,
}

/// What a blade may do at a place of the body.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Vital {
    /// A full blow may be taken there, as rehearsed.
    #[default]
    No,
    /// A blade may be laid on, and no full blow may land.
    Placed,
    /// No blade may touch it.
    Never,
}

/// What an action or a reply changes from then on. *Self* is the one who does it, *other* the partner.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
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

/// A picture that a company has drawn itself.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct OwnPicture {
    /// The file in the production's folder of pictures.
    pub file: String,
    /// What it shows, for whoever hears the page; without it the word alone.
    pub words: Option<String>,
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
    /// The least time before its beat: from its beginning until it is where it goes.
    pub least: Micros,
    /// The same when it comes straight out of one's own parry.
    pub after_parry: Option<Micros>,
    /// How long after its beat the body is still busy with it.
    pub after: Micros,
    /// Whether it is done with an open hand, which may land on a cheek.
    pub open_hand: bool,
    /// Whether it takes the partner off the floor.
    pub lifts: bool,
    /// Whether the point goes straight in, so that it can be swept to either side from the middle of the body.
    pub straight: bool,
    /// What the body needs besides posture and weapon.
    pub needs: Vec<Need>,
    /// What it makes of the bodies.
    pub makes: Vec<Makes>,
    /// Whether it can name a weapon in the place of a target.
    pub names_weapon: bool,
    /// The sound it makes when the score names none.
    pub sound: Option<String>,
    /// Whether the weapon must be in hand.
    pub needs_weapon: bool,
    /// Who can do it.
    pub posture: Posture,
    /// What it changes.
    pub effects: Vec<Effect>,
    /// What goes to the partner, where it does not follow from the rest ([`Action::limb`]).
    pub limb: Option<Limb>,
    /// Which way it goes, where it does not follow from the rest ([`Action::goes`]).
    pub goes: Option<Goes>,
    /// The company's own picture of it.
    pub picture: Option<OwnPicture>,
    /// How far it takes the one who does it, where it does not follow from the rest ([`Action::travels`]).
    pub travel: Option<Metres>,
    /// How far it can carry the one who does it to the partner and back again ([`Action::reaches_out`]).
    pub out: Option<Metres>,
    /// How far it sends the partner, where it does not follow from the rest ([`Action::sends_away`]).
    pub sends: Option<Metres>,
    /// How far it sweeps to either side, in degrees, where it does not follow from the rest ([`Action::sweeps`]); at most 180.
    pub sweep: Option<u8>,
    /// Where the row comes from.
    pub source: String,
}

/// How high a target lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Height {
    /// Above the hand on guard.
    High,
    /// Below it.
    Low,
    /// On top of the head.
    Overhead,
}

/// Where a target without sides lies, as seen from the weapon hand.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
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
    /// What a blade may do here.
    pub vital: Vital,
    /// Whether somebody who is held here cannot use a weapon.
    pub pins: bool,
    /// Whether it is a part of a leg.
    pub leg: bool,
    /// Whether it is a part of the body at all; a weapon is none.
    pub body: bool,
    /// Whether nothing is done to it without a hold on it.
    pub gripped: bool,
    /// The place that is attacked instead when a pattern is done at the other height.
    pub other_height: Option<String>,
    /// The part of the body that it lies on, where its height does not say it ([`Target::spot`]).
    pub part: Option<Part>,
    /// How far along that part, in percent from its lower end; at most 100.
    pub along: Option<u8>,
    /// Where the row comes from.
    pub source: String,
}

/// What sort of answer a reply is.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
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
    /// Both attack at once, and the blades meet.
    Meet,
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
            ReplyKind::Avoid | ReplyKind::Yield | ReplyKind::Block | ReplyKind::Meet => ReplyArgument::None,
        }
    }

    /// True for what saves whoever does it from the blow, by a weapon, the hands or by not being there: they have to see it.
    pub const fn is_met(self) -> bool {
        match self {
            ReplyKind::Parry | ReplyKind::CircularParry | ReplyKind::Avoid | ReplyKind::Block => true,
            ReplyKind::Take | ReplyKind::Yield | ReplyKind::Meet => false,
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
    /// The least time it takes before its beat, without the reaction before it.
    pub least: Micros,
    /// How long after its beat the body is still busy with it.
    pub after: Micros,
    /// What the body needs besides posture and weapon.
    pub needs: Vec<Need>,
    /// What it makes of the bodies.
    pub makes: Vec<Makes>,
    /// Whether it can be done while one's own blow goes to the same partner: a double hit, blades that meet.
    pub with_attack: bool,
    /// The reply to the same attack at the other height, for patterns; nothing is the same one.
    pub other_height: Option<String>,
    /// Whether the weapon must be in hand.
    pub needs_weapon: bool,
    /// Who can do it.
    pub posture: Posture,
    /// What it changes.
    pub effects: Vec<Effect>,
    /// Which way the body goes, where it does not follow from the rest ([`super::Vocabulary::reply_goes`]).
    pub goes: Option<Goes>,
    /// The company's own picture of it; that of an action goes before it.
    pub picture: Option<OwnPicture>,
    /// How far it takes the one who answers, where it does not follow from the rest ([`super::Vocabulary::reply_travels`]).
    pub travel: Option<Metres>,
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
    /// How heavy its blow is: 1 light, 2 middling, 3 heavy. A light one does not stop a heavy one.
    pub weight: u8,
    /// How much longer than the vocabulary says it takes to attack with it, in percent.
    pub slower: u8,
    /// Whether a bare hand does not belong on it.
    pub sharp: bool,
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
