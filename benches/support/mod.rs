//! What the benches of the whole server share (`benches/hold/`, `benches/attacks/`): the program as a process of its own,
//! its members on one thread, the desk, and one hold, measured.

#![allow(dead_code, reason = "each bench uses a part of it")]

pub(crate) mod crowd;
pub(crate) mod desk;
pub(crate) mod figures;
pub(crate) mod hold;
pub(crate) mod holdfast;
pub(crate) mod joining;
pub(crate) mod link;
pub(crate) mod machine;
pub(crate) mod process;
pub(crate) mod sighting;
pub(crate) mod system;
pub(crate) mod table;
pub(crate) mod websocket;
