//! Who may come in: an invitation for each role, and the personal keys that were traded for them. Secrets are 128 bits
//! and more from the system's source of randomness; keys are kept only as their SHA-256.

use std::collections::{BTreeMap, HashMap};
use std::sync::Arc;

use jiff::{SignedDuration, Timestamp};

use super::digest::{Digested, digest};
use super::keys::{Holder, Keys};
use crate::call::{MemberId, Role};
use crate::hex;
use crate::journal::Parting;
use crate::production::invitations::{self, Invitations, Secret};

/// Bytes of an invitation's secret: 160 bits.
const INVITATION_BYTES: usize = 20;
/// Bytes of a personal key: 256 bits.
const KEY_BYTES: usize = 32;

/// The system gave no randomness. Nothing safe can be handed out; restart the machine.
#[derive(Debug, thiserror::Error)]
#[error("The system gives no random numbers, so no invitation can be made: {0}. Restart this machine.")]
pub struct NoRandomness(getrandom::Error);

/// Why an invitation opens nothing.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(super) enum NoEntry {
    /// It is none of ours, or was revoked.
    Unknown,
    /// It was ours until then.
    RanOut(Timestamp),
    /// Nobody new is let in as that role now.
    Closed(Role),
}

/// The invitations and keys.
#[derive(Debug)]
pub(super) struct Directory {
    /// For how long an invitation lets people in.
    lasts: SignedDuration,
    invitations: BTreeMap<Role, Invitation>,
    keys: Arc<Keys>,
    came_as: HashMap<MemberId, Role>,
}

/// The invitation of a role.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Invitation {
    /// The secret part of the link.
    pub(super) secret: Secret,
    /// When it was made.
    made: Timestamp,
    /// When it lets nobody in any more.
    pub(super) until: Timestamp,
    /// True while nobody new is let in with it.
    pub(super) closed: bool,
    /// How many have joined with it.
    pub(super) joined: u32,
}

impl Directory {
    /// A directory with those invitations, which let people in for `days`; a role without one that still does is given
    /// a new one.
    ///
    /// # Errors
    /// [`NoRandomness`].
    pub(super) fn new(mut kept: Invitations, days: u32, now: Timestamp) -> Result<Directory, NoRandomness> {
        let lasts = SignedDuration::from_hours(i64::from(days) * 24);
        let mut directory =
            Directory { lasts, invitations: BTreeMap::new(), keys: Arc::default(), came_as: HashMap::new() };
        for role in Role::ALL {
            match kept.remove(&role).filter(|kept| directory.end(kept.made) > now) {
                Some(kept) => directory.invite(role, kept),
                None => directory.renew(role, now)?,
            }
        }
        Ok(directory)
    }

    fn invite(&mut self, role: Role, invitation: invitations::Invitation) {
        let invitations::Invitation { secret, made, closed } = invitation;
        let until = self.end(made);
        self.invitations.insert(role, Invitation { secret, made, until, closed, joined: 0 });
    }

    fn end(&self, made: Timestamp) -> Timestamp {
        made.saturating_add(self.lasts).unwrap_or(Timestamp::MAX)
    }

    /// Takes in somebody who joined before this server was started.
    pub(super) fn know(&mut self, member: MemberId, role: Role, key: Digested) {
        self.keys.give(key, member);
        self.came_as.insert(member, role);
        if let Some(invitation) = self.invitations.get_mut(&role) {
            invitation.joined += 1;
        }
    }

    /// Takes in somebody who joined before this server was started and has parted since.
    pub(super) fn remember(&self, member: MemberId, key: Digested, parting: Parting) {
        match parting {
            Parting::Left => {}
            Parting::Replaced => self.keys.keep(key, Holder::Replaced(member)),
            Parting::Removed => self.keys.keep(key, Holder::Removed(member)),
        }
    }

    /// The role that an invitation gives. Secrets are compared by their digests, so that time tells nothing.
    ///
    /// # Errors
    /// Why it gives none.
    pub(super) fn role_of(&self, secret: &str, now: Timestamp) -> Result<Role, NoEntry> {
        let asked = digest(secret);
        let mut found = Err(NoEntry::Unknown);
        for (role, invitation) in &self.invitations {
            if digest(invitation.secret.reveal()) == asked {
                found = match invitation {
                    Invitation { until, .. } if now >= *until => Err(NoEntry::RanOut(*until)),
                    Invitation { closed: true, .. } => Err(NoEntry::Closed(*role)),
                    _ => Ok(*role),
                };
            }
        }
        found
    }

    /// A new personal key for a member.
    ///
    /// # Errors
    /// [`NoRandomness`].
    pub(super) fn admit(&mut self, member: MemberId, role: Role) -> Result<String, NoRandomness> {
        let key = random_hex(KEY_BYTES)?;
        self.know(member, role, digest(&key));
        Ok(key)
    }

    /// A new personal key for somebody who has not had theirs: the one before may only hold.
    ///
    /// # Errors
    /// [`NoRandomness`].
    pub(super) fn another_key(&mut self, member: MemberId) -> Result<String, NoRandomness> {
        let key = random_hex(KEY_BYTES)?;
        self.keys.replace(member);
        self.keys.give(digest(&key), member);
        Ok(key)
    }

    /// The member with that key.
    pub(super) fn member_of(&self, key: &str) -> Option<MemberId> {
        self.keys.member(key)
    }

    /// A member's key is worth nothing from now on.
    pub(super) fn forget(&mut self, member: MemberId) {
        self.keys.forget(member);
        self.came_as.remove(&member);
    }

