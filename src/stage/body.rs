//! Bodies as the checks take them: upright cylinders, as high as the posture, with an arm that reaches so far. What is not
//! given follows from the stature by the means of ANSUR II (2012, NATICK/TR-15/007; men 4,082, women 1,986; recomputed from
//! the public table). The shares of the postures are assumptions.

/// How somebody is built.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Build {
    /// How tall, metres.
    pub stature: f64,
    /// From the back of the shoulder to the tip of the thumb of an arm held out, metres.
    pub reach: f64,
}

/// Mean stature of the 6,068 of ANSUR II taken together, metres: (4082 · 1.7562 + 1986 · 1.6285) / 6068.
const USUAL_STATURE: f64 = 1.714;
/// Thumbtip reach by stature: men 811.9 / 1756.2 = 0.462, women 744.0 / 1628.5 = 0.457.
const REACH_BY_STATURE: f64 = 0.460;
/// Height of the shoulder (acromion) by stature: men 1440.7 / 1756.2, women 1335.1 / 1628.5, both 0.820.
const SHOULDER_BY_STATURE: f64 = 0.820;
/// Half the breadth across the shoulders, metres: about 0.5 m across in men (from memory, taken for everybody).
pub const BODY_RADIUS: f64 = 0.25;
/// From the middle of a body to the front of the chest, metres: half a chest's depth of about a quarter of a metre (from memory).
pub(super) const CHEST: f64 = 0.12;

impl Build {
    /// Somebody of this stature in metres.
    pub fn of(stature: f64) -> Build {
        Build { stature, reach: stature * REACH_BY_STATURE }
    }

    /// How high the shoulder is when they stand, metres.
    pub fn shoulder(&self) -> f64 {
        self.stature * SHOULDER_BY_STATURE
    }

    /// The room that a body takes up in a pose.
    pub fn room(&self, pose: Pose) -> Room {
        let (share, lifted, radius) = match pose {
            Pose::Standing => (1.0, 0.0, BODY_RADIUS),
            Pose::Ducking => (0.7, 0.0, BODY_RADIUS),
            Pose::Jumping => (1.0, 0.35, BODY_RADIUS),
            Pose::Kneeling => (0.75, 0.0, BODY_RADIUS),
            Pose::Seated => (0.75, 0.0, BODY_RADIUS),
            // Whichever way they lie.
            Pose::Lying => (0.2, 0.0, self.stature / 2.0),
        };
        Room { radius, low: lifted, high: lifted + self.stature * share }
    }
}

impl Default for Build {
    fn default() -> Build {
        Build::of(USUAL_STATURE)
    }
}

/// How a body is.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub enum Pose {
    /// On their feet.
    #[default]
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

/// The upright cylinder that a body stays within, metres; heights are above the floor that they are on.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Room {
    /// Its radius.
    pub radius: f64,
    /// Where it begins.
    pub low: f64,
    /// Where it ends.
    pub high: f64,
}
