//! The journal: what happened, on disk. One SQLite file, `journal.sqlite`, in the production's data folder; rows are
//! only ever added, each sealed with the one before it. [`Journal`] writes (a server, alone), [`Reader`] reads
//! (anybody, also meanwhile, and without touching the file), [`verify()`] finds what is damaged or missing.

mod backup;
mod chain;
mod columns;
mod damage;
mod error;
mod finding;
mod good;
mod handle;
mod head;
mod line;
mod links;
mod lock;
mod members;
mod newest;
mod opening;
mod pass;
mod queue;
mod read;
mod record;
mod rows;
mod runs;
mod salvage;
mod schema;
mod store;
mod taps;
mod unkept;
mod verify;
mod view;
mod writer;

pub use backup::copy_into;
pub use columns::EventRow;
pub use damage::DAMAGED;
pub use error::JournalError;
pub use finding::{Finding, first_of};
#[cfg(test)]
pub(crate) use handle::ByHand;
pub use handle::Journal;
pub use line::{BegunLine, CastLine, EventLine, PlaceLine};
pub use lock::in_use;
pub use members::Member;
pub use newest::Played;
pub use opening::{Opened, SessionStart};
pub use queue::{Done, FORGOTTEN, Health};
pub use read::{EventFilter, InputRow, Reader, RevisionRow, SessionRow, WrittenEvent};
pub use record::{Came, MemberJoined, Parting, Record, Report};
pub use runs::{RunOf, RunRow};
pub use salvage::{Salvaged, salvage};
pub use taps::KnownTap;
pub use verify::{Verdict, verify};
pub use view::find;

/// The journal's file in a data folder.
pub const FILE_NAME: &str = "journal.sqlite";
