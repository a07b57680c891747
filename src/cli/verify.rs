//! `holdfast verify`: is the journal whole?

use std::fmt::Write as _;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;
use holdfast::journal::{Finding, JournalError, Verdict, verify};

use super::log::{Format, json, print};
use super::output;

/// Checks that nothing in the journal is damaged or missing.
///
/// Looks at the pages of the file, at the chain of seals that binds every row to the one before it, and at whether the
/// rows agree with each other. Can be used while the server runs; it never changes the journal.
///
/// The seals show damage and careless editing. They are no signature: whoever rewrites the whole file can seal it anew.
#[derive(Args)]
#[command(after_long_help = FIELDS)]
pub(crate) struct Verify {
    /// A production folder, its data folder, or a journal.sqlite file.
    data: PathBuf,
    /// How to print.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
}

const FIELDS: &str = "\
Fields of --format json (stable), one object:
  journal    the file
  whole      true when nothing is damaged or missing
  live       true when a server was writing it meanwhile
  sessions, runs, events, holds
             how many there are
  first_utc, last_utc
             times of the first and last event
  findings   what is damaged or missing; each has
             code (tables, pages, unreadable, altered, missing, reference,
             hold, run, session, head), seq and utc (of the event it is at,
             or the last one before it; null where there is none), says
  notes      what is worth knowing and no damage

Exit code:
  0  whole
  1  something is damaged or missing
  2  could not be read";

impl Verify {
    /// Does it.
    pub(crate) fn run(&self) -> ExitCode {
        match verify(&self.data) {
            Ok(verdict) => {
                print(
                    self.format,
                    &match self.format {
                        Format::Json => json(&verdict),
                        Format::Text => text(&verdict),
                    },
                );
                if verdict.whole { ExitCode::SUCCESS } else { ExitCode::from(1) }
            }
            Err(error) => {
                output::complain(&error.to_string());
                if matches!(error, JournalError::Damaged { .. }) { ExitCode::from(1) } else { ExitCode::from(2) }
            }
        }
    }
}

fn text(verdict: &Verdict) -> String {
    let mut out = String::new();
    let counts = [
        count(verdict.sessions, "session"),
        count(verdict.runs, "run"),
        count(verdict.events, "event"),
        count(verdict.holds, "hold"),
    ];
    let _ = writeln!(out, "{}: {}", verdict.journal.display(), counts.join(", "));
    if let (Some(first), Some(last)) = (&verdict.first_utc, &verdict.last_utc) {
        let _ = writeln!(out, "from {first} to {last}{}", if verdict.live { ", and being written" } else { "" });
    }
    for note in &verdict.notes {
        let _ = writeln!(out, "Note: {note}");
    }
    for finding in &verdict.findings {
        let _ = writeln!(out, "Found: {}", sentence(finding));
    }
    let end = match verdict.findings.len() {
        0 => "The journal is whole.".to_owned(),
        n => format!(
            "The journal is NOT whole ({}). Keep the file as it is and work on a copy.",
            count(n as u64, "finding")
        ),
    };
    let _ = writeln!(out, "{end}");
    out
}

fn sentence(finding: &Finding) -> String {
    match (finding.seq, &finding.utc) {
        (Some(seq), Some(utc)) => format!("[{}] at event {seq}, {utc}: {}", finding.code, finding.says),
        (_, Some(utc)) => format!("[{}] at {utc}: {}", finding.code, finding.says),
        _ => format!("[{}] {}", finding.code, finding.says),
    }
}

fn count(number: u64, what: &str) -> String {
    format!("{number} {what}{}", if number == 1 { "" } else { "s" })
}
