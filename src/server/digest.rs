//! What is kept of a secret: its SHA-256, by which it is known again and from which nobody can make it.

use sha2::{Digest, Sha256};

/// A secret's SHA-256.
pub(super) type Digested = [u8; 32];

/// A secret's SHA-256.
pub(super) fn digest(secret: &str) -> Digested {
    Sha256::digest(secret.as_bytes()).into()
}
