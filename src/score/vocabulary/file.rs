//! The vocabulary's TOML form. A row in a file is a patch: laid over the row of the same name it changes only the
//! fields it gives; a new word has to give them all. What comes out is checked, so that nothing after this has to ask.

use std::collections::BTreeMap;

use serde::Deserialize;
use toml::Spanned;

use super::Vocabulary;
use super::check::check;
use super::lines::{Line, Turn};
use super::places::{Fault, Places};
use super::rows::{
    Across, Action, Effect, Height, Makes, Need, Parry, Posture, Reaction, Reply, ReplyKind, SoundWord, Target, Touch,
    Vital, Weapon, Words,
};
use crate::score::position::Lines;
use crate::units::{Metres, Micros};

/// How a production's vocabulary meets the built-in one.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Mode {
    /// Rows are laid over the built-in rows of the same name; all other built-in rows stay.
    #[default]
    Extend,
    /// Nothing is taken from the built-in vocabulary.
    Replace,
}

/// A vocabulary file that cannot be used. Mend the line and try again.
#[derive(Clone, Debug, PartialEq, Eq, thiserror::Error)]
#[error("{file}, line {line}: {message}")]
pub struct VocabularyError {
    /// The file.
    pub file: String,
    /// The line, counted from 1.
    pub line: usize,
    /// What is wrong with it and what to do.
    pub message: String,
}

/// Reads a file, over `base` when there is one.
pub(super) fn read(text: &str, file_name: &str, base: Option<&Vocabulary>) -> Result<Vocabulary, VocabularyError> {
    let error = |(byte, message): Fault| VocabularyError {
        file: file_name.to_owned(),
        line: Lines::new(text).position(byte).line,
        message,
    };
    let file: File = toml::from_str(text).map_err(|fault| {
        let message = fault.message().trim_end_matches('.').replace('\n', ", ");
        error((fault.span().map_or(0, |span| span.start), message))
    })?;
    let places = file.places();
    let mut vocabulary = file.over(base).map_err(error)?;
    vocabulary.texts.0.push(text.into());
    check(&vocabulary, &places).map_err(error)?;
    Ok(vocabulary)
}

type Rows<T> = BTreeMap<String, Spanned<T>>;

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct File {
    reaction: Option<Spanned<ReactionPatch>>,
    #[serde(default)]
    actions: Rows<ActionPatch>,
    #[serde(default)]
    targets: Rows<TargetPatch>,
    #[serde(default)]
    replies: Rows<ReplyPatch>,
    #[serde(default)]
    parries: Rows<ParryPatch>,
    #[serde(default)]
    weapons: Rows<WeaponPatch>,
    #[serde(default)]
    sounds: Rows<SoundPatch>,
}

impl File {
    fn places(&self) -> Places {
        let mut places = Places::new();
        note(&mut places, "actions", &self.actions);
        note(&mut places, "targets", &self.targets);
        note(&mut places, "replies", &self.replies);
        note(&mut places, "parries", &self.parries);
        note(&mut places, "weapons", &self.weapons);
        note(&mut places, "sounds", &self.sounds);
        places
    }

    fn over(self, base: Option<&Vocabulary>) -> Result<Vocabulary, Fault> {
        let reaction = match self.reaction {
            Some(row) => {
                let at = row.span().start;
                row.into_inner()
                    .over(base.map(|base| &base.reaction))
                    .map_err(|field| missing(at, "reaction", field))?
            }
            None => base.map(|base| base.reaction.clone()).ok_or_else(|| {
                (0, "the table [reaction] is missing; give it least_ms, usual_ms, most_ms and source".to_owned())
            })?,
        };
        Ok(Vocabulary {
            reaction,
            actions: merge("actions", self.actions, base.map(|base| &base.actions))?,
            targets: merge("targets", self.targets, base.map(|base| &base.targets))?,
            replies: merge("replies", self.replies, base.map(|base| &base.replies))?,
            parries: merge("parries", self.parries, base.map(|base| &base.parries))?,
            weapons: merge("weapons", self.weapons, base.map(|base| &base.weapons))?,
            sounds: merge("sounds", self.sounds, base.map(|base| &base.sounds))?,
            texts: base.map(|base| base.texts.clone()).unwrap_or_default(),
        })
    }
}

fn note<T>(places: &mut Places, table: &'static str, rows: &Rows<T>) {
    places.extend(rows.iter().map(|(word, row)| ((table, word.clone()), row.span().start)));
}

fn missing(at: usize, row: &str, field: &str) -> Fault {
    (at, format!("`{row}` has no `{field}`; a new row needs it"))
}

fn merge<T: Patch>(
    table: &str,
    rows: Rows<T>,
    base: Option<&BTreeMap<String, T::Row>>,
) -> Result<BTreeMap<String, T::Row>, Fault>
where
    T::Row: Clone,
{
    let mut merged = base.cloned().unwrap_or_default();
    for (word, row) in rows {
        let at = row.span().start;
        let before = merged.get(&word);
        let after = row.into_inner().over(before).map_err(|field| missing(at, &format!("{table}.{word}"), field))?;
        merged.insert(word, after);
    }
    Ok(merged)
}

