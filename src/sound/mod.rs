//! Sound: click and accent in time with the fight, through the loudspeakers of the desk's own machine.
//!
//! Two halves. The desk's half is [`Sound`], a handle that anybody may hold: it plans voices in server time and
//! silences a generation with one atomic store. The audio half is [`player::Player`], which the device's callback
//! owns: it turns server time into sample numbers ([`follower`]), lets the [`mixer`] start every voice at its exact
//! sample, and never allocates, locks, logs or frees. Between them run two rings (voices down, what was sounded up)
//! and a handful of atomics (`shared`). A supervising thread opens the device, watches it, and puts a null device in
//! its place while there is none (`supervisor`, `device`, `null`).
//!
//! What scores can name is the [`Library`]: computed [`effects`] and the company's [`recordings`], all at one
//! [`loudness`]. A new effect is a file in `effects/`; everything else stays as it is.
//!
//! When a hold is called the loudspeakers call it too (`hold_call`, `caller`): the brake tells [`Sound::hold`], and from
//! there it is the audio half alone.
//!
//! Headroom: sounds are at -34 LUFS at their loudest moment and their true peaks at -6 dBTP or lower. What the mix has up to
//! -1 dBTP passes untouched; above, it is turned down for as long as it is too loud, and never cut (`ceiling`).

mod agenda;
pub mod attack;
mod between;
mod caller;
mod ceiling;
pub mod click;
mod cued;
pub mod delay;
mod device;
pub mod effects;
pub mod follower;
mod gate;
mod handle;
mod hold_call;
pub(crate) mod hush;
mod lease;
mod library;
mod limiter;
pub mod loopback;
pub mod loudness;
mod meter;
pub mod mixer;
mod null;
pub mod offline;
pub mod player;
pub mod practice;
pub mod recordings;
mod rings;
mod sample;
mod settings;
mod shared;
pub mod shelf;
mod signs;
mod status;
mod supervisor;
mod takes;
mod voice;

pub use cued::{Cued, InRun, cued};
pub use device::device_names;
pub use handle::Sound;
pub use hold_call::{HoldCall, HoldSettings};
pub use library::{Adjustment, LEAST_GAIN, Library, Listed, MOST_GAIN, MOST_TRIM, Named};
pub use meter::Level;
pub use offline::{render, render_on};
pub use sample::SampleNumber;
pub use settings::SoundSettings;
pub use shared::DeviceChange;
pub use status::SoundStatus;
pub use takes::take;
pub use voice::{EffectId, Sent, Voice, VoiceKind};
