//! `holdfast sheet`: the printed two-column fight sheet.

use clap::Args;
use std::process::ExitCode;

/// Prints.
#[derive(Args)]
pub(crate) struct Sheet {}

impl Sheet {
    pub(crate) fn run(&self) -> ExitCode {
        ExitCode::SUCCESS
    }
}
