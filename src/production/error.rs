//! Why a production cannot be used, in sentences.

use std::path::PathBuf;

use crate::score::vocabulary::VocabularyError;
use crate::toml_table::TomlProblem;

/// Why a production folder cannot be used, or made.
#[derive(Debug, thiserror::Error)]
pub enum ProductionError {
    /// There is no `production.toml`. Remedy: another folder, or `holdfast new`.
    #[error("{} is not a production folder: there is no production.toml in it. `holdfast new` makes one to start from.", .0.display())]
    Missing(PathBuf),
    /// A file cannot be read. Remedy: its rights, its encoding, its size.
    #[error("{} cannot be read: {why}.", .path.display())]
    Unreadable {
        /// The file or folder.
        path: PathBuf,
        /// Why, and what to do.
        why: String,
    },
    /// `production.toml` or `invitations.toml` is wrong. Remedy: each line says.
    #[error("{}", .0.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))]
    Config(Vec<TomlProblem>),
    /// The vocabulary is wrong, so no score can be read. Remedy: each line says.
    #[error("{0}")]
    Vocabulary(VocabularyError),
    /// Two scores have the same name, so nobody could say which is meant. Remedy: rename one in its first line.
    #[error("{first} and {second} are both named \"{name}\": give one of the fights another name on its `fight` line.")]
    SameName {
        /// The name.
        name: String,
        /// One file.
        first: String,
        /// The other.
        second: String,
    },
    /// The folder for a new production is taken. Remedy: another folder.
    #[error("{} is not empty: a new production needs a folder of its own. Name one that is not there yet.", .0.display())]
    Taken(PathBuf),
    /// Something cannot be written. Remedy: rights, or room on the disk. Nothing is left half written.
    #[error("{} cannot be written: {why}. Make the folder writable and see that the disk has room.", .path.display())]
    Unwritable {
        /// The file or folder.
        path: PathBuf,
        /// What the system said.
        why: String,
    },
}
