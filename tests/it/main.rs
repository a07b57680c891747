//! The integration tests: one binary, one scenario a file.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod sound_live;
mod typescript;
