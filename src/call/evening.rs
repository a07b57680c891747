//! Tonight: the order in which fights and phrases are done, and what of it is done. The desk gives the whole order at
//! once, so that it is always one that somebody has seen; which runs were of it is the call's own to say.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use serde::{Deserialize, Serialize};

use super::{Drive, Fight, SetupRequest};
use crate::event::{OrderLine, Planned};
use crate::units::Speed;

/// So many items are more than an evening has.
pub const MOST_ITEMS: usize = 40;

/// What an evening of a production usually is.
#[derive(Clone, Debug, Default, PartialEq, Eq, Serialize, Deserialize)]
pub struct UsualEvening {
    /// The order.
    #[serde(default)]
    pub order: Vec<Planned>,
    /// Who covers each part, by name, the first to be asked first.
    #[serde(default)]
    pub covers: BTreeMap<String, Vec<String>>,
    /// Beats of the usual count-in; nothing is one bar.
    #[serde(default)]
    pub count_in: Option<u32>,
}

/// An item of the order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Item {
    /// Its number, never given twice in a call.
    pub id: u32,
    /// What is to be done.
    pub planned: Planned,
    done: Done,
    /// How it stood before the run that came to its end last: that end may be taken back.
    before: Done,
}

/// Why an item counts as done, or not.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
struct Done {
    /// The run of it that came to its end last.
    ran: Option<u32>,
    /// What the desk says of it since: that it is done, or that it is to be done again.
    word: Option<bool>,
}

/// An item as the desk gives it.
#[derive(Clone, Debug, PartialEq, Eq, Serialize, Deserialize)]
pub struct Ordered {
    /// Which one it is; nothing for a new one.
    pub id: Option<u32>,
    /// What is to be done.
    pub planned: Planned,
    /// The desk's word on whether it is done; nothing leaves that as it is.
    pub done: Option<bool>,
}

/// The evening.
#[derive(Clone, Debug, Default)]
pub struct Evening {
    items: Vec<Item>,
    next_id: u32,
    /// Which order it is: a version is never another order, in whatever start of the server.
    version: u64,
    /// How often the desk has changed it.
    changes: u32,
    /// True once the order as it stands is on record.
    on_record: bool,
}

impl Item {
    /// True when it is done, by a run or by the desk's word.
    pub fn is_done(&self) -> bool {
        self.done.word.unwrap_or(self.done.ran.is_some())
    }

    fn line(&self) -> OrderLine {
        OrderLine { item: self.id, planned: self.planned.clone(), word: self.done.word }
    }
}

impl Evening {
    /// The first evening of that start of the server, as the house usually has it.
    pub(super) fn first(usual: &UsualEvening, session: u32) -> Evening {
        Evening { version: first_version(session), ..Evening::default() }.next(usual)
    }

    /// The next evening, as the house usually has it: nothing of it is done, and no number comes again.
    pub(super) fn next(&self, usual: &UsualEvening) -> Evening {
        let mut evening = Evening { next_id: self.next_id, version: self.next_version(), ..Evening::default() };
        for planned in &usual.order {
            let (id, planned) = (evening.new_id(), planned.clone());
            evening.items.push(Item { id, planned, done: Done::default(), before: Done::default() });
        }
        evening
    }

    /// The items, in order.
    pub fn items(&self) -> &[Item] {
        &self.items
    }

    /// The item of that number.
    pub fn item(&self, id: u32) -> Option<&Item> {
        self.items.iter().find(|item| item.id == id)
    }

    /// Which order it is: whoever changes it names the one that they have seen.
    pub fn version(&self) -> u64 {
        self.version
    }

    /// How often the desk has changed it this evening.
    pub fn changes(&self) -> u32 {
        self.changes
    }

    /// True when that is the version of this order. In what an older Holdfast has recorded the changes alone were counted.
    fn is_version(&self, seen: u64) -> bool {
        let counted = seen < first_version(1) && first_version(1) <= self.version;
        seen == self.version || counted && seen == u64::from(self.changes)
    }

    /// The same in another start of the server: what the one before told and did not come to keep may have had the
    /// versions that would come next.
    pub(super) fn restart(&mut self, session: u32) {
        self.version = self.next_version().max(first_version(session));
    }

    fn next_version(&self) -> u64 {
        self.version.saturating_add(1)
    }

    /// True while it is as the house usually has it, and nothing was begun of it.
    pub(super) fn is_untouched(&self) -> bool {
        self.changes == 0 && !self.on_record
    }

    /// A run of an item came to the end of it.
    pub(super) fn ran(&mut self, id: u32, run: u32) {
        if let Some(item) = self.items.iter_mut().find(|item| item.id == id) {
            (item.before, item.done) = (item.done, Done { ran: Some(run), word: None });
        }
    }

