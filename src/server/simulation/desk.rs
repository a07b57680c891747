//! What somebody at the desk does about the evening: its order, who plays what, who is there, the end of the call. They go
//! by their screen, and now and then by the one of before.

use super::chance::Chance;
use super::phone::Phone;
use super::playbill::{Bout, bouts};
use crate::call::Role;
use crate::wire::{ItemStands, ItemView, OrderItem, PlannedView, ToServer};

/// People whom the desk notes; the last has no phone.
const PEOPLE: [&str; 4] = ["Maret's Lotte", "Osk's Pim", "Ana", "Oda"];

/// One of these things.
pub(super) fn tonight(phone: &mut Phone) -> Option<ToServer> {
    match phone.chance.between(0, 100) {
        0..=33 => order(phone),
        34..=63 => cast(phone),
        64..=80 => {
            let (person, present) = ((*phone.chance.one(&PEOPLE)).to_owned(), phone.chance.percent(60.0));
            Some(ToServer::Attend { person, present })
        }
        81..=87 => gives_part(phone),
        88..=93 => Some(sign(phone)),
        _ => {
            let signed_by = phone.chance.percent(50.0).then(|| "Ines Vale".to_owned());
            Some(ToServer::EndCall { signed_by })
        }
    }
}

/// Places for an item: mostly for the first that is to be done.
pub(super) fn places_for(phone: &mut Phone) -> Option<ToServer> {
    let seen = phone.seen.state.as_ref()?.last_event;
    let (_, items) = phone.known.tonight.as_ref()?;
    let next = items.iter().find(|item| item.stands == ItemStands::ToDo);
    let item = if phone.chance.percent(80.0) { next? } else { one(&mut phone.chance, items)? };
    Some(ToServer::PlacesFor { item: item.item, seen })
}

/// A check is signed, now and then as not in order.
pub(super) fn sign(phone: &mut Phone) -> ToServer {
    let in_order = phone.chance.percent(80.0);
    ToServer::Sign { check: "weapons".into(), in_order, note: None, by: None }
}

/// Somebody takes a part, or gives theirs up.
pub(super) fn takes_part(phone: &mut Phone) -> ToServer {
    ToServer::TakePart { member: None, part: part(&mut phone.chance) }
}

fn gives_part(phone: &mut Phone) -> Option<ToServer> {
    let member = somebody(phone)?;
    Some(ToServer::TakePart { member: Some(member), part: part(&mut phone.chance) })
}

fn part(chance: &mut Chance) -> Option<String> {
    let bout: &Bout = chance.one(bouts());
    let part = chance.one(&bout.parts).clone();
    chance.percent(80.0).then_some(part)
}

fn cast(phone: &mut Phone) -> Option<ToServer> {
    let bout: &Bout = phone.chance.one(bouts());
    let part = phone.chance.one(&bout.parts).clone();
    let member = if phone.chance.percent(75.0) { Some(somebody(phone)?) } else { None };
    Some(ToServer::Cast { fight: bout.fight.clone(), part, member })
}

/// One of those who are in the room, mostly of those who perform. What a roster says of the time of day is not the same in
/// the same evening, so that nobody is shown it here.
fn somebody(phone: &mut Phone) -> Option<u32> {
    let anybody = phone.chance.percent(5.0);
    let members = phone.room.iter().filter(|(_, role)| anybody || *role == Role::Performer);
    let members: Vec<u32> = members.map(|(member, _)| *member).collect();
    one(&mut phone.chance, &members).copied()
}

/// The order as it is on the screen, with something changed in it.
fn order(phone: &mut Phone) -> Option<ToServer> {
    let late = phone.chance.percent(15.0);
    let screen = phone.earlier.as_ref().filter(|_| late).or(phone.known.tonight.as_ref());
    let (seen, shown) = screen.cloned()?;
    let chance = &mut phone.chance;
    let item = |it: &ItemView| OrderItem { item: Some(it.item), planned: it.planned.clone(), done: None };
    let mut items: Vec<OrderItem> = shown.iter().map(item).collect();
    let at = chance.between(0, shown.len() as i64) as usize;
    match chance.between(0, 100) {
        0..=29 => items.push(OrderItem { item: None, planned: planned(chance), done: None }),
        30..=54 if at < items.len() => {
            let moved = items.remove(at);
            let to = chance.between(0, items.len() as i64 + 1) as usize;
            items.insert(to, moved);
        }
        55..=69 if at < items.len() => drop(items.remove(at)),
        70..=79 if at < items.len() => items[at].planned = planned(chance),
        80..=95 if at < items.len() => items[at].done = Some(shown[at].stands != ItemStands::Done),
        // The same item twice, or a fight that there is not.
        96..=97 if at < items.len() => items.push(items[at].clone()),
        98..=99 => {
            let planned = PlannedView { fight: "The Pier".into(), ..planned(chance) };
            items.push(OrderItem { item: None, planned, done: None });
        }
        _ => {}
    }
    Some(ToServer::Order { items, seen })
}

/// Something to be done: a fight, or some phrases of it, at a speed or move by move.
fn planned(chance: &mut Chance) -> PlannedView {
    let bout: &Bout = chance.one(bouts());
    let (from, to) = (chance.one(&bout.phrases).clone(), chance.one(&bout.phrases).clone());
    // Now and then the other way round, which is refused.
    let turned = bout.phrase(&from) > bout.phrase(&to) && !chance.percent(10.0);
    let (from, to) = if turned { (to, from) } else { (from, to) };
    PlannedView {
        fight: bout.fight.clone(),
        weapons: None,
        from: chance.percent(70.0).then_some(from),
        to: chance.percent(70.0).then_some(to),
        percent: *chance.one(&[Some(50), Some(100), Some(120), None]),
        count_in: Some(2),
    }
}

fn one<'a, T>(chance: &mut Chance, of: &'a [T]) -> Option<&'a T> {
    if of.is_empty() { None } else { Some(chance.one(of)) }
}
