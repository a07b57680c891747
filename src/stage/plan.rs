//! The plan of the stage: what there is to stand on, to fall off, to run into and to sit in, for each set; how tall people
//! are; and how near things may come. All in metres, whatever the file is written in.

use std::collections::BTreeMap;

use super::body::{Build, Pose};
use super::outline::Outline;
use super::vec2::Vec2;

/// The plan of a production's stage.
#[derive(Clone, Debug, PartialEq)]
pub struct StagePlan {
    /// Whether it is written in feet; then sentences say feet too.
    pub feet: bool,
    /// What stands where, for fights that are on no set.
    pub bare: Layout,
    /// The sets.
    pub sets: Vec<StageSet>,
    /// How people are built, by the names of their characters.
    pub people: BTreeMap<String, Build>,
    /// How those are throughout who only stand by: seated, say.
    pub poses: BTreeMap<String, Pose>,
    /// How near things may come.
    pub least: LeastDistances,
}

/// A set: the stage with what is on it for some fights.
#[derive(Clone, Debug, PartialEq)]
pub struct StageSet {
    /// Its name.
    pub name: String,
    /// The fights that are on it, each the fight's name, or `Fight: Phrase` where the scene changes before that phrase.
    pub fights: Vec<String>,
    /// What stands where.
    pub layout: Layout,
}

/// What stands where.
#[derive(Clone, Debug, PartialEq)]
pub struct Layout {
    /// Where there is playing.
    pub area: Outline,
    /// Edges that one can fall off.
    pub edges: Vec<Edge>,
    /// Platforms: one stands on them.
    pub levels: Vec<Raised>,
    /// Steps and ramps, over which a level is reached.
    pub steps: Vec<Named>,
    /// Walls, furniture, pillars: nobody stands in them.
    pub pieces: Vec<Raised>,
    /// Openings in walls and in the rim of the playing area.
    pub doors: Vec<Named>,
    /// Places beside the playing area where somebody may wait.
    pub wings: Vec<Named>,
    /// Where the audience sits.
    pub seats: Vec<Seats>,
}

/// An outline with a name.
#[derive(Clone, Debug, PartialEq)]
pub struct Named {
    /// Its name.
    pub name: String,
    /// Where it is.
    pub outline: Outline,
}

/// Something with a height above the stage floor.
#[derive(Clone, Debug, PartialEq)]
pub struct Raised {
    /// Its name.
    pub name: String,
    /// Where it is.
    pub outline: Outline,
    /// How high its top is above the stage floor, metres.
    pub height: f64,
}

/// An edge that one can fall off.
#[derive(Clone, Debug, PartialEq)]
pub struct Edge {
    /// Its name.
    pub name: String,
    /// From here.
    pub from: Vec2,
    /// To here.
    pub to: Vec2,
    /// How deep it goes down, metres.
    pub drop: f64,
}

/// A block of seats.
#[derive(Clone, Debug, PartialEq)]
pub struct Seats {
    /// Its name.
    pub name: String,
    /// Where it is.
    pub outline: Outline,
    /// How high its floor is above the stage floor; below it is negative. Metres.
    pub floor: f64,
    /// How high the eyes are above its floor, metres.
    pub eyes: f64,
}

/// How near things may come, metres. Planning values: no published number was found for any of them but `fighter`.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct LeastDistances {
    /// From all that a blow sweeps to somebody who only stands by. Assumption.
    pub bystander: f64,
    /// The same to another fighter whom it is not meant for. Two school handouts let an extended hand end 15 to 20 cm short
    /// of a chest (weak).
    pub fighter: f64,
    /// The same to the seats. Assumption.
    pub audience: f64,
    /// The same to walls and furniture. Assumption.
    pub piece: f64,
    /// From the middle of a body to an edge that goes down. Assumption.
    pub edge: f64,
}

impl Default for LeastDistances {
    fn default() -> LeastDistances {
        LeastDistances { bystander: 0.5, fighter: 0.2, audience: 0.5, piece: 0.1, edge: 0.5 }
    }
}

impl StagePlan {
    /// A plan of a bare playing area.
    pub fn bare(area: Outline) -> StagePlan {
        let none = Layout {
            area,
            edges: Vec::new(),
            levels: Vec::new(),
            steps: Vec::new(),
            pieces: Vec::new(),
            doors: Vec::new(),
            wings: Vec::new(),
            seats: Vec::new(),
        };
        StagePlan {
            feet: false,
            bare: none,
            sets: Vec::new(),
            people: BTreeMap::new(),
            poses: BTreeMap::new(),
            least: LeastDistances::default(),
        }
    }

    /// What stands where in a phrase of a fight. `phrases` are the fight's phrases up to and with that one, by name: the set
    /// stays until a scene change names a later phrase.
    pub fn layout<'n>(&self, fight: &str, phrases: impl DoubleEndedIterator<Item = &'n str>) -> &Layout {
        let listed = |wanted: &str| {
            let set = self.sets.iter().find(|set| set.fights.iter().any(|it| it == wanted));
            set.map(|set| &set.layout)
        };
        if self.sets.is_empty() {
            return &self.bare;
        }
        let changed = phrases.rev().find_map(|phrase| listed(&format!("{fight}: {phrase}")));
        changed.or_else(|| listed(fight)).unwrap_or(&self.bare)
    }

    /// How a character is built.
    pub fn build(&self, name: &str) -> Build {
        self.people.get(name).copied().unwrap_or_default()
    }
}

impl Layout {
    /// How high the floor is at a place above the stage floor, metres: that of the highest level there.
    pub fn floor(&self, at: Vec2) -> f64 {
        self.levels.iter().filter(|level| level.outline.contains(at)).map(|level| level.height).fold(0.0, f64::max)
    }

    /// True where somebody may be: on the playing area, in a wing or in a door.
    pub fn is_open(&self, at: Vec2) -> bool {
        let beside = || self.doors.iter().chain(&self.wings).any(|it| it.outline.contains(at));
        self.area.contains(at) || beside()
    }

    /// The wall or furniture in which a place is.
    pub fn piece_at(&self, at: Vec2) -> Option<&Raised> {
        let in_door = || self.doors.iter().any(|door| door.outline.contains(at));
        self.pieces.iter().find(|piece| piece.outline.contains(at)).filter(|_| !in_door())
    }

    /// The block of seats in which a place is.
    pub fn seats_at(&self, at: Vec2) -> Option<&Seats> {
        self.seats.iter().find(|seats| seats.outline.contains(at))
    }
}
