//! The subjects as they were told last, one copy of each, and what has changed of them since.

use std::collections::{BTreeMap, BTreeSet};

use crate::call::NearMisses;
use crate::wire::{
    AttendanceView, CheckView, DeviceView, FightCastView, FightChoice, HoldRecord, ItemView, MemberView, MissingPart,
    NearMissView, State, Subject, SubjectTold,
};

/// What is true now of everything that is told. State and roster are always here; of another subject that nobody shows,
/// nothing needs to be.
#[derive(Clone, Debug)]
pub(in crate::server) struct Present {
    pub(in crate::server) state: State,
    pub(in crate::server) roster: Vec<MemberView>,
    pub(in crate::server) devices: Vec<DeviceView>,
    pub(in crate::server) holds: Vec<HoldRecord>,
    pub(in crate::server) attendance: Vec<AttendanceView>,
    pub(in crate::server) fights: Vec<FightChoice>,
    pub(in crate::server) troubles: Vec<String>,
    pub(in crate::server) checks: Vec<CheckView>,
    /// With the generation of which it is true.
    pub(in crate::server) missing: (u64, Vec<MissingPart>),
    /// The company's reasons, and whether near misses are reported.
    pub(in crate::server) why: (Vec<String>, NearMisses),
    /// How many there were, and the last of them.
    pub(in crate::server) near_misses: (u32, Vec<NearMissView>),
    /// Which order tonight's is, and the order.
    pub(in crate::server) tonight: (u64, Vec<ItemView>),
    pub(in crate::server) casts: Vec<FightCastView>,
}

impl Present {
    /// With nothing but the state.
    pub(in crate::server) fn of(state: State) -> Present {
        Present {
            state,
            roster: Vec::new(),
            devices: Vec::new(),
            holds: Vec::new(),
            attendance: Vec::new(),
            fights: Vec::new(),
            troubles: Vec::new(),
            checks: Vec::new(),
            missing: (0, Vec::new()),
            why: <(Vec<String>, NearMisses)>::default(),
            near_misses: (0, Vec::new()),
            tonight: (0, Vec::new()),
            casts: Vec::new(),
        }
    }
}

/// What was told last of every subject that somebody shows; nothing of the others.
#[derive(Debug, Default)]
pub(super) struct Tables {
    roster: Keyed<u32, MemberView>,
    devices: Keyed<u32, DeviceView>,
    holds: Keyed<u32, HoldRecord>,
    attendance: Keyed<String, AttendanceView>,
    fights: Vec<FightChoice>,
    troubles: Vec<String>,
    checks: Vec<CheckView>,
    missing: (u64, Vec<MissingPart>),
    why: (Vec<String>, NearMisses),
    near_misses: (u32, Vec<NearMissView>),
    tonight: (u64, Vec<ItemView>),
    casts: Vec<FightCastView>,
}

impl Tables {
    /// Takes what is present of a subject. Gives what has changed, if anything has; nothing, and keeps nothing, when
    /// nobody shows it.
    pub(super) fn take(&mut self, subject: Subject, present: &Present, shown: bool) -> Option<SubjectTold> {
        match subject {
            Subject::Roster => {
                let (members, gone) = self.roster.take(&present.roster, |member| member.member, shown)?;
                Some(SubjectTold::Roster { whole: false, members, gone })
            }
            Subject::Devices => {
                let (devices, gone) = self.devices.take(&present.devices, |device| device.member, shown)?;
                Some(SubjectTold::Devices { whole: false, devices, gone })
            }
            Subject::Holds => {
                let (holds, gone) = self.holds.take(&present.holds, |record| record.hold.hold, shown)?;
                Some(SubjectTold::Holds { whole: false, holds, gone })
            }
            Subject::Attendance => {
                let (people, gone) = self.attendance.take(&present.attendance, |noted| noted.person.clone(), shown)?;
                Some(SubjectTold::Attendance { whole: false, people, gone })
            }
            Subject::Fights => replaced(&mut self.fights, &present.fights, shown).then(|| self.whole(subject)),
            Subject::Troubles => replaced(&mut self.troubles, &present.troubles, shown).then(|| self.whole(subject)),
            Subject::Checks => replaced(&mut self.checks, &present.checks, shown).then(|| self.whole(subject)),
            Subject::Missing => replaced(&mut self.missing, &present.missing, shown).then(|| self.whole(subject)),
            Subject::Why => replaced(&mut self.why, &present.why, shown).then(|| self.whole(subject)),
            Subject::NearMisses => {
                replaced(&mut self.near_misses, &present.near_misses, shown).then(|| self.whole(subject))
            }
            Subject::Tonight => replaced(&mut self.tonight, &present.tonight, shown).then(|| self.whole(subject)),
            Subject::Casts => replaced(&mut self.casts, &present.casts, shown).then(|| self.whole(subject)),
        }
    }

