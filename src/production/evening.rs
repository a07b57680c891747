//! `[[tonight]]` and `[covers]` of a production: the order in which a fight call usually goes, and who covers whom. Whether
//! there are such fights, phrases and parts is seen with the scores, which come and go.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::CONFIG_FILE;
use crate::call::{Fight, MOST_ITEMS, Planned, UsualEvening};
use crate::suggest::did_you_mean;
use crate::toml_table::{Table, TomlFile};

/// So many people cover one part.
const MOST_COVERS: usize = 16;

/// Reads both. `count_in` is the usual one.
pub(super) fn read(file: &mut TomlFile<'_>, top: &mut Table<'_>, count_in: Option<u32>) -> UsualEvening {
    let order = order(file, top);
    UsualEvening { order, covers: covers(file, top), count_in }
}

fn order(file: &mut TomlFile<'_>, top: &mut Table<'_>) -> Vec<Planned> {
    let mut order = Vec::new();
    for (number, mut item) in top.tables(file, "tonight").into_iter().enumerate() {
        if number == MOST_ITEMS {
            let (place, path) = (item.place(), item.path().to_owned());
            file.problem(place, &path, format!("is one item too many; {MOST_ITEMS} are enough for an evening"));
        }
        let fight = item.needed_text(file, "fight");
        let (weapons, from, to) = (item.text(file, "weapons"), item.text(file, "from"), item.text(file, "to"));
        let percent = item.whole(file, "speed", 10..=150, " percent").and_then(|percent| u16::try_from(percent).ok());
        let count_in = item.whole(file, "count_in", 0..=64, " beats");
        item.finish(file);
        order.extend(fight.map(|fight| Planned { fight, weapons, from, to, percent, count_in }));
    }
    order.truncate(MOST_ITEMS);
    order
}

fn covers(file: &mut TomlFile<'_>, top: &mut Table<'_>) -> BTreeMap<String, Vec<String>> {
    let table = top.table(file, "covers");
    let place = table.place();
    let mut covers = BTreeMap::new();
    for (part, people) in table.named_lists(file) {
        if people.len() > MOST_COVERS {
            let says = format!("has {} people; {MOST_COVERS} are enough for one part", people.len());
            file.problem(place.clone(), &format!("covers.{part}"), says);
        }
        covers.insert(part, people);
    }
    covers
}

/// A sentence for each item and each part that the scores do not have.
pub(super) fn unknown(evening: &UsualEvening, fights: &[Arc<Fight>]) -> Vec<String> {
    let items = (1..).zip(&evening.order).filter_map(|(number, planned)| {
        let wrong = planned.request(fights, None).err()?;
        Some(format!("{CONFIG_FILE}: number {number} of [[tonight]]: {wrong}"))
    });
    let parts: Vec<&str> = fights.iter().flat_map(|fight| fight.parts()).collect();
    let covers = evening.covers.keys().filter(|part| !parts.contains(&part.as_str())).map(|part| {
        let meant = did_you_mean(part, parts.iter().copied()).map_or_else(String::new, |meant| format!(" {meant}"));
        format!("{CONFIG_FILE}: [covers] names {part}, and nobody called that is in any score.{meant}")
    });
    items.chain(covers).collect()
}
