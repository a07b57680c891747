//! The company's recordings: `sounds/thud.wav` is `thud`, and so is every file in `sounds/thud/`, a take each. They are
//! read off the audio thread. A file that cannot be used gets a sentence, and the others are in use all the same.

mod decode;
mod resample;

use std::collections::BTreeMap;
use std::fmt;
use std::fs::{self, File};
use std::io::Read;
use std::path::{Path, PathBuf};
use std::sync::Arc;

/// The endings of files that are read.
pub const ENDINGS: [&str; 4] = ["wav", "flac", "ogg", "mp3"];
/// Endings of recordings that are not read: whoever brings them is told so.
const OTHER_ENDINGS: [&str; 8] = ["aif", "aiff", "m4a", "aac", "wma", "opus", "caf", "mp4"];

/// The largest file that is read, bytes.
pub const LARGEST: u64 = 64 * 1024 * 1024;
/// The longest sound, seconds: effects are short, and all of them are kept in memory.
pub const LONGEST: u32 = 30;
/// The most takes of a sound.
pub const MOST_TAKES: usize = 32;

/// A sound of the company's own.
#[derive(Clone, Debug)]
pub struct Recording {
    /// Its name in scores.
    pub name: String,
    /// Its takes, in order of file name.
    pub takes: Vec<Clip>,
}

/// A take as it was recorded: one channel, the mean of those it had.
#[derive(Clone, Debug, PartialEq)]
pub struct Clip {
    /// Samples per second.
    pub rate: u32,
    /// The samples, all of them numbers.
    pub samples: Arc<[f32]>,
}

impl Clip {
    /// The samples at another rate.
    pub fn at_rate(&self, rate: u32) -> Vec<f32> {
        resample::resample(&self.samples, self.rate, rate)
    }
}

/// A file that is not as it should be.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Trouble {
    /// The file, from the folder of sounds.
    pub file: String,
    /// What is wrong and what to do.
    pub says: String,
}

impl fmt::Display for Trouble {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "sounds/{}: {}", self.file, self.says)
    }
}

/// Reads a folder of sounds. Without the folder there are none, and nothing is wrong.
pub fn load(folder: &Path) -> (Vec<Recording>, Vec<Trouble>) {
    let mut files: BTreeMap<String, Vec<PathBuf>> = BTreeMap::new();
    let mut troubles = Vec::new();
    for path in listed(folder) {
        let name = stem(&path);
        if path.is_dir() {
            let takes = listed(&path).into_iter().filter(|path| wanted(folder, path, &mut troubles));
            let takes: Vec<PathBuf> = takes.collect();
            if !takes.is_empty() {
                let name = path.file_name().map_or_else(|| name, |name| name.to_string_lossy().into_owned());
                files.entry(name).or_default().extend(takes);
            }
        } else if wanted(folder, &path, &mut troubles) {
            files.entry(name).or_default().push(path);
        }
    }
    let mut recordings = Vec::new();
    for (name, mut paths) in files {
        if let Some(path) = paths.get(MOST_TAKES) {
            let says = format!("“{name}” has more than {MOST_TAKES} takes; this one and those after it are left out");
            troubles.push(Trouble { file: shown(folder, path), says });
        }
        paths.truncate(MOST_TAKES);
        let takes: Vec<Clip> = paths.iter().filter_map(|path| take(folder, path, &mut troubles)).collect();
        if !takes.is_empty() {
            recordings.push(Recording { name, takes });
        }
    }
    (recordings, troubles)
}

/// Reads one file.
///
/// # Errors
/// A sentence: what is wrong and what to do. With a clip there may be a note of what is not as it should be.
pub fn read(path: &Path) -> Result<(Clip, Option<String>), String> {
    let file = File::open(path).map_err(|error| format!("it cannot be opened ({error}); look at its permissions"))?;
    let size = file.metadata().map(|about| about.len()).unwrap_or(0);
    if size > LARGEST {
        let most = LARGEST / (1024 * 1024);
        return Err(format!("it has more than {most} MB; a sound of at most {LONGEST} seconds needs less, so cut it"));
    }
    let mut bytes = Vec::new();
    // A file may grow, or be no file at all, while it is read.
    let read = file.take(LARGEST).read_to_end(&mut bytes);
    read.map_err(|error| format!("it cannot be read ({error}); copy it to this machine's own disk"))?;
    if bytes.is_empty() {
        return Err("it is empty; export it again".to_owned());
    }
    let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase()).unwrap_or_default();
    decode::decode(bytes, &ending)
}

fn take(folder: &Path, path: &Path, troubles: &mut Vec<Trouble>) -> Option<Clip> {
    let file = shown(folder, path);
    match read(path) {
        Ok((clip, note)) => {
            troubles.extend(note.map(|says| Trouble { file, says }));
            Some(clip)
        }
        Err(says) => {
            troubles.push(Trouble { file, says: format!("{says}. Every other sound is in use") });
            None
        }
    }
}

/// True for a recording that is read; a recording of another kind gets its sentence.
fn wanted(folder: &Path, path: &Path, troubles: &mut Vec<Trouble>) -> bool {
    let ending = path.extension().map(|ending| ending.to_string_lossy().to_lowercase()).unwrap_or_default();
    if OTHER_ENDINGS.contains(&ending.as_str()) {
        let says = format!(".{ending} files are not read; save it as WAV, FLAC, OGG (Vorbis) or MP3");
        troubles.push(Trouble { file: shown(folder, path), says });
    }
    ENDINGS.contains(&ending.as_str()) && !path.is_dir()
}

/// What is in a folder, by name, but for hidden files.
fn listed(folder: &Path) -> Vec<PathBuf> {
    let entries = fs::read_dir(folder).into_iter().flatten().flatten();
    let mut paths: Vec<PathBuf> = entries
        .filter(|entry| !entry.file_name().to_string_lossy().starts_with('.'))
        .map(|entry| entry.path())
        .collect();
    paths.sort();
    paths
}

fn stem(path: &Path) -> String {
    path.file_stem().map_or_else(String::new, |stem| stem.to_string_lossy().into_owned())
}

fn shown(folder: &Path, path: &Path) -> String {
    path.strip_prefix(folder).unwrap_or(path).display().to_string()
}
