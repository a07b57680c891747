//! Sound: click and accent in time with the fight, through the loudspeakers of the desk's own machine.
//!
//! Two halves. The desk's half is [`Sound`], a handle that anybody may hold: it plans voices in server time and
//! silences a generation with one atomic store. The audio half is [`player::Player`], which the device's callback
//! owns: it turns server time into sample numbers ([`follower`]), lets the [`mixer`] start every voice at its exact
//! sample, and never allocates, locks, logs or frees. Between them run two rings (voices down, what was sounded up)
//! and a handful of atomics (`shared`). A supervising thread opens the device, watches it, and puts a null device in
//! its place while there is none (`supervisor`, `device`, `null`).
//!
//! A new sound is a kind in [`VoiceKind`] and a row on the [`shelf`]; everything else stays as it is.

mod agenda;
mod ceiling;
pub mod click;
mod device;
pub mod follower;
mod handle;
pub(crate) mod hush;
mod lease;
pub mod mixer;
mod null;
pub mod offline;
pub mod player;
mod sample;
mod settings;
mod shared;
pub mod shelf;
mod status;
mod supervisor;
mod voice;

pub use device::device_names;
pub use handle::Sound;
pub use offline::render;
pub use sample::SampleNumber;
pub use settings::SoundSettings;
pub use status::SoundStatus;
pub use voice::{Sent, Voice, VoiceKind};
