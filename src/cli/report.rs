//! `holdfast report`: the review of a journal, on paper, for a spreadsheet, for a program or for the terminal.

use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::{Args, ValueEnum};
use holdfast::journal::JournalError;
use holdfast::production::{CONFIG_FILE, Production};
use holdfast::review::csv::{Table, csv};
use holdfast::review::{Filter, House, Review, ReviewError, html, text};
use jiff::civil::Date;
use jiff::tz::TimeZone;

use super::log::{exit_of, json};
use super::output;

/// How to print.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Format {
    /// For the terminal.
    Text,
    /// One page that needs nothing else; prints on A4 and Letter.
    Html,
    /// A table for a spreadsheet; see --table.
    Csv,
    /// Everything, for a program.
    Json,
}

/// Which table.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Rows {
    /// A row for each phrase.
    Phrases,
    /// A row for each move.
    Moves,
    /// A row for each hold and stop that broke a run.
    Breaks,
    /// A row for each run of each phrase.
    Runs,
    /// A row for each fight call.
    Calls,
}

/// Reports where fights break, whether they get better, what to drill next, and what happened at the calls.
///
/// Can be used while the server runs, on a copy, and on a read-only disk; it never changes the journal. The production's
/// own words, ladder and checks are read from its production.toml where that is there.
///
/// Without --since the newest 100 fight calls are counted (with --until those up to that day), and the report says so where
/// there are more. Of a journal of more than 200,000 rows only what is counted is looked at for damage; `holdfast verify`
/// looks at all of it.
#[derive(Args)]
#[command(after_long_help = FIELDS)]
pub(crate) struct Report {
    /// A production folder, its data folder, or a journal.sqlite file.
    data: PathBuf,
    /// How to print.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// Which table to print with --format csv.
    #[arg(long, value_enum, default_value_t = Rows::Phrases)]
    table: Rows,
    /// Only from this day on: 2026-03-01.
    #[arg(long, value_name = "DATE")]
    since: Option<Date>,
    /// Only up to this day.
    #[arg(long, value_name = "DATE")]
    until: Option<Date>,
    /// Only this fight: its name, or a beginning that no other has.
    #[arg(long, value_name = "NAME")]
    fight: Option<String>,
    /// Only this phrase: its name, or a beginning that no other has.
    #[arg(long, value_name = "NAME")]
    phrase: Option<String>,
    /// Only runs with this weapon set: its name, or a beginning that no other has; "as the score says" for those without.
    #[arg(long, value_name = "NAME")]
    weapons: Option<String>,
    /// The zone of days and times, such as Europe/Amsterdam or UTC; without it that of this machine.
    #[arg(long, value_name = "ZONE", value_parser = zone)]
    zone: Option<TimeZone>,
}

const FIELDS: &str = "\
Fields of --format json (stable, fields may be added), one object:
  production, filter, zone, live, first_day, last_day
  totals       calls, runs, complete, held, stopped, unfinished, holds_between,
               near_misses
  choices      fight, phrases: what can be asked for
  weapons      the weapon sets that can be asked for, where there are any
  notes        what cannot be told of the journal, a sentence each
  order        a proposed order for the next call: rule, minutes; rows: fight, first,
               last (phrases), percent, minutes, with, points, reasons (each with its
               kind: broke, time, near-misses, new-text, days, tempo, step), why
  ready        rows: fight, phrase, first, with, step, may_try, seen, says; left_out
  news         day, since, items: what the newest day brought, a sentence each
  drill        rule; rows: fight, phrase, broke (a share), at_least,
               cost_seconds, cost_of_fight, least_seconds, worst (moves);
               too_few: fight, phrase, runs
  ladder_rule  the house's rule in words
  fights       fight, revision, runs, notes, and
    phrases    phrase, beats, seconds, reached, broke, broke_before_first,
               clean (a share), breaks (events, minutes, estimate, interval),
               by_speed, lost_seconds, lost_median, lost_known,
               moves: move, beat, at (beats), words, reached, broke;
               moves_gone, visits: run, day, speed, outcome, reached, of,
               seconds, lost_seconds, revision, weapons; weeks and revisions: before,
               after, clean, breaks (each with verdict, interval, p);
               limit: move, beat, words, percent; model: runs, broke, effects (of,
               step, fewest, odds: estimate, interval, p; verdict, together);
               ladder: step, in_a_row, next, next_in_a_row, next_broke, may_try,
               asked, runs, other_text, before, cast, weapons, seen (speed, clean,
               broke, last_day, last_clean), last_day, says;
               ladders: the same with every cast, the newest first
    phrases_gone, breaks: event, hold, kind, run, utc, at, phrase, beat, move,
               words, also, speed, revision, cast, callers, reason, reason_by,
               explained (the reason was given after it), notes, released_by,
               lost_seconds, move_now, move_gone
    near_misses event, run, at, who (null without a name), phrase, beat, words,
               speed, reason, note
    splits     speeds, weapons, revisions, casts: of, broke (a share of the runs);
               reasons, callers: what, count; without_reason, noted
    revisions  revision, first_used, runs, change, has_run, has_not_run
  timing       runs, members: member, who, reports, late_median_ms,
               late_p95_ms, late_worst_ms, bound_median_ms, bound_p95_ms,
               links_lost, says; lost_together, says
  calls        day, from, to, present, absent (who, role, part, since), understudies,
               checks, order (says, fight, from, to, weapons, speed, done, runs), runs
               (run, at, fight, from, from_move, to, speed, how, revision,
               weapons),
               breaks, near_misses, ended_by, signed_by, restarts
