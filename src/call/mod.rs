//! The call: the state machine of a run.

mod role;

pub use role::{Power, Role};