    /// All that was told of a subject.
    pub(super) fn whole(&self, subject: Subject) -> SubjectTold {
        match subject {
            Subject::Roster => SubjectTold::Roster { whole: true, members: self.roster.all(), gone: Vec::new() },
            Subject::Devices => SubjectTold::Devices { whole: true, devices: self.devices.all(), gone: Vec::new() },
            Subject::Holds => SubjectTold::Holds { whole: true, holds: self.holds.all(), gone: Vec::new() },
            Subject::Attendance => {
                SubjectTold::Attendance { whole: true, people: self.attendance.all(), gone: Vec::new() }
            }
            Subject::Fights => SubjectTold::Fights { fights: self.fights.clone() },
            Subject::Troubles => SubjectTold::Troubles { troubles: self.troubles.clone() },
            Subject::Checks => SubjectTold::Checks { checks: self.checks.clone() },
            Subject::Missing => {
                let (generation, parts) = self.missing.clone();
                SubjectTold::Missing { generation, parts }
            }
            Subject::Why => {
                let (reasons, near_misses) = self.why.clone();
                SubjectTold::Why { reasons, near_misses }
            }
            Subject::NearMisses => {
                let (count, misses) = self.near_misses.clone();
                SubjectTold::NearMisses { count, misses }
            }
            Subject::Tonight => {
                let (version, items) = self.tonight.clone();
                SubjectTold::Tonight { version, items }
            }
            Subject::Casts => SubjectTold::Casts { fights: self.casts.clone() },
        }
    }
}

/// Puts what is present in the place of what was told, or nothing when nobody shows it. True when that is something else
/// and somebody shows it.
fn replaced<T: Clone + Default + PartialEq>(told: &mut T, present: &T, shown: bool) -> bool {
    if !shown {
        *told = T::default();
        return false;
    }
    let changed = told != present;
    if changed {
        told.clone_from(present);
    }
    changed
}

/// Entries that are told one by one, each under its key.
#[derive(Debug)]
struct Keyed<K, V> {
    told: BTreeMap<K, V>,
}

impl<K, V> Default for Keyed<K, V> {
    fn default() -> Keyed<K, V> {
        Keyed { told: BTreeMap::new() }
    }
}

impl<K: Ord + Clone, V: Clone + PartialEq> Keyed<K, V> {
    /// What is new or has changed, and the keys of what has gone; nothing when neither is so.
    fn take(&mut self, present: &[V], key: impl Fn(&V) -> K, shown: bool) -> Option<(Vec<V>, Vec<K>)> {
        if !shown {
            self.told.clear();
            return None;
        }
        let mut changed = Vec::new();
        for value in present {
            let key = key(value);
            if self.told.get(&key) != Some(value) {
                changed.push(value.clone());
                self.told.insert(key, value.clone());
            }
        }
        let gone = if self.told.len() > present.len() { self.forget_all_but(present, key) } else { Vec::new() };
        (!changed.is_empty() || !gone.is_empty()).then_some((changed, gone))
    }

    /// Forgets what is not present any more and gives its keys. Keys are told apart, so there is none while no more
    /// entries are known than present.
    fn forget_all_but(&mut self, present: &[V], key: impl Fn(&V) -> K) -> Vec<K> {
        let present: BTreeSet<K> = present.iter().map(key).collect();
        let gone: Vec<K> = self.told.keys().filter(|key| !present.contains(key)).cloned().collect();
        for key in &gone {
            self.told.remove(key);
        }
        gone
    }

    fn all(&self) -> Vec<V> {
        self.told.values().cloned().collect()
    }
}
