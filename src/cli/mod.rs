//! One command, one file.

pub(crate) mod log;
pub(crate) mod new;
pub(crate) mod verify;
pub(crate) mod listen;
pub(crate) mod stand_ins;
pub(crate) mod fmt;
pub(crate) mod check;
mod score_file;
pub(crate) mod timeline;
