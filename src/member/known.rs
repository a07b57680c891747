//! What a member knows of the subjects that it shows: each is told whole once, and then what has changed is put in.

use std::collections::BTreeMap;

use crate::call::NearMisses;
use crate::wire::{
    AttendanceView, CheckView, DeviceView, FightCastView, FightChoice, HoldRecord, ItemView, MemberView, MissingPart,
    NearMissView, SubjectTold,
};

/// What is known of each subject; nothing until it is told.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Known {
    /// Everybody who has joined, by number.
    pub roster: Option<BTreeMap<u32, MemberView>>,
    /// How everybody's page is, by number.
    pub devices: Option<BTreeMap<u32, DeviceView>>,
    /// The hold that stands and the last ones before it, by number.
    pub holds: Option<BTreeMap<u32, HoldRecord>>,
    /// Whom the desk noted as there or not, by name.
    pub attendance: Option<BTreeMap<String, AttendanceView>>,
    /// The fights that can be run.
    pub fights: Option<Vec<FightChoice>>,
    /// What is wrong, a sentence each.
    pub troubles: Option<Vec<String>>,
    /// The checks before the call.
    pub checks: Option<Vec<CheckView>>,
    /// Who is not there for the run, and the generation of which that is true.
    pub missing: Option<(u64, Vec<MissingPart>)>,
    /// The company's reasons, and whether near misses are reported.
    pub why: Option<(Vec<String>, NearMisses)>,
    /// How many near misses there were, and the last of them.
    pub near_misses: Option<(u32, Vec<NearMissView>)>,
    /// Which order tonight's is, and the order.
    pub tonight: Option<(u64, Vec<ItemView>)>,
    /// Who plays what tonight, by fight.
    pub casts: Option<Vec<FightCastView>>,
}

impl Known {
    /// Takes what is told of a subject.
    pub fn take(&mut self, tells: &SubjectTold) {
        match tells {
            SubjectTold::Roster { whole, members, gone } => {
                put(&mut self.roster, *whole, members, |member| member.member, gone);
            }
            SubjectTold::Devices { whole, devices, gone } => {
                put(&mut self.devices, *whole, devices, |device| device.member, gone);
            }
            SubjectTold::Holds { whole, holds, gone } => {
                put(&mut self.holds, *whole, holds, |record| record.hold.hold, gone);
            }
            SubjectTold::Attendance { whole, people, gone } => {
                put(&mut self.attendance, *whole, people, |noted| noted.person.clone(), gone);
            }
            SubjectTold::Fights { fights } => self.fights = Some(fights.clone()),
            SubjectTold::Troubles { troubles } => self.troubles = Some(troubles.clone()),
            SubjectTold::Checks { checks } => self.checks = Some(checks.clone()),
            SubjectTold::Missing { generation, parts } => self.missing = Some((*generation, parts.clone())),
            SubjectTold::Why { reasons, near_misses } => self.why = Some((reasons.clone(), *near_misses)),
            SubjectTold::NearMisses { count, misses } => self.near_misses = Some((*count, misses.clone())),
            SubjectTold::Tonight { version, items } => self.tonight = Some((*version, items.clone())),
            SubjectTold::Casts { fights } => self.casts = Some(fights.clone()),
        }
    }

    /// Everybody who has joined, in order of joining; nobody before the roster is told.
    pub fn members(&self) -> impl Iterator<Item = &MemberView> {
        self.roster.iter().flat_map(BTreeMap::values)
    }
}

/// Puts what has changed in. A change of what was never told whole is of no use and is left.
fn put<K: Ord, V: Clone>(
    known: &mut Option<BTreeMap<K, V>>,
    whole: bool,
    values: &[V],
    key: impl Fn(&V) -> K,
    gone: &[K],
) {
    if whole {
        *known = Some(BTreeMap::new());
    }
    let Some(known) = known else { return };
    known.extend(values.iter().map(|value| (key(value), value.clone())));
    for key in gone {
        known.remove(key);
    }
}
