//! One command, one file.

pub(crate) mod check;
mod score_file;
pub(crate) mod timeline;
