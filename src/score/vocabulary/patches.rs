//! The fields of each kind of row, read from a file over the row that there was before.

use super::drawing::Drawing;
use super::patch::{Patch, any_length, choice, choices, length, source};
use super::rows::{
    Across, Action, OwnPicture, Parry, Posture, Reaction, Reply, SoundWord, Target, Vital, Weapon, Words,
};
use crate::toml_table::{Table, TomlFile};
use crate::units::{Metres, Micros};

/// The longest weapon, in metres.
const LONGEST_WEAPON: f64 = 10.0;
/// The weight of a weapon of which none is given: middling.
const USUAL_WEIGHT: u8 = 2;

pub(super) fn reaction(patch: &mut Patch<'_, '_, '_, Reaction>) -> Option<Reaction> {
    let least = patch.needed("least_ms", length, |row| row.least);
    let usual = patch.needed("usual_ms", length, |row| row.usual);
    let most = patch.needed("most_ms", length, |row| row.most);
    let source = patch.needed("source", Table::text_as_written, |row| row.source.clone());
    Some(Reaction { least: least?, usual: usual?, most: most?, source: source? })
}

pub(super) fn action(patch: &mut Patch<'_, '_, '_, Action>) -> Option<Action> {
    let targets = patch.usual("targets", Table::texts_as_written, |row| row.targets.clone(), Vec::new());
    let target_needed = patch.usual("target_needed", Table::flag, |row| row.target_needed, true);
    let touch = patch.needed("touch", choice, |row| row.touch);
    let attack = patch.needed("attack", Table::flag, |row| row.attack);
    let least = patch.needed("least_ms", length, |row| row.least);
    let after_parry =
        patch.usual("after_parry_ms", |t, f, key| any_length(t, f, key).map(Some), |row| row.after_parry, None);
    let after = patch.usual("after_ms", length, |row| row.after, Micros::ZERO);
    let straight = patch.usual("straight", Table::flag, |row| row.straight, false);
    let lifts = patch.usual("lifts", Table::flag, |row| row.lifts, false);
    let open_hand = patch.usual("open_hand", Table::flag, |row| row.open_hand, false);
    let needs = patch.usual("needs", choices, |row| row.needs.clone(), Vec::new());
    let makes = patch.usual("makes", choices, |row| row.makes.clone(), Vec::new());
    let names_weapon = patch.usual("names_weapon", Table::flag, |row| row.names_weapon, false);
    let sound = patch.name("sound", |row| row.sound.clone());
    let needs_weapon = patch.needed("needs_weapon", Table::flag, |row| row.needs_weapon);
    let posture = patch.usual("posture", choice, |row| row.posture, Posture::default());
    let effects = patch.usual("effects", choices, |row| row.effects.clone(), Vec::new());
    let limb = patch.usual("limb", |t, f, key| choice(t, f, key).map(Some), |row| row.limb, None);
    let goes = patch.usual("goes", |t, f, key| choice(t, f, key).map(Some), |row| row.goes, None);
    let picture = own_picture(patch, |row| row.picture.as_ref());
    let travel = patch.usual("travel_m", |t, f, key| metres(t, f, key).map(Some), |row| row.travel, None);
    let out = patch.usual("out_m", |t, f, key| metres(t, f, key).map(Some), |row| row.out, None);
    let sends = patch.usual("sends_m", |t, f, key| metres(t, f, key).map(Some), |row| row.sends, None);
    let sweep = patch.usual("sweep_degrees", |t, f, key| small(t, f, key, 180).map(Some), |row| row.sweep, None);
    let source = patch.needed("source", source, |row| row.source.clone());
    Some(Action {
        target_needed: target_needed && !targets.is_empty(),
        targets,
        touch: touch?,
        attack: attack?,
        least: least?,
        after_parry,
        after,
        straight,
        lifts,
        open_hand,
        needs,
        makes,
        names_weapon,
        sound,
        needs_weapon: needs_weapon?,
        posture,
        effects,
        limb,
        goes,
        picture,
        travel,
        out,
        sends,
        sweep,
        source: source?,
    })
}

pub(super) fn target(patch: &mut Patch<'_, '_, '_, Target>) -> Option<Target> {
    let heights = patch.needed("heights", choices, |row| row.heights.clone());
    let sided = patch.needed("sided", Table::flag, |row| row.sided);
    let across = patch.usual("across", choice, |row| row.across, Across::default());
    let takes = patch.needed("takes", Table::texts_as_written, |row| row.takes.clone());
    let vital = patch.usual("vital", choice, |row| row.vital, Vital::default());
    let pins = patch.usual("pins", Table::flag, |row| row.pins, true);
    let leg = patch.usual("leg", Table::flag, |row| row.leg, false);
    let body = patch.usual("body", Table::flag, |row| row.body, true);
    let gripped = patch.usual("gripped", Table::flag, |row| row.gripped, false);
    let other_height = patch.name("other_height", |row| row.other_height.clone());
    let part = patch.usual("part", |t, f, key| choice(t, f, key).map(Some), |row| row.part, None);
    let along = patch.usual("along", |t, f, key| small(t, f, key, 100).map(Some), |row| row.along, None);
    let source = patch.needed("source", source, |row| row.source.clone());
    Some(Target {
        heights: heights?,
        sided: sided?,
        across,
        takes: takes?,
        vital,
        pins,
        leg,
        body,
        gripped,
        other_height,
        part,
        along,
        source: source?,
    })
}

