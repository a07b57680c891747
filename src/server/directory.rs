//! Who may come in: an invitation for each role, and the personal keys that were traded for them. Secrets are 128 bits
//! and more from the system's source of randomness; keys are kept only as their SHA-256.

use std::collections::{BTreeMap, HashMap};

use sha2::{Digest, Sha256};

use crate::call::{MemberId, Role};
use crate::production::invitations::{Invitations, Secret};

/// Bytes of an invitation's secret: 160 bits.
const INVITATION_BYTES: usize = 20;
/// Bytes of a personal key: 256 bits.
const KEY_BYTES: usize = 32;

/// A secret's SHA-256.
pub(super) type Digested = [u8; 32];

/// The system gave no randomness. Nothing safe can be handed out; restart the machine.
#[derive(Debug, thiserror::Error)]
#[error("The system gives no random numbers, so no invitation can be made: {0}. Restart this machine.")]
pub struct NoRandomness(getrandom::Error);

/// The invitations and keys.
#[derive(Debug, Default)]
pub(super) struct Directory {
    invitations: BTreeMap<Role, Invitation>,
    keys: HashMap<Digested, MemberId>,
    came_as: HashMap<MemberId, Role>,
}

/// The invitation of a role.
#[derive(Clone, Debug, PartialEq, Eq)]
pub(super) struct Invitation {
    /// The secret part of the link.
    pub(super) secret: Secret,
    /// How many have joined with it.
    pub(super) joined: u32,
}

impl Directory {
    /// A directory with those secrets, by role; a role without one is given a new one.
    ///
    /// # Errors
    /// [`NoRandomness`].
    pub(super) fn new(mut secrets: Invitations) -> Result<Directory, NoRandomness> {
        let mut directory = Directory::default();
        for role in Role::ALL {
            let secret = match secrets.remove(&role) {
                Some(secret) => secret,
                None => new_secret()?,
            };
            directory.invitations.insert(role, Invitation { secret, joined: 0 });
        }
        Ok(directory)
    }

    /// Takes in somebody who joined before this server was started.
    pub(super) fn know(&mut self, member: MemberId, role: Role, key: Digested) {
        self.keys.insert(key, member);
        self.came_as.insert(member, role);
        if let Some(invitation) = self.invitations.get_mut(&role) {
            invitation.joined += 1;
        }
    }

    /// The role that an invitation gives. Secrets are compared by their digests, so that time tells nothing.
    pub(super) fn role_of(&self, secret: &str) -> Option<Role> {
        let asked = digest(secret);
        let mut found = None;
        for (role, invitation) in &self.invitations {
            if digest(invitation.secret.reveal()) == asked {
                found = Some(*role);
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

    /// The member with that key.
    pub(super) fn member_of(&self, key: &str) -> Option<MemberId> {
        self.keys.get(&digest(key)).copied()
    }

    /// A member's key is worth nothing from now on.
    pub(super) fn forget(&mut self, member: MemberId) {
        self.keys.retain(|_, holder| *holder != member);
        self.came_as.remove(&member);
    }

    /// A new secret for a role's invitation; the old one is worth nothing from now on.
    ///
    /// # Errors
    /// [`NoRandomness`]; the old secret stays.
    pub(super) fn renew(&mut self, role: Role) -> Result<(), NoRandomness> {
        let secret = new_secret()?;
        self.invitations.insert(role, Invitation { secret, joined: 0 });
        Ok(())
    }

    /// Everybody who came with a role's invitation.
    pub(super) fn joined_as(&self, role: Role) -> Vec<MemberId> {
        let mut members: Vec<_> =
            self.came_as.iter().filter(|(_, as_role)| **as_role == role).map(|(id, _)| *id).collect();
        members.sort_unstable();
        members
    }

    /// The secrets, by role, for keeping.
    pub(super) fn secrets(&self) -> Invitations {
        self.invitations.iter().map(|(role, invitation)| (*role, invitation.secret.clone())).collect()
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

/// A secret's SHA-256.
pub(super) fn digest(secret: &str) -> Digested {
    Sha256::digest(secret.as_bytes()).into()
}

fn random_hex(bytes: usize) -> Result<String, NoRandomness> {
    let mut buffer = vec![0; bytes];
    getrandom::fill(&mut buffer).map_err(NoRandomness)?;
    Ok(buffer.iter().map(|byte| format!("{byte:02x}")).collect())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn secrets_are_long_and_never_the_same() {
        let mut directory = Directory::new(BTreeMap::new()).unwrap();
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
        let mut directory = Directory::new(BTreeMap::new()).unwrap();
        let secret =
            directory.invitations().find(|(role, _)| *role == Role::Captain).unwrap().1.secret.reveal().to_owned();
        assert_eq!(directory.role_of(&secret), Some(Role::Captain));
        let key = directory.admit(MemberId(4), Role::Captain).unwrap();
        assert_eq!(directory.member_of(&key), Some(MemberId(4)));
        directory.renew(Role::Captain).unwrap();
        assert_eq!(directory.role_of(&secret), None);
        assert_eq!(directory.member_of(&key), Some(MemberId(4)), "a revoked invitation leaves keys alone");
        directory.forget(MemberId(4));
        assert_eq!(directory.member_of(&key), None);
        assert_eq!(directory.role_of(""), None);
    }
}
