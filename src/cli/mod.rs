//! One command, one file.

pub(crate) mod listen;
pub(crate) mod stand_ins;
