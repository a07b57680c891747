//! How a server that people wait for begins although its log cannot be written: a person says so, and reads what it costs.

use std::path::Path;

use holdfast::journal::{FORGOTTEN, Journal, JournalError};
use holdfast::server::session_start;

use super::terminal::Terminal;

/// The journal in `data`; where it cannot be used the one in `second`, or none, as a person says.
///
/// # Errors
/// The sentence for whoever has not said that.
pub(crate) fn open(data: &Path, second: Option<&Path>, without: bool, terminal: &Terminal) -> Result<Journal, String> {
    let start = session_start();
    let said = |error: JournalError| error.to_string();
    let trouble = match Journal::open(data, &start) {
        Ok(journal) => return Ok(journal),
        // Never twice, whatever anybody says.
        Err(error @ JournalError::Locked { .. }) => return Err(said(error)),
        Err(error) => error,
    };
    if let Some(second) = second {
        terminal.complain(&format!("{trouble} The log of this start is kept in {}.", second.display()));
        return Journal::open_second(second, data, &start).map_err(said);
    }
    if !without {
        let asked = format!("{trouble}\n\nThe show can go on without a log. {FORGOTTEN}");
        if !terminal.asks(&asked, "Begin without a log?") {
            return Err(format!(
                "{trouble} To begin all the same: --without-log, or --second-log FOLDER to keep the log elsewhere."
            ));
        }
    }
    terminal.complain(&format!("{trouble} Begun without a log. {FORGOTTEN}"));
    Journal::without(data, &start, &trouble).map_err(said)
}
