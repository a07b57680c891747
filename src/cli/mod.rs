//! One command, one file.

pub(crate) mod backup;
mod beginning;
pub(crate) mod check;
pub(crate) mod demo;
pub(crate) mod export;
pub(crate) mod fmt;
pub(crate) mod import;
pub(crate) mod latency;
pub(crate) mod listen;
pub(crate) mod log;
pub(crate) mod new;
mod output;
pub(crate) mod plan;
pub(crate) mod practice;
pub(crate) mod reference;
pub(crate) mod replay;
pub(crate) mod report;
pub(crate) mod salvage;
mod score_file;
mod season;
pub(crate) mod serve;
pub(crate) mod sheet;
pub(crate) mod stand_ins;
mod terminal;
pub(crate) mod timeline;
pub(crate) mod verify;

/// The exit code of a command that was done, when something is wrong with what was looked at.
const EXIT_WRONG: u8 = 1;
/// The exit code of a command that could not be done.
const EXIT_UNUSABLE: u8 = 2;
