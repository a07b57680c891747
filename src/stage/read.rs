//! Reads the stage's plan from a text that people write by hand. Whatever is wrong is said, with its line, and left out; the
//! rest is the plan. Without a playing area there is none.

use std::cell::RefCell;
use std::collections::BTreeMap;

use toml::de::DeValue;

use super::body::{Build, Pose};
use super::outline::Outline;
use super::plan::{Edge, Layout, LeastDistances, Named, Raised, Seats, StagePlan, StageSet};
use super::vec2::Vec2;
use crate::toml_table::{self, Table, TomlFile, TomlProblem};

/// A foot in metres, exactly (international yard and pound agreement, 1959).
pub const FOOT: f64 = 0.3048;
/// How high a wall or a piece of furniture is of which it is not said: higher than anybody's blow, so that no blow is taken to
/// pass over it. Assumption.
const USUAL_PIECE: f64 = 3.0;
/// How deep it goes down at an edge of which it is not said, and how far the seats' floor is below the stage: 1.02 to
/// 1.07 m is the usual height of a stage (a page on auditoriums after Ramsey and Sleeper 1970).
const USUAL_DROP: f64 = 1.05;
/// The eyes of somebody seated: 1.12 m (an adult woman) to 1.22 m (an adult man), Ramsey and Sleeper 1970 by the same page.
const USUAL_EYES: f64 = 1.17;
/// No stage is longer, and no number larger.
const FARTHEST: f64 = 500.0;
/// A playing area that is less than this across is more likely written in another unit.
const NARROWEST: f64 = 1.5;
/// More of one kind than this is a slip.
const MOST_OF_A_KIND: usize = 500;

/// Reads the plan; `name` is what the file is called in sentences. Gives what could be read, and everything that is wrong.
pub fn read(text: &str, name: &str) -> (Option<StagePlan>, Vec<TomlProblem>) {
    toml_table::read_what_is_sound(name, text, |file, top| {
        let words = [("metres", false), ("feet", true)];
        let feet = top.word(file, "units", &words).unwrap_or(false);
        let reader = Reader { feet, other: RefCell::default() };
        let plan = reader.plan(file, top);
        reader.mixed(file);
        plan
    })
}

struct Reader {
    feet: bool,
    /// What is written in the other unit.
    other: RefCell<Vec<String>>,
}

/// What a table of a set may take over from the bare stage.
#[derive(Default)]
struct Things {
    edges: Vec<Edge>,
    levels: Vec<Raised>,
    steps: Vec<Named>,
    pieces: Vec<Raised>,
    doors: Vec<Named>,
    wings: Vec<Named>,
    seats: Vec<Seats>,
}

impl Reader {
    fn plan(&self, file: &mut TomlFile<'_>, top: &mut Table<'_>) -> Option<StagePlan> {
        let (place, area) = (top.place_of("area"), self.outline(file, top, "area"));
        let things = self.things(file, top);
        let people = self.people(file, top);
        let least = self.least(file, top);
        let sets = top.table(file, "sets").named_tables(file);
        let Some(area) = area else {
            if !top.says("area") && place == (0..0) {
                let says = "is missing, so there is no plan: write the corners of the playing area, area = [[-5, 0], [5, 0], [5, 8], [-5, 8]]";
                file.problem(top.place(), "area", says);
            }
            return None;
        };
        let across = area.corners().iter().flat_map(|one| area.corners().iter().map(|other| one.distance(*other)));
        let across = across.fold(0.0, f64::max);
        if across < NARROWEST {
            let says = format!("is {across:.1} m across at the most; is it written in the units that the file names?");
            file.problem(place, "area", says);
        }
        let bare = things.layout(area, &Things::default());
        let mut on = BTreeMap::new();
        let sets = sets.into_iter().map(|(name, table)| {
            let (place, path) = (table.place_of("fights"), table.key("fights"));
            let set = self.set(file, name, table, (&bare, &things));
            for (fight, other) in on_two(&mut on, &set) {
                let says = format!(
                    "has “{fight}”, which is on the set “{other}” already, and that one counts; take it from one of them"
                );
                file.problem(place.clone(), &path, says);
            }
            set
        });
        let sets = sets.collect();
        let (people, poses) = people;
        Some(StagePlan { feet: self.feet, bare, sets, people, poses, least })
    }

    fn set(
        &self,
        file: &mut TomlFile<'_>,
        name: String,
        mut table: Table<'_>,
        (bare, house): (&Layout, &Things),
    ) -> StageSet {
        let fights = table.texts(file, "fights").unwrap_or_default();
        let area = self.outline(file, &mut table, "area").unwrap_or_else(|| bare.area.clone());
        let own = self.things(file, &mut table);
        table.finish(file);
        StageSet { name, fights, layout: own.layout(area, house) }
    }

