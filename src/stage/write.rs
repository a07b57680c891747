//! Writes what is drawn into the text of a plan that people annotate: one thing at a time, and of it only what is another. Notes,
//! order and everything else of the text stay as they are. What is written is read as the same again.

use toml_edit::{Array, DocumentMut, InlineTable, Item, Table, TableLike, Value};

use super::outline::Outline;
use super::plan::StagePlan;
use super::read::{FOOT, read};
use super::thing::{Kind, Thing, own_things};
use super::vec2::Vec2;

/// A change of one thing.
#[derive(Clone, Debug, PartialEq)]
pub struct Edit {
    /// The set that it belongs to; nothing for what stands there always.
    pub set: Option<String>,
    /// What it is.
    pub kind: Kind,
    /// What it is called so far; nothing for a thing that is new. Without a meaning for the playing area.
    pub was: Option<String>,
    /// How it is to be; nothing takes it away.
    pub now: Option<Thing>,
}

/// Why nothing was written, as a sentence.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
pub enum NotWritten {
    /// Mend the text by hand.
    #[error("The text of stage.toml is no TOML as it is. Mend what is marked first.")]
    NoToml,
    /// Choose another name.
    #[error("{0}")]
    Name(String),
    /// Draw it otherwise.
    #[error("It {0}.")]
    Outline(String),
    /// It is not there any more.
    #[error("“{0}” is not in the text any more.")]
    Gone(String),
    /// Mend the line by hand.
    #[error("“{0}” is written as something else. Mend what is marked first.")]
    Other(String),
    /// Choose a fight that is there.
    #[error("There is no “{0}” in the production any more. Choose again.")]
    NoFight(String),
    /// Take the fight from the other set first.
    #[error("“{fight}” is on the set “{set}” already. Take it from there first.")]
    Taken {
        /// The fight, or `Fight: Phrase`.
        fight: String,
        /// The set that it is on.
        set: String,
    },
}

/// The longest name of a thing, or of a set.
const LONGEST_NAME: usize = 60;
/// Lengths are written to a hundredth of the file's unit.
const FINEST: f64 = 100.0;

/// The text with that change; the same text where nothing changes.
///
/// # Errors
/// [`NotWritten`], with the text as it was.
pub fn edited(text: &str, edit: &Edit) -> Result<String, NotWritten> {
    let mut document: DocumentMut = text.parse().map_err(|_| NotWritten::NoToml)?;
    let (plan, _) = read(text, "stage.toml");
    let feet = document.get("units").and_then(Item::as_str) == Some("feet");
    let before = plan.as_ref().and_then(|plan| thing_of(plan, edit));
    if let Some(now) = &edit.now {
        is_sound(now)?;
    }
    if before.is_some() && before == edit.now {
        return Ok(text.to_owned());
    }
    let writer = Writer { unit: if feet { FOOT } else { 1.0 } };
    match &edit.set {
        None => writer.change(document.as_table_mut(), edit, before.as_ref())?,
        Some(set) => {
            let missing = || NotWritten::Gone(set.clone());
            let sets = document.get_mut("sets").and_then(Item::as_table_like_mut).ok_or_else(missing)?;
            let own = sets.get_mut(set).and_then(Item::as_table_like_mut).ok_or_else(missing)?;
            writer.change(own, edit, before.as_ref())?;
        }
    }
    Ok(document.to_string())
}

fn thing_of(plan: &StagePlan, edit: &Edit) -> Option<Thing> {
    let was = if edit.kind == Kind::Area { Some("") } else { edit.was.as_deref() }?;
    own_things(plan, edit.set.as_deref()).into_iter().find(|it| it.kind == edit.kind && it.name == was)
}

fn is_sound(thing: &Thing) -> Result<(), NotWritten> {
    if thing.kind != Kind::Area {
        sound_name(&thing.name)?;
    }
    if thing.corners.iter().any(|it| !it.is_finite()) || thing.height.is_some_and(|it| !it.is_finite()) {
        return Err(NotWritten::Outline("has a length that is no number".to_owned()));
    }
    if thing.kind != Kind::Edge {
        return Outline::new(thing.corners.clone()).map(drop).map_err(NotWritten::Outline);
    }
    match thing.corners.as_slice() {
        [from, to] if from.distance(*to) >= 1e-6 => Ok(()),
        _ => Err(NotWritten::Outline("begins where it ends; an edge has two ends".to_owned())),
    }
}

/// A name that something on the stage, or a set, can have.
pub(super) fn sound_name(name: &str) -> Result<(), NotWritten> {
    if name.trim().is_empty() || name.chars().count() > LONGEST_NAME {
        return Err(NotWritten::Name(format!("It needs a name, of {LONGEST_NAME} letters at the most.")));
    }
    if name.chars().any(char::is_control) {
        return Err(NotWritten::Name("A name is one line.".to_owned()));
    }
    Ok(())
}

struct Writer {
    /// The unit of the file, metres.
    unit: f64,
}

