//! `holdfast replay`: does what was recorded come out as it was told?

use std::fmt::Write as _;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;
use holdfast::server::replay::{Replayed, replay};

use super::log::{Format, json, print};
use super::{EXIT_UNUSABLE, EXIT_WRONG, output};

/// Plays the calls of a journal again and compares what comes out with what was told.
///
/// The journal keeps everything that came into a call: taps, joins, what the desk asked for. Played again they give the
/// states that everybody was told, if the program is the one that recorded them. Another one may have other rules: then
/// the first state that differs is named. Can be used while the server runs; it never changes the journal.
#[derive(Args)]
#[command(after_long_help = FIELDS)]
pub(crate) struct Replay {
    /// A production folder, its data folder, or a journal.sqlite file.
    data: PathBuf,
    /// Only this start of the server.
    #[arg(long, value_name = "N")]
    session: Option<i64>,
    /// How to print.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
}

const FIELDS: &str = "\
Fields of --format json (stable), one array, one object for each start of the server:
  session     its number, from 1
  utc         when it was, RFC 3339
  build       the program that recorded it; null when its inputs were not kept
  same_build  true when this is the same program
  inputs      how many inputs were played
  states      how often the state was told
  differs     the first state that comes out otherwise than it was told: an
              object of state (which of them, from 1) and server_us
              (microseconds after the start); null when none does
  failed      why it could not be played to its end; null when it could

Exit code:
  0  everything comes out as it was told
  1  a state differs, or a start could not be played
  2  the journal could not be read, or there is no such start";

impl Replay {
    /// Does it.
    pub(crate) fn run(&self) -> ExitCode {
        let starts = match replay(&self.data, self.session) {
            Ok(starts) => starts,
            Err(error) => {
                output::complain(&error.to_string());
                return ExitCode::from(EXIT_UNUSABLE);
            }
        };
        if let (true, Some(session)) = (starts.is_empty(), self.session) {
            output::complain(&format!("There is no start {session} of the server in this journal."));
            return ExitCode::from(EXIT_UNUSABLE);
        }
        print(
            self.format,
            &match self.format {
                Format::Json => json(&starts),
                Format::Text => starts.iter().fold(String::new(), |mut out, start| {
                    let _ = writeln!(out, "Start {}, {}: {}", start.session, start.utc, sentence(start));
                    out
                }),
            },
        );
        let wrong = starts.iter().any(|start| start.differs.is_some() || start.failed.is_some());
        if wrong { ExitCode::from(EXIT_WRONG) } else { ExitCode::SUCCESS }
    }
}

fn sentence(start: &Replayed) -> String {
    let Some(build) = start.build.as_ref().filter(|_| start.failed.is_none()) else {
        return match &start.failed {
            Some(why) => format!("could not be played: {}.", why.trim_end_matches('.')),
            None => "its inputs were not kept.".to_owned(),
        };
    };
    let inputs = count(start.inputs, "input");
    let by = if start.same_build { String::new() } else { format!(" It was recorded by another program, {build}.") };
    match &start.differs {
        None => {
            format!("{inputs}; {} told, and all of them come out as they were told.{by}", count(start.states, "state"))
        }
        Some(differs) => {
            let after = differs.server_us as f64 / 1e6;
            format!(
                "{inputs}; state {} of {}, told {after:.3} s after the start, comes out otherwise than it was told.{by}",
                differs.state, start.states
            )
        }
    }
}

fn count(number: u64, what: &str) -> String {
    format!("{number} {what}{}", if number == 1 { "" } else { "s" })
}
