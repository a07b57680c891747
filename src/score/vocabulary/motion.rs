//! What moves, which way, and where on the body: the words of the fields `limb`, `goes` and `part`, from which pictures of
//! moves are computed.

/// What of the one who acts goes to the partner.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Limb {
    /// The blade, or the end of a staff.
    Blade,
    /// The hilt, the pommel first.
    Hilt,
    /// A closed hand.
    Fist,
    /// An open hand, or a grip.
    Hand,
    /// An elbow.
    Elbow,
    /// A knee.
    Knee,
    /// A foot.
    Foot,
    /// The whole body.
    Body,
}

impl Limb {
    /// What it is called in a sentence.
    pub const fn says(self) -> &'static str {
        match self {
            Limb::Blade => "the blade",
            Limb::Hilt => "the pommel",
            Limb::Fist => "the fist",
            Limb::Hand => "the open hand",
            Limb::Elbow => "the elbow",
            Limb::Knee => "the knee",
            Limb::Foot => "the foot",
            Limb::Body => "the body",
        }
    }
}

/// Which way a blade, a limb or a body goes.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Goes {
    /// The end first, straight in.
    Thrust,
    /// In an arc that ends where it is meant for.
    Cut,
    /// In an arc that goes past.
    Sweep,
    /// Laid on and drawn along.
    Drawn,
    /// Against the other blade, sharply.
    Beat,
    /// The other blade is carried from one line to another.
    Carry,
    /// In a circle: about the other blade, or before a cut.
    Wind,
    /// It stays where it is.
    Rest,
    /// Towards the partner.
    Forward,
    /// Away from the partner; what is held comes along.
    Back,
    /// To the side.
    Aside,
    /// To the floor.
    Down,
    /// Off the floor.
    Up,
    /// Around the partner.
    Around,
    /// About itself.
    Turn,
    /// Over itself, along the floor.
    Roll,
    /// Head and chest go back, the feet stay.
    Lean,
    /// The middle of the body goes back, the feet stay.
    Hollow,
    /// One leg goes up.
    Lift,
    /// Out of balance.
    Reel,
    /// Forward, one foot past the other.
    Pass,
}

impl Goes {
    /// What it is called in a sentence.
    pub const fn says(self) -> &'static str {
        match self {
            Goes::Thrust => "straight in",
            Goes::Cut => "in an arc",
            Goes::Sweep => "in an arc that goes past",
            Goes::Drawn => "laid on and drawn",
            Goes::Beat => "sharply against the blade",
            Goes::Carry => "carries the blade across",
            Goes::Wind => "in a circle",
            Goes::Rest => "stays",
            Goes::Forward => "forward",
            Goes::Back => "back",
            Goes::Aside => "aside",
            Goes::Down => "down",
            Goes::Up => "up",
            Goes::Around => "around the partner",
            Goes::Turn => "turning",
            Goes::Roll => "rolling",
            Goes::Lean => "head and chest back, the feet stay",
            Goes::Hollow => "the middle back, the feet stay",
            Goes::Lift => "one leg up",
            Goes::Reel => "out of balance",
            Goes::Pass => "forward, one foot past the other",
        }
    }
}

/// A part of the body on which a target lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Part {
    /// Neck and head: 0 is the collar, 30 the chin, 100 the crown.
    Head,
    /// The front of the trunk: 0 is the hip, 100 the shoulder.
    Trunk,
    /// The trunk from behind, by the same measure.
    Back,
    /// An arm: 0 is the hand, 100 the shoulder.
    Arm,
    /// A leg: 0 is the sole, 100 the hip.
    Leg,
}

impl Part {
    /// What it is called in a sentence.
    pub const fn says(self) -> &'static str {
        match self {
            Part::Head => "head",
            Part::Trunk => "trunk",
            Part::Back => "back",
            Part::Arm => "arm",
            Part::Leg => "leg",
        }
    }
}

/// Where on a body a target lies.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Spot {
    /// On which part.
    pub part: Part,
    /// How far along it, in percent from its lower end.
    pub along: u8,
}
