//! Bytes ⇄ messages: MessagePack maps with named fields, so that a field can be added without breaking a reader.

use serde::{Serialize, de::DeserializeOwned};

/// The version of this wire. A page of another version is told to reload.
pub const PROTOCOL: u32 = 8;

/// The longest frame that a member may send, in bytes. The longest honest one is a note of 2,000 characters.
pub const MAX_FRAME: usize = 16 * 1024;

/// Why bytes are not a message, or a message could not be made bytes.
#[derive(Debug, thiserror::Error)]
pub enum WireError {
    /// The bytes are no message of this wire. The member should reload the page.
    #[error("this is not a message that Holdfast knows: {0}")]
    Unreadable(#[from] rmp_serde::decode::Error),
    /// The message cannot be written. A defect of the server, not of the member.
    #[error("a message could not be written: {0}")]
    Unwritable(#[from] rmp_serde::encode::Error),
}

/// The bytes of a message.
///
/// # Errors
/// [`WireError::Unwritable`] if the message has a value that MessagePack cannot hold, which none of ours has.
pub fn encode<T: Serialize>(message: &T) -> Result<Vec<u8>, WireError> {
    Ok(rmp_serde::to_vec_named(message)?)
}

/// How deep a message may be nested. Ours need ten; a thousand (the library's own limit) can run out of stack.
const DEEPEST: usize = 32;

/// The message in those bytes. Never panics, whatever they are.
///
/// # Errors
/// [`WireError::Unreadable`] when they are not exactly one message.
pub fn decode<T: DeserializeOwned>(bytes: &[u8]) -> Result<T, WireError> {
    let mut reader = rmp_serde::Deserializer::new(bytes);
    reader.set_max_depth(DEEPEST);
    let message = T::deserialize(&mut reader)?;
    match reader.get_ref() {
        [] => Ok(message),
        _ => Err(WireError::Unreadable(rmp_serde::decode::Error::Syntax("there are bytes after the message".into()))),
    }
}
