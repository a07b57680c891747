//! `holdfast salvage`: what is good of a damaged log, in a new one.

use std::path::PathBuf;
use std::process::ExitCode;

use holdfast::journal::{FILE_NAME, first_of, salvage};

use super::{EXIT_UNUSABLE, EXIT_WRONG, output};

/// Brings all that is good of a damaged log into a new one, and says what is not.
///
/// The damaged log is left as it is. A row is good when the chain of seals says so, or nothing says otherwise; what was
/// altered is left out. Rows keep their numbers and seals, so `holdfast verify` says of the new log what is missing in
/// it. To go on with it: stop the server, move the damaged journal.sqlite with its -wal file out of the production's
/// data folder, keep both, and put the new one there with its journal.head.
///
/// Exit code: 0 everything was good; 1 something is left out; 2 nothing could be done.
#[derive(clap::Args)]
pub(crate) struct Salvage {
    /// The damaged log: a production folder, its data folder, or a journal.sqlite file.
    data: PathBuf,
    /// The folder for the new one.
    to: PathBuf,
}

impl Salvage {
    pub(crate) fn run(&self) -> ExitCode {
        let salvaged = match salvage(&self.data, &self.to) {
            Ok(salvaged) => salvaged,
            Err(error) => {
                output::complain(&format!("holdfast salvage: {error}"));
                return ExitCode::from(EXIT_UNUSABLE);
            }
        };
        let mut says = format!("{} rows are good. They are in {}.\n", salvaged.rows, self.to.join(FILE_NAME).display());
        for lost in first_of(&salvaged.lost) {
            says.push_str(&format!("Left out: {lost}\n"));
        }
        let _ = output::print(&says);
        if salvaged.lost.is_empty() { ExitCode::SUCCESS } else { ExitCode::from(EXIT_WRONG) }
    }
}
