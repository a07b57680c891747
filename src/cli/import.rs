//! `holdfast import`: a fight that exists as a table becomes a score.

use std::fmt::Write as _;
use std::fs::OpenOptions;
use std::io::Write as _;
use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;
use holdfast::score::table::{FromTable, Header, TableRow, from_table};

use super::{EXIT_WRONG, score_file};

/// Makes a score of a fight that exists as a table (CSV, UTF-8, with a line of headings).
///
/// Say by their headings which columns are which; none is guessed. A row that is understood becomes a move, any other a
/// comment at its place, and is listed. Without --attack the headings of the table are listed and nothing is written.
#[derive(Args)]
#[command(after_help = "\
Example:
  holdfast import old.csv --out quay/scores/old.fight --fight \"The Old Quay\" \\
    --fighter \"MARET rapier right\" --fighter \"OSK rapier left\" \\
    --attack Attack --reply Defence --beat Count

Exit code: 0 written, every row a move; 1 written, with rows to look at; 2 could not be, with the reason.")]
pub(crate) struct Import {
    /// The table.
    table: PathBuf,
    /// The score to write; it must not be there yet.
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
    /// The fight's name.
    #[arg(long, value_name = "NAME")]
    fight: String,
    /// A fighter, as a score writes it: NAME WEAPON HAND. Once for each.
    #[arg(long = "fighter", value_name = "FIGHTER", required = true)]
    fighters: Vec<String>,
    /// Beats a minute.
    #[arg(long, default_value = "60")]
    tempo: String,
    /// The heading of the column that says who acts and what they do.
    #[arg(long, value_name = "HEADING")]
    attack: Option<String>,
    /// The heading of the column that says who answers and how.
    #[arg(long, value_name = "HEADING")]
    reply: Option<String>,
    /// The heading of the column of beats; without it the moves are a beat apart.
    #[arg(long, value_name = "HEADING")]
    beat: Option<String>,
    /// The heading of the column of phrases.
    #[arg(long, value_name = "HEADING")]
    phrase: Option<String>,
    /// The heading of the column of sounds.
    #[arg(long, value_name = "HEADING")]
    sounds: Option<String>,
    /// The heading of the column of the director's words.
    #[arg(long, value_name = "HEADING")]
    words: Option<String>,
}

impl Import {
    pub(crate) fn run(&self) -> ExitCode {
        match self.imported() {
            Ok(made) => {
                let printed = score_file::print(&self.said(&made));
                if printed == ExitCode::SUCCESS && !made.to_look_at.is_empty() {
                    return ExitCode::from(EXIT_WRONG);
                }
                printed
            }
            Err(sentence) => score_file::refuse(&sentence),
        }
    }

    fn imported(&self) -> Result<FromTable, String> {
        let text = score_file::text(&self.table)?;
        let text = text.strip_prefix('\u{feff}').unwrap_or(&text);
        let mut reader = csv::ReaderBuilder::new().flexible(true).from_reader(text.as_bytes());
        let name = self.table.display();
        let broken = |error: csv::Error| format!("{name} is not a table ({error}); save it as CSV, UTF-8");
        let headings: Vec<String> = reader.headers().map_err(broken)?.iter().map(|it| it.trim().to_owned()).collect();
        if self.attack.is_none() {
            return Err(format!("say with --attack which column says who acts; {name} has {}", headings.join(", ")));
        }
        let column = |wanted: &Option<String>| match wanted {
            None => Ok(None),
            Some(wanted) => match headings.iter().position(|it| it == wanted) {
                Some(at) => Ok(Some(at)),
                None => Err(format!("{name} has no column `{wanted}`; it has {}", headings.join(", "))),
            },
        };
        let columns = [&self.phrase, &self.beat, &self.attack, &self.reply, &self.sounds, &self.words];
        let mut places = Vec::with_capacity(columns.len());
        for wanted in columns {
            places.push(column(wanted)?);
        }
        let mut rows = Vec::new();
        for record in reader.records() {
            let record = record.map_err(broken)?;
            let cell =
                |at: usize| places.get(at).copied().flatten().and_then(|it| record.get(it)).unwrap_or("").to_owned();
            rows.push(TableRow {
                phrase: cell(0),
                beat: cell(1),
                attack: cell(2),
                reply: cell(3),
                sounds: cell(4),
                words: cell(5),
            });
        }
        let header = Header { fight: self.fight.clone(), tempo: self.tempo.clone(), fighters: self.fighters.clone() };
        let judge = score_file::judge(&self.out, None)?;
        let made = from_table(&header, &rows, &judge.vocabulary)?;
        let text = holdfast::score::format(&made.text).unwrap_or_else(|_| made.text.clone());
        self.write(&text)?;
        Ok(made)
    }

    fn write(&self, text: &str) -> Result<(), String> {
        let out = self.out.display();
        let mut file = OpenOptions::new().write(true).create_new(true).open(&self.out).map_err(|error| {
            format!("{out} cannot be written ({error}); choose a file that is not there yet with --out")
        })?;
        file.write_all(text.as_bytes()).map_err(|error| format!("{out} cannot be written ({error})"))
    }

    fn said(&self, made: &FromTable) -> String {
        let mut said = format!("{} written: {} moves", self.out.display(), made.moves);
        match made.to_look_at.len() {
            0 => said.push_str(".\n"),
            count => {
                // Writing to a string cannot fail.
                let _ = writeln!(said, ", and {count} to look at, each a comment at its place:");
                for (row, why) in &made.to_look_at {
                    let _ = writeln!(said, "  row {row}: {why}");
                }
            }
        }
        said + "Now check it: holdfast check, and look at every answer yourself.\n"
    }
}
