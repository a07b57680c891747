//! What a picture shows, before anything has a place in it: who does what with what, where it goes, and what becomes of
//! the one it is meant for. Picture and sentence are both made from this and from nothing else.

use crate::score::model::Side;
use crate::score::vocabulary::{Goes, Limb, Line, Spot, Touch, Turn};

/// What is seen.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Scene {
    /// The body that is attacked, from the eye of whoever goes for it.
    Front(Front),
    /// One body from the side: what it does is seen only there, or it is hit from behind.
    Edge(Edge),
    /// Both bodies from the side.
    Pair(Pair),
    /// Somebody alone; mirrored for a left-hander.
    Own(Own, bool),
}

/// What goes to the partner.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Blow {
    /// What of the one who acts.
    pub(super) limb: Limb,
    /// Which way; of a push or a grip that goes no way of its own there is none.
    pub(super) goes: Option<Goes>,
    /// Whether it is only shown.
    pub(super) feint: bool,
    /// How long the weapon is, in metres.
    pub(super) reach: f64,
    /// What touches.
    pub(super) touch: Touch,
}

/// Where it is meant for.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Aim {
    /// The place on the body.
    pub(super) spot: Spot,
    /// The side of the one who is hit; nothing is the middle.
    pub(super) side: Option<Side>,
}

/// A blade, or a hand, that closes a line.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Closing {
    /// The line that it closes here.
    pub(super) line: Line,
    /// The line that it is for first of all.
    pub(super) usual: Line,
    /// How the hand is turned.
    pub(super) turn: Turn,
    /// Whether the point makes a circle first.
    pub(super) round: bool,
    /// The weapon; nothing is the open hand.
    pub(super) weapon: Option<Held>,
}

/// A weapon as it is drawn, in metres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) struct Held {
    /// Beyond the hand.
    pub(super) blade: f64,
    /// Behind it.
    pub(super) grip: f64,
}

/// What stands in the way.
#[derive(Clone, Debug, PartialEq)]
pub(super) enum Guard {
    /// Nothing.
    None,
    /// A blade.
    Closing(Closing),
    /// An arm.
    Arm,
}

/// What the body of the one it is meant for does.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Pose {
    /// It stands.
    Stand,
    /// It bends about the blow.
    Hit,
    /// It stands against it.
    Braced,
    /// It gives way.
    Along,
    /// It gets free.
    Free,
    /// It goes down under it.
    Duck,
    /// It goes up over it.
    Jump,
    /// One leg goes up.
    LiftLeg,
    /// It goes to the side.
    Aside,
    /// It goes back.
    Back,
    /// Head and chest go back.
    Lean,
    /// The middle goes back.
    Hollow,
    /// It rolls away.
    Ball,
    /// It loses its balance.
    Reel,
    /// It goes down on a knee.
    Kneel,
    /// It goes down on the floor.
    Fallen,
}

impl Pose {
    /// True when the place that was meant is no longer where it was.
    pub(super) const fn is_elsewhere(self) -> bool {
        !matches!(self, Pose::Stand | Pose::Hit | Pose::Braced | Pose::Along | Pose::Free | Pose::Reel)
    }

    /// True when it is only seen from the side.
    pub(super) const fn is_seen_from_the_side(self) -> bool {
        matches!(self, Pose::Back | Pose::Lean | Pose::Hollow)
    }

    /// True for what a body does that is hit from behind, and is seen from the side.
    pub(super) const fn is_seen_from_behind(self) -> bool {
        matches!(self, Pose::Stand | Pose::Hit | Pose::Back | Pose::Reel | Pose::Kneel | Pose::Fallen | Pose::Ball)
    }

    /// True for what the partner does where both bodies are seen.
    pub(super) const fn is_seen_in_a_pair(self) -> bool {
        !matches!(self, Pose::Duck | Pose::Jump | Pose::LiftLeg | Pose::Aside | Pose::Ball | Pose::Lean | Pose::Hollow)
    }

