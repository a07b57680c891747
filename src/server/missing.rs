//! Who is missing: the parts of a run that are not there, ready, linked and looking.

use std::collections::{BTreeSet, HashMap};

use super::lateness::Devices;
use crate::call::{self, Call, MemberId, Run};
use crate::wire::{Lack, MissingPart};

/// How many parts of the run are ready, of how many; nothing while nothing is set up.
pub(super) fn ready(call: &Call, devices: &Devices) -> Option<(usize, usize)> {
    let of = call.run()?.setup.fight.score.fighters.len();
    Some((of.saturating_sub(missing(call, devices).len()), of))
}

/// Every part of the run that is not there, ready, linked and looking, in the score's order.
pub(super) fn missing(call: &Call, devices: &Devices) -> Vec<MissingPart> {
    let Some(run) = call.run() else { return Vec::new() };
    let players = players(call, run);
    let fighters = run.setup.fight.score.fighters.iter();
    let parts = fighters.filter_map(|fighter| {
        let part = fighter.name.clone();
        let Some((id, member)) = players.get(fighter.name.as_str()) else {
            return Some(MissingPart { part, name: None, lack: Lack::Nobody });
        };
        let lack = lack(member, devices.get(*id).visible)?;
        Some(MissingPart { part, name: Some(member.name.clone()), lack })
    });
    parts.collect()
}

/// Who has which part of the run, a linked member before a lost one, found in one pass over the roster.
fn players<'a>(call: &'a Call, run: &'a Run) -> HashMap<&'a str, (MemberId, &'a call::Member)> {
    let fighters = run.setup.fight.score.fighters.iter();
    let parts: BTreeSet<&str> = fighters.map(|fighter| fighter.name.as_str()).collect();
    let mut players: HashMap<&str, (MemberId, &call::Member)> = HashMap::new();
    for (id, member) in call.roster().iter() {
        let Some(part) = member.part.as_deref().and_then(|part| parts.get(part)) else { continue };
        let better = players.get(part).is_none_or(|(_, before)| member.linked >= before.linked);
        if better {
            players.insert(part, (id, member));
        }
    }
    players
}

fn lack(member: &call::Member, visible: bool) -> Option<Lack> {
    match (member.linked, visible, member.ready) {
        (false, ..) => Some(Lack::Lost),
        (true, false, _) => Some(Lack::Hidden),
        (true, true, false) => Some(Lack::NotReady),
        (true, true, true) => None,
    }
}
