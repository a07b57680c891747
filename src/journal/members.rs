//! Everybody who ever joined, folded from the changes that the journal keeps.

use std::collections::BTreeMap;

use rusqlite::Connection;

use super::record::Parting;
use crate::call::Role;

/// Somebody who joined.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct Member {
    /// Their number; never given to anybody else.
    pub member: u32,
    /// What they are called.
    pub name: String,
    /// Their role.
    pub role: Role,
    /// The fighter they play.
    pub part: Option<String>,
    /// SHA-256 of their personal key, 64 hexadecimal digits.
    pub key_sha256: String,
    /// When they joined, RFC 3339.
    pub joined_utc: String,
    /// True when the key is no longer good.
    pub revoked: bool,
    /// How they parted, once it is not.
    pub parting: Parting,
    /// The member whose name they gave, while nobody has said whether they are that person.
    pub claims: Option<u32>,
    /// False while the desk takes no notes from them.
    pub notes_taken: bool,
}

/// Everybody, in order of their number.
///
/// # Errors
/// What the disk or SQLite says.
pub(super) fn members(db: &Connection) -> rusqlite::Result<Vec<Member>> {
    let mut query =
        db.prepare("SELECT member, what, utc, name, role, part, key_sha256 FROM member_changes ORDER BY link")?;
    let mut rows = query.query([])?;
    let mut members: BTreeMap<u32, Member> = BTreeMap::new();
    while let Some(row) = rows.next()? {
        let (member, what): (u32, String) = (row.get(0)?, row.get(1)?);
        let part: Option<String> = row.get(5)?;
        match (what.as_str(), members.get_mut(&member)) {
            ("joined", None) => {
                let role: Option<String> = row.get(4)?;
                // A role that this program does not know gets the least power there is.
                let role = role.and_then(|word| Role::from_word(&word)).unwrap_or(Role::Observer);
                let name = row.get::<_, Option<String>>(3)?.unwrap_or_default();
                let key_sha256 = row.get::<_, Option<String>>(6)?.unwrap_or_default();
                let joined_utc = row.get(2)?;
                let parting = Parting::default();
                let (revoked, claims, notes_taken) = (false, None, true);
                let joined =
                    Member { member, name, role, part, key_sha256, joined_utc, revoked, parting, claims, notes_taken };
                members.insert(member, joined);
            }
            ("part", Some(known)) => known.part = part,
            ("revoked", Some(known)) => known.revoked = true,
            ("replaced", Some(known)) => known.parting = Parting::Replaced,
            ("removed", Some(known)) => known.parting = Parting::Removed,
            ("key", Some(known)) => {
                known.key_sha256 = row.get::<_, Option<String>>(6)?.unwrap_or_default();
            }
            ("renamed", Some(known)) => {
                (known.name, known.claims) = (row.get::<_, Option<String>>(3)?.unwrap_or_default(), None);
            }
            ("claims", Some(known)) => {
                known.claims = row.get::<_, Option<String>>(3)?.and_then(|number| number.parse().ok());
            }
            ("unheard", Some(known)) => known.notes_taken = false,
            ("heard", Some(known)) => known.notes_taken = true,
            _ => {}
        }
    }
    Ok(members.into_values().collect())
}
