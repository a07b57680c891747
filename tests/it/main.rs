//! The integration tests: one binary, one scenario a file.
#![allow(missing_docs, clippy::unwrap_used, clippy::expect_used)]

mod journal;
mod journal_cli;
mod journal_crash;
mod journal_damage;
mod production;
mod score_errors;
mod score_example;
mod score_fmt;
mod score_properties;
mod strategies;
mod check;
mod check_command;
mod tempo_map;
mod timeline;
mod timeline_command;
mod timeline_scores;
mod typescript;
