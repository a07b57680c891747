//! Tonight, by the record: the order and what of it is done, who is cast for what, who is noted as there or not, what is set
//! up, whether the call is over. A second statement of it, made of what was written down alone: it shares no code with the
//! call, and what the call says is held against it.

use std::collections::{BTreeMap, BTreeSet};

use super::Checked;
use super::call::Stands;
use crate::call::{self, Planned, Role};
use crate::event::{Cast, DoorChange, Event, OfItem, OrderLine, What};
use crate::server::simulation::playbill::{bout_of, bouts, usual};
use crate::wire::{OrderItem, PlannedView, ToServer};

/// Tonight.
#[derive(Clone, Debug, Default)]
pub(in crate::server::simulation) struct Tonight {
    /// Everybody in the call, by number.
    people: BTreeMap<u32, Person>,
    items: Vec<Item>,
    /// The numbers that items of this call have had.
    given: BTreeSet<u32>,
    /// True once the order is on record; until then it is the usual one.
    on_record: bool,
    casts: Vec<Chosen>,
    /// Whom the desk noted, whether they are there, and the part of whoever is not.
    noted: BTreeMap<String, (bool, Option<String>)>,
    up: Option<Up>,
    /// Who was noted as absent when the run that goes was started; nothing while none goes.
    away: Option<BTreeSet<String>>,
    over: bool,
    /// Who left with the last event, and what they were cast for: whoever joins next under the name is the same person.
    left: Option<(String, Vec<Chosen>)>,
    /// A newcomer, and who they are by the desk's word.
    same: Option<(u32, u32)>,
}

/// Somebody in the call.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Person {
    name: String,
    role: Role,
    part: Option<String>,
}

/// An item of the order.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::server::simulation) struct Item {
    pub(in crate::server::simulation) id: u32,
    pub(in crate::server::simulation) planned: PlannedView,
    /// True when a run came to the end of it, and what the desk has said since.
    ran: bool,
    word: Option<bool>,
}

impl Item {
    pub(in crate::server::simulation) fn is_done(&self) -> bool {
        self.word.unwrap_or(self.ran)
    }
}

/// The desk has cast somebody.
#[derive(Clone, Debug, PartialEq, Eq)]
struct Chosen {
    fight: String,
    part: String,
    member: u32,
}

/// What is set up.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(in crate::server::simulation) struct Up {
    fight: String,
    range: (usize, usize),
    item: Option<OfItem>,
    /// Of which it may be as well: two acts of one desk at once that set up the same are said in the same words.
    or_of: Vec<Option<OfItem>>,
    run: Option<u32>,
}

impl Up {
    /// The same, and perhaps what others would have set up that say the same.
    pub(super) fn or(self, others: impl Iterator<Item = Up>) -> Up {
        Up { or_of: others.map(|other| other.item).filter(|item| *item != self.item).collect(), ..self }
    }

    /// True when the event says that this was set up.
    pub(super) fn is_said(&self, set_up: &str) -> bool {
        let Some(bout) = bout_of(&self.fight) else { return false };
        let (first, last) = (&bout.phrases[self.range.0], &bout.phrases[self.range.1]);
        set_up.starts_with(&format!("{}, {first}", self.fight)) && set_up.contains(&format!(" to {last}, "))
    }
}

impl Tonight {
    /// How it is after that event; `up` is what was set up, where places were called.
    pub(in crate::server::simulation) fn after(&mut self, event: &Event, up: Option<&Up>) {
        let left = self.left.take();
        match &event.what {
            What::Joined { part } => self.joins(event, part.clone(), left),
            What::Left { .. } => self.leaves(event),
            What::Part { part } => {
                let person = event.member().and_then(|member| self.people.get_mut(&member));
                person.into_iter().for_each(|person| person.part.clone_from(part));
            }
            What::Door(DoorChange::Same { newcomer, name }) => {
                self.same = self.named(newcomer).zip(self.named(name));
            }
            What::Cast { fight, part, member, .. } => self.is_cast(fight, part, *member),
            What::Order { order } => self.ordered(order),
            What::Attendance { person, present, part } => {
                self.noted.insert(person.clone(), (*present, part.clone()));
            }
            What::Places { .. } => (self.up, self.over) = (up.cloned(), false),
            What::Start { begun, .. } => {
                let absent = self.noted.iter().filter(|(_, (there, _))| !there);
                self.away = Some(absent.map(|(name, _)| name.clone()).collect());
                if let (Some(up), Some(begun)) = (&mut self.up, begun) {
                    up.run = Some(begun.run);
                    if up.or_of.contains(&begun.item) {
                        up.item = begun.item;
                    }
                }
            }
            What::Complete => self.comes_to_its_end(event.run),
            What::Hold { .. } | What::Stop { .. } => self.away = None,
            What::End { .. } => {
                let people = std::mem::take(&mut self.people);
                *self = Tonight { people, over: true, given: std::mem::take(&mut self.given), ..Tonight::default() };
            }
            _ => {}
        }
    }