pub(super) fn reply(patch: &mut Patch<'_, '_, '_, Reply>) -> Option<Reply> {
    let kind = patch.needed("kind", choice, |row| row.kind);
    let actions = patch.needed("actions", words, |row| row.actions.clone());
    let targets = patch.needed("targets", words, |row| row.targets.clone());
    let least = patch.needed("least_ms", length, |row| row.least);
    let after = patch.usual("after_ms", length, |row| row.after, Micros::ZERO);
    let needs = patch.usual("needs", choices, |row| row.needs.clone(), Vec::new());
    let makes = patch.usual("makes", choices, |row| row.makes.clone(), Vec::new());
    let with_attack = patch.usual("with_attack", Table::flag, |row| row.with_attack, false);
    let other_height = patch.name("other_height", |row| row.other_height.clone());
    let needs_weapon = patch.needed("needs_weapon", Table::flag, |row| row.needs_weapon);
    let posture = patch.usual("posture", choice, |row| row.posture, Posture::default());
    let effects = patch.usual("effects", choices, |row| row.effects.clone(), Vec::new());
    let goes = patch.usual("goes", |t, f, key| choice(t, f, key).map(Some), |row| row.goes, None);
    let picture = own_picture(patch, |row| row.picture.as_ref());
    let travel = patch.usual("travel_m", |t, f, key| metres(t, f, key).map(Some), |row| row.travel, None);
    let source = patch.needed("source", source, |row| row.source.clone());
    Some(Reply {
        kind: kind?,
        actions: actions?,
        targets: targets?,
        least: least?,
        after,
        needs,
        makes,
        with_attack,
        other_height,
        needs_weapon: needs_weapon?,
        posture,
        effects,
        goes,
        picture,
        travel,
        source: source?,
    })
}

pub(super) fn parry(patch: &mut Patch<'_, '_, '_, Parry>) -> Option<Parry> {
    let names = patch.needed("names", Table::texts_as_written, |row| row.names.clone());
    let closes = patch.needed("closes", choice, |row| row.closes);
    let also_closes = patch.usual("also_closes", choices, |row| row.also_closes.clone(), Vec::new());
    let hand = patch.needed("hand", choice, |row| row.hand);
    let school_dependent = patch.usual("school_dependent", Table::flag, |row| row.school_dependent, false);
    let source = patch.needed("source", source, |row| row.source.clone());
    Some(Parry { names: names?, closes: closes?, also_closes, hand: hand?, school_dependent, source: source? })
}

pub(super) fn weapon(patch: &mut Patch<'_, '_, '_, Weapon>) -> Option<Weapon> {
    let blade = patch.needed("blade_m", metres, |row| row.blade);
    let total = patch.needed("total_m", metres, |row| row.total);
    let hands = patch.needed("hands", |t, f, key| small(t, f, key, 2), |row| row.hands);
    let weight = patch.usual("weight", |t, f, key| small(t, f, key, u8::MAX), |row| row.weight, USUAL_WEIGHT);
    let slower = patch.usual("slower_percent", |t, f, key| small(t, f, key, 100), |row| row.slower, 0);
    let sharp = patch.usual("sharp", Table::flag, |row| row.sharp, false);
    let armed = patch.usual("armed", Table::flag, |row| row.armed, true);
    let source = patch.needed("source", source, |row| row.source.clone());
    Some(Weapon { blade: blade?, total: total?, hands: hands?, weight, slower, sharp, armed, source: source? })
}

pub(super) fn sound(patch: &mut Patch<'_, '_, '_, SoundWord>) -> Option<SoundWord> {
    let about = patch.needed("about", Table::text_as_written, |row| row.about.clone());
    let source = patch.needed("source", source, |row| row.source.clone());
    Some(SoundWord { about: about?, source: source? })
}

pub(super) fn drawing(patch: &mut Patch<'_, '_, '_, Drawing>) -> Option<Drawing> {
    let data = |table: &mut Table<'_>, file: &mut TomlFile<'_>, key| table.read_text(file, key, Drawing::written);
    patch.needed("data", data, Drawing::clone)
}

/// The company's own picture of a word: a file, and what it shows in words.
fn own_picture<R>(patch: &mut Patch<'_, '_, '_, R>, before: impl Fn(&R) -> Option<&OwnPicture>) -> Option<OwnPicture> {
    let file = patch.usual(
        "picture",
        |table, file, key| table.read_text(file, key, picture_file).map(Some),
        |row| before(row).map(|picture| picture.file.clone()),
        None,
    );
    let words = patch.name("picture_words", |row| before(row)?.words.clone());
    file.map(|file| OwnPicture { file, words })
}

/// The name of a file in the folder of pictures; it leads nowhere else.
fn picture_file(name: &str) -> Result<String, &'static str> {
    let ending = [".svg", ".png"].iter().any(|ending| name.to_lowercase().ends_with(ending));
    let inside = !name.starts_with('.') && !name.contains(['/', '\\']);
    let sound = ending && inside;
    sound
        .then(|| name.to_owned())
        .ok_or("it has to be the name of an .svg or .png in the folder pictures, \"throw.svg\" say")
}

fn words(table: &mut Table<'_>, file: &mut TomlFile<'_>, key: &'static str) -> Option<Words> {
    table.texts_or(file, key, ("any", Words::Any), Words::These)
}

fn metres(table: &mut Table<'_>, file: &mut TomlFile<'_>, key: &'static str) -> Option<Metres> {
    table.number(file, key, 0.0..=LONGEST_WEAPON, " metres").map(Metres)
}

fn small(table: &mut Table<'_>, file: &mut TomlFile<'_>, key: &'static str, most: u8) -> Option<u8> {
    table.whole(file, key, 0..=u32::from(most), "").and_then(|number| u8::try_from(number).ok())
}