impl Writer {
    fn change(&self, home: &mut dyn TableLike, edit: &Edit, before: Option<&Thing>) -> Result<(), NotWritten> {
        let Some(list) = list_of(edit.kind) else {
            match &edit.now {
                Some(now) => put(home, "area", self.places(&now.corners)),
                None => {
                    return Err(NotWritten::Outline("cannot be taken away: without it there is no plan".to_owned()));
                }
            }
            return Ok(());
        };
        let Some(now) = &edit.now else {
            return self.take_away(home, list, edit.was.as_deref().unwrap_or_default());
        };
        if edit.was.as_deref() != Some(now.name.as_str()) && has(home, list, &now.name) {
            return Err(NotWritten::Name(format!(
                "There is a “{}” among these already. Choose another name.",
                now.name
            )));
        }
        if !home.contains_key(list) {
            let mut all = Table::new();
            all.set_implicit(true);
            home.insert(list, Item::Table(all));
        }
        let all = home.get_mut(list).and_then(Item::as_table_like_mut);
        let all = all.ok_or_else(|| NotWritten::Gone(list.to_owned()))?;
        match &edit.was {
            None => drop(all.insert(&now.name, new_entry(all.is_dotted()))),
            Some(was) if *was != now.name => {
                let kept = all.remove(was).ok_or_else(|| NotWritten::Gone(was.clone()))?;
                all.insert(&now.name, kept);
            }
            Some(_) => {}
        }
        let own = all.get_mut(&now.name).and_then(Item::as_table_like_mut);
        let own = own.ok_or_else(|| NotWritten::Gone(now.name.clone()))?;
        self.fill(own, now, before);
        Ok(())
    }

    fn take_away(&self, home: &mut dyn TableLike, list: &str, was: &str) -> Result<(), NotWritten> {
        let gone = || NotWritten::Gone(was.to_owned());
        let all = home.get_mut(list).and_then(Item::as_table_like_mut).ok_or_else(gone)?;
        all.remove(was).map(drop).ok_or_else(gone)
    }

    /// Writes what is another than before.
    fn fill(&self, own: &mut dyn TableLike, now: &Thing, before: Option<&Thing>) {
        if before.is_none_or(|before| before.corners != now.corners) {
            match (now.kind, now.corners.as_slice()) {
                (Kind::Edge, [from, to]) => {
                    put(own, "from", self.place(*from));
                    put(own, "to", self.place(*to));
                }
                _ => put(own, "outline", self.places(&now.corners)),
            }
        }
        let height = match now.kind {
            Kind::Edge => Some("drop"),
            Kind::Seats => Some("floor"),
            Kind::Level | Kind::Piece => Some("height"),
            Kind::Area | Kind::Wing | Kind::Steps | Kind::Door => None,
        };
        let other = |of: fn(&Thing) -> Option<f64>| of(now).filter(|_| before.is_none_or(|it| of(it) != of(now)));
        if let Some((key, height)) = height.zip(other(|it| it.height)) {
            put(own, key, self.length(height));
        }
        if let Some(eyes) = other(|it| it.eyes).filter(|_| now.kind == Kind::Seats) {
            put(own, "eye_height", self.length(eyes));
        }
    }

    fn places(&self, corners: &[Vec2]) -> Value {
        Value::Array(corners.iter().map(|it| self.place(*it)).collect())
    }

    fn place(&self, at: Vec2) -> Value {
        Value::Array([at.x, at.y].into_iter().map(|it| self.length(it)).collect::<Array>())
    }

    /// A length in the file's unit, to a hundredth of it; whole ones without a point.
    fn length(&self, metres: f64) -> Value {
        let hundredths = (metres / self.unit * FINEST).round();
        if hundredths % FINEST == 0.0 {
            return Value::from((hundredths / FINEST) as i64);
        }
        Value::from(hundredths / FINEST)
    }
}

/// The list of a kind; nothing for the playing area, which has none.
const fn list_of(kind: Kind) -> Option<&'static str> {
    match kind {
        Kind::Area => None,
        Kind::Wing => Some("wings"),
        Kind::Seats => Some("seats"),
        Kind::Level => Some("levels"),
        Kind::Steps => Some("steps"),
        Kind::Piece => Some("pieces"),
        Kind::Door => Some("doors"),
        Kind::Edge => Some("edges"),
    }
}

fn has(home: &dyn TableLike, list: &str, name: &str) -> bool {
    home.get(list).and_then(Item::as_table_like).is_some_and(|all| all.contains_key(name))
}

/// A thing that is new, as the others of its list are written.
pub(super) fn new_entry(dotted: bool) -> Item {
    if dotted {
        return Item::Value(Value::InlineTable(InlineTable::new()));
    }
    let mut own = Table::new();
    own.decor_mut().set_prefix("\n");
    Item::Table(own)
}

/// Puts a value where one was, with the note that stands beside it.
pub(super) fn put(own: &mut dyn TableLike, key: &str, mut value: Value) {
    if let Some(old) = own.get(key).and_then(Item::as_value) {
        *value.decor_mut() = old.decor().clone();
    }
    match own.get_mut(key) {
        Some(item) => *item = Item::Value(value),
        None => drop(own.insert(key, Item::Value(value))),
    }
}
