//! What is seen of a gap from a block of seats, and how that is said: from how many of them, and where in the block they are.

use super::plan::Layout;
use super::vec2::Vec2;

/// A share of a block from which it makes no sense to say where in it.
const NEARLY_ALL: f64 = 0.9;
/// How far off the middle of a block the middle of some of its seats lies when they are on one side of it, in halves of it.
const ASIDE: f64 = 0.2;
/// Half of a block of one row is no less than this, metres.
const SMALLEST: f64 = 0.25;

/// What is seen from a block of seats.
#[derive(Clone, Debug, PartialEq)]
pub struct View {
    /// The block, by its place in the layout.
    pub block: usize,
    /// Its places that were asked, and whether the gap is seen from each.
    pub seats: Vec<(Vec2, bool)>,
}

impl View {
    /// From how many seats it is seen.
    pub fn seen(&self) -> usize {
        self.seats.iter().filter(|(_, seen)| *seen).count()
    }

    /// From which share of the seats it is seen, 0 to 1.
    pub fn share(&self) -> f64 {
        self.seen() as f64 / self.seats.len().max(1) as f64
    }

    /// `from 12 % of “house”, mostly at stage right`, `nowhere in “house”`: to be put behind `seen`.
    pub fn says(&self, layout: &Layout) -> String {
        let name = layout.seats.get(self.block).map_or("", |it| it.name.as_str());
        match self.share() {
            0.0 => format!("nowhere in “{name}”"),
            share if share >= 1.0 => format!("everywhere in “{name}”"),
            // Few is not none, and nearly all is not all.
            share => {
                let percent = (share * 100.0).round().clamp(1.0, 99.0);
                format!("from {percent:.0} % of “{name}”{}", self.region(layout))
            }
        }
    }

    /// Where in the block those sit who see it, in the words of the stage.
    fn region(&self, layout: &Layout) -> String {
        if self.share() >= NEARLY_ALL {
            return String::new();
        }
        let middle = |seats: &mut dyn Iterator<Item = Vec2>| {
            let (sum, count) = seats.fold((Vec2::default(), 0.0), |(sum, count), at| (sum + at, count + 1.0));
            sum * (1.0 / f64::max(count, 1.0))
        };
        let off = middle(&mut self.seats.iter().filter(|it| it.1).map(|it| it.0))
            - middle(&mut self.seats.iter().map(|it| it.0));
        let half = |of: fn(&Vec2) -> f64| {
            let all = || self.seats.iter().map(|(at, _)| of(at));
            (all().fold(f64::NEG_INFINITY, f64::max) - all().fold(f64::INFINITY, f64::min)) / 2.0
        };
        let mut said: Vec<String> = Vec::new();
        // A block in front or behind has its rows across the stage, one beside it up and down.
        let beside = self.seats.iter().map(|(at, _)| *at - layout.area.nearest_on_rim(*at));
        let out = beside.fold(Vec2::default(), |sum, it| sum + it).unit().unwrap_or(Vec2::new(0.0, -1.0));
        let across = out.y.abs() >= out.x.abs();
        let (x, y) = (off.x / half(|it| it.x).max(SMALLEST), off.y / half(|it| it.y).max(SMALLEST));
        let (sideways, away) = if across { (x, y * out.y.signum()) } else { (y, x * out.x.signum()) };
        if sideways.abs() >= ASIDE {
            let (more, less) =
                if across { ("stage left", "stage right") } else { ("the upstage end", "the downstage end") };
            said.push(format!("at {}", if sideways > 0.0 { more } else { less }));
        }
        if away.abs() >= ASIDE {
            said.push(format!("in the rows {} the stage", if away > 0.0 { "far from" } else { "near" }));
        }
        if said.is_empty() { String::new() } else { format!(", mostly {}", said.join(" and ")) }
    }
}
