//! What can be asked for.

/// How much is measured.
#[derive(Clone, Debug)]
pub(crate) struct Options {
    /// The sizes of the call.
    pub(crate) sizes: Vec<usize>,
    /// Interleaved rounds.
    pub(crate) rounds: usize,
    /// Divides the number of holds in a round.
    pub(crate) fewer: usize,
    /// What is measured, by name; nothing for all.
    pub(crate) only: Option<String>,
}

impl Options {
    /// From the words after the program's name. `cargo bench` adds `--bench`.
    pub(crate) fn parse(words: impl Iterator<Item = String>) -> Result<Options, String> {
        let mut options = Options { sizes: vec![10, 50, 200, 1000], rounds: 8, fewer: 1, only: None };
        let mut words = words.filter(|word| word != "--bench").peekable();
        while let Some(word) = words.next() {
            let mut value = || words.next().ok_or(format!("{word} wants a value"));
            match word.as_str() {
                "--quick" => (options.sizes, options.rounds, options.fewer) = (vec![10, 50], 3, 4),
                "--long" => options.sizes.push(5_000),
                "--sizes" => {
                    let numbers = value()?.split(',').map(str::parse).collect::<Result<_, _>>();
                    options.sizes = numbers.map_err(|_| "--sizes wants numbers: 10,50,200")?;
                }
                "--rounds" => options.rounds = value()?.parse().map_err(|_| "--rounds wants a number")?,
                "--only" => options.only = Some(value()?),
                other => {
                    return Err(format!(
                        "{other} is not understood. There are --quick, --long, --sizes N,N, --rounds N and --only TABLE."
                    ));
                }
            }
        }
        Ok(options)
    }

    /// True when this table is wanted.
    pub(crate) fn wants(&self, table: &str) -> bool {
        self.only.as_ref().is_none_or(|only| only == table)
    }

    /// The largest call in which every condition is tried.
    pub(crate) fn most_with_conditions(&self) -> usize {
        if self.sizes.contains(&5_000) { 1_000 } else { 200 }
    }

    /// How many times a round what takes a second or more is done.
    pub(crate) fn few(&self) -> usize {
        if self.fewer > 1 { 1 } else { 2 }
    }

    /// Holds in one round of a call of that size: fewer of those that take longer.
    pub(crate) fn holds(&self, members: usize) -> usize {
        let usual = match members {
            0..=10 => 40,
            11..=50 => 30,
            51..=200 => 20,
            201..=1000 => 8,
            _ => 3,
        };
        (usual / self.fewer).max(2)
    }
}
