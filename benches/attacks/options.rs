//! What can be asked for.

use holdfast::units::Micros;

/// How much is measured.
#[derive(Clone, Debug)]
pub(crate) struct Options {
    /// Holds in one stretch, at least.
    pub(crate) holds: usize,
    /// How long one stretch lasts, at least.
    pub(crate) stretch: Micros,
    /// Turns of sink and server.
    pub(crate) rounds: usize,
    /// How often the phone's link is cut in a round.
    pub(crate) cuts: usize,
    /// A part of the names of the attacks that are wanted; nothing for all.
    pub(crate) only: Option<String>,
}

impl Options {
    /// From the words after the program's name. `cargo bench` adds `--bench`.
    pub(crate) fn parse(words: impl Iterator<Item = String>) -> Result<Options, String> {
        let mut options = Options { holds: 40, stretch: Micros::seconds(4), rounds: 3, cuts: 2, only: None };
        let mut words = words.filter(|word| word != "--bench");
        while let Some(word) = words.next() {
            match word.as_str() {
                "--quick" => {
                    options = Options { holds: 5, stretch: Micros::millis(700), cuts: 1, ..options };
                }
                "--only" => options.only = Some(words.next().ok_or("--only wants a name")?),
                name if !name.starts_with('-') => options.only = Some(name.to_owned()),
                other => return Err(format!("{other} is not understood. There are --quick, --only NAME and NAME.")),
            }
        }
        Ok(options)
    }

    /// True when this attack is wanted.
    pub(crate) fn wants(&self, attack: &str) -> bool {
        self.only.as_ref().is_none_or(|only| attack.contains(only.as_str()))
    }
}
