//! `holdfast log`: the journal, for a person or for a program.

use std::collections::HashMap;
use std::fmt::Write as _;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::builder::PossibleValuesParser;
use clap::{Args, ValueEnum};
use holdfast::event::{EventKind, Role, RunBegun, Spot, What};
use holdfast::journal::{DAMAGED, EventFilter, EventLine, EventRow, JournalError, Reader};

use super::output::{self, Output};

/// How to print.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
pub(crate) enum Format {
    /// For a person.
    Text,
    /// For a program.
    Json,
}

/// Prints the journal: every hold, stop and run, at the move it hit.
///
/// Can be used while the server runs, on a copy, and on a read-only disk; it never changes the journal. A copy needs
/// journal.sqlite and, if there is one, journal.sqlite-wal.
#[derive(Args)]
#[command(after_long_help = FIELDS)]
pub(crate) struct Log {
    /// A production folder, its data folder, or a journal.sqlite file.
    data: PathBuf,
    /// How to print.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// Only what belongs to this run.
    #[arg(long, value_name = "N")]
    run: Option<u32>,
    /// Only events of this kind.
    #[arg(long, value_name = "KIND", value_parser = PossibleValuesParser::new(EventKind::ALL.iter().map(|k| k.word())))]
    kind: Option<String>,
}

const FIELDS: &str = "\
Fields of --format json (stable), one array, one object for each event, in order.
Fields may be added; a field that does not apply is null.
  seq           number of the event, from 1, without gaps
  id            its own name, which stays with it wherever it is copied to
  utc           time, RFC 3339, microseconds
  session       start of the server it belongs to, from 1
  server_us     microseconds since that start
  run           number of the run
  fight         the fight that it was a run of
  revision      SHA-256 of the text that it was a run of
  begun         of the start of a run, all that was run: an object of from, from_index,
                from_move, to, to_index (phrases, and the move it began at), speed (null:
                walk-through), count_in, drive (clock, step), weapons (null: those that
                the score names), cast (part, person, member, covers)
  kind          what happened: the words of --kind
  who           name of whoever did it
  member        their number
  role          desk, captain, performer, sound, director, observer, or another that
                a newer Holdfast wrote
  phrase        name of the phrase, where the run was on the server
  phrase_index  number of the phrase in the score, from 0
  beat          as the score writes it: \"4+1/2\"; 0 and below: count-in
  move          number of the last move reached in its phrase, from 1; of a hold or
                stop the caller's own, if they were in one under way
  words         that move in words
  speed         percent of performance tempo
  reason        why
  hold          number of the hold it belongs to
  tap           the tap on HOLD that it answers
  screen        where the run was on the caller's own screen: an object of
                phrase, phrase_index, beat, move, words
  detail        whatever else is known, by kind

Exit code:
  0  printed
  1  printed, but the journal is damaged: what is good is printed, and what is not is
     said on standard error
  2  could not be read, or not to its end: what is printed before is good, and the
     array of --format json is closed";

impl Log {
    /// Does it.
    pub(crate) fn run(&self) -> ExitCode {
        match self.print() {
            Ok(damage) => exit_of(&damage),
            Err(error) => {
                output::complain(&error.to_string());
                ExitCode::from(2)
            }
        }
    }

    /// What was run, where it is printed. A journal that cannot be read as it is gives what is good of it.
    fn runs(&self) -> Result<HashMap<u32, RunBegun>, JournalError> {
        if self.format == Format::Text {
            return Ok(HashMap::new());
        }
        let wanted = |run: &u32| self.run.is_none_or(|only| only == *run);
        let as_it_is = Reader::open(&self.data).and_then(|reader| reader.runs());
        let rows = as_it_is.or_else(|_| Reader::open_good(&self.data)?.runs())?;
        let begun = rows.into_iter().map(|row| (row.begun.run, row.begun));
        Ok(begun.filter(|(run, _)| wanted(run)).collect())
    }

    /// Prints event by event, while the journal is looked at: the first at once, what was read before an error is printed,
    /// and a journal of any length takes no more memory than one event, as JSON the beginnings of its runs besides. Whoever
    /// reads the output may have seen enough and closed it: that ends the reading.
    fn print(&self) -> Result<Vec<String>, JournalError> {
        let kind = self.kind.as_deref().and_then(EventKind::from_word);
        let mut out = Output::begin();
        let mut page = Page::new(self.format, self.runs()?);
        let mut open = true;
        let read = Reader::each_good_event(&self.data, EventFilter { run: self.run, kind }, |event| {
            let piece = page.event(event);
            open = match self.format {
                Format::Text => out.text(&piece),
                Format::Json => out.json(&piece),
            }
            .is_ok();
            open
        });
        // Of a journal that cannot be opened there is nothing to end.
        if open && (read.is_ok() || page.events > 0) {
            let _ = out.text(page.end()).and_then(|()| out.end());
        }
        read
    }
}

