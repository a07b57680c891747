//! `holdfast export`: a score as a file for other programs.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::io::{self, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use clap::Args;
use holdfast::midi::export::{Exported, export};
use holdfast::production::Judge;
use holdfast::safe_text;
use holdfast::score::model::{FighterId, Score, SoundCue};
use holdfast::score::table::{HEADINGS, name};
use holdfast::timeline::{PhraseRange, Plan};
use holdfast::units::Speed;

use super::{score_file, timeline};

/// Writes a score as a Standard MIDI File (tempo map, phrase names as markers, a note for every sound), or as a table.
///
/// The file has 960 ticks to the beat, like the score, so every place in it is exact. A tempo that changes on the way
/// becomes 96 steps a beat; the command says by how much a time in the file can differ from `holdfast timeline`.
/// Nothing is written unless the whole file can be.
#[derive(Args)]
#[command(after_help = "\
Examples:
  holdfast export quay.fight --midi quay.mid --speed 50% --count-in 4
  holdfast export quay.fight --csv quay.csv

Exit code: 0 written; 2 could not be, with the reason.")]
pub(crate) struct Export {
    /// The score, a `.fight` file.
    file: PathBuf,
    /// The MIDI file to write.
    #[arg(long, value_name = "FILE", required_unless_present = "csv")]
    midi: Option<PathBuf>,
    /// The table to write, for a spreadsheet: phrase, beat, attack, reply, sounds, words; repeats and patterns laid out.
    #[arg(long, value_name = "FILE")]
    csv: Option<PathBuf>,
    /// Percent of performance tempo, from 10 to 150.
    #[arg(long, default_value = "100%", value_parser = timeline::speed)]
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
    /// The production's folder, for its words and for the notes of its sounds. Without it: the one that the score lies
    /// in. Without any, sounds get keys from 36 upwards on channel 10.
    #[arg(long, value_name = "DIR")]
    production: Option<PathBuf>,
    /// Other words than the production's: a vocabulary that is laid over the built-in one.
    #[arg(long, value_name = "FILE", conflicts_with = "production")]
    vocabulary: Option<PathBuf>,
}

impl Export {
    pub(crate) fn run(self) -> ExitCode {
        match self.write() {
            Ok(said) => score_file::print(&said),
            Err(sentence) => score_file::refuse(&sentence),
        }
    }

    fn write(&self) -> Result<String, String> {
        let judge = match &self.production {
            None => score_file::judge(&self.file, self.vocabulary.as_deref())?,
            Some(folder) => Judge::of_production(folder).map_err(|error| error.to_string())?,
        };
        let notes = judge.home.map_or_else(BTreeMap::new, |home| home.config.outputs.midi.notes);
        let score = score_file::sound_score(&self.file, &judge.vocabulary)?;
        let range =
            PhraseRange::named(&score, self.from.as_deref(), self.to.as_deref()).map_err(|it| it.to_string())?;
        let plan = Plan::new(&score, range, self.speed, self.count_in);
        let mut said = String::new();
        if let Some(path) = &self.csv {
            put(path, &table(&score, &plan)?).map_err(|error| {
                format!("{} cannot be written ({error}); choose another place with --csv", path.display())
            })?;
            let _ = writeln!(said, "{} written: {} moves.", path.display(), plan.moves().len());
        }
        let Some(path) = &self.midi else { return Ok(said) };
        let exported = export(&score.name, &plan, &notes).map_err(|it| format!("{}: {it}", self.file.display()))?;
        put(path, &exported.bytes).map_err(|error| {
            format!("{} cannot be written ({error}); choose another place with --midi", path.display())
        })?;
        Ok(said + &told(path, &exported))
    }
}

/// What was written into the MIDI file.
fn told(path: &Path, exported: &Exported) -> String {
    let mut said = format!("{} written: every place exact, every time", path.display());
    let _ = writeln!(said, " within {} microseconds of the timeline.", exported.error.0);
    for (name, note) in &exported.notes {
        let _ = writeln!(said, "  {name}: channel {}, key {}", note.channel.as_number(), note.key.get());
    }
    if exported.early > 0 {
        let _ = writeln!(
            said,
            "Sounds that are trimmed to before the file begins: {}. They were put at its beginning; a count-in (--count-in) makes room for them.",
            exported.early
        );
    }
    said
}

/// The moves as a table. Beats count from the first of their phrase.
fn table(score: &Score, plan: &Plan) -> Result<Vec<u8>, String> {
    let mut writer = csv::Writer::from_writer(Vec::new());
    writer.write_record(HEADINGS).map_err(|error| error.to_string())?;
    let who = |id: FighterId| score.fighters.get(id.0).map_or(String::new(), |it| name(&it.name));
    for it in plan.moves() {
        let phrase = plan.phrases().get(it.phrase_in_range).map_or("", |phrase| phrase.name.as_str());
        let reply = it.to.zip(it.reply.as_ref()).map_or(String::new(), |(to, reply)| format!("{} {reply}", who(to)));
        let sounds = it.sounds.as_ref().map_or(String::new(), sounds_of);
        let attack = format!("{} {}", who(it.who), it.action);
        let text = it.text.clone().unwrap_or_default();
        let row = [phrase, &it.beat.beat_label(), &attack, &reply, &sounds, &text];
        writer.write_record(row.map(safe_text::cell)).map_err(|error| error.to_string())?;
    }
    writer.into_inner().map_err(|error| error.to_string())
}

fn sounds_of(cue: &SoundCue) -> String {
    let mut said = cue.names.iter().map(|it| name(it)).collect::<Vec<_>>().join("+");
    if cue.trim.0 != 0 {
        let _ = write!(said, " {:+}ms", cue.trim.as_millis());
    }
    if cue.level.0 != 0.0 {
        let _ = write!(said, " {:+}dB", cue.level.0);
    }
    said
}

/// Puts a whole file there, or leaves what was there.
fn put(path: &Path, bytes: &[u8]) -> io::Result<()> {
    if path.is_dir() {
        return Err(io::Error::new(io::ErrorKind::IsADirectory, "it is a folder"));
    }
    let folder = path.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    let mut builder = holdfast::leftovers::temporary();
    #[cfg(unix)]
    {
        use std::os::unix::fs::PermissionsExt;
        // As any new file, less what the umask takes.
        builder.permissions(std::fs::Permissions::from_mode(0o666));
    }
    let mut new = builder.tempfile_in(folder)?;
    new.write_all(bytes)?;
    new.as_file().sync_all()?;
    new.persist(path).map(drop).map_err(|error| error.error)
}
