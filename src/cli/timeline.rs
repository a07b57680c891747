//! `holdfast timeline`: every beat and event of a score with its time.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Args, ValueEnum};
use holdfast::safe_text;
use holdfast::score::model::Score;
use holdfast::timeline::listing::Row;
use holdfast::timeline::{PhraseRange, Plan, listing, text};
use holdfast::units::Speed;
use serde_json::Value;

use super::score_file;

/// Prints every beat and event of a score with its time.
#[derive(Args)]
#[command(after_long_help = FIELDS)]
pub(crate) struct Timeline {
    /// The score, a `.fight` file.
    file: PathBuf,
    /// Percent of performance tempo, from 10 to 150.
    #[arg(long, default_value = "100%", value_parser = speed)]
    speed: Speed,
    /// The first phrase: its name, the beginning of its name, or its number from 1.
    #[arg(long, value_name = "PHRASE")]
    from: Option<String>,
    /// The last phrase, named likewise.
    #[arg(long, value_name = "PHRASE")]
    to: Option<String>,
    /// Beats counted before the first beat, at the first tempo; at most 64.
    #[arg(long, value_name = "N", default_value_t = 0, value_parser = clap::value_parser!(u32).range(..=64))]
    count_in: u32,
    /// How to print it.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// Other words than those of the production that the score lies in: a vocabulary that is laid over the built-in one.
    #[arg(long, value_name = "FILE")]
    vocabulary: Option<PathBuf>,
}

#[derive(Clone, Copy, ValueEnum)]
enum Format {
    /// A page to read.
    Text,
    /// One array of objects.
    Json,
    /// A line a row, with a line of headings.
    Csv,
}

const FIELDS: &str = "\
Examples:
  holdfast timeline quay.fight --speed 50% --count-in 4
  holdfast timeline quay.fight --from \"The wound\" --format json

Fields of --format json and csv (stable). A field that a row has no use for is
left out, in csv empty. Every row has
  kind     phrase, place, tempo, beat, walk, move, sound or end
  phrase   the phrase's name
  beat     as the score writes it; 0 and below in a count-in
  bar      from 1 in each phrase; 0 in a count-in
  seconds  from the first beat of the range at the asked speed, exact to the
           microsecond; negative in a count-in
and by its kind
  phrase   number (from 1 in the score), length_beats, speed (percent)
  place    who, x, y (metres), facing (a name) or facing_degrees
  tempo    bpm (at the asked speed); for a change on the way also to_bpm and
           until (beat): it is linear in beats
  beat     count (of the bar, from 1), accent; in a count-in also
           count_in (beats left, this one included)
  walk     who, x, y, until (beat), until_seconds
  move     number (in its phrase), who, action, target, side, to, reply,
           sounds, text (null where there is none; in csv sounds joined by +)
  sound    name, level_db, trim_ms, move (the number of the move that makes it,
           or null), text; seconds is when it is heard, trim included
  end      the last phrase is over

Exit code:
  0  done
  2  the score or the asked range cannot be used; the reason is printed";

/// The columns of the csv form, in order.
const COLUMNS: [&str; 31] = [
    "kind",
    "phrase",
    "beat",
    "bar",
    "seconds",
    "number",
    "who",
    "action",
    "target",
    "side",
    "to",
    "reply",
    "sounds",
    "text",
    "count",
    "accent",
    "count_in",
    "bpm",
    "to_bpm",
    "until",
    "until_seconds",
    "x",
    "y",
    "facing",
    "facing_degrees",
    "name",
    "level_db",
    "trim_ms",
    "move",
    "length_beats",
    "speed",
];

impl Timeline {
    pub(crate) fn run(&self) -> ExitCode {
        match self.output() {
            Ok(output) => match self.format {
                Format::Text => score_file::print(&output),
                Format::Json => score_file::print_json(&output),
                Format::Csv => score_file::print_file(&output),
            },
            Err(sentence) => score_file::refuse(&sentence),
        }
    }

    fn output(&self) -> Result<String, String> {
        let judge = score_file::judge(&self.file, self.vocabulary.as_deref())?;
        let score = score_file::sound_score(&self.file, &judge.vocabulary)?;
        let range =
            PhraseRange::named(&score, self.from.as_deref(), self.to.as_deref()).map_err(|it| it.to_string())?;
        let plan = Plan::new(&score, range, self.speed, self.count_in);
        self.written(&score, &plan)
    }

    fn written(&self, score: &Score, plan: &Plan) -> Result<String, String> {
        let rows = listing::rows(score, plan);
        match self.format {
            Format::Text => Ok(text::page(&score.name, plan, &rows)),
            Format::Json => serde_json::to_string_pretty(&rows).map(|json| json + "\n").map_err(|it| it.to_string()),
            Format::Csv => csv(&rows),
        }
    }
}

/// Percent, with or without its sign.
pub(super) fn speed(text: &str) -> Result<Speed, String> {
    let percent = text.trim().trim_end_matches('%').trim_end().parse().ok().and_then(Speed::percent);
    percent.ok_or_else(|| "write a whole percentage from 10% to 150%, such as 50%".to_owned())
}

fn csv(rows: &[Row]) -> Result<String, String> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(COLUMNS).map_err(|error| error.to_string())?;
    for row in rows {
        let row = serde_json::to_value(row).map_err(|error| error.to_string())?;
        let cells = COLUMNS.iter().map(|column| cell(row.get(column)));
        writer.write_record(cells).map_err(|error| error.to_string())?;
    }
    let bytes = writer.into_inner().map_err(|error| error.to_string())?;
    String::from_utf8(bytes).map_err(|error| error.to_string())
}

/// One value of the JSON form as a cell, so that both forms say the same.
fn cell(value: Option<&Value>) -> String {
    match value {
        None | Some(Value::Null) => String::new(),
        Some(Value::String(text)) => safe_text::cell(text),
        Some(Value::Array(values)) => {
            let texts: Vec<&str> = values.iter().filter_map(Value::as_str).collect();
            safe_text::cell(&texts.join("+"))
        }
        Some(other) => other.to_string(),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn speeds_are_whole_percents_in_range() {
        for (text, percent) in [("50%", 50), ("50", 50), (" 150 % ", 150), ("10%", 10)] {
            assert_eq!(speed(text), Ok(Speed::percent(percent).unwrap()), "{text}");
        }
        for text in ["", "%", "9", "151%", "-50", "0.5", "half", "50%%x", "NaN", "99999999999"] {
            assert!(speed(text).is_err(), "{text}");
        }
    }
}
