//! Production folders to start from: an empty one for `holdfast new`, an invented one for `holdfast demo`.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};

use super::{ProductionError, STAGE_FILE};
use crate::score::reference::reference;
use crate::score::vocabulary::Vocabulary;

/// The files of a production; the folders among them are made on the way.
type Files = &'static [(&'static str, &'static str)];

/// The plan of a plain stage: that of a new production, and of one that begins a plan later.
pub const PLAIN_STAGE: &str = include_str!("../../configs/new/stage.toml");

/// The files of a new production.
const NEW: Files = &[
    ("production.toml", include_str!("../../configs/new/production.toml")),
    ("README.md", include_str!("../../configs/new/README.md")),
    ("vocabulary.toml", include_str!("../../configs/new/vocabulary.toml")),
    (STAGE_FILE, PLAIN_STAGE),
    ("scores/first-steps.fight", include_str!("../../configs/new/scores/first-steps.fight")),
    ("sounds/README.md", include_str!("../../configs/new/sounds/README.md")),
];

/// The files of the demo: an invented company and its fights.
const DEMO: Files = &[
    ("production.toml", include_str!("../../configs/demo/production.toml")),
    ("stage.toml", include_str!("../../configs/demo/stage.toml")),
    ("scores/lantern-bridge.fight", include_str!("../../configs/demo/scores/lantern-bridge.fight")),
    ("scores/the-ferrymans-toll.fight", include_str!("../../configs/demo/scores/the-ferrymans-toll.fight")),
    ("scores/three-in-the-cellar.fight", include_str!("../../configs/demo/scores/three-in-the-cellar.fight")),
];

/// Where the reference of the format stands in a new production.
const REFERENCE: &str = "reference.txt";

/// What stands for the production's name in the files.
const NAME: &str = "@NAME@";

/// Makes a production folder, named after the folder. It appears whole or not at all.
///
/// # Errors
/// `Taken` when something is there already; `Unwritable`.
pub fn start(folder: &Path) -> Result<(), ProductionError> {
    make(folder, NEW)
}

/// Makes the demo's production folder. It appears whole or not at all.
///
/// # Errors
/// `Taken` when something is there already; `Unwritable`.
pub fn start_demo(folder: &Path) -> Result<(), ProductionError> {
    make(folder, DEMO)
}

fn make(folder: &Path, files: Files) -> Result<(), ProductionError> {
    let unwritable = |error: io::Error| ProductionError::Unwritable { path: folder.into(), why: error.to_string() };
    let there = is_there(folder).map_err(unwritable)?;
    if there == There::Something {
        return Err(ProductionError::Taken(folder.into()));
    }
    let place = if there == There::EmptyFolder { folder.into() } else { parent(folder) };
    let place = fs::canonicalize(place).map_err(unwritable)?;
    let room = tempfile::Builder::new().prefix(".holdfast-new-").tempdir_in(&place).map_err(unwritable)?;
    // A folder in the temporary one, because that one is closed to everybody else and would stay so.
    let whole = room.path().join("production");
    let name = if there == There::EmptyFolder { name_of(&place) } else { name_of(folder) };
    write_all(&whole, &name, files).map_err(unwritable)?;
    match there {
        There::EmptyFolder => move_into(&whole, &place),
        _ => fs::rename(&whole, folder),
    }
    .map_err(unwritable)
}

#[derive(PartialEq, Eq)]
enum There {
    Nothing,
    EmptyFolder,
    Something,
}

fn is_there(folder: &Path) -> io::Result<There> {
    match fs::symlink_metadata(folder) {
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(There::Nothing),
        Err(error) => Err(error),
        Ok(found) if !found.is_dir() => Ok(There::Something),
        Ok(_) => Ok(if fs::read_dir(folder)?.next().is_none() { There::EmptyFolder } else { There::Something }),
    }
}

fn parent(folder: &Path) -> PathBuf {
    match folder.parent() {
        Some(parent) if !parent.as_os_str().is_empty() => parent.into(),
        _ => PathBuf::from("."),
    }
}

/// The folder's name as a name of TOML and prose: no control letters, no quotes.
fn name_of(folder: &Path) -> String {
    let name = folder.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let name: String =
        name.chars().filter(|c| !c.is_control() && *c != '"' && *c != '\\' && *c != '\u{fffd}').collect();
    if name.trim().is_empty() { "Our production".to_owned() } else { name.trim().to_owned() }
}

/// Fills a folder that is there already, which somebody may be standing in. production.toml comes last: without it the
/// folder is no production.
fn move_into(whole: &Path, folder: &Path) -> io::Result<()> {
    let mut entries = fs::read_dir(whole)?.collect::<io::Result<Vec<_>>>()?;
    entries.sort_by_key(|entry| entry.file_name() == super::CONFIG_FILE);
    entries.iter().try_for_each(|entry| fs::rename(entry.path(), folder.join(entry.file_name())))
}

fn write_all(folder: &Path, name: &str, files: Files) -> io::Result<()> {
    for (file, text) in files {
        let path = folder.join(file);
        fs::create_dir_all(path.parent().unwrap_or(folder))?;
        fs::write(path, text.replace(NAME, name))?;
    }
    fs::write(folder.join(REFERENCE), reference(&Vocabulary::built_in()))
}
