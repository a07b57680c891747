//! The integration tests: one binary, one scenario a file.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod check;
mod check_command;
mod tempo_map;
mod timeline;
mod timeline_command;
mod timeline_scores;
mod typescript;
