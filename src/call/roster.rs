//! Everybody who has joined, linked or not.

use std::collections::BTreeMap;

use serde::{Deserialize, Serialize};

use super::Role;

/// A member's number; never given twice in one journal.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
pub struct MemberId(pub u32);

impl MemberId {
    /// The foot switch at the desk, which is nobody's. No member gets this number: they are counted up from 1.
    pub const FOOT_SWITCH: MemberId = MemberId(u32::MAX);
    /// What it is called wherever somebody is named.
    pub const FOOT_SWITCH_NAME: &'static str = "foot switch";
    /// The machine that the server runs on, which is nobody's either.
    pub const MACHINE: MemberId = MemberId(u32::MAX - 1);
    /// What it is called wherever somebody is named.
    pub const MACHINE_NAME: &'static str = "the desk's machine";

    /// The number of a member; nothing for the foot switch and the machine.
    pub fn of_person(self) -> Option<u32> {
        (self < MemberId::MACHINE).then_some(self.0)
    }
}

/// Somebody who has joined.
#[derive(Clone, Debug, PartialEq)]
pub struct Member {
    /// What they are called.
    pub name: String,
    /// What they are.
    pub role: Role,
    /// The fighter they play.
    pub part: Option<String>,
    /// True while their link lives.
    pub linked: bool,
    /// True once they have been linked in this call.
    pub came: bool,
    /// True once they said ready at the present places.
    pub ready: bool,
}

/// Everybody.
#[derive(Clone, Debug, Default)]
pub struct Roster {
    members: BTreeMap<MemberId, Member>,
    /// The names of those who have left: a hold of theirs may still be on its way.
    left: BTreeMap<MemberId, (String, Role)>,
}

impl Roster {
    /// Everybody, in order of joining.
    pub fn iter(&self) -> impl Iterator<Item = (MemberId, &Member)> {
        self.members.iter().map(|(id, member)| (*id, member))
    }

    /// One member.
    pub fn get(&self, id: MemberId) -> Option<&Member> {
        self.members.get(&id)
    }

    /// Who has that part, a linked member before a lost one.
    pub fn holder_of(&self, part: &str) -> Option<(MemberId, &Member)> {
        let has = |(_, member): &(MemberId, &Member)| member.part.as_deref() == Some(part);
        self.iter().filter(has).max_by_key(|(_, member)| member.linked)
    }

    /// Adds a member, or takes the same one back in. Any part that somebody else holds is not given twice.
    pub(super) fn join(&mut self, id: MemberId, name: String, role: Role, part: Option<String>) {
        let part = part.filter(|part| role == Role::Performer && self.holder_of(part).is_none_or(|(by, _)| by == id));
        self.members.insert(id, Member { name, role, part, linked: true, came: true, ready: false });
    }

    pub(super) fn remove(&mut self, id: MemberId) -> Option<Member> {
        let member = self.members.remove(&id)?;
        self.left.insert(id, (member.name.clone(), member.role));
        Some(member)
    }

    /// What somebody is called and what they are, also when they have left.
    pub(super) fn name_of(&self, id: MemberId) -> Option<(&str, Role)> {
        let here = self.get(id).map(|member| (member.name.as_str(), member.role));
        here.or_else(|| self.left.get(&id).map(|(name, role)| (name.as_str(), *role)))
    }

    pub(super) fn get_mut(&mut self, id: MemberId) -> Option<&mut Member> {
        self.members.get_mut(&id)
    }

    /// Somebody of before this server was started who has left: a hold of theirs may still be on its way.
    pub(super) fn has_left(&mut self, id: MemberId, name: String, role: Role) {
        self.left.insert(id, (name, role));
    }

    /// Another call begins: whoever is linked has come to it.
    pub(super) fn begin_anew(&mut self) {
        for member in self.members.values_mut() {
            member.came = member.linked;
        }
    }

    /// Nobody has a link any more, and nobody is ready.
    pub(super) fn unlink_all(&mut self) {
        for member in self.members.values_mut() {
            (member.linked, member.ready) = (false, false);
        }
    }

    /// Nobody is ready any more.
    pub(super) fn clear_ready(&mut self) {
        for member in self.members.values_mut() {
            member.ready = false;
        }
    }
}
