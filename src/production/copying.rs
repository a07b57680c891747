//! A copy of a production's folder, as it stands: everything but the journal, which has a way of its own to be copied
//! while it is written, and what is there for a moment only.

use std::fs;
use std::io;
use std::path::Path;

use crate::leftovers::is_temporary;

/// How deep the folders of a production go; a link that leads back into them ends there.
const DEEPEST: usize = 8;

/// What was copied.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub struct Copied {
    /// How many files.
    pub files: usize,
    /// How many bytes they have.
    pub bytes: u64,
}

/// Copies the files of the folder `from` into the empty folder `to`, with their rights, but for those that `leaves_out`
/// names. A link is copied as what it leads to: the copy stands alone.
///
/// # Errors
/// What the system says, with the file that it is about.
pub fn copy_files(from: &Path, to: &Path, leaves_out: &dyn Fn(&Path) -> bool) -> io::Result<Copied> {
    let mut copied = Copied::default();
    copy(from, to, leaves_out, (&mut copied, 0))?;
    Ok(copied)
}

fn copy(
    from: &Path,
    to: &Path,
    leaves_out: &dyn Fn(&Path) -> bool,
    (copied, deep): (&mut Copied, usize),
) -> io::Result<()> {
    for entry in fs::read_dir(from).map_err(|error| about(from, &error))? {
        let path = entry.map_err(|error| about(from, &error))?.path();
        let Some(name) = path.file_name().filter(|name| !is_temporary(name)) else { continue };
        if leaves_out(&path) {
            continue;
        }
        let (found, there) = (fs::metadata(&path).map_err(|error| about(&path, &error))?, to.join(name));
        if found.is_dir() && deep < DEEPEST {
            fs::create_dir(&there).map_err(|error| about(&there, &error))?;
            copy(&path, &there, leaves_out, (copied, deep + 1))?;
        } else if found.is_file() {
            copied.bytes += fs::copy(&path, &there).map_err(|error| about(&path, &error))?;
            copied.files += 1;
        }
    }
    Ok(())
}

fn about(path: &Path, error: &io::Error) -> io::Error {
    io::Error::new(error.kind(), format!("{}: {error}", path.display()))
}
