//! What the call does with tonight's order: it is changed, a run is set up for an item of it, a run that comes to the end
//! of an item does it. Nothing of it starts anything.

use super::{Call, Evening, Item, MemberId, Ordered, Output, Run, Setup, UsualEvening};
use crate::event::{Event, EventId, OfItem, What};

impl Call {
    /// Tonight's order.
    pub fn evening(&self) -> &Evening {
        &self.evening
    }

    /// What an evening of this production usually is.
    pub fn usual_evening(&self) -> &UsualEvening {
        &self.settings.evening
    }

    /// The item of which a run is set up, goes, stands or has come to its end.
    pub fn item_under_way(&self) -> Option<&Item> {
        self.run().and_then(|run| run.of_item).and_then(|of| self.evening.item(of.item))
    }

    /// True from the end of a call until another begins.
    pub fn is_over(&self) -> bool {
        self.over
    }

    /// The desk gives the order. To give the same again is nothing new.
    pub(super) fn order(&mut self, member: MemberId, asked: Vec<Ordered>, seen: u64) -> Result<(), String> {
        if let Some(evening) = self.evening.ordered(asked, seen, &self.fights)? {
            self.evening = evening;
            self.out.push(Output::Changed);
            self.write_order(member);
        }
        Ok(())
    }

    /// Calls places for an item of the order, with those whom tonight has for its fight.
    pub(super) fn places_for(&mut self, member: MemberId, id: u32, seen: EventId) -> Result<(), String> {
        let gone = "That item is not in the order any more. Look at it again.";
        let item = self.evening.item(id).ok_or(gone)?;
        let request = item.planned.request(&self.fights, self.settings.evening.count_in)?;
        self.places(member, &request, seen, Some(id))?;
        // What the house usually has was nobody's to write down until something of it was begun.
        self.write_order(member);
        Ok(())
    }

    /// Of which item a run of that setup is: what is run again of the item that is under way belongs to it.
    pub(super) fn item_of(&self, setup: &Setup, asked: Option<u32>) -> Option<OfItem> {
        if let Some(item) = asked {
            return Some(OfItem { item, to_its_end: true });
        }
        let item = self.item_under_way().filter(|item| !item.is_done())?;
        let whole = item.planned.request(&self.fights, None).ok()?;
        let same = whole.fight == setup.fight.score.name && whole.weapons == setup.fight.weapons;
        let inside = same && whole.first <= setup.range.first && setup.range.last <= whole.last;
        inside.then_some(OfItem { item: item.id, to_its_end: setup.range.last == whole.last })
    }

    /// A run came to its end.
    pub(super) fn item_ran(&mut self, run: &Run) {
        if let Some(OfItem { item, to_its_end: true }) = run.of_item {
            self.evening.ran(item, run.number);
        }
    }

    /// Another evening begins, in the order that the house usually has and with nobody cast.
    pub(super) fn begin_evening(&mut self) {
        self.evening = self.evening.next(&self.settings.evening);
        self.ensemble.casts_mut().clear();
    }

    /// The house usually has another evening. An order that was changed, or of which something was begun, stays.
    pub(super) fn set_usual_evening(&mut self, usual: UsualEvening) {
        self.settings.evening = usual;
        if self.evening.is_untouched() {
            self.evening = self.evening.next(&self.settings.evening);
        }
    }

    /// Writes the order down, where it is not on record as it stands.
    fn write_order(&mut self, by: MemberId) {
        if let Some(order) = self.evening.unwritten() {
            let event = Event { who: self.who(by), ..self.event(What::Order { order }) };
            self.write(event);
        }
    }
}
