//! `holdfast fmt`: writes scores in canonical columns, each file at once or not at all.

use std::fs::{self, File};
use std::io::{self, IsTerminal, Read, Write};
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use holdfast::score;

use super::output;

/// Write scores in canonical columns. Order, comments and numbers stay as they were written.
#[derive(clap::Args)]
pub(crate) struct Fmt {
    /// The scores; `-` reads one from standard input and writes it to standard output.
    #[arg(required = true, value_name = "FILE")]
    files: Vec<PathBuf>,
    /// Change nothing; name the files that would change, and exit with 1 if there are any.
    #[arg(long)]
    check: bool,
}

/// What became of one file, from best to worst.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Outcome {
    Done,
    WouldChange,
    Unusable,
}

impl Fmt {
    /// Formats every file, whatever became of the others. Exits with 0 when all is done, 1 when `--check` found files that
    /// would change, 2 when a file could not be read, understood or written.
    pub(crate) fn run(self) -> ExitCode {
        let outcomes = self.files.iter().map(|file| one(file, self.check));
        match outcomes.max().unwrap_or(Outcome::Done) {
            Outcome::Done => ExitCode::SUCCESS,
            Outcome::WouldChange => ExitCode::from(1),
            Outcome::Unusable => ExitCode::from(2),
        }
    }
}

fn one(file: &Path, check: bool) -> Outcome {
    let piped = file == Path::new("-");
    let name = if piped { "standard input".to_owned() } else { file.display().to_string() };
    let result = read(file, piped).map_err(|error| format!("{name}: cannot be read: {error}")).and_then(|bytes| {
        let formatted = score::format(&bytes).map_err(|refused| {
            let colour = io::stderr().is_terminal() && std::env::var_os("NO_COLOR").is_none();
            output::complain_drawn(&refused.render(&name, colour));
            format!("{name}: {refused}")
        })?;
        if check {
            return Ok(report(&name, bytes == formatted.as_bytes()));
        }
        let written = if piped {
            output::print_bytes(formatted.as_bytes())
        } else if bytes == formatted.as_bytes() {
            Ok(())
        } else {
            replace(file, formatted.as_bytes())
        };
        written.map(|()| Outcome::Done).map_err(|error| format!("{name}: cannot be written, and is as it was: {error}"))
    });
    result.unwrap_or_else(|message| {
        output::complain(&message);
        Outcome::Unusable
    })
}

fn report(name: &str, same: bool) -> Outcome {
    if same {
        return Outcome::Done;
    }
    // A closed pipe is no reason to stop looking at the other files.
    output::say_line(name);
    Outcome::WouldChange
}

fn read(file: &Path, piped: bool) -> io::Result<Vec<u8>> {
    // One byte more than a score may have, so that one that is too large is refused for that.
    let most = score::LARGEST as u64 + 1;
    let mut bytes = Vec::new();
    if piped {
        io::stdin().lock().take(most).read_to_end(&mut bytes)?;
    } else {
        File::open(file)?.take(most).read_to_end(&mut bytes)?;
    }
    Ok(bytes)
}

/// Puts `bytes` in the place of `file`, so that a reader, or a power cut, sees the old file or the new one whole. A
/// link stays a link: what it points to is replaced.
fn replace(file: &Path, bytes: &[u8]) -> io::Result<()> {
    let file = fs::canonicalize(file)?;
    let folder = file.parent().unwrap_or(Path::new("."));
    let permissions = fs::metadata(&file)?.permissions();
    // Renaming would get past a file that its owner has made read-only.
    if permissions.readonly() {
        return Err(io::Error::new(io::ErrorKind::PermissionDenied, "the file is read-only"));
    }
    let mut new = holdfast::leftovers::temporary_in(folder)?;
    new.write_all(bytes)?;
    new.as_file().set_permissions(permissions)?;
    new.as_file().sync_all()?;
    new.persist(&file).map_err(|error| error.error)?;
    // The rename itself is in the folder; without this a power cut could bring the old file back, whole.
    File::open(folder)?.sync_all()
}
