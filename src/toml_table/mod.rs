//! The one reader of TOML that people write by hand. A table is read key by key, so that everything that is wrong with
//! a file is told at once, each with its line and its key: a value of the wrong kind, a value out of range, a word that
//! is not one of those it has to be, and, once all known keys are taken, the keys that are left, with the nearest known
//! one.

mod file;
mod problem;
mod table;
mod value;

use toml::de::DeTable;

pub(crate) use file::TomlFile;
pub use problem::TomlProblem;
pub(crate) use table::Table;

/// Reads the text of the file `name` with `take`, which takes what it knows from the top table.
///
/// # Errors
/// Everything that is wrong, in order of line.
pub(crate) fn read<'a, T>(
    name: &'a str,
    text: &'a str,
    take: impl FnOnce(&mut TomlFile<'a>, &mut Table<'a>) -> Option<T>,
) -> Result<T, Vec<TomlProblem>> {
    let mut file = TomlFile::new(name, text);
    let (top, errors) = DeTable::parse_recoverable(text);
    errors.iter().for_each(|error| file.no_toml(error));
    // What is read from a file that is no TOML is only half of it: its own problems would mislead.
    if !file.is_sound() {
        return Err(file.into_problems());
    }
    let mut top = Table::top(top);
    let value = take(&mut file, &mut top);
    top.finish(&mut file);
    value.filter(|_| file.is_sound()).ok_or_else(|| file.into_problems())
}

/// The same for a file of which all that is sound is used: what `take` gives, and everything that is wrong. Nothing of a
/// text that is no TOML is used.
pub(crate) fn read_what_is_sound<'a, T>(
    name: &'a str,
    text: &'a str,
    take: impl FnOnce(&mut TomlFile<'a>, &mut Table<'a>) -> Option<T>,
) -> (Option<T>, Vec<TomlProblem>) {
    let mut file = TomlFile::new(name, text);
    let (top, errors) = DeTable::parse_recoverable(text);
    errors.iter().for_each(|error| file.no_toml(error));
    if !file.is_sound() {
        return (None, file.into_problems());
    }
    let mut top = Table::top(top);
    let value = take(&mut file, &mut top);
    top.finish(&mut file);
    (value, file.into_problems())
}
