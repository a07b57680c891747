//! The order of an evening, and what of it was done, as the events of the call tell it.

use std::collections::{BTreeMap, BTreeSet};

use serde::Serialize;

use crate::event::{OfItem, OrderLine, What};
use crate::journal::EventRow;

/// An item of an evening's order, as it stood at the end.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct OrderRow {
    /// What was to be done, in words.
    pub says: String,
    /// The fight.
    pub fight: String,
    /// The first phrase; nothing for the fight's first.
    pub from: Option<String>,
    /// The last phrase; nothing for the fight's last.
    pub to: Option<String>,
    /// The set of weapons; nothing for those that the score names.
    pub weapons: Option<String>,
    /// Percent of performance tempo; nothing in a walk-through.
    pub speed: Option<u16>,
    /// True when a run came to the end of it, or the desk said that it is done.
    pub done: bool,
    /// The runs of it, those that broke too.
    pub runs: Vec<u32>,
}

/// What is known of one item.
#[derive(Default)]
struct Known {
    ran: bool,
    word: Option<bool>,
    runs: BTreeSet<u32>,
}

/// The order that these events of a call tell; nothing where there was none.
pub(super) fn order(events: &[EventRow]) -> Vec<OrderRow> {
    let mut lines: &[OrderLine] = &[];
    let mut known: BTreeMap<u32, Known> = BTreeMap::new();
    let mut of_run: BTreeMap<u32, OfItem> = BTreeMap::new();
    for row in events {
        match &row.event.what {
            What::Order { order } => {
                for line in order {
                    known.entry(line.item).or_default().word = line.word;
                }
                lines = order;
            }
            What::Start { begun: Some(begun), .. } => {
                if let Some(of) = begun.item {
                    of_run.insert(begun.run, of);
                    known.entry(of.item).or_default().runs.insert(begun.run);
                }
            }
            What::Complete => {
                let of = row.event.run.and_then(|run| of_run.get(&run)).filter(|of| of.to_its_end);
                if let Some(it) = of.and_then(|of| known.get_mut(&of.item)) {
                    (it.ran, it.word) = (true, None);
                }
            }
            _ => {}
        }
    }
    let row = |line: &OrderLine| {
        let it = known.get(&line.item);
        OrderRow {
            says: line.planned.says(),
            fight: line.planned.fight.clone(),
            from: line.planned.from.clone(),
            to: line.planned.to.clone(),
            weapons: line.planned.weapons.clone(),
            speed: line.planned.percent,
            done: it.is_some_and(|it| it.word.unwrap_or(it.ran)),
            runs: it.map(|it| it.runs.iter().copied().collect()).unwrap_or_default(),
        }
    };
    lines.iter().map(row).collect()
}