    fn things(&self, file: &mut TomlFile<'_>, table: &mut Table<'_>) -> Things {
        Things {
            edges: self.each(file, table, "edges", |file, name, table| {
                let (from, to) = (self.point(file, table, "from"), self.point(file, table, "to"));
                let drop = self.length(file, table, "drop", 0.0..=50.0).unwrap_or(USUAL_DROP);
                let ((from, to), needed) = (from.zip(to)?, Vec2::distance);
                if needed(from, to) < 1e-6 {
                    file.problem(table.place(), table.path(), "begins where it ends; an edge has two ends");
                    return None;
                }
                Some(Edge { name, from, to, drop })
            }),
            levels: self.each(file, table, "levels", |file, name, table| {
                let outline = self.needed_outline(file, table);
                let height = self.length(file, table, "height", -5.0..=20.0);
                if height.is_none() && !table.says("height") {
                    file.problem(
                        table.place(),
                        table.path(),
                        "has no height; write how high its floor is above the stage",
                    );
                }
                Some(Raised { name, outline: outline?, height: height? })
            }),
            steps: self.each(file, table, "steps", |file, name, table| self.named(file, name, table)),
            pieces: self.each(file, table, "pieces", |file, name, table| {
                let outline = self.needed_outline(file, table);
                let height = self.length(file, table, "height", 0.0..=50.0).unwrap_or(USUAL_PIECE);
                Some(Raised { name, outline: outline?, height })
            }),
            doors: self.each(file, table, "doors", |file, name, table| self.named(file, name, table)),
            wings: self.each(file, table, "wings", |file, name, table| self.named(file, name, table)),
            seats: self.each(file, table, "seats", |file, name, table| {
                let outline = self.needed_outline(file, table);
                let floor = self.length(file, table, "floor", -20.0..=20.0).unwrap_or(-USUAL_DROP);
                let eyes = self.length(file, table, "eye_height", 0.3..=2.5).unwrap_or(USUAL_EYES);
                Some(Seats { name, outline: outline?, floor, eyes })
            }),
        }
    }

    fn named(&self, file: &mut TomlFile<'_>, name: String, table: &mut Table<'_>) -> Option<Named> {
        Some(Named { name, outline: self.needed_outline(file, table)? })
    }

    /// What stands in a table of tables.
    fn each<T>(
        &self,
        file: &mut TomlFile<'_>,
        table: &mut Table<'_>,
        key: &'static str,
        mut take: impl FnMut(&mut TomlFile<'_>, String, &mut Table<'_>) -> Option<T>,
    ) -> Vec<T> {
        let mut all = Vec::new();
        for (name, mut own) in table.table(file, key).named_tables(file) {
            if all.len() == MOST_OF_A_KIND {
                file.problem(own.place(), own.path(), format!("is one too many; {MOST_OF_A_KIND} are enough"));
                break;
            }
            all.extend(take(file, name, &mut own));
            own.finish(file);
        }
        all
    }

    fn people(
        &self,
        file: &mut TomlFile<'_>,
        top: &mut Table<'_>,
    ) -> (BTreeMap<String, Build>, BTreeMap<String, Pose>) {
        let poses = [
            ("standing", Pose::Standing),
            ("seated", Pose::Seated),
            ("kneeling", Pose::Kneeling),
            ("lying", Pose::Lying),
        ];
        let (mut builds, mut all) = (BTreeMap::new(), BTreeMap::new());
        for (name, mut own) in top.table(file, "people").named_tables(file) {
            let usual = self.length(file, &mut own, "stature", 0.5..=2.6).map_or_else(Build::default, Build::of);
            let reach = self.length(file, &mut own, "reach", 0.2..=1.5).unwrap_or(usual.reach);
            let pose = own.word(file, "posture", &poses);
            own.finish(file);
            builds.insert(name.clone(), Build { reach, ..usual });
            all.extend(pose.map(|pose| (name, pose)));
        }
        (builds, all)
    }

    fn least(&self, file: &mut TomlFile<'_>, top: &mut Table<'_>) -> LeastDistances {
        let mut table = top.table(file, "least");
        let usual = LeastDistances::default();
        let mut read = |key, usual| self.length(file, &mut table, key, 0.0..=10.0).unwrap_or(usual);
        let least = LeastDistances {
            bystander: read("bystander", usual.bystander),
            fighter: read("fighter", usual.fighter),
            audience: read("audience", usual.audience),
            piece: read("piece", usual.piece),
            edge: read("edge", usual.edge),
        };
        table.finish(file);
        least
    }

    fn needed_outline(&self, file: &mut TomlFile<'_>, table: &mut Table<'_>) -> Option<Outline> {
        if !table.says("outline") {
            file.problem(
                table.place(),
                table.path(),
                "has no outline; write its corners, outline = [[0, 0], [1, 0], [1, 1]]",
            );
        }
        self.outline(file, table, "outline")
    }

    fn outline(&self, file: &mut TomlFile<'_>, table: &mut Table<'_>, key: &'static str) -> Option<Outline> {
        let (place, path) = (table.place_of(key), table.key(key));
        let corners = table.list(file, key, |value| self.corner(value))?;
        Outline::new(corners).map_err(|unsound| file.problem(place, &path, unsound)).ok()
    }

