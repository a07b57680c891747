//! Who is missing: the parts of a run that are not there, ready, linked and looking.

use super::lateness::Devices;
use crate::call::{self, Call};
use crate::wire::{Lack, MissingPart};

/// How many parts of the run are ready, of how many; nothing while nothing is set up.
pub(super) fn ready(call: &Call, devices: &Devices) -> Option<(usize, usize)> {
    let of = call.run()?.setup.fight.score.fighters.len();
    Some((of.saturating_sub(missing(call, devices).len()), of))
}

/// Every part of the run that is not there, ready, linked and looking, in the score's order.
pub(super) fn missing(call: &Call, devices: &Devices) -> Vec<MissingPart> {
    let Some(run) = call.run() else { return Vec::new() };
    let cast = call.cast_of(&run.setup.fight);
    let fighters = run.setup.fight.score.fighters.iter();
    let parts = fighters.filter_map(|fighter| {
        let part = fighter.name.clone();
        let player = cast.player(&fighter.name).and_then(|id| Some((id, call.roster().get(id)?)));
        let Some((id, member)) = player else {
            return Some(MissingPart { part, name: None, lack: Lack::Nobody });
        };
        let lack = lack(member, devices.get(id).visible)?;
        Some(MissingPart { part, name: Some(member.name.clone()), lack })
    });
    parts.collect()
}

fn lack(member: &call::Member, visible: bool) -> Option<Lack> {
    match (member.linked, visible, member.ready) {
        (false, ..) => Some(Lack::Lost),
        (true, false, _) => Some(Lack::Hidden),
        (true, true, false) => Some(Lack::NotReady),
        (true, true, true) => None,
    }
}
