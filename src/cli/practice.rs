//! `holdfast practice`: a track for a performer to practise with, or the set for the whole cast.

use std::collections::BTreeMap;
use std::fmt::Write as _;
use std::io::IsTerminal;
use std::path::{Path, PathBuf};
use std::process::ExitCode;
use std::sync::Arc;

use clap::{Args, ValueEnum};
use holdfast::call;
use holdfast::production::{Home, Judge, trims};
use holdfast::safe_text;
use holdfast::score::model::{FighterId, Score};
use holdfast::server::study;
use holdfast::sound::loudness::Finished;
use holdfast::sound::practice::{Kind, Speaker, Track, write, write_whole};
use holdfast::sound::recordings::{self, Recording};
use holdfast::sound::{Adjustment, Library};
use holdfast::time::today;
use holdfast::timeline::{PhraseRange, Plan, text::clock_words};
use holdfast::units::Speed;

use super::{output, score_file, timeline};

/// Makes a practice track: click, effects and spoken calls of one performer's part. Or a page to learn it from.
///
/// A page (--format page, or --out FILE.html) is one file that opens in a phone's browser from a mail or a memory stick,
/// without a server, a network or an installation: the whole fight to read, in pictures, played at any speed, and asked.
/// It says its revision and its day. It hears no hold: it is for learning at home, never for a fight call.
///
/// A track has what follows, at a listening level of -16 LUFS with no true peak over -1 dBTP.
/// The name of each phrase and each of the performer's own moves is called ahead of it, in the time between the move
/// before and its own. The voice is that of the program espeak-ng; where it is not installed, the tracks have none and
/// that is said. A score or recordings in a production's folder are heard with the trims and gains that were chosen on
/// its sound page. The times agree with `holdfast timeline` to the sample: the first beat's place in the file is printed.
///
/// Exit code: 0 made; 2 could not be made, with the reason.
#[derive(Args)]
pub(crate) struct Practice {
    /// The score, a `.fight` file.
    file: PathBuf,
    /// Whose part, by the name in the score.
    #[arg(long = "for", value_name = "NAME", required_unless_present = "all", conflicts_with = "all")]
    name: Option<String>,
    /// The set for the whole cast: a file for every fighter, into the folder --out.
    #[arg(long)]
    all: bool,
    /// The file to write, .wav, .flac or .html; with --all a folder.
    #[arg(long, value_name = "FILE")]
    out: PathBuf,
    /// What is made. Without it: what the file's name asks for; with --all, WAV.
    #[arg(long, value_enum)]
    format: Option<Format>,
    /// Percent of performance tempo, from 10 to 150.
    #[arg(long, default_value = "100%", value_parser = timeline::speed)]
    speed: Speed,
    /// Beats counted before the first; at most 64. Without it: one bar.
    #[arg(long, value_name = "N", value_parser = clap::value_parser!(u32).range(..=64))]
    count_in: Option<u32>,
    /// The first phrase: its name, the beginning of its name, or its number from 1.
    #[arg(long, value_name = "PHRASE")]
    from: Option<String>,
    /// The last phrase, named likewise.
    #[arg(long, value_name = "PHRASE")]
    to: Option<String>,
    /// Samples per second.
    #[arg(long, value_name = "HZ", default_value_t = 48_000, value_parser = clap::value_parser!(u32).range(8_000..=96_000))]
    rate: u32,
    /// Other words than those of the production that the score lies in: a vocabulary that is laid over the built-in one.
    #[arg(long, value_name = "FILE")]
    vocabulary: Option<PathBuf>,
    /// Another folder of recordings than that of the production that the score lies in.
    #[arg(long, value_name = "DIR")]
    sounds: Option<PathBuf>,
}

#[derive(Clone, Copy, ValueEnum)]
enum Format {
    /// A track of plain samples.
    Wav,
    /// The same in less room.
    Flac,
    /// A page to learn from at home.
    Page,
}

/// The longest track, microseconds: an hour. A score may ask for days.
const LONGEST_SECONDS: f64 = 3_600.0;

