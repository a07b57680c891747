//! The wire: every message that passes between the server and its members, one type each, as MessagePack maps with
//! named fields. Times are microseconds of the server's monotonic clock (`_us`), beats are ticks (960 to the beat).
//! The pages' TypeScript types are generated from these (see [`typescript`]).

mod codec;
mod floor;
mod part;
mod pieces;
mod quick;
mod review;
mod run;
mod scores;
mod sound;
mod subject;
mod to_member;
mod to_server;
mod typescript;

pub use codec::{MAX_FRAME, PROTOCOL, WireError, decode, encode};
pub use floor::*;
pub use part::*;
pub use pieces::Pieces;
pub use quick::quick_hold;
pub use review::*;
pub use run::*;
pub use scores::*;
pub use sound::*;
pub use subject::*;
pub use to_member::*;
pub use to_server::*;
pub use typescript::typescript;

/// A number of things, as the wire has it.
pub(crate) fn small(number: usize) -> u32 {
    u32::try_from(number).unwrap_or(u32::MAX)
}
