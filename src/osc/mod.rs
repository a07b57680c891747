//! OSC 1.0 over UDP: one message for every cue and for every change of state, for whatever listens in the house.
//!
//! [`messages`] is the address space, pure; [`queue`] holds what is due later and lets none of a dead generation out,
//! pure; [`OscOut`] is the handle, with a thread of its own that owns the socket.
//!
//! | address | arguments | when |
//! | --- | --- | --- |
//! | `/holdfast/state` | state (`idle`, `places`, `count-in`, `running`, `held`, `stopped`, `complete`), generation | it changes |
//! | `/holdfast/run` | run, fight, first phrase, last phrase, percent of performance tempo (0: step by step) | a run starts, or is timed anew |
//! | `/holdfast/cue` | run, cue, phrase, beat, move (0: none), its words | the cue's own time |
//! | `/holdfast/sound` | run, name, level in dB | the sound's own time, its trim included |
//! | `/holdfast/hold` | who, phrase, beat, generation | somebody calls hold: at once, once for every caller |
//!
//! Numbers are `i` (a level is `f`), texts `s`. A text that OSC cannot carry (it is ASCII) has `?` for every other letter.

mod handle;
pub mod messages;
pub mod queue;
mod target;

pub use handle::{OscOut, OscSent, OscStatus};
pub use target::{OscTarget, TargetError};