    /// The desk takes a member out of the call.
    pub(super) fn remove(&mut self, member: MemberId) {
        self.keys.remove(member);
        self.came_as.remove(&member);
    }

    /// Lets nobody new in as a role, or lets them in again. False when that is so already.
    pub(super) fn close(&mut self, role: Role, closed: bool) -> bool {
        let invitation = self.invitations.get_mut(&role);
        invitation.is_some_and(|invitation| std::mem::replace(&mut invitation.closed, closed) != closed)
    }

    /// A member came by another way: the key that they had may only hold from now on.
    pub(super) fn replace(&mut self, member: MemberId) {
        self.keys.replace(member);
        self.came_as.remove(&member);
    }

    /// The keys, for those who meet connections.
    pub(super) fn keys(&self) -> Arc<Keys> {
        Arc::clone(&self.keys)
    }

    /// A new secret for a role's invitation; the old one is worth nothing from now on.
    ///
    /// # Errors
    /// [`NoRandomness`]; the old secret stays.
    pub(super) fn renew(&mut self, role: Role, now: Timestamp) -> Result<(), NoRandomness> {
        let secret = new_secret()?;
        let closed = self.invitations.get(&role).is_some_and(|before| before.closed);
        self.invite(role, invitations::Invitation { secret, made: now, closed });
        Ok(())
    }

    /// Everybody who came with a role's invitation.
    pub(super) fn joined_as(&self, role: Role) -> Vec<MemberId> {
        let mut members: Vec<_> =
            self.came_as.iter().filter(|(_, as_role)| **as_role == role).map(|(id, _)| *id).collect();
        members.sort_unstable();
        members
    }

    /// The invitations as they are kept.
    pub(super) fn to_keep(&self) -> Invitations {
        let kept = |each: &Invitation| invitations::Invitation {
            secret: each.secret.clone(),
            made: each.made,
            closed: each.closed,
        };
        self.invitations.iter().map(|(role, invitation)| (*role, kept(invitation))).collect()
    }

    /// The invitations, in the order of the roles.
    pub(super) fn invitations(&self) -> impl Iterator<Item = (Role, &Invitation)> {
        self.invitations.iter().map(|(role, invitation)| (*role, invitation))
    }
}

/// A secret for an invitation.
fn new_secret() -> Result<Secret, NoRandomness> {
    loop {
        // Hexadecimal digits of this length are always a sound secret, so this goes round once.
        if let Some(secret) = Secret::new(&random_hex(INVITATION_BYTES)?) {
            return Ok(secret);
        }
    }
}

fn random_hex(bytes: usize) -> Result<String, NoRandomness> {
    let mut buffer = vec![0; bytes];
    getrandom::fill(&mut buffer).map_err(NoRandomness)?;
    Ok(hex::encode(&buffer))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn secrets_are_long_and_never_the_same() {
        let mut directory = Directory::new(BTreeMap::new(), 30, Timestamp::UNIX_EPOCH).unwrap();
        let secrets: Vec<_> =
            directory.invitations().map(|(_, invitation)| invitation.secret.reveal().to_owned()).collect();
        for secret in &secrets {
            assert!(secret.len() * 4 >= 128, "at least 128 bits");
            assert_eq!(secrets.iter().filter(|other| *other == secret).count(), 1);
        }
        assert_ne!(
            directory.admit(MemberId(1), Role::Desk).unwrap(),
            directory.admit(MemberId(2), Role::Desk).unwrap()
        );
    }

    #[test]
    fn revoked_invitations_and_forgotten_keys_open_nothing() {
        let now = Timestamp::UNIX_EPOCH;
        let mut directory = Directory::new(BTreeMap::new(), 30, now).unwrap();
        let secret =
            directory.invitations().find(|(role, _)| *role == Role::Captain).unwrap().1.secret.reveal().to_owned();
        assert_eq!(directory.role_of(&secret, now), Ok(Role::Captain));
        let key = directory.admit(MemberId(4), Role::Captain).unwrap();
        assert_eq!(directory.member_of(&key), Some(MemberId(4)));
        directory.renew(Role::Captain, now).unwrap();
        assert_eq!(directory.role_of(&secret, now), Err(NoEntry::Unknown));
        assert_eq!(directory.member_of(&key), Some(MemberId(4)), "a revoked invitation leaves keys alone");
        directory.forget(MemberId(4));
        assert_eq!(directory.member_of(&key), None);
        assert_eq!(directory.role_of("", now), Err(NoEntry::Unknown));
    }

    #[test]
    fn an_invitation_runs_out_and_is_made_anew_at_the_next_start() {
        let made = Timestamp::UNIX_EPOCH;
        let directory = Directory::new(BTreeMap::new(), 2, made).unwrap();
        let secret = directory.to_keep()[&Role::Performer].secret.clone();
        let at = |hours| made + SignedDuration::from_hours(hours);
        assert_eq!(directory.role_of(secret.reveal(), at(47)), Ok(Role::Performer));
        assert_eq!(directory.role_of(secret.reveal(), at(48)), Err(NoEntry::RanOut(at(48))));
        let soon = Directory::new(directory.to_keep(), 2, at(47)).unwrap();
        assert_eq!(soon.to_keep(), directory.to_keep(), "a start makes it last no longer");
        let late = Directory::new(directory.to_keep(), 2, at(48)).unwrap();
        assert_eq!(late.role_of(secret.reveal(), at(48)), Err(NoEntry::Unknown));
        assert_eq!(late.to_keep()[&Role::Performer].made, at(48));
    }
}
