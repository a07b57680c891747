//! The call, played again. While a server runs, a [`tape`] keeps what comes into the call and a mark of what is told of
//! it; a server that begins [`recall`]s the call that went on when the last one stopped; and `holdfast replay` plays what
//! was recorded and says whether everything comes out as it was told.
//!
//! Time alone is no input: what it does follows from the rest, however it is cut.

mod picture;
mod player;
mod recall;
mod recorded;
mod tape;

use std::path::Path;

use serde::Serialize;

use self::player::{Played, play};
pub(super) use self::recall::{Beginning, Left, PATIENCE, Recalled, recall};
pub(super) use self::recorded::{Known, KnownTap};
pub(super) use self::tape::Tape;
use crate::journal::{JournalError, Reader};
use crate::units::Micros;

/// Which program this is: its version, and a number for the sources that it was made of (`build.rs`).
pub(super) const BUILD: &str = concat!(env!("CARGO_PKG_VERSION"), " ", env!("HOLDFAST_BUILD"));

/// A start of the server, played again.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Replayed {
    /// The start, counted from 1.
    pub session: i64,
    /// When it was, RFC 3339.
    pub utc: String,
    /// The program that recorded it; nothing when its inputs were not kept.
    pub build: Option<String>,
    /// True when this is the same program.
    pub same_build: bool,
    /// How many inputs were played.
    pub inputs: u64,
    /// How often the state was told.
    pub states: u64,
    /// The first state that was told otherwise than it comes out now.
    pub differs: Option<StateDiffers>,
    /// Why it could not be played to its end.
    pub failed: Option<String>,
}

/// A state that was told otherwise than it comes out now.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct StateDiffers {
    /// Which of those that were told, from 1.
    pub state: u64,
    /// Microseconds after the server's start.
    pub server_us: i64,
}

/// Plays every start of the server in a journal again, or one of them. Never writes to it.
///
/// # Errors
/// The journal cannot be read. What cannot be played is said in [`Replayed::failed`].
pub fn replay(data: &Path, session: Option<i64>) -> Result<Vec<Replayed>, JournalError> {
    let reader = Reader::open(data)?;
    let starts = reader.sessions()?.into_iter().filter(|row| session.is_none_or(|session| row.session == session));
    Ok(starts.map(|row| replayed(&reader, row.session, row.utc)).collect())
}

fn replayed(reader: &Reader, session: i64, utc: String) -> Replayed {
    let nothing =
        Replayed { session, utc, build: None, same_build: false, inputs: 0, states: 0, differs: None, failed: None };
    match play(reader, session, Micros::ZERO) {
        Err(why) => Replayed { failed: Some(why), ..nothing },
        Ok(None) => nothing,
        Ok(Some(Played { build, inputs, states, differs, .. })) => Replayed {
            same_build: build == BUILD,
            build: Some(build),
            inputs,
            states,
            differs: differs.map(|differs| StateDiffers { state: differs.state, server_us: differs.at.0 }),
            ..nothing
        },
    }
}