/// Says on standard error what is damaged of a journal of which the rest was printed, and how to exit.
pub(crate) fn exit_of(damage: &[String]) -> ExitCode {
    if damage.is_empty() {
        return ExitCode::SUCCESS;
    }
    output::complain(DAMAGED);
    damage.iter().for_each(|says| output::complain(says));
    ExitCode::from(super::EXIT_WRONG)
}

/// The log as it is printed, from the first event to the last.
struct Page {
    format: Format,
    day: String,
    events: u64,
    /// What was run, by the number of the run; only what a program is told has it.
    runs: HashMap<u32, RunBegun>,
}

impl Page {
    fn new(format: Format, runs: HashMap<u32, RunBegun>) -> Page {
        Page { format, day: String::new(), events: 0, runs }
    }

    fn event(&mut self, row: EventRow) -> String {
        self.events += 1;
        match self.format {
            Format::Text => self.lines(&row),
            Format::Json => {
                let before = if self.events == 1 { "[\n  " } else { ",\n  " };
                before.to_owned() + &json(&self.line(row)).trim_end().replace('\n', "\n  ")
            }
        }
    }

    fn line(&self, row: EventRow) -> EventLine {
        let run = row.event.run.and_then(|run| self.runs.get(&run));
        EventLine::of(row, run)
    }

    fn end(&self) -> &'static str {
        match (self.format, self.events) {
            (Format::Text, 0) => "Nothing of that kind is in the journal.\n",
            (Format::Text, _) => "",
            (Format::Json, 0) => "[]\n",
            (Format::Json, _) => "\n]\n",
        }
    }

    fn lines(&mut self, row: &EventRow) -> String {
        let mut out = String::new();
        let (date, time) = row.utc.split_once('T').unwrap_or(("", &row.utc));
        if date != self.day {
            let _ = writeln!(out, "{}{date}, times in UTC", if self.day.is_empty() { "" } else { "\n" });
            date.clone_into(&mut self.day);
        }
        // Milliseconds are as much as a person can use.
        let time = time.get(..12).unwrap_or(time);
        let run = row.event.run.map_or_else(String::new, |run| format!("run {run}"));
        let _ = writeln!(out, "  {time}  {:>5}  {run:<8} {}", format!("#{}", row.seq), sentence(row));
        out
    }
}

/// Prints what was made in that format. Whoever reads it may have seen enough and closed it: that is no error.
pub(crate) fn print(format: Format, made: &str) {
    let _ = match format {
        Format::Text => output::print(made),
        Format::Json => output::print_json(made),
    };
}

/// Anything as indented JSON with a line end.
pub(crate) fn json(value: &impl serde::Serialize) -> String {
    match serde_json::to_string_pretty(value) {
        Ok(text) => text + "\n",
        Err(error) => format!("{{\"error\": \"{error}\"}}\n"),
    }
}

/// An event on one line: what, who, where, how fast, why.
fn sentence(row: &EventRow) -> String {
    let event = &row.event;
    let mut line = what(&event.what);
    if let Some(name) = event.name() {
        let role = event.who.as_ref().and_then(|who| who.role);
        let role = role.map(Role::title).or(row.role.as_deref());
        let _ = write!(line, "  {name}{}", role.map_or_else(String::new, |role| format!(" ({role})")));
    }
    if let Some(spot) = &event.spot {
        let _ = write!(line, "  at {}", place(spot));
    }
    for also in event.what.under_way().iter().skip(1) {
        let _ = write!(line, "; also {}", also.words);
    }
    if let Some(percent) = event.percent {
        let _ = write!(line, "  {percent} %");
    }
    if let Some(reason) = event.what.says() {
        let _ = write!(line, "  \"{}\"", reason.escape_debug());
    }
    if let What::Check { in_order, note, .. } = &event.what {
        line.push_str(if *in_order { "  in order" } else { "  NOT IN ORDER" });
        let _ = note.as_ref().map_or(Ok(()), |note| write!(line, ": \"{}\"", note.escape_debug()));
    }
    let there = |spot: &Spot| (spot.phrase_name.clone(), spot.beat.clone());
    if let Some(screen) = event.what.screen()
        && event.spot.as_ref().map(there) != Some(there(screen))
    {
        let _ = write!(line, "  (their screen was at {})", place(screen));
    }
    line
}

/// What happened; holds stand out.
fn what(what: &What) -> String {
    let word = what.word().replace('-', " ");
    match what {
        What::Hold { call, .. } | What::HoldJoined(call) => format!("{} {}", word.to_uppercase(), call.hold.0),
        What::HoldLate { .. } => word.to_uppercase(),
        other => match other.hold() {
            Some(hold) => format!("{word} (hold {})", hold.0),
            None => word,
        },
    }
}

fn place(spot: &Spot) -> String {
    let mut text = format!("\"{}\" beat {}", spot.phrase_name, spot.beat);
    if let Some(number) = spot.number {
        let _ = write!(text, ", move {number}");
    }
    if let Some(words) = &spot.words {
        let _ = write!(text, ": {words}");
    }
    text
}