/// A row as a file gives it.
trait Patch {
    /// The row it becomes.
    type Row;
    /// Lays the patch over a row; names the field that neither of them has.
    fn over(self, base: Option<&Self::Row>) -> Result<Self::Row, &'static str>;
}

/// The patch's field, or the row's, or the name of the field as the error.
fn field<T>(given: Option<T>, before: Option<T>, name: &'static str) -> Result<T, &'static str> {
    given.or(before).ok_or(name)
}

/// The patch's word, or the row's; an empty one takes the row's away.
fn named(given: Option<String>, before: Option<&String>) -> Option<String> {
    given.or_else(|| before.cloned()).filter(|word| !word.is_empty())
}

fn millis(given: Option<u32>) -> Option<Micros> {
    given.map(|value| Micros::millis(i64::from(value)))
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ReactionPatch {
    least_ms: Option<u32>,
    usual_ms: Option<u32>,
    most_ms: Option<u32>,
    source: Option<String>,
}

impl Patch for ReactionPatch {
    type Row = Reaction;
    fn over(self, base: Option<&Reaction>) -> Result<Reaction, &'static str> {
        Ok(Reaction {
            least: field(millis(self.least_ms), base.map(|row| row.least), "least_ms")?,
            usual: field(millis(self.usual_ms), base.map(|row| row.usual), "usual_ms")?,
            most: field(millis(self.most_ms), base.map(|row| row.most), "most_ms")?,
            source: field(self.source, base.map(|row| row.source.clone()), "source")?,
        })
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ActionPatch {
    targets: Option<Vec<String>>,
    target_needed: Option<bool>,
    touch: Option<Touch>,
    attack: Option<bool>,
    least_ms: Option<u32>,
    after_parry_ms: Option<u32>,
    after_ms: Option<u32>,
    straight: Option<bool>,
    needs: Option<Vec<Need>>,
    makes: Option<Vec<Makes>>,
    names_weapon: Option<bool>,
    sound: Option<String>,
    needs_weapon: Option<bool>,
    posture: Option<Posture>,
    effects: Option<Vec<Effect>>,
    source: Option<String>,
}

impl Patch for ActionPatch {
    type Row = Action;
    fn over(self, base: Option<&Action>) -> Result<Action, &'static str> {
        let targets = self.targets.or_else(|| base.map(|row| row.targets.clone())).unwrap_or_default();
        let needed = self.target_needed.or_else(|| base.map(|row| row.target_needed)).unwrap_or(true);
        Ok(Action {
            target_needed: needed && !targets.is_empty(),
            targets,
            touch: field(self.touch, base.map(|row| row.touch), "touch")?,
            attack: field(self.attack, base.map(|row| row.attack), "attack")?,
            least: field(millis(self.least_ms), base.map(|row| row.least), "least_ms")?,
            after_parry: millis(self.after_parry_ms).or_else(|| base.and_then(|row| row.after_parry)),
            after: millis(self.after_ms).or_else(|| base.map(|row| row.after)).unwrap_or(Micros::ZERO),
            straight: self.straight.or_else(|| base.map(|row| row.straight)).unwrap_or(false),
            needs: self.needs.or_else(|| base.map(|row| row.needs.clone())).unwrap_or_default(),
            makes: self.makes.or_else(|| base.map(|row| row.makes.clone())).unwrap_or_default(),
            names_weapon: self.names_weapon.or_else(|| base.map(|row| row.names_weapon)).unwrap_or(false),
            sound: self.sound.or_else(|| base.and_then(|row| row.sound.clone())).filter(|sound| !sound.is_empty()),
            needs_weapon: field(self.needs_weapon, base.map(|row| row.needs_weapon), "needs_weapon")?,
            posture: self.posture.or_else(|| base.map(|row| row.posture)).unwrap_or_default(),
            effects: self.effects.or_else(|| base.map(|row| row.effects.clone())).unwrap_or_default(),
            source: field(self.source, base.map(|row| row.source.clone()), "source")?,
        })
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct TargetPatch {
    heights: Option<Vec<Height>>,
    sided: Option<bool>,
    across: Option<Across>,
    takes: Option<Vec<String>>,
    vital: Option<Vital>,
    pins: Option<bool>,
    other_height: Option<String>,
    source: Option<String>,
}

impl Patch for TargetPatch {
    type Row = Target;
    fn over(self, base: Option<&Target>) -> Result<Target, &'static str> {
        Ok(Target {
            heights: field(self.heights, base.map(|row| row.heights.clone()), "heights")?,
            sided: field(self.sided, base.map(|row| row.sided), "sided")?,
            across: self.across.or_else(|| base.map(|row| row.across)).unwrap_or_default(),
            takes: field(self.takes, base.map(|row| row.takes.clone()), "takes")?,
            vital: self.vital.or_else(|| base.map(|row| row.vital)).unwrap_or_default(),
            pins: self.pins.or_else(|| base.map(|row| row.pins)).unwrap_or(true),
            other_height: named(self.other_height, base.and_then(|row| row.other_height.as_ref())),
            source: field(self.source, base.map(|row| row.source.clone()), "source")?,
        })
    }
}

#[derive(Deserialize)]
#[serde(untagged, expecting = "expected \"any\" or a list of words")]
enum WordsPatch {
    Any(AnyWord),
    These(Vec<String>),
}

#[derive(Deserialize)]
enum AnyWord {
    #[serde(rename = "any")]
    Any,
}

impl From<WordsPatch> for Words {
    fn from(patch: WordsPatch) -> Words {
        match patch {
            WordsPatch::Any(AnyWord::Any) => Words::Any,
            WordsPatch::These(words) => Words::These(words),
        }
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ReplyPatch {
    kind: Option<ReplyKind>,
    actions: Option<WordsPatch>,
    targets: Option<WordsPatch>,
    least_ms: Option<u32>,
    after_ms: Option<u32>,
    needs: Option<Vec<Need>>,
    makes: Option<Vec<Makes>>,
    with_attack: Option<bool>,
    other_height: Option<String>,
    needs_weapon: Option<bool>,
    posture: Option<Posture>,
    effects: Option<Vec<Effect>>,
    source: Option<String>,
}

impl Patch for ReplyPatch {
    type Row = Reply;
    fn over(self, base: Option<&Reply>) -> Result<Reply, &'static str> {
        Ok(Reply {
            kind: field(self.kind, base.map(|row| row.kind), "kind")?,
            actions: field(self.actions.map(Words::from), base.map(|row| row.actions.clone()), "actions")?,
            targets: field(self.targets.map(Words::from), base.map(|row| row.targets.clone()), "targets")?,
            least: field(millis(self.least_ms), base.map(|row| row.least), "least_ms")?,
            after: millis(self.after_ms).or_else(|| base.map(|row| row.after)).unwrap_or(Micros::ZERO),
            needs: self.needs.or_else(|| base.map(|row| row.needs.clone())).unwrap_or_default(),
            makes: self.makes.or_else(|| base.map(|row| row.makes.clone())).unwrap_or_default(),
            with_attack: self.with_attack.or_else(|| base.map(|row| row.with_attack)).unwrap_or(false),
            other_height: named(self.other_height, base.and_then(|row| row.other_height.as_ref())),
            needs_weapon: field(self.needs_weapon, base.map(|row| row.needs_weapon), "needs_weapon")?,
            posture: self.posture.or_else(|| base.map(|row| row.posture)).unwrap_or_default(),
            effects: self.effects.or_else(|| base.map(|row| row.effects.clone())).unwrap_or_default(),
            source: field(self.source, base.map(|row| row.source.clone()), "source")?,
        })
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct ParryPatch {
    names: Option<Vec<String>>,
    closes: Option<Line>,
    also_closes: Option<Vec<Line>>,
    hand: Option<Turn>,
    school_dependent: Option<bool>,
    source: Option<String>,
}

impl Patch for ParryPatch {
    type Row = Parry;
    fn over(self, base: Option<&Parry>) -> Result<Parry, &'static str> {
        Ok(Parry {
            names: field(self.names, base.map(|row| row.names.clone()), "names")?,
            closes: field(self.closes, base.map(|row| row.closes), "closes")?,
            also_closes: self.also_closes.or_else(|| base.map(|row| row.also_closes.clone())).unwrap_or_default(),
            hand: field(self.hand, base.map(|row| row.hand), "hand")?,
            school_dependent: self.school_dependent.or_else(|| base.map(|row| row.school_dependent)).unwrap_or(false),
            source: field(self.source, base.map(|row| row.source.clone()), "source")?,
        })
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct WeaponPatch {
    blade_m: Option<f64>,
    total_m: Option<f64>,
    hands: Option<u8>,
    weight: Option<u8>,
    armed: Option<bool>,
    source: Option<String>,
}

impl Patch for WeaponPatch {
    type Row = Weapon;
    fn over(self, base: Option<&Weapon>) -> Result<Weapon, &'static str> {
        Ok(Weapon {
            blade: field(self.blade_m.map(Metres), base.map(|row| row.blade), "blade_m")?,
            total: field(self.total_m.map(Metres), base.map(|row| row.total), "total_m")?,
            hands: field(self.hands, base.map(|row| row.hands), "hands")?,
            weight: self.weight.or_else(|| base.map(|row| row.weight)).unwrap_or(2),
            armed: self.armed.or_else(|| base.map(|row| row.armed)).unwrap_or(true),
            source: field(self.source, base.map(|row| row.source.clone()), "source")?,
        })
    }
}

#[derive(Deserialize)]
#[serde(deny_unknown_fields)]
struct SoundPatch {
    about: Option<String>,
    source: Option<String>,
}

impl Patch for SoundPatch {
    type Row = SoundWord;
    fn over(self, base: Option<&SoundWord>) -> Result<SoundWord, &'static str> {
        Ok(SoundWord {
            about: field(self.about, base.map(|row| row.about.clone()), "about")?,
            source: field(self.source, base.map(|row| row.source.clone()), "source")?,
        })
    }
}
