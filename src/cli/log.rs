//! `holdfast log`: the journal, for a person or for a program.

use std::fmt::Write as _;
use std::io::{BufWriter, Write};
use std::path::PathBuf;
use std::process::ExitCode;

use clap::builder::PossibleValuesParser;
use clap::{Args, ValueEnum};
use holdfast::call::Role;
use holdfast::journal::{EventFilter, EventKind, EventRow, JournalError, Reader};

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
  utc           time, RFC 3339, microseconds
  session       start of the server it belongs to, from 1
  server_us     microseconds since that start
  run           number of the run
  kind          what happened: the words of --kind
  who           name of whoever did it
  member        their number
  role          desk, captain, performer, sound, director, observer
  phrase        name of the phrase, where the run was on the server
  phrase_index  number of the phrase in the score, from 0
  beat          as the score writes it: \"4+1/2\"; 0 and below: count-in
  move          number of the last move reached in its phrase, from 1
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
  2  could not be read, or not to its end: what is printed before is good, and the
     array of --format json is closed";

impl Log {
    /// Does it.
    pub(crate) fn run(&self) -> ExitCode {
        match self.print() {
            Ok(()) => ExitCode::SUCCESS,
            Err(error) => {
                eprintln!("{error}");
                ExitCode::from(2)
            }
        }
    }

    /// Prints event by event: what was read before an error is printed, and a journal of any length takes no more memory
    /// than one event. Whoever reads the output may have seen enough and closed it: that ends the reading.
    fn print(&self) -> Result<(), JournalError> {
        let kind = self.kind.as_deref().and_then(EventKind::from_word);
        let reader = Reader::open(&self.data)?;
        let mut out = BufWriter::new(std::io::stdout().lock());
        let mut page = Page::new(self.format);
        let mut open = true;
        let read = reader.each_event(EventFilter { run: self.run, kind }, |event| {
            open = out.write_all(page.event(&event).as_bytes()).is_ok();
            open
        });
        if open {
            let _ = out.write_all(page.end().as_bytes()).and_then(|()| out.flush());
        }
        read
    }
}

/// The log as it is printed, from the first event to the last.
struct Page {
    format: Format,
    day: String,
    events: u64,
}

impl Page {
    fn new(format: Format) -> Page {
        Page { format, day: String::new(), events: 0 }
    }

    fn event(&mut self, event: &EventRow) -> String {
        self.events += 1;
        match self.format {
            Format::Text => self.lines(event),
            Format::Json => {
                let before = if self.events == 1 { "[\n  " } else { ",\n  " };
                before.to_owned() + &json(event).trim_end().replace('\n', "\n  ")
            }
        }
    }

    fn end(&self) -> &'static str {
        match (self.format, self.events) {
            (Format::Text, 0) => "Nothing of that kind is in the journal.\n",
            (Format::Text, _) => "",
            (Format::Json, 0) => "[]\n",
            (Format::Json, _) => "\n]\n",
        }
    }

    fn lines(&mut self, event: &EventRow) -> String {
        let mut out = String::new();
        let (date, time) = event.utc.split_once('T').unwrap_or(("", &event.utc));
        if date != self.day {
            let _ = writeln!(out, "{}{date}, times in UTC", if self.day.is_empty() { "" } else { "\n" });
            date.clone_into(&mut self.day);
        }
        // Milliseconds are as much as a person can use.
        let time = time.get(..12).unwrap_or(time);
        let run = event.run.map_or_else(String::new, |run| format!("run {run}"));
        let _ = writeln!(out, "  {time}  {:>5}  {run:<8} {}", format!("#{}", event.seq), sentence(event));
        out
    }
}

/// Prints to where the output goes. Whoever reads it may have seen enough and closed it: that is no error.
pub(crate) fn say(text: &str) {
    let mut out = std::io::stdout().lock();
    let _ = out.write_all(text.as_bytes()).and_then(|()| out.flush());
}

/// Anything as indented JSON with a line end.
pub(crate) fn json(value: &impl serde::Serialize) -> String {
    match serde_json::to_string_pretty(value) {
        Ok(text) => text + "\n",
        Err(error) => format!("{{\"error\": \"{error}\"}}\n"),
    }
}

/// An event on one line: what, who, where, how fast, why.
fn sentence(event: &EventRow) -> String {
    let mut line = what(event);
    if let Some(who) = &event.who {
        let role = event
            .role
            .as_ref()
            .map(|word| Role::from_word(word).map_or_else(|| word.clone(), |r| r.title().to_owned()));
        let _ = write!(line, "  {who}{}", role.map_or_else(String::new, |role| format!(" ({role})")));
    }
    if let (Some(phrase), Some(beat)) = (&event.phrase, &event.beat) {
        let _ = write!(line, "  at {}", place(phrase, beat, event.number, event.words.as_deref()));
    }
    if let Some(speed) = event.speed {
        let _ = write!(line, "  {speed} %");
    }
    if let Some(reason) = &event.reason {
        let _ = write!(line, "  \"{}\"", reason.escape_debug());
    }
    if let Some(screen) = &event.screen
        && (Some(&screen.beat) != event.beat.as_ref() || Some(&screen.phrase) != event.phrase.as_ref())
    {
        let there = place(&screen.phrase, &screen.beat, screen.number, screen.words.as_deref());
        let _ = write!(line, "  (their screen was at {there})");
    }
    line
}

/// What happened; holds stand out.
fn what(event: &EventRow) -> String {
    let kind = event.kind.replace('-', " ");
    match (event.hold, event.kind.starts_with("hold")) {
        (Some(hold), true) => format!("{} {hold}", kind.to_uppercase()),
        (None, true) => kind.to_uppercase(),
        (Some(hold), false) => format!("{kind} (hold {hold})"),
        (None, false) => kind,
    }
}

fn place(phrase: &str, beat: &str, number: Option<u32>, words: Option<&str>) -> String {
    let mut text = format!("\"{phrase}\" beat {beat}");
    if let Some(number) = number {
        let _ = write!(text, ", move {number}");
    }
    if let Some(words) = words {
        let _ = write!(text, ": {words}");
    }
    text
}