    /// What is set up.
    pub(super) fn up(&self) -> Option<&Up> {
        self.up.as_ref()
    }

    /// The server was started again: nothing goes on.
    pub(super) fn anew(&mut self) {
        (self.away, self.left, self.same) = (None, None, None);
    }

    /// Who is in the call when a server begins, as it says.
    pub(super) fn people_are(&mut self, roster: &call::Roster) {
        let person =
            |member: &call::Member| Person { name: member.name.clone(), role: member.role, part: member.part.clone() };
        self.people = roster.iter().map(|(id, member)| (id.0, person(member))).collect();
    }

    fn joins(&mut self, event: &Event, part: Option<String>, left: Option<(String, Vec<Chosen>)>) {
        let Some((member, who)) = event.member().zip(event.who.as_ref()) else { return };
        let role = who.role.unwrap_or(Role::Observer);
        self.people.insert(member, Person { name: who.name.clone(), role, part });
        if let Some((name, casts)) = left
            && name == who.name
        {
            self.casts.extend(casts.into_iter().map(|chosen| Chosen { member, ..chosen }));
        }
    }

    fn leaves(&mut self, event: &Event) {
        let Some(member) = event.member() else { return };
        let gone = self.people.remove(&member);
        let (casts, rest) = std::mem::take(&mut self.casts).into_iter().partition(|it| it.member == member);
        self.casts = rest;
        match self.same.take_if(|(_, of)| *of == member) {
            Some((newcomer, _)) => {
                // In a fight in which they play something under the new name already, that is what they play.
                let new = |it: &Chosen| !self.casts.iter().any(|has| has.fight == it.fight && has.member == newcomer);
                let casts: Vec<Chosen> = casts;
                let theirs: Vec<Chosen> = casts.into_iter().filter(new).collect();
                self.casts.extend(theirs.into_iter().map(|it| Chosen { member: newcomer, ..it }));
                if let Some((person, gone)) = self.people.get_mut(&newcomer).zip(gone) {
                    person.name = gone.name;
                }
            }
            None => self.left = gone.map(|gone| (gone.name, casts)),
        }
    }

    fn is_cast(&mut self, fight: &str, part: &str, member: Option<u32>) {
        let is_it = |it: &Chosen| it.fight == fight && (it.part == part || Some(it.member) == member);
        self.casts.retain(|it| !is_it(it));
        let chosen = |member| Chosen { fight: fight.to_owned(), part: part.to_owned(), member };
        self.casts.extend(member.map(chosen));
    }

    fn ordered(&mut self, lines: &[OrderLine]) {
        let ran = |id: u32| self.item(id).is_some_and(|item| item.ran);
        let item =
            |line: &OrderLine| Item { id: line.item, planned: planned_of(line), ran: ran(line.item), word: line.word };
        self.items = lines.iter().map(item).collect();
        self.given.extend(lines.iter().map(|line| line.item));
        self.on_record = true;
    }

    fn comes_to_its_end(&mut self, run: Option<u32>) {
        self.away = None;
        let of = self.up.as_ref().filter(|up| up.run.is_some() && up.run == run).and_then(|up| up.item);
        let done = self.items.iter_mut().filter(|item| of.is_some_and(|of| of.to_its_end && of.item == item.id));
        done.for_each(|item| (item.ran, item.word) = (true, None));
    }
}

// What is so.
impl Tonight {
    /// The order.
    pub(in crate::server::simulation) fn items(&self) -> &[Item] {
        &self.items
    }

    /// True from the end of a call until another begins.
    pub(in crate::server::simulation) fn is_over(&self) -> bool {
        self.over
    }

    /// The order as a screen shows it: numbers, and what is to be done.
    pub(in crate::server::simulation) fn shown(&self) -> Vec<(u32, PlannedView)> {
        self.items.iter().map(|item| (item.id, item.planned.clone())).collect()
    }

    /// What a person is called.
    pub(super) fn name(&self, member: u32) -> Option<&str> {
        self.people.get(&member).map(|person| person.name.as_str())
    }

