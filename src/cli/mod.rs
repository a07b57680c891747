//! One command, one file.

pub(crate) mod fmt;
