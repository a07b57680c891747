//! `holdfast sheet`: the printed two-column fight sheet.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::{Args, ValueEnum};
use holdfast::review::sheet;
use holdfast::time::utc_now;

use super::{output, score_file};

/// How to print.
#[derive(Clone, Copy, Debug, PartialEq, Eq, ValueEnum)]
enum Format {
    /// One page that needs nothing else, to be printed.
    Html,
    /// Plain text.
    Text,
}

/// Prints a fight as a sheet in two columns, attack and reply, with what the checks find at its line.
///
/// Exit code: 0 printed; 2 the score cannot be read or has errors, or nobody of that name is in it.
#[derive(Args)]
pub(crate) struct Sheet {
    /// The score, a `.fight` file.
    score: PathBuf,
    /// Only what this person does: of a fighter their moves, with the beats from one to the next; of who stands by, where they
    /// stand and walk and what passes near them.
    #[arg(long = "for", value_name = "NAME")]
    of: Option<String>,
    /// How to print.
    #[arg(long, value_enum, default_value_t = Format::Text)]
    format: Format,
    /// Other words than those of the production that the score lies in: a vocabulary that is laid over the built-in one.
    #[arg(long, value_name = "FILE")]
    vocabulary: Option<PathBuf>,
}

impl Sheet {
    pub(crate) fn run(&self) -> ExitCode {
        match self.print() {
            Ok(text) => match self.format {
                Format::Html => score_file::print_file(&text),
                Format::Text => score_file::print(&text),
            },
            Err(sentence) => score_file::refuse(&sentence),
        }
    }

    fn print(&self) -> Result<String, String> {
        let judge = score_file::judge(&self.score, self.vocabulary.as_deref())?;
        let fight = score_file::fight(&self.score, &judge)?;
        if fight.score().is_none() {
            output::complain_drawn(&fight.reading.render(false));
        }
        let mut sheet = sheet::sheet(&fight.reading, &judge.vocabulary, &judge.rules, self.of.as_deref())?;
        sheet.cautions.push(judge.said());
        sheet.production = judge.home.map(|home| home.config.name);
        sheet.date = Some(utc_now().strftime("%Y-%m-%d").to_string());
        Ok(match self.format {
            Format::Html => sheet::html(&sheet),
            Format::Text => sheet::text(&sheet),
        })
    }
}