    fn item(&self, id: u32) -> Option<&Item> {
        self.items.iter().find(|item| item.id == id)
    }

    fn named(&self, name: &str) -> Option<u32> {
        self.people.iter().find(|(_, person)| person.name == name).map(|(member, _)| *member)
    }

    fn is_noted_absent(&self, name: &str) -> bool {
        self.noted.get(name).is_some_and(|(there, _)| !there)
    }

    /// Whoever is absent plays nothing; in a run that goes whoever was there at its start plays on.
    fn is_away(&self, fight: &str, name: &str) -> bool {
        match &self.away {
            Some(away) if self.up.as_ref().is_some_and(|up| up.fight == fight) => away.contains(name),
            _ => self.is_noted_absent(name),
        }
    }

    /// Who plays a part of a fight: whom the desk has cast, and else whoever has the part and was not cast for another.
    pub(in crate::server::simulation) fn player(&self, fight: &str, part: &str) -> Option<u32> {
        let plays = |member: u32| {
            let person = self.people.get(&member);
            person.is_some_and(|it| it.role == Role::Performer && !self.is_away(fight, &it.name))
        };
        let chosen = |part: &str| {
            let found = self.casts.iter().find(|it| it.fight == fight && it.part == part);
            found.map(|it| it.member).filter(|member| plays(*member))
        };
        let has = |(member, person): (&u32, &Person)| (person.part.as_deref() == Some(part)).then_some(*member);
        chosen(part).or_else(|| {
            let holder = self.people.iter().filter_map(has).find(|member| plays(*member))?;
            let others = bout_of(fight).into_iter().flat_map(|bout| &bout.parts).filter(|other| *other != part);
            (!others.into_iter().any(|other| chosen(other) == Some(holder))).then_some(holder)
        })
    }

    fn part_in(&self, fight: &str, member: u32) -> Option<&'static str> {
        let parts = bout_of(fight).into_iter().flat_map(|bout| &bout.parts);
        parts.map(String::as_str).find(|part| self.player(fight, part) == Some(member))
    }

    /// What a member plays in that run, while it goes; nothing where the run is another one.
    pub(in crate::server::simulation) fn part_in_run(&self, run: u32, member: u32) -> Option<Option<&'static str>> {
        let up = self.up.as_ref().filter(|up| up.run == Some(run))?;
        Some(self.part_in(&up.fight, member))
    }

    /// True when a member plays in what is set up.
    pub(super) fn plays(&self, member: u32) -> bool {
        self.up.as_ref().is_some_and(|up| self.part_in(&up.fight, member).is_some())
    }

    /// What a member plays now, by their own screen.
    pub(in crate::server::simulation) fn part_now(&self, member: u32) -> Option<&str> {
        let person = self.people.get(&member)?;
        let own = person.part.as_deref().filter(|_| !self.is_noted_absent(&person.name));
        let Some(up) = &self.up else { return own };
        let elsewhere = |part: &&str| bout_of(&up.fight).is_some_and(|bout| bout.parts.iter().all(|it| it != part));
        self.part_in(&up.fight, member).or(own.filter(elsewhere))
    }

    /// For whom somebody plays a part.
    fn covers(&self, part: &str, player: &str) -> Option<String> {
        let absent = self.noted.iter().find(|(_, (there, had))| !there && had.as_deref() == Some(part));
        let absent = absent.map(|(name, _)| name).filter(|name| *name != player);
        let holder = || self.people.values().find(|it| it.part.as_deref() == Some(part)).map(|it| &it.name);
        absent.or_else(holder).filter(|name| *name != player).cloned()
    }

    /// Who plays in a run of what is set up, as it is to be written down.
    fn cast(&self, fight: &str) -> Vec<Cast> {
        let parts = bout_of(fight).into_iter().flat_map(|bout| &bout.parts);
        let playing = parts.filter_map(|part| {
            let member = self.player(fight, part)?;
            let person = self.name(member)?.to_owned();
            Some(Cast { part: part.clone(), covers: self.covers(part, &person), person, member: Some(member) })
        });
        playing.collect()
    }

    /// What is set up when this is asked for; nothing when it cannot be.
    pub(super) fn up_of(&self, said: &ToServer) -> Option<Up> {
        match said {
            ToServer::PlacesFor { item, .. } => {
                let planned = &self.item(*item)?.planned;
                let item = Some(OfItem { item: *item, to_its_end: true });
                Some(Up { fight: planned.fight.clone(), range: range_of(planned)?, item, or_of: Vec::new(), run: None })
            }
            ToServer::Places { setup, .. } => {
                let range = (usize::try_from(setup.from).ok()?, usize::try_from(setup.to).ok()?);
                let under_way = self.up.as_ref().and_then(|up| self.item(up.item?.item));
                let inside = |item: &&Item| {
                    let whole = range_of(&item.planned).filter(|_| item.planned.fight == setup.fight);
                    !item.is_done() && whole.is_some_and(|whole| whole.0 <= range.0 && range.1 <= whole.1)
                };
                let of = |item: &Item| {
                    let last = range_of(&item.planned).map(|whole| whole.1);
                    OfItem { item: item.id, to_its_end: last == Some(range.1) }
                };
                let item = under_way.filter(inside).map(of);
                Some(Up { fight: setup.fight.clone(), range, item, or_of: Vec::new(), run: None })
            }
            _ => None,
        }
    }
}

