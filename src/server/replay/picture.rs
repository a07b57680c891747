//! What a call says of itself: everything that is told of it and hangs on nothing else. Devices, sound, the log and the
//! time of day are left out; so is where a run is inside its phrase, which the cues say.

use std::collections::BTreeSet;

use serde::Serialize;
use sha2::{Digest as _, Sha256};

use super::recorded::Mark;
use crate::call::Call;
use crate::call::NearMisses;
use crate::hex;
use crate::server::lateness::Devices;
use crate::server::past::PastTimes;
use crate::server::{subjects, view};
use crate::units::ServerTime;
use crate::wire::{
    AttendanceView, CheckView, FightCastView, FightChoice, Health, HoldRecord, ItemView, MemberView, NearMissView,
    State, Subject,
};

/// Everything that is told of the call alone.
#[derive(Serialize)]
struct Picture {
    state: State,
    roster: Vec<MemberView>,
    holds: Vec<HoldRecord>,
    attendance: Vec<AttendanceView>,
    fights: Vec<FightChoice>,
    checks: Vec<CheckView>,
    why: (Vec<String>, NearMisses),
    near_misses: (u32, Vec<NearMissView>),
    /// How often it was changed, and the order: marks of before are of that, too.
    tonight: (u32, Vec<ItemView>),
    casts: Vec<FightCastView>,
}

/// The mark of what that call says of itself now.
pub(super) fn mark(call: &Call) -> Mark {
    let devices = Devices::default();
    let well = || Health { well: true, says: String::new() };
    let around = view::Around { production: "", devices: &devices, sound: well(), hold_call: false, log: well() };
    let mut state = State { ready: None, spot: None, ..view::state(call, ServerTime(0), around) };
    let shown = BTreeSet::from([
        Subject::Holds,
        Subject::Attendance,
        Subject::Fights,
        Subject::Checks,
        Subject::Why,
        Subject::NearMisses,
        Subject::Tonight,
        Subject::Casts,
    ]);
    let past = PastTimes::default();
    let around =
        subjects::Around { company: None, devices: &devices, troubles: Vec::new(), count_in: None, past: &past };
    let present = subjects::present(call, state, around, &shown);
    let (mut holds, mut checks, mut near_misses) = (present.holds, present.checks, present.near_misses);
    state = present.state;
    // The clock of a later start of the server has another beginning.
    let standing = state.hold.iter_mut().chain(&mut state.released);
    standing.chain(holds.iter_mut().map(|record| &mut record.hold)).for_each(|hold| hold.at_us = 0);
    checks.iter_mut().filter_map(|check| check.signed.as_mut()).for_each(|signed| signed.at_us = 0);
    near_misses.1.iter_mut().for_each(|miss| miss.at_us = 0);
    let picture = Picture {
        state,
        roster: present.roster,
        holds,
        attendance: present.attendance,
        fights: present.fights,
        checks,
        why: present.why,
        near_misses,
        tonight: (call.evening().changes(), present.tonight.1),
        casts: present.casts,
    };
    // Nothing in it can fail to be written.
    let digest = Sha256::digest(serde_json::to_vec(&picture).unwrap_or_default());
    Mark(hex::encode(digest.get(..16).unwrap_or_default()))
}
