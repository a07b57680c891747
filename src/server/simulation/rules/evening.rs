//! What may never happen to an evening: to its order and casts, on the screens and at the wire, and to its record.

use std::collections::{BTreeMap, BTreeSet};

use super::Rules;
use crate::event::{Event, What};
use crate::journal::Reader;
use crate::review::{CallRecord, Filter, House, Review};
use crate::server::simulation::phone::Phone;
use crate::server::simulation::playbill::{Blow, bout_of, bouts};
use crate::server::simulation::record::{Item, Tonight, Up};
use crate::wire::{Cue, CueMove, ItemStands, ItemView, Part, PlannedView};

impl Rules {
    /// Somebody is told of tonight's order.
    pub(super) fn order_told(&mut self, version: u64, items: &[ItemView]) {
        let order = items.iter().map(|item| (item.item, item.planned.clone())).collect();
        let checked = self.record.order_told(version, order);
        self.holds(checked);
    }

    /// Whoever plays a part in the run has the moves of it in their cues, all of them and no others; whoever plays none has
    /// everybody's, and none as their own.
    pub(super) fn is_theirs(&self, number: usize, cue: &Cue) {
        let Some(bout) = bouts().iter().find(|bout| bout.phrases.contains(&cue.phrase_name)) else {
            self.fail(format!("a cue of the phrase {} goes out", cue.phrase_name));
        };
        let here = |it: &&Blow| it.phrase == cue.phrase as usize && it.beat == cue.beat;
        let does = |part: Option<&str>, it: &Blow| match part {
            None => Some(Part::Watch),
            Some(part) if it.who == part => Some(Part::Act),
            Some(part) if it.to == part => Some(Part::Answer),
            Some(_) => None,
        };
        let wanted = |part: Option<&str>| -> Vec<(Part, String)> {
            let all = bout.moves.iter().filter(here).filter(|_| cue.count_in.is_none());
            all.filter_map(|it| Some((does(part, it)?, it.who.clone()))).collect()
        };
        let told = |it: &CueMove| (it.part, it.r#move.who.clone());
        let told: Vec<(Part, String)> = cue.moves.iter().map(told).collect();
        self.must(self.record.plays(number, cue.run).any(|part| wanted(part) == told), || {
            let parts: Vec<Option<&str>> = self.record.plays(number, cue.run).collect();
            format!("{number} plays {parts:?} in run {}, and has {told:?} in {cue:?}", cue.run)
        });
    }

    /// What a screen shows of tonight, once all is well: the order and what is done, who plays in it, who plays what, what
    /// one plays oneself, and that the call is over.
    pub(super) fn sees_tonight(&self, phone: &Phone) {
        let (name, tonight) = (&phone.name, self.record.tonight());
        let over = phone.seen.state.as_ref().is_some_and(|state| state.over);
        self.must(over == tonight.is_over(), || format!("{name} sees that the call is over: {over}"));
        let players = |item: &Item| {
            let parts = bout_of(&item.planned.fight).into_iter().flat_map(|bout| &bout.parts);
            parts.filter_map(|part| tonight.player(&item.planned.fight, part)).collect::<Vec<u32>>()
        };
        let is = |item: &Item| (item.id, item.planned.clone(), item.is_done(), players(item));
        let shows = |it: &ItemView| (it.item, it.planned.clone(), it.stands == ItemStands::Done, it.players.clone());
        let shown = phone.known.tonight.as_ref().map(|(_, items)| items.iter().map(shows).collect::<Vec<_>>());
        let order: Vec<_> = tonight.items().iter().map(is).collect();
        self.must(shown.as_ref() == Some(&order), || format!("{name} sees the order {shown:?}, and it is {order:?}"));
        if let Some((member, you)) = &phone.seen.you {
            let part = tonight.part_now(*member);
            self.must(you.part.as_deref() == part, || format!("{name} sees {you:?}, and plays {part:?}"));
        }
        let casts = phone.known.casts.iter().flatten();
        for (fight, part) in casts.flat_map(|it| it.parts.iter().map(|part| (&it.fight, part))) {
            let player = tonight.player(fight, &part.part);
            self.must(part.member == player, || format!("{name} sees {part:?} in {fight}, and it is {player:?}"));
        }
    }

    /// The review's record of each call is what was counted here.
    pub(super) fn calls_are_told(&self, reader: &Reader) {
        let mut books = vec![Book::default()];
        for (event, up) in self.record.kept() {
            books.last_mut().into_iter().for_each(|book| book.take(event, up));
            if matches!(event.what, What::End { .. }) {
                books.push(Book::default());
            }
        }
        let books: Vec<Book> = books.into_iter().filter(Book::is_a_call).collect();
        let review = Review::of(reader, &House { before_call: Vec::new(), ..House::default() }, &Filter::default());
        let review = review.unwrap_or_else(|error| self.fail(format!("there is no review: {error}")));
        let (told, counted) = (review.calls.len(), books.len());
        self.must(told == counted, || format!("there are {told} records of {counted} calls"));
        for (record, book) in review.calls.iter().zip(&books) {
            let (told, counted) = (Said::of(record), &book.said);
            self.must(told == *counted, || format!("the record says {told:?}, and it was {counted:?}"));
            self.holds(book.people_are(record));
        }
    }
}

/// A break: the hold, who called first, why, who released it.
type Broke = (Option<u32>, Option<String>, Option<String>, Option<String>);

/// What is said of a call.
#[derive(Clone, Debug, Default, PartialEq)]
struct Said {
    /// What was to be done, whether it is done, and its runs.
    order: Vec<(String, bool, Vec<u32>)>,
    /// Number, fight, speed, and how it ended.
    runs: Vec<(u32, String, Option<u16>, &'static str)>,
    breaks: Vec<Broke>,
    near_misses: usize,
    checks: BTreeMap<String, bool>,
    ended_by: Option<String>,
    signed_by: Option<String>,
}

impl Said {
    fn of(record: &CallRecord) -> Said {
        let first = |it: &crate::review::Break| it.callers.first().map(|caller| caller.who.clone());
        Said {
            order: record.order.iter().map(|it| (it.says.clone(), it.done, it.runs.clone())).collect(),
            runs: record.runs.iter().map(|it| (it.run, it.fight.clone(), it.speed, it.how.words())).collect(),
            breaks: record
                .breaks
                .iter()
                .map(|it| (it.hold, first(it), it.reason.clone(), it.released_by.clone()))
                .collect(),
            near_misses: record.near_misses.len(),
            checks: record.checks.iter().map(|it| (it.check.clone(), it.in_order)).collect(),
            ended_by: record.ended_by.clone(),
            signed_by: record.signed_by.clone(),
        }
    }
}

/// What was counted of a call.
#[derive(Debug, Default)]
struct Book {
    tonight: Tonight,
    said: Said,
    /// By item, its runs.
    of_items: BTreeMap<u32, Vec<u32>>,
    /// The runs that have not ended.
    goes: BTreeSet<u32>,
    /// Who was in a run, and in which fight they covered for whom.
    ran: BTreeSet<String>,
    covers: BTreeSet<(String, String, String, String)>,
    /// Whom the desk noted last, whether as there, and whether they were in a run after that.
    noted: BTreeMap<String, (bool, bool)>,
}

impl Book {
    fn take(&mut self, event: &Event, up: Option<&Up>) {
        let name = || event.name().map(str::to_owned);
        match &event.what {
            What::Start { begun: Some(begun), .. } => {
                self.goes.insert(begun.run);
                self.said.runs.push((begun.run, begun.fight.clone(), begun.percent, "cut off or under way"));
                if let Some(of) = begun.item {
                    self.of_items.entry(of.item).or_default().push(begun.run);
                }
                for it in &begun.cast {
                    self.ran.insert(it.person.clone());
                    self.noted.entry(it.person.clone()).and_modify(|(_, since)| *since = true);
                    let covers =
                        |whom: &String| (begun.fight.clone(), it.part.clone(), it.person.clone(), whom.clone());
                    self.covers.extend(it.covers.as_ref().map(covers));
                }
            }
            What::Hold { call, .. } => {
                self.ends(event.run, "held");
                self.said.breaks.push((Some(call.hold.0), name(), call.reason.clone(), None));
            }
            What::Stop { reason, .. } => {
                self.ends(event.run, "stopped");
                self.said.breaks.push((None, name(), reason.clone(), None));
            }
            What::Complete => self.ends(event.run, "to its end"),
            // Of those who called it, the first who said why.
            What::HoldJoined(call) => self.broke(call.hold.0, |broke| broke.2 = broke.2.take().or(call.reason.clone())),
            What::Release { hold } => self.broke(hold.0, |broke| broke.3 = name()),
            What::Reason { hold: Some(hold), reason, .. } => {
                self.broke(hold.0, |broke| broke.2 = Some(reason.clone()));
            }
            What::NearMiss { .. } => self.said.near_misses += 1,
            What::Check { check, in_order, .. } => drop(self.said.checks.insert(check.clone(), *in_order)),
            What::Attendance { person, present, .. } => drop(self.noted.insert(person.clone(), (*present, false))),
            What::End { signed_by } => (self.said.ended_by, self.said.signed_by) = (name(), signed_by.clone()),
            _ => {}
        }
        if !matches!(event.what, What::End { .. }) {
            self.tonight.after(event, up);
        }
        let items = self.tonight.items().iter();
        let runs = |item: &Item| self.of_items.get(&item.id).cloned().unwrap_or_default();
        self.said.order = items.map(|item| (says(&item.planned), item.is_done(), runs(item))).collect();
    }

