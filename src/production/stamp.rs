//! What the files of a production looked like: enough to see that one was saved since.

use std::path::{Path, PathBuf};
use std::time::SystemTime;

use super::{PATTERNS, PICTURES};
use crate::hex::sha256;

/// The files that a production is read from, each with when it was written and how long it is.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Stamp(Vec<(PathBuf, Option<SystemTime>, u64)>);

impl Stamp {
    /// What they look like now. A file that cannot be looked at is not there.
    pub fn of(folder: &Path) -> Stamp {
        let own = files(folder).filter(|path| path.extension().is_some_and(|ending| ending == "toml"));
        let written = files(&folder.join("scores")).chain(files(&folder.join(PATTERNS)));
        let written = written.chain(files(&folder.join(PICTURES)));
        Stamp::look(own.chain(written).chain(recorded(folder)))
    }

    /// What the production's recordings look like now, those of every take.
    pub fn of_sounds(folder: &Path) -> Stamp {
        Stamp::look(recorded(folder))
    }

    /// A name for it: another one, and a file was saved since.
    pub fn name(&self) -> String {
        sha256(format!("{:?}", self.0))
    }

    fn look(paths: impl Iterator<Item = PathBuf>) -> Stamp {
        let look = |path: PathBuf| {
            let about = std::fs::metadata(&path).ok()?;
            Some((path, about.modified().ok(), about.len()))
        };
        let mut looks: Vec<_> = paths.filter_map(look).collect();
        looks.sort();
        Stamp(looks)
    }
}

/// What is in the folder of sounds, and in each folder of takes in it.
fn recorded(folder: &Path) -> impl Iterator<Item = PathBuf> + use<> {
    files(&folder.join("sounds")).flat_map(|path| std::iter::once(path.clone()).chain(files(&path)))
}

fn files(folder: &Path) -> impl Iterator<Item = PathBuf> + use<> {
    std::fs::read_dir(folder).into_iter().flatten().flatten().map(|entry| entry.path())
}
