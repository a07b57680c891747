//! The call: the state machine of a run. It is driven, not driving: [`Call::handle`] takes the time and an input and
//! returns what must be done, in order; [`Call::deadline`] says when it wants to hear from the clock next. It knows no
//! socket, file, clock, thread or sound card, so a whole rehearsal can be replayed in a microsecond.
//!
//! What it promises, whatever comes in whatever order (tested in `tests/it/call.rs`):
//! - a pull of the brake, in any state and however late it is taken, is a hold at the instant of the pull: the generation
//!   rises, no cue of an older one follows, and what time alone did for later instants is in no record;
//! - every tap is answered and every hold is journalled, once;
//! - a release never starts anything: the way back is places, ready, start and a count-in;
//! - nobody steers beyond the powers of their role;
//! - nobody plays two parts in one fight, and whoever is noted as absent plays none in what is run after it;
//! - the reason of a hold, and a near miss, bear on nothing that stands or runs.

mod casting;
mod casts;
mod checks;
mod drive;
mod ensemble;
mod evening;
mod explaining;
mod fight;
mod hold;
mod holding;
mod input;
mod machine;
mod ordering;
mod output;
mod people;
mod role;
mod roster;
mod run;
mod running;
mod setup;
mod sights;
mod signing;
mod taps;
mod trial;
mod trying;
mod unsettled;
mod why;

pub use casts::FightCast;
pub use checks::{LONGEST_PAUSE, Signature, Signing};
pub use evening::{Evening, Item, MOST_ITEMS, Ordered, UsualEvening};
pub use fight::Fight;
pub use hold::{Caller, Hold, MOST_NOTES};
pub use input::{Act, Input, Puller, Pulling, Step, Tap, Way};
pub use machine::{Before, Call, Settings, Stage};
pub use output::{Asked, CueOut, Output, TapFate};
pub use role::Power;
pub use roster::{Member, MemberId, Roster};
pub use run::Run;
pub use setup::{Begin, Drive, Setup, SetupError, SetupRequest};
pub use taps::Taps;
pub use trial::{TRIAL, TRIAL_LIMIT, TRIAL_SLOW, TrialAnswer};
pub use why::{NearMiss, NearMisses, Reason, Reported, Why};

// What the call says happened stands below it, in `event`; these of it are the call's own words too.
pub use crate::event::{HoldId, Planned, Role, Spot};
