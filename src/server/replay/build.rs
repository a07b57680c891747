//! Which program this is.

use std::sync::OnceLock;

use sha2::{Digest, Sha256};

use crate::hex;

/// The version of this program and the beginning of its own file's SHA-256: two programs of one version are told apart.
/// Reads the file once.
pub(in crate::server) fn this_build() -> String {
    static BUILD: OnceLock<String> = OnceLock::new();
    let build = BUILD.get_or_init(|| {
        let version = env!("CARGO_PKG_VERSION");
        let own = std::env::current_exe().and_then(std::fs::read);
        own.map_or_else(
            |_| version.to_owned(),
            |bytes| format!("{version} {}", hex::encode(Sha256::digest(bytes).get(..6).unwrap_or_default())),
        )
    });
    build.clone()
}
