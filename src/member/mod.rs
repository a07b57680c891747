//! A member as a library: what a phone does, minus the screen. [`Follower`] is the state machine (pure), [`Member`]
//! drives it over a real link, [`StandIn`] is a simulated person on top. Used by `holdfast stand-ins`, `listen` and
//! `demo`, and by tests.

mod address;
mod cues;
mod event;
mod follow;
mod known;
mod link;
mod look;
mod socket;
mod stand_in;
mod statistics;
mod taps;

pub use address::{Address, AddressError};
pub use event::{Act, Ending, Event, Introduction, Shown};
pub use follow::Follower;
pub use known::Known;
pub use link::{Happening, Member};
pub use look::{Invited, LookError, look};
pub use stand_in::{Behaviour, Seen, StandIn, StandInHandle};
pub use statistics::{HoldHeard, Statistics, Summary, percentile};
pub use taps::TapState;