    /// What it is called in a sentence; nothing for a body that stands.
    pub(super) const fn says(self) -> Option<&'static str> {
        Some(match self {
            Pose::Stand => return None,
            Pose::Hit => "the body gives with it",
            Pose::Braced => "the body stays",
            Pose::Along => "the body goes along",
            Pose::Free => "the body gets free",
            Pose::Duck => "the body goes down",
            Pose::Jump => "the body goes up",
            Pose::LiftLeg => "one leg goes up",
            Pose::Aside => "the body goes aside",
            Pose::Back => "the body goes back",
            Pose::Lean => "head and chest go back, the feet stay",
            Pose::Hollow => "the middle goes back, the feet stay",
            Pose::Ball => "the body rolls away",
            Pose::Reel => "the body loses its balance",
            Pose::Kneel => "the body goes down on a knee",
            Pose::Fallen => "the body goes down on the floor",
        })
    }
}

/// The body that is attacked, from the front.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Front {
    /// What comes.
    pub(super) blow: Blow,
    /// Where to.
    pub(super) aim: Aim,
    /// True when it comes from the picture's right, as the one who acts sees it.
    pub(super) from_right: bool,
    /// Whether the weapon of the one who answers is on the side that it comes from.
    pub(super) weapon_there: bool,
    /// Whether it comes from above.
    pub(super) overhead: bool,
    /// Whether it comes in above the hand on guard.
    pub(super) high: bool,
    /// What stands in the way.
    pub(super) guard: Guard,
    /// What the body does.
    pub(super) pose: Pose,
    /// Whether a weapon falls from the hand.
    pub(super) drops: bool,
}

/// One body from the side. The blow comes from the picture's left, unless it is mirrored.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Edge {
    /// What comes.
    pub(super) blow: Blow,
    /// Where to.
    pub(super) aim: Aim,
    /// Whether it comes from behind.
    pub(super) behind: bool,
    /// What the body does.
    pub(super) pose: Pose,
    /// Whether a weapon falls from the hand.
    pub(super) drops: bool,
    /// Whether the picture is mirrored, so that the side that is hit is the near one.
    pub(super) mirrored: bool,
}

/// Both bodies from the side. The one who acts stands on the picture's left, unless it is mirrored.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Pair {
    /// What goes to the partner.
    pub(super) blow: Blow,
    /// The place that is taken hold of, or pushed; nothing is the weapon, or the body as a whole.
    pub(super) aim: Option<Aim>,
    /// Where it goes on the body, whether the move names the place or not.
    pub(super) spot: Spot,
    /// What is between them.
    pub(super) meeting: Meeting,
    /// What the partner's body does.
    pub(super) pose: Pose,
    /// Whether the partner's weapon falls.
    pub(super) drops: bool,
    /// Whether the picture is mirrored.
    pub(super) mirrored: bool,
    /// The lines that a blade is carried from and to.
    pub(super) carried: Option<(Line, Line)>,
}

/// What is between two bodies.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum Meeting {
    /// Blade and blade.
    Blades,
    /// Both attack, and the blades meet.
    BothAttack,
    /// Two blades that do not touch.
    BladesApart,
    /// A hand or a foot at the other's weapon.
    AtWeapon,
    /// Body and body: hands that push, pull or hold, or more.
    Bodies,
    /// The whole bodies come together.
    Closes,
    /// A hold is let go.
    LetsGo,
}

/// What somebody does alone.
#[derive(Clone, Copy, Debug, PartialEq)]
pub(super) enum Own {
    /// The weapon comes from the sheath.
    Draw,
    /// It goes into the sheath.
    Sheathe,
    /// It is taken from the floor.
    PickUp,
    /// It is let fall.
    Drop,
    /// It is thrown to somebody.
    Toss,
    /// Down on a knee.
    Kneel,
    /// Down on the floor.
    Fall,
    /// Dead.
    Die,
    /// On to the feet.
    Rise,
    /// The weapon is held, so many metres long: up, towards the partner, or at rest.
    Show(Goes, Option<Held>),
    /// Steps.
    Feet(Goes),
    /// Along the floor on hands and knees.
    Crawl(Goes),
    /// Off the floor.
    Leap,
    /// Low, on the feet.
    Crouch,
    /// Over itself.
    Roll,
    /// Out of balance.
    Reel,
}