    /// The end of that run was none.
    pub(super) fn take_back(&mut self, run: u32) {
        self.items.iter_mut().filter(|item| item.done.ran == Some(run)).for_each(|item| item.done = item.before);
    }

    /// The order that is asked for by somebody who has seen that version of it; nothing when it is the same already.
    ///
    /// # Errors
    /// What is wrong with it, in words.
    pub(super) fn ordered(
        &self,
        asked: Vec<Ordered>,
        seen: u64,
        fights: &[Arc<Fight>],
    ) -> Result<Option<Evening>, String> {
        if asked.len() > MOST_ITEMS {
            return Err(format!("An evening has {MOST_ITEMS} items at the most. Take some out first."));
        }
        let mut evening = Evening {
            next_id: self.next_id,
            version: self.next_version(),
            changes: self.changes.saturating_add(1),
            ..Evening::default()
        };
        let mut before = BTreeSet::new();
        for Ordered { id, planned, done } in asked {
            // Something else to be done is another item, and nothing of it is done.
            let known = id.and_then(|id| self.item(id)).filter(|item| item.planned == planned);
            let Some(item) = known else {
                planned.request(fights, None)?;
                let id = evening.new_id();
                let done = Done { ran: None, word: done.filter(|done| *done) };
                evening.items.push(Item { id, planned, done, before: Done::default() });
                continue;
            };
            if !before.insert(item.id) {
                return Err("The same item stands in the order twice. Look at it again.".to_owned());
            }
            let word = done.filter(|done| *done != item.is_done()).or(item.done.word);
            evening.items.push(Item { done: Done { word, ..item.done }, ..item.clone() });
        }
        if evening.items == self.items {
            return Ok(None);
        }
        if !self.is_version(seen) {
            return Err("Somebody has changed the order since. Look at it again, then change it.".to_owned());
        }
        Ok(Some(evening))
    }

    /// The order as it is to be written down, unless it is on record as it stands.
    pub(super) fn unwritten(&mut self) -> Option<Vec<OrderLine>> {
        let on_record = std::mem::replace(&mut self.on_record, true);
        (!on_record).then(|| self.items.iter().map(Item::line).collect())
    }

    fn new_id(&mut self) -> u32 {
        self.next_id = self.next_id.saturating_add(1);
        self.next_id
    }
}

/// Each start of the server has versions of its own, more than an evening has changes.
fn first_version(session: u32) -> u64 {
    u64::from(session) << 32
}

impl Planned {
    /// What is to be set up for it, by the scores as they are now.
    ///
    /// # Errors
    /// What of it is not there, or out of range, in words.
    pub fn request(&self, fights: &[Arc<Fight>], usual_count_in: Option<u32>) -> Result<SetupRequest, String> {
        let none =
            || format!("There is no fight called “{}” in this production. Choose one that there is.", self.fight);
        let fight = fights.iter().find(|fight| fight.score.name == self.fight).ok_or_else(none)?;
        if let Some(weapons) = &self.weapons {
            let none = || format!("There are no weapons called “{weapons}” for “{}”. Choose others.", self.fight);
            fight.with(Some(weapons)).ok_or_else(none)?;
        }
        let phrases = &fight.score.phrases;
        let place = |name: &Option<String>, usual: usize| match name {
            None => Ok(usual),
            Some(name) => phrases
                .iter()
                .position(|phrase| phrase.name == *name)
                .ok_or_else(|| format!("“{}” has no phrase called “{name}”. Choose one that it has.", self.fight)),
        };
        let (first, last) = (place(&self.from, 0)?, place(&self.to, phrases.len().saturating_sub(1))?);
        if first > last {
            return Err(format!(
                "In “{}” the phrase “{}” comes after “{}”. Choose them the other way round.",
                self.fight,
                self.from.as_deref().unwrap_or_default(),
                self.to.as_deref().unwrap_or_default()
            ));
        }
        if let Some(percent) = self.percent.filter(|percent| Speed::percent(*percent).is_none()) {
            return Err(format!("A speed of {percent} % is out of range. Choose 10 % to 150 % of performance tempo."));
        }
        Ok(SetupRequest {
            fight: self.fight.clone(),
            weapons: self.weapons.clone(),
            first,
            from_move: None,
            last,
            percent: self.percent.unwrap_or(100),
            count_in: self.count_in.or(usual_count_in).unwrap_or(fight.score.beats_per_bar),
            drive: if self.percent.is_some() { Drive::Clock } else { Drive::Step },
        })
    }
}
