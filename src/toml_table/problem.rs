//! One thing that is wrong with a TOML file, as a sentence: which file, which line, which key, what, and what to do.

use std::fmt;

/// One thing that is wrong with a TOML file.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct TomlProblem {
    /// The file, as the person knows it.
    pub file: String,
    /// The line, counted from 1.
    pub line: usize,
    /// The key with its tables, `rules.max_bpm`; nothing when the file is no TOML there.
    pub key: Option<String>,
    /// What is wrong and what to do.
    pub says: String,
}

impl fmt::Display for TomlProblem {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}, line {}: ", self.file, self.line)?;
        if let Some(key) = &self.key {
            write!(f, "`{key}` ")?;
        }
        // What they meant is asked at the end of some sentences; those have their mark.
        let mark = if self.says.ends_with('?') { "" } else { "." };
        write!(f, "{}{mark}", self.says)
    }
}