    fn point(&self, file: &mut TomlFile<'_>, table: &mut Table<'_>, key: &'static str) -> Option<Vec2> {
        if !table.says(key) {
            let says = format!("has no {key}; write where it lies, {key} = [-5, 0]");
            file.problem(table.place(), table.path(), says);
        }
        table.value(file, key, |value| self.corner(value))
    }

    fn corner(&self, value: &DeValue<'_>) -> Result<Vec2, String> {
        let wanted = || "two numbers, to audience right and upstage, such as [-5, 0]".to_owned();
        let DeValue::Array(parts) = value else { return Err(wanted()) };
        let parts: Vec<_> = parts.iter().collect();
        let [x, y] = parts.as_slice() else { return Err(wanted()) };
        let (x, y) = (self.metres(x.get_ref())?, self.metres(y.get_ref())?);
        if x.abs().max(y.abs()) > FARTHEST { Err(format!("no number above {FARTHEST} m")) } else { Ok(Vec2::new(x, y)) }
    }

    fn length(
        &self,
        file: &mut TomlFile<'_>,
        table: &mut Table<'_>,
        key: &'static str,
        range: std::ops::RangeInclusive<f64>,
    ) -> Option<f64> {
        table.value(file, key, |value| {
            let (low, high) = (range.start() / self.unit(), range.end() / self.unit());
            let wanted = || format!("a length from {low:.1} to {high:.1} {}", self.units());
            self.metres(value).ok().filter(|metres| range.contains(metres)).ok_or_else(wanted)
        })
    }

    /// A length in metres: a number in the file's unit, or a text with its own.
    fn metres(&self, value: &DeValue<'_>) -> Result<f64, String> {
        let wanted = || "a number, or a length with its unit: \"1.5 m\", \"5 ft\" or \"5 ft 6 in\"".to_owned();
        let number = match value {
            DeValue::Integer(digits) => i64::from_str_radix(digits.as_str(), digits.radix()).ok().map(|it| it as f64),
            DeValue::Float(digits) => digits.as_str().parse::<f64>().ok(),
            DeValue::String(text) => {
                let (metres, feet) = length_of(text).ok_or_else(wanted)?;
                if feet != self.feet {
                    self.other.borrow_mut().push(text.trim().to_owned());
                }
                return Ok(metres);
            }
            _ => None,
        };
        number.filter(|it| it.is_finite()).map(|it| it * self.unit()).ok_or_else(wanted)
    }

    fn unit(&self) -> f64 {
        if self.feet { FOOT } else { 1.0 }
    }

    fn units(&self) -> &'static str {
        if self.feet { "feet" } else { "metres" }
    }

    /// Says that feet and metres are mixed; each is read as it is written.
    fn mixed(&self, file: &mut TomlFile<'_>) {
        if let Some(first) = self.other.borrow().first() {
            let says = format!(
                "is {}, and “{first}” is not in {}; it is read as it is written, but write all lengths in one unit",
                self.units(),
                self.units()
            );
            file.problem(0..0, "units", says);
        }
    }
}

/// Those of a set's fights that a set before it has already, each with that set; `on` knows all so far.
fn on_two(on: &mut BTreeMap<String, String>, set: &StageSet) -> Vec<(String, String)> {
    let mut twice = Vec::new();
    for fight in &set.fights {
        let first = on.entry(fight.clone()).or_insert_with(|| set.name.clone());
        if *first != set.name {
            twice.push((fight.clone(), first.clone()));
        }
    }
    twice
}

/// A length with its unit, in metres, and whether it is in feet.
fn length_of(text: &str) -> Option<(f64, bool)> {
    let text = text.trim();
    let number = |text: &str| text.trim().parse::<f64>().ok().filter(|it| it.is_finite());
    if let Some(metres) = text.strip_suffix('m') {
        return number(metres).map(|it| (it, false));
    }
    let (feet, inches) = match text.split_once("ft") {
        Some((feet, rest)) => (number(feet)?, rest.trim()),
        None => (0.0, text),
    };
    let inches = if inches.is_empty() { 0.0 } else { number(inches.strip_suffix("in")?)? };
    Some(((feet + inches / 12.0) * FOOT, true))
}

impl Things {
    /// The bare stage's things with these.
    fn layout(&self, area: Outline, house: &Things) -> Layout {
        fn both<T: Clone>(house: &[T], own: &[T]) -> Vec<T> {
            house.iter().chain(own).cloned().collect()
        }
        Layout {
            area,
            edges: both(&house.edges, &self.edges),
            levels: both(&house.levels, &self.levels),
            steps: both(&house.steps, &self.steps),
            pieces: both(&house.pieces, &self.pieces),
            doors: both(&house.doors, &self.doors),
            wings: both(&house.wings, &self.wings),
            seats: both(&house.seats, &self.seats),
        }
    }
}
