//! `holdfast plan`: the stage from above at an instant, and what the seats see.

use std::path::PathBuf;
use std::process::ExitCode;

use clap::Args;
use holdfast::production::STAGE_FILE;
use holdfast::stage::{picture, seen_picture, seen_table};

use super::{output, score_file};

/// Draws the stage from above at one beat of a fight, as SVG: who is where, which way they look, their reach and blade, and
/// what a blow sweeps then.
///
/// `--seen` with a beat at which a wound is taken, or a blow comes that must not land, draws every seat: filled where the gap
/// is seen, open where bodies or the set hide it. `--seen` alone says the same of all of them, a line each.
///
/// The stage is that of the production that the score lies in (stage.toml). Distances are planning values, not permission.
///
/// Exit code: 0 drawn; 2 the score cannot be read or has errors, there is no stage, or no such phrase or beat.
#[derive(Args)]
pub(crate) struct Plan {
    /// The score, a `.fight` file.
    score: PathBuf,
    /// When: a phrase's name or number, a colon, and a beat in it, such as `2:4+1/2`.
    #[arg(long, value_name = "PHRASE:BEAT", required_unless_present = "seen")]
    at: Option<String>,
    /// From which seats the gap of a wound, or of a blow that must not land, is seen.
    #[arg(long)]
    seen: bool,
    /// Other words than those of the production that the score lies in: a vocabulary that is laid over the built-in one.
    #[arg(long, value_name = "FILE")]
    vocabulary: Option<PathBuf>,
}

impl Plan {
    pub(crate) fn run(&self) -> ExitCode {
        match self.draw() {
            Ok(svg) => score_file::print_file(&svg),
            Err(sentence) => score_file::refuse(&sentence),
        }
    }

    /// What it prints.
    fn draw(&self) -> Result<String, String> {
        let judge = score_file::judge(&self.score, self.vocabulary.as_deref())?;
        let fight = score_file::fight(&self.score, &judge)?;
        let file = self.score.display();
        let Some(score) = fight.score() else {
            output::complain_drawn(&fight.reading.render(false));
            return Err(format!("{file} has errors; mend them, then try again"));
        };
        let none =
            || format!("There is no stage for {file}: put a {STAGE_FILE} beside production.toml. {}", judge.said());
        let stage = judge.rules.stage.as_deref().ok_or_else(none)?;
        match &self.at {
            Some(at) if self.seen => seen_picture(score, &judge.vocabulary, stage, at),
            Some(at) => picture(score, &judge.vocabulary, stage, at),
            None => seen_table(score, &judge.vocabulary, stage),
        }
    }
}