// Whether what was written down, or what the call says, is right.
impl Tonight {
    /// Whether an order that was written down is what was asked for: what stays keeps its number, what is new gets one that
    /// none has had, and what is done is what the desk said, or what it was.
    pub(super) fn gives(&self, asked: &[OrderItem], lines: &[OrderLine]) -> bool {
        let mut before = BTreeSet::new();
        asked.len() == lines.len()
            && asked.iter().zip(lines).all(|(asked, line)| {
                let known = self.known(asked);
                let number = match known {
                    Some(item) => line.item == item.id,
                    None => !self.given.contains(&line.item),
                };
                let ran = known.is_some_and(|item| item.ran);
                let done = asked.done.unwrap_or_else(|| known.is_some_and(Item::is_done));
                let same = planned_of(line) == asked.planned && line.word.unwrap_or(ran) == done;
                number && same && before.insert(line.item)
            })
    }

    /// Whether the order as it is was written down with what was begun of it.
    pub(super) fn is_written(&self, lines: &[OrderLine]) -> bool {
        let line = |line: &OrderLine| (line.item, planned_of(line));
        let untouched = !self.on_record && lines.iter().all(|line| line.word.is_none());
        untouched && self.shown() == lines.iter().map(line).collect::<Vec<_>>()
    }

    fn known(&self, asked: &OrderItem) -> Option<&Item> {
        asked.item.and_then(|id| self.item(id)).filter(|item| item.planned == asked.planned)
    }

    /// True when an order can be given, and is another one than there is.
    fn is_new_order(&self, asked: &[OrderItem]) -> bool {
        let mut before = BTreeSet::new();
        let can = |asked: &OrderItem| self.known(asked).is_some() || range_of(&asked.planned).is_some();
        let once = asked.iter().filter_map(|asked| self.known(asked)).all(|item| before.insert(item.id));
        let same = |(asked, item): (&OrderItem, &Item)| {
            self.known(asked).is_some_and(|it| it.id == item.id) && asked.done.is_none_or(|done| done == item.is_done())
        };
        let nothing = asked.len() == self.items.len() && asked.iter().zip(&self.items).all(same);
        once && asked.iter().all(can) && !nothing
    }

    /// True when somebody may be cast, or cast no more, for a part of a fight, and it makes a difference.
    fn is_new_cast(&self, fight: &str, part: &str, member: Option<u32>) -> bool {
        let known = bout_of(fight).is_some_and(|bout| bout.parts.iter().any(|it| it == part));
        let has = self.casts.iter().find(|it| it.fight == fight && it.part == part).map(|it| it.member);
        known
            && has != member
            && member.is_none_or(|member| {
                let performs = |it: &Person| it.role == Role::Performer && !self.is_noted_absent(&it.name);
                let plays = self.part_in(fight, member);
                self.people.get(&member).is_some_and(performs) && plays.is_none_or(|other| other == part)
            })
    }

    /// Whether a cast that was written down could be so, `after` which it is as that says.
    pub(super) fn could_cast(&self, event: &Event, after: &Tonight) -> bool {
        let What::Cast { fight, part, person, member, covers } = &event.what else { return false };
        let name = member.and_then(|member| self.name(member));
        let covered = person.as_ref().and_then(|person| after.covers(part, person));
        self.is_new_cast(fight, part, *member) && name == person.as_deref() && covered == *covers
    }

    /// Whether what was written down of a beginning is so.
    pub(super) fn could_begin(&self, begun: &crate::event::RunBegun) -> bool {
        let Some(up) = &self.up else { return false };
        let range = (begun.from_phrase as usize, begun.to_phrase as usize);
        let of_item = begun.item == up.item || up.or_of.contains(&begun.item);
        of_item && (&begun.fight, range) == (&up.fight, up.range) && begun.cast == self.cast(&up.fight)
    }