    fn ends(&mut self, run: Option<u32>, how: &'static str) {
        if run.is_some_and(|run| self.goes.remove(&run)) {
            self.said.runs.iter_mut().filter(|it| Some(it.0) == run).for_each(|it| it.3 = how);
        }
    }

    fn broke(&mut self, hold: u32, what: impl FnOnce(&mut Broke)) {
        if let Some(broke) = self.said.breaks.iter_mut().find(|it| it.0 == Some(hold)) {
            what(broke);
        }
    }

    /// A call in which nothing was run, held, reported or signed has no record.
    fn is_a_call(&self) -> bool {
        let Said { runs, breaks, near_misses, checks, .. } = &self.said;
        !runs.is_empty() || !breaks.is_empty() || *near_misses > 0 || !checks.is_empty()
    }

    /// Whoever was in a run was there, and whoever was noted so; whoever was noted as absent, and not in a run after that,
    /// was not; and who covered for whom.
    fn people_are(&self, record: &CallRecord) -> Result<(), String> {
        let present: BTreeSet<&str> = record.present.iter().map(|it| it.who.as_str()).collect();
        let absent: BTreeSet<&str> = record.absent.iter().map(|it| it.who.as_str()).collect();
        // Whoever had a number behind their name has another one now.
        let known = |name: &&String| !name.contains('(');
        for name in self.ran.iter().filter(known) {
            if !present.contains(name.as_str()) {
                return Err(format!("{name} was in a run, and there were {present:?}"));
            }
        }
        for (name, (there, since)) in self.noted.iter().filter(|(name, _)| known(name)) {
            let is_present = *there || self.ran.contains(name);
            let is_absent = !there && !since;
            if present.contains(name.as_str()) != is_present || absent.contains(name.as_str()) != is_absent {
                let noted = (there, since);
                return Err(format!("{name} is noted {noted:?}; there were {present:?}, and not {absent:?}"));
            }
        }
        let covers =
            |it: &crate::review::Understudy| (it.fight.clone(), it.part.clone(), it.who.clone(), it.usually.clone());
        let told: BTreeSet<_> = record.understudies.iter().map(covers).collect();
        match told.is_superset(&self.covers) {
            true => Ok(()),
            false => Err(format!("{told:?} covered, and it was {:?}", self.covers)),
        }
    }
}

/// What is to be done, written out once more.
fn says(planned: &PlannedView) -> String {
    let speed = planned.percent.map_or("walk-through".to_owned(), |percent| format!("{percent} %"));
    match (&planned.from, &planned.to) {
        (None, None) => format!("{}, {speed}", planned.fight),
        (Some(from), Some(to)) if from == to => format!("{}, {from}, {speed}", planned.fight),
        (Some(from), Some(to)) => format!("{}, {from} to {to}, {speed}", planned.fight),
        (Some(from), None) => format!("{}, from {from} on, {speed}", planned.fight),
        (None, Some(to)) => format!("{}, up to {to}, {speed}", planned.fight),
    }
}
