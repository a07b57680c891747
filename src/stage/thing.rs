//! What stands on a stage or beside it, each thing alike: for whoever draws it, and for whoever changes it.

use super::outline::Outline;
use super::plan::{Layout, Named, Raised, StagePlan};
use super::vec2::Vec2;

/// What something on the stage is.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Kind {
    /// Where there is playing.
    Area,
    /// A place beside it where somebody may wait.
    Wing,
    /// A block of seats.
    Seats,
    /// A platform.
    Level,
    /// Steps or a ramp.
    Steps,
    /// A wall or a piece of furniture.
    Piece,
    /// An opening.
    Door,
    /// An edge that one can fall off.
    Edge,
}

/// Something on the stage.
#[derive(Clone, Debug, PartialEq)]
pub struct Thing {
    /// What it is.
    pub kind: Kind,
    /// Its name; empty for the playing area.
    pub name: String,
    /// Its corners in order round it; the two ends of an edge.
    pub corners: Vec<Vec2>,
    /// How high its top is above the stage floor, how deep it goes down at an edge, or how high the floor of the seats is,
    /// metres; nothing for what has no height.
    pub height: Option<f64>,
    /// How high eyes are above the floor of the seats, metres.
    pub eyes: Option<f64>,
}

/// Everything of a layout in the order in which it is drawn, from below.
pub fn things(layout: &Layout) -> Vec<Thing> {
    without(layout, None)
}

/// What a set brings itself, without what stands on the bare stage; of the bare stage all; nothing of a set that is not there.
pub fn own_things(plan: &StagePlan, set: Option<&str>) -> Vec<Thing> {
    let Some(set) = set else { return things(&plan.bare) };
    let layout = plan.sets.iter().find(|it| it.name == set).map(|it| &it.layout);
    layout.map_or_else(Vec::new, |layout| without(layout, Some(&plan.bare)))
}

/// In a layout of a set the bare stage's things stand before its own.
fn without(layout: &Layout, house: Option<&Layout>) -> Vec<Thing> {
    let Layout { area, edges, levels, steps, pieces, doors, wings, seats } = layout;
    let count = |of: fn(&Layout) -> usize| house.map_or(0, of);
    let mut things = Vec::new();
    things.extend(wings.iter().skip(count(|it| it.wings.len())).map(|it| named(Kind::Wing, it)));
    things.extend(seats.iter().skip(count(|it| it.seats.len())).map(|it| Thing {
        height: Some(it.floor),
        eyes: Some(it.eyes),
        ..flat(Kind::Seats, &it.name, &it.outline)
    }));
    if house.is_none_or(|house| house.area != *area) {
        things.push(flat(Kind::Area, "", area));
    }
    things.extend(levels.iter().skip(count(|it| it.levels.len())).map(|it| raised(Kind::Level, it)));
    things.extend(steps.iter().skip(count(|it| it.steps.len())).map(|it| named(Kind::Steps, it)));
    things.extend(pieces.iter().skip(count(|it| it.pieces.len())).map(|it| raised(Kind::Piece, it)));
    things.extend(doors.iter().skip(count(|it| it.doors.len())).map(|it| named(Kind::Door, it)));
    things.extend(edges.iter().skip(count(|it| it.edges.len())).map(|it| Thing {
        kind: Kind::Edge,
        name: it.name.clone(),
        corners: vec![it.from, it.to],
        height: Some(it.drop),
        eyes: None,
    }));
    things
}

fn flat(kind: Kind, name: &str, outline: &Outline) -> Thing {
    Thing { kind, name: name.to_owned(), corners: outline.corners().to_vec(), height: None, eyes: None }
}

fn named(kind: Kind, it: &Named) -> Thing {
    flat(kind, &it.name, &it.outline)
}

fn raised(kind: Kind, it: &Raised) -> Thing {
    Thing { height: Some(it.height), ..flat(kind, &it.name, &it.outline) }
}