impl Practice {
    pub(crate) fn run(&self) -> ExitCode {
        match self.made() {
            Ok(output) => score_file::print(&output),
            Err(sentence) => score_file::refuse(&sentence),
        }
    }

    fn made(&self) -> Result<String, String> {
        let judge = score_file::judge(&self.file, self.vocabulary.as_deref())?;
        let score = score_file::sound_score(&self.file, &judge.vocabulary)?;
        let range =
            PhraseRange::named(&score, self.from.as_deref(), self.to.as_deref()).map_err(|it| it.to_string())?;
        let plan = Plan::new(&score, range, self.speed, self.count_in.unwrap_or(score.beats_per_bar));
        if plan.duration().as_seconds() > LONGEST_SECONDS {
            return Err("the track would be longer than an hour; choose phrases with --from and --to".to_owned());
        }
        let wanted = self.wanted(&score)?;
        let recordings = self.recordings(judge.home.as_ref());
        let chosen = self.chosen(judge.home.clone())?;
        let pages = wanted.iter().any(|wanted| wanted.kind.is_none());
        let playable = pages.then(|| self.playable(&judge)).transpose()?;
        let mut speaker = (!pages)
            .then(Speaker::find)
            .and_then(|found| found.inspect_err(|why| output::complain(&format!("Note: {why}."))).ok());
        let mut said = String::new();
        for (done, Wanted { fighter, path, kind }) in wanted.iter().enumerate() {
            let name = score.fighters.get(fighter.0).map_or("", |fighter| fighter.name.as_str());
            progress(done, wanted.len(), name);
            said += &match (kind, &playable) {
                (Some(kind), _) => {
                    let track = Track::new(&plan, *fighter, &recordings, &chosen, speaker.as_mut())?;
                    let made = track.render(self.rate);
                    write(path, *kind, &made.samples, self.rate)?;
                    report(path, name, &track, &made)
                }
                (None, Some((fight, production))) => {
                    let library = Library::new(recordings.clone(), &chosen);
                    page(path, name, production, fight, &library)?
                }
                (None, None) => String::new(),
            };
        }
        progress(wanted.len(), wanted.len(), "");
        Ok(said)
    }

    /// The fight as pages have it, and whose it is.
    fn playable(&self, judge: &Judge) -> Result<(Arc<call::Fight>, String), String> {
        let fight = score_file::fight(&self.file, judge)?;
        let none = || format!("{} has errors: see what holdfast check says of it", self.file.display());
        let playable = judge.playable(&fight).ok_or_else(none)?;
        let production = judge.home.as_ref().map_or_else(|| fight.name.clone(), |home| home.config.name.clone());
        Ok((Arc::new(playable), production))
    }

    /// Who gets what, and where it goes.
    fn wanted(&self, score: &Score) -> Result<Vec<Wanted>, String> {
        let Some(name) = &self.name else {
            std::fs::create_dir_all(&self.out).map_err(|error| {
                format!("the folder {} cannot be made ({error}); choose another with --out", self.out.display())
            })?;
            let format = self.format.unwrap_or(Format::Wav);
            let path = |name: &str| self.out.join(format!("{}.{}", safe(name), format.ending()));
            let fighters = score.fighters.iter().enumerate();
            let wanted = fighters.map(|(at, fighter)| {
                let (fighter, path) = (FighterId(at), path(&fighter.name));
                Wanted { fighter, path, kind: format.kind() }
            });
            return Ok(wanted.collect());
        };
        let at = score.fighters.iter().position(|fighter| fighter.name.eq_ignore_ascii_case(name));
        let at = at.ok_or_else(|| {
            let all: Vec<&str> = score.fighters.iter().map(|fighter| fighter.name.as_str()).collect();
            format!("nobody in {} is called {name}; there are {}", score.name, all.join(", "))
        })?;
        let kind = match self.format {
            Some(format) => format.kind(),
            None => kind_of(&self.out)?,
        };
        Ok(vec![Wanted { fighter: FighterId(at), path: self.out.clone(), kind }])
    }

