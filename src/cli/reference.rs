//! `holdfast reference`: how a fight is written, and every word.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;
use holdfast::production::{CONFIG_FILE, Judge};
use holdfast::score::reference::reference;

use super::score_file;

/// Prints how a fight is written: every form of line with an example, and every word with what it needs.
///
/// The words are those of a production, when one is named or a score in one; else the built-in ones.
#[derive(Args)]
#[command(after_long_help = "Exit code:\n  0  printed\n  2  the production cannot be used; the reason is printed")]
pub(crate) struct Reference {
    /// A production, or a score in one.
    #[arg(value_name = "PATH")]
    path: Option<PathBuf>,
}

impl Reference {
    pub(crate) fn run(&self) -> ExitCode {
        let judge = match &self.path {
            None => Ok(Judge::alone()),
            Some(path) if path.join(CONFIG_FILE).is_file() => Judge::of_production(path),
            Some(path) => Judge::of_file(path),
        };
        match judge {
            Ok(judge) => score_file::print(&reference(&judge.vocabulary)),
            Err(error) => score_file::refuse(&error.to_string()),
        }
    }
}