    /// Whether somebody could be noted so.
    pub(super) fn could_note(&self, person: &str, present: bool, part: Option<&str>) -> bool {
        let had = self.people.values().find(|it| it.name == person).and_then(|it| it.part.as_deref());
        let new = self.noted.get(person).is_none_or(|(there, _)| *there != present);
        new && part == had.filter(|_| !present)
    }

    /// True when this is to be done as tonight stands. An order is known to be the newest by whoever has kept the books of
    /// what was told.
    pub(super) fn does(&self, said: &ToServer, stands: Stands, newest: bool) -> bool {
        match said {
            ToServer::Order { items, .. } => newest && self.is_new_order(items),
            ToServer::Cast { fight, part, member } => stands != Stands::Going && self.is_new_cast(fight, part, *member),
            ToServer::Attend { person, present } => self.noted.get(person).is_none_or(|(there, _)| there != present),
            ToServer::EndCall { .. } => !matches!(stands, Stands::Going | Stands::Held),
            ToServer::PlacesFor { .. } => self.up_of(said).is_some(),
            _ => false,
        }
    }

    /// Whether the call says the same of tonight. The numbers of an order that nobody has touched are its own to give.
    pub(super) fn is_so(&mut self, call: &call::Call) -> Checked {
        let items = call.evening().items();
        if !self.on_record {
            let order = usual().order;
            let item = |(item, planned): (&call::Item, &Planned)| Item {
                id: item.id,
                planned: view(planned),
                ran: false,
                word: None,
            };
            self.items = items.iter().zip(&order).map(item).collect();
            self.given.extend(self.items.iter().map(|item| item.id));
        }
        let says = |item: &call::Item| (item.id, view(&item.planned), item.is_done());
        let own = |item: &Item| (item.id, item.planned.clone(), item.is_done());
        same("the order", items.iter().map(says).collect::<Vec<_>>(), self.items.iter().map(own).collect())?;
        for (bout, fight) in bouts().iter().zip(call.fights()) {
            let cast = call.cast_of(fight);
            let says: Vec<_> = bout.parts.iter().map(|part| cast.player(part).map(|player| player.0)).collect();
            let own: Vec<_> = bout.parts.iter().map(|part| self.player(&bout.fight, part)).collect();
            let once: BTreeSet<_> = own.iter().flatten().collect();
            same("in one fight how often somebody plays", once.len(), own.iter().flatten().count())?;
            same(&bout.fight, says, own)?;
        }
        let noted: Vec<_> = call.signing().noted().map(|(name, there)| (name.to_owned(), there)).collect();
        same("who is there", noted, self.noted.iter().map(|(name, (there, _))| (name.clone(), *there)).collect())?;
        let person = |(id, it): (call::MemberId, &call::Member)| (id.0, it.name.clone(), it.part.clone());
        let own = |(id, it): (&u32, &Person)| (*id, it.name.clone(), it.part.clone());
        same(
            "who has what",
            call.roster().iter().map(person).collect(),
            self.people.iter().map(own).collect::<Vec<_>>(),
        )?;
        same("whether the call is over", call.is_over(), self.over)
    }
}

/// True for the order that the house usually has, whatever its numbers.
pub(super) fn is_usual(order: &[(u32, PlannedView)]) -> bool {
    order.iter().map(|(_, planned)| planned.clone()).eq(usual().order.iter().map(view))
}

fn same<T: PartialEq + std::fmt::Debug>(what: &str, says: T, own: T) -> Checked {
    if says == own { Ok(()) } else { Err(format!("{what}: the call says {says:?}, and by its record it is {own:?}")) }
}

fn view(planned: &Planned) -> PlannedView {
    let Planned { fight, weapons, from, to, percent, count_in } = planned.clone();
    PlannedView { fight, weapons, from, to, percent, count_in }
}

fn planned_of(line: &OrderLine) -> PlannedView {
    view(&line.planned)
}

/// The phrases that are meant; nothing when there are none such.
fn range_of(planned: &PlannedView) -> Option<(usize, usize)> {
    let bout = bout_of(&planned.fight)?;
    let place = |name: &Option<String>, whole| name.as_ref().map_or(Some(whole), |name| bout.phrase(name));
    let range = (place(&planned.from, 0)?, place(&planned.to, bout.phrases.len() - 1)?);
    (range.0 <= range.1).then_some(range)
}
