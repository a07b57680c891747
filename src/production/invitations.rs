//! The invitations: one secret for each role, in `data/invitations.toml`, which only its owner may read. They are kept in
//! the clear because the desk has to show the same links and codes again after a restart.

use std::collections::BTreeMap;
use std::fmt::{self, Write as _};
use std::fs;
use std::io::Write as _;
use std::path::Path;

use jiff::Timestamp;

use super::ProductionError;
use crate::call::Role;
use crate::leftovers::temporary_in;
use crate::toml_table::{self, TomlProblem};

/// The file in the data folder.
const FILE_NAME: &str = "invitations.toml";
/// The fewest letters of a secret: 22 letters of base64 hold 132 bits.
const FEWEST_LETTERS: usize = 22;

/// The secret of an invitation: at least 22 letters of base64url (RFC 4648, section 5), which is at least 128 bits.
/// It is not shown by `{:?}`, so that it gets into no log.
#[derive(Clone, PartialEq, Eq)]
pub struct Secret(String);

impl Secret {
    /// A secret, or nothing when `text` is too short or has other letters.
    pub fn new(text: &str) -> Option<Secret> {
        let letter = |byte: u8| byte.is_ascii_alphanumeric() || byte == b'-' || byte == b'_';
        let sound = text.len() >= FEWEST_LETTERS && text.len() <= 256 && text.bytes().all(letter);
        sound.then(|| Secret(text.to_owned()))
    }

    /// The secret itself, for a link.
    pub fn reveal(&self) -> &str {
        &self.0
    }
}

impl fmt::Debug for Secret {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("Secret(…)")
    }
}

/// What opens a role's door.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Invitation {
    /// The secret part of the link.
    pub secret: Secret,
    /// When it was made, UTC: an invitation that was made too long ago has run out.
    pub made: Timestamp,
    /// True while the desk lets nobody new in with it.
    pub closed: bool,
}

/// The invitation of each role.
pub type Invitations = BTreeMap<Role, Invitation>;

/// Reads the invitations in a data folder; none when there is no file yet. One of which nobody wrote down when it was
/// made counts as made `now`.
///
/// # Errors
/// `Unreadable`; `Config` when somebody wrote something else into the file.
pub fn load(data: &Path, now: Timestamp) -> Result<Invitations, ProductionError> {
    let path = data.join(FILE_NAME);
    if !path.exists() {
        return Ok(Invitations::new());
    }
    let text = super::text(&path)?;
    let rows = toml_table::read(FILE_NAME, &text, |file, top| {
        let secrets = Role::ALL.map(|role| (role, top.text(file, role.word())));
        let mut times = top.table(file, "made");
        let mut closed = top.table(file, "closed");
        let rows = secrets.map(|(role, secret)| {
            let closed = closed.flag(file, role.word()).unwrap_or(false);
            (role, secret, times.text(file, role.word()), closed)
        });
        times.finish(file);
        closed.finish(file);
        Some(rows)
    });
    let kept = |(role, secret, made, closed): (Role, Option<String>, Option<String>, bool)| {
        let secret = Secret::new(&secret?).ok_or_else(|| weak(role));
        // A time that cannot be read is no reason to lock a company out.
        let made = made.and_then(|made| made.parse().ok()).unwrap_or(now);
        Some(secret.map(|secret| (role, Invitation { secret, made, closed })))
    };
    let checked = rows.and_then(|rows| rows.into_iter().filter_map(kept).collect());
    checked.map_err(ProductionError::Config)
}

/// Writes the invitations: all or nothing, readable by their owner only, on disk when it returns.
///
/// # Errors
/// `Unwritable`; the file is then as it was.
pub fn save(data: &Path, invitations: &Invitations) -> Result<(), ProductionError> {
    let path = data.join(FILE_NAME);
    let mut text = "# Written by Holdfast: the secrets of the invitations. Whoever reads this can join. Delete the file while no\n\
                    # server runs, and new invitations are made at the next start.\n"
        .to_owned();
    for (role, invitation) in invitations {
        let _ = writeln!(text, "{} = \"{}\"", role.word(), invitation.secret.reveal());
    }
    text.push_str("\n[made]\n");
    for (role, invitation) in invitations {
        let _ = writeln!(text, "{} = \"{}\"", role.word(), invitation.made);
    }
    text.push_str("\n[closed]\n");
    for (role, _) in invitations.iter().filter(|(_, invitation)| invitation.closed) {
        let _ = writeln!(text, "{} = true", role.word());
    }
    write_private(data, &path, text.as_bytes())
        .map_err(|error| ProductionError::Unwritable { path, why: error.to_string() })
}

/// A temporary file is made with rights for its owner only, and keeps them when it is renamed.
pub(crate) fn write_private(folder: &Path, path: &Path, bytes: &[u8]) -> std::io::Result<()> {
    fs::create_dir_all(folder)?;
    let mut file = temporary_in(folder)?;
    file.write_all(bytes)?;
    file.as_file().sync_all()?;
    file.persist(path)?;
    // The new name is durable once the folder is; where a folder cannot be opened, the system sees to it.
    fs::File::open(folder).map_or(Ok(()), |folder| folder.sync_all())
}

fn weak(role: Role) -> Vec<TomlProblem> {
    vec![TomlProblem {
        file: FILE_NAME.to_owned(),
        line: 1,
        key: Some(role.word().to_owned()),
        says: format!(
            "is no secret: it needs {FEWEST_LETTERS} letters, digits, - or _; delete the file to have new invitations made"
        ),
    }]
}