    /// What the production chose for its sounds: that of the score or, where it lies in none, that of the recordings.
    fn chosen(&self, home: Option<Home>) -> Result<BTreeMap<String, Adjustment>, String> {
        let home = match (home, &self.sounds) {
            (None, Some(sounds)) => Judge::of_file(sounds).map_err(|error| error.to_string())?.home,
            (home, _) => home,
        };
        let Some(home) = home else { return Ok(BTreeMap::new()) };
        let trims = trims::load(&home.folder.join("data")).map_err(|error| error.to_string())?;
        let mut chosen = trims::adjustments(&trims);
        for (name, group) in home.config.choke {
            chosen.entry(name).or_default().choke.get_or_insert(group);
        }
        Ok(chosen)
    }

    /// The recordings that were named or, where none were, those of the production.
    fn recordings(&self, home: Option<&Home>) -> Vec<Recording> {
        let own = home.map(|home| home.folder.join("sounds")).filter(|folder| folder.is_dir());
        let Some(folder) = self.sounds.clone().or(own) else { return Vec::new() };
        let (recordings, troubles) = recordings::load(&folder);
        troubles.iter().for_each(|trouble| output::complain(&format!("Note: {trouble}.")));
        recordings
    }
}

/// One thing that is made.
struct Wanted {
    fighter: FighterId,
    path: PathBuf,
    /// The kind of track; nothing for a page.
    kind: Option<Kind>,
}

impl Format {
    const fn kind(self) -> Option<Kind> {
        match self {
            Format::Wav => Some(Kind::Wav),
            Format::Flac => Some(Kind::Flac),
            Format::Page => None,
        }
    }

    const fn ending(self) -> &'static str {
        match self.kind() {
            Some(kind) => kind.ending(),
            None => "html",
        }
    }
}

/// The kind that a file's name asks for.
fn kind_of(path: &Path) -> Result<Option<Kind>, String> {
    match path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("html")) {
        true => Ok(None),
        false => Kind::of(path).map(Some).map_err(|why| format!("{why}, or in .html for a page")),
    }
}

/// Makes a page for home, and a line on it.
fn page(
    path: &Path,
    name: &str,
    production: &str,
    fight: &Arc<call::Fight>,
    library: &Library,
) -> Result<String, String> {
    let made = today().to_string();
    let fights = std::slice::from_ref(fight);
    let page = study::page(study::Home { production, made: &made, part: Some(name), fights, library })?;
    write_whole(path, page.as_bytes())?;
    let revision: String = fight.revision.chars().take(12).collect();
    Ok(format!("{}: {name}, a page of {} kB, revision {revision}\n", path.display(), page.len().div_ceil(1_000)))
}

/// A line on what was made, and one on every call that is not in it.
fn report(path: &Path, name: &str, track: &Track, made: &Finished) -> String {
    let length = clock_words(track.length.as_seconds());
    let first = clock_words(track.first_beat.as_seconds());
    let mut said = format!(
        "{}: {name}, {length}, first beat at {first} ({} µs), {} calls, {:.1} LUFS, {:.1} dBTP\n",
        path.display(),
        track.first_beat.0,
        track.spoken,
        made.loudness,
        made.peak
    );
    for call in &track.left_out {
        let at = clock_words((track.first_beat + call.before).as_seconds());
        // Writing to a string cannot fail.
        let _ = writeln!(said, "  not called, the time before it is too short: {} at {at}", call.text);
    }
    said
}

/// A bar in a terminal; elsewhere nothing, since the report says the same.
fn progress(done: usize, all: usize, name: &str) {
    if all < 2 || !std::io::stderr().is_terminal() {
        return;
    }
    let bar = "#".repeat(done) + &"-".repeat(all - done);
    let end = if done == all { "\n" } else { "" };
    let name = safe_text::terminal(name);
    output::complain_drawn(&format!("\r[{bar}] {done} of {all} {name:<20}{end}"));
}

/// A name that is a file name on every system.
fn safe(name: &str) -> String {
    name.chars().map(|c| if c.is_alphanumeric() || c == '-' || c == '_' { c } else { '_' }).collect()
}
