//! Everybody who joined before this start of the server: their keys are good for what they were good for.

use jiff::Timestamp;

use super::company::JoinedBefore;
use super::directory::Directory;
use super::replay::Known;
use crate::call::MemberId;
use crate::hex;
use crate::journal::{Member, Parting};

/// What a start of the server knows of people.
pub(super) struct Remembered {
    /// Who may come back.
    pub(super) members: Vec<Known>,
    /// Who has parted, and may still have a tap on a phone.
    pub(super) left: Vec<Known>,
    /// How those came who may come back.
    pub(super) joined: Vec<JoinedBefore>,
}

/// Takes in what the journal says of people; where it does not say when somebody joined, it was now.
pub(super) fn remembered(before_now: &[Member], directory: &mut Directory, utc: Timestamp) -> Remembered {
    let (mut members, mut left, mut joined) = (Vec::new(), Vec::new(), Vec::new());
    for before in before_now {
        let Some(key) = hex::decode(&before.key_sha256) else { continue };
        let (member, name, role) = (MemberId(before.member), before.name.clone(), before.role);
        let known = Known { member, name: name.clone(), role, part: before.part.clone() };
        if before.revoked {
            directory.remember(member, key, before.parting);
            left.extend((before.parting != Parting::Left).then_some(known));
            continue;
        }
        directory.know(member, role, key);
        members.push(known);
        let (joined_at, claims) = (before.joined_utc.parse().unwrap_or(utc), before.claims.map(MemberId));
        joined.push(JoinedBefore { member, name, joined: joined_at, notes_taken: before.notes_taken, claims });
    }
    Remembered { members, left, joined }
}