Weapons of null are those that the score names. A share is count, of, estimate (null for none of none) and interval (low, high);
a speed of null is a walk-through; verdicts are better, worse, same, unclear (no difference can be told), too-few.

Exit code:
  0  printed
  1  printed, but the journal is damaged: what is good of it is counted, and what is not
     is said on standard error and among the notes
  2  could not be read, or there is no such fight or phrase";

fn zone(name: &str) -> Result<TimeZone, String> {
    TimeZone::get(name)
        .map_err(|_| "no zone of that name is known here; try one like Europe/Amsterdam, or UTC".to_owned())
}

impl Report {
    pub(crate) fn run(&self) -> ExitCode {
        match self.print() {
            Ok((text, damage)) => {
                let _ = match self.format {
                    Format::Text => output::print(&text),
                    Format::Json => output::print_json(&text),
                    Format::Html | Format::Csv => output::print_bytes(text.as_bytes()),
                };
                exit_of(&damage)
            }
            Err(sentence) => {
                output::complain(&sentence);
                ExitCode::from(super::EXIT_UNUSABLE)
            }
        }
    }

    fn print(&self) -> Result<(String, Vec<String>), String> {
        let house = house(&self.data, self.zone.clone().unwrap_or_else(TimeZone::system));
        let filter = Filter {
            since: self.since,
            until: self.until,
            fight: self.fight.clone(),
            phrase: self.phrase.clone(),
            weapons: self.weapons.clone(),
        };
        let reviewed = match Review::of_good(&self.data, &house, &filter) {
            // A production that was never served has no journal yet: there is nothing in it.
            Err(ReviewError::Journal(JournalError::Missing(_))) if self.data.join(CONFIG_FILE).is_file() => {
                Review::of_nothing(&house, &filter).map(|review| (review, Vec::new()))
            }
            reviewed => reviewed,
        };
        let (review, damage) = reviewed.map_err(|error| error.to_string())?;
        let text = match self.format {
            Format::Text => text::text(&review),
            Format::Html => html::page(&review, &house.ladder),
            Format::Json => json(&review),
            Format::Csv => csv(&review, self.rows())?,
        };
        Ok((text, damage))
    }

    fn rows(&self) -> Table {
        match self.table {
            Rows::Phrases => Table::Phrases,
            Rows::Moves => Table::Moves,
            Rows::Breaks => Table::Breaks,
            Rows::Runs => Table::Runs,
            Rows::Calls => Table::Calls,
        }
    }
}

/// What the house decides: from the production that the journal lies in, if it does. A journal can be read without one.
fn house(data: &Path, zone: TimeZone) -> House {
    let around = std::fs::canonicalize(data).unwrap_or_else(|_| data.into());
    let usual = House { zone, ..House::default() };
    let Some(folder) = around.ancestors().take(3).find(|folder| folder.join(CONFIG_FILE).is_file()) else {
        return usual;
    };
    match Production::open(folder) {
        Ok(production) => House {
            production: Some(production.config.name.clone()),
            vocabulary: production.vocabulary.clone(),
            rules: production.config.rules.clone(),
            stage: production.rules.stage.clone(),
            ladder: production.config.ladder.clone(),
            before_call: production.config.before_call.clone(),
            ..usual
        },
        Err(error) => {
            output::complain(&format!(
                "The production around this journal cannot be read, so the usual words and rules are taken: {error}"
            ));
            usual
        }
    }
}
