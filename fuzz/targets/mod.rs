//! The fuzz targets. Each gives any bytes to one reader of the program, by the entry that the program itself uses, and
//! panics when something does not hold that must hold for all bytes. `tests/it/fuzz.rs` runs each on its corpus and on
//! a bounded number of changes of it; `make fuzz` runs one for as long as it is told to, guided by coverage.

pub(crate) mod audio;
pub(crate) mod frames;
pub(crate) mod journal;
pub(crate) mod midi_in;
pub(crate) mod production;
pub(crate) mod score;
pub(crate) mod stage;
mod toml_problems;
pub(crate) mod vocabulary;

/// A target: what is done with the bytes.
pub(crate) type Target = fn(&[u8]);

/// Every target by its name, which is also the name of its corpus: `fuzz/corpus/score`.
pub(crate) const TARGETS: [(&str, Target); 8] = [
    ("score", score::run),
    ("vocabulary", vocabulary::run),
    ("production", production::run),
    ("frames", frames::run),
    ("midi_in", midi_in::run),
    ("audio", audio::run),
    ("journal", journal::run),
    ("stage", stage::run),
];
