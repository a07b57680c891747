//! `holdfast new`: a production folder to start from.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;
use holdfast::production::start;

use super::output::{self, say};

/// Makes a production folder to start from.
///
/// It holds production.toml, in which every choice is explained, a small sound score, an example of your own vocabulary,
/// and a README for your company. The folder must not be there yet, or be empty. It appears whole or not at all.
#[derive(Args)]
#[command(after_long_help = "Exit code:\n  0  made\n  2  could not be made")]
pub(crate) struct New {
    /// The folder to make. The production is named after it; production.toml says how to change that.
    dir: PathBuf,
}

impl New {
    /// Does it.
    pub(crate) fn run(&self) -> ExitCode {
        match start(&self.dir) {
            Ok(()) => {
                let dir = self.dir.display();
                say(&format!(
                    "{dir} is ready. Read {dir}/README.md and {dir}/production.toml, then:\n\n    holdfast serve {dir}\n"
                ));
                ExitCode::SUCCESS
            }
            Err(error) => {
                output::complain(&error.to_string());
                ExitCode::from(2)
            }
        }
    }
}
