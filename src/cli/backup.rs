//! `holdfast backup`: a copy of a production, also while it is served.

use std::fs;
use std::io;
use std::path::{Path, PathBuf};
use std::process::ExitCode;

use holdfast::journal::{self, JournalError};
use holdfast::production::{self, CONFIG_FILE, DATA};
use tempfile::Builder;

use super::{EXIT_UNUSABLE, EXIT_WRONG, output};

/// Copies a production with its log, its keys and its recordings, also while a server runs.
///
/// The copy is a production like any other: `holdfast serve TO` goes on where it stood, on this machine or another. It
/// appears whole or not at all, and its log is verified before this says that it is done. It holds the keys of everybody
/// who joined: keep it where only those may look who may look into the production.
///
/// Exit code: 0 copied, and the log is whole; 1 copied, and something in the log is damaged or missing; 2 not copied.
#[derive(clap::Args)]
pub(crate) struct Backup {
    /// The production's folder.
    dir: PathBuf,
    /// The folder that the copy becomes; it must not be there yet.
    to: PathBuf,
}

impl Backup {
    pub(crate) fn run(&self) -> ExitCode {
        match self.copy() {
            Ok((says, whole)) => {
                let _ = output::print(&says);
                if whole { ExitCode::SUCCESS } else { ExitCode::from(EXIT_WRONG) }
            }
            Err(reason) => {
                output::complain(&format!("holdfast backup: {reason}"));
                ExitCode::from(EXIT_UNUSABLE)
            }
        }
    }

    /// Copies into a folder beside, and gives it its name when it is whole. What is to be said, and whether the log is well.
    fn copy(&self) -> Result<(String, bool), String> {
        let (from, to) = (self.dir.display(), self.to.display());
        if !self.dir.join(CONFIG_FILE).is_file() {
            return Err(format!("{from} is no production: it has no {CONFIG_FILE}. Name a production's folder."));
        }
        if self.to.symlink_metadata().is_ok() {
            return Err(format!("{to} is there already. Name a folder that is not there yet."));
        }
        let unwritable =
            |error: io::Error| format!("The copy cannot be made at {to}: {error}. Look at its disk and rights.");
        let beside = self.to.parent().filter(|parent| !parent.as_os_str().is_empty()).unwrap_or(Path::new("."));
        let room = Builder::new().prefix(".holdfast-backup-").tempdir_in(beside).map_err(unwritable)?;
        // A folder in the temporary one, because that one is closed to everybody else and would stay so.
        let whole = room.path().join("production");
        fs::create_dir(&whole).map_err(unwritable)?;
        let data = self.dir.join(DATA);
        let is_log = |path: &Path| path.parent() == Some(&data) && is_of_the_log(path);
        let copied = production::copy_files(&self.dir, &whole, &is_log).map_err(unwritable)?;
        let (log, well) = copy_log(&data, &whole.join(DATA)).map_err(unwritable)?;
        sync(&whole).map_err(unwritable)?;
        fs::rename(&whole, &self.to).map_err(unwritable)?;
        let says = format!(
            "Copied to {to}: {} files, {} kB; {log}\nIt holds everybody's keys: keep it as safe as the production itself.\n",
            copied.files,
            copied.bytes.div_ceil(1_000)
        );
        Ok((says, well))
    }
}

/// Copies the log, and says how it is. One that cannot be read is copied as it lies there.
fn copy_log(data: &Path, to: &Path) -> io::Result<(String, bool)> {
    fs::create_dir_all(to)?;
    let rows = match journal::copy_into(&data.join(journal::FILE_NAME), to) {
        Ok(rows) => rows,
        Err(JournalError::Missing(_)) => return Ok(("there is no log yet.".to_owned(), true)),
        Err(error) => {
            for entry in fs::read_dir(data)? {
                let path = entry?.path();
                if let Some(name) = path.file_name().filter(|_| is_of_the_log(&path) && path.is_file()) {
                    fs::copy(&path, to.join(name))?;
                }
            }
            return Ok((format!("the log as it lies there, byte for byte. {error}"), false));
        }
    };
    Ok(match journal::verify(to) {
        Ok(verdict) if verdict.whole => (format!("the log with {rows} rows, whole."), true),
        Ok(verdict) => {
            let found = verdict.findings.len();
            (
                format!(
                    "the log with {rows} rows; damaged or missing in it, here as there: {found}. `holdfast verify` names them."
                ),
                false,
            )
        }
        Err(error) => (format!("the log with {rows} rows. {error}"), false),
    })
}

/// True for the journal's file and those beside it.
fn is_of_the_log(path: &Path) -> bool {
    path.file_name().is_some_and(|name| name.as_encoded_bytes().starts_with(b"journal."))
}

/// Everything in a folder is on the disk.
fn sync(folder: &Path) -> io::Result<()> {
    for entry in fs::read_dir(folder)? {
        let path = entry?.path();
        if path.is_dir() {
            sync(&path)?;
        } else {
            fs::File::open(&path)?.sync_all()?;
        }
    }
    // Where folders cannot be synced, the system sees to it.
    fs::File::open(folder).map_or(Ok(()), |folder| folder.sync_all())
}
