//! What the files of a production looked like: enough to see that one was saved since.

use std::path::{Path, PathBuf};
use std::time::SystemTime;

/// The files that a production is read from, each with when it was written and how long it is.
#[derive(Clone, Debug, PartialEq, Eq, Default)]
pub struct Stamp(Vec<(PathBuf, Option<SystemTime>, u64)>);

impl Stamp {
    /// What they look like now. A file that cannot be looked at is not there.
    pub fn of(folder: &Path) -> Stamp {
        let files =
            |folder: PathBuf| std::fs::read_dir(folder).into_iter().flatten().flatten().map(|entry| entry.path());
        let own = files(folder.into()).filter(|path| path.extension().is_some_and(|ending| ending == "toml"));
        let mut looks: Vec<_> = own
            .chain(files(folder.join("scores")))
            .chain(files(folder.join("sounds")))
            .filter_map(|path| {
                let about = std::fs::metadata(&path).ok()?;
                Some((path, about.modified().ok(), about.len()))
            })
            .collect();
        looks.sort();
        Stamp(looks)
    }
}
