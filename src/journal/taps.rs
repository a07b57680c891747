//! The taps of late, so that one which a page sends again after the server was started anew is known.

use rusqlite::Connection;

/// So many of the last events are looked through: more than any page could have kept a tap over.
pub(super) const OF_LATE: i64 = 200_000;

/// A tap that was written down.
#[derive(Clone, Debug, PartialEq, Eq)]
pub struct KnownTap {
    /// Whose it was.
    pub member: u32,
    /// The name that their page gave it.
    pub tap: String,
    /// The hold that it made or joined; nothing when it came too late to hold anything.
    pub hold: Option<u32>,
}

/// The taps among the last events, oldest first.
///
/// # Errors
/// What the disk or SQLite says.
pub(super) fn known_taps(db: &Connection) -> rusqlite::Result<Vec<KnownTap>> {
    let mut query = db.prepare(
        "SELECT member, tap, hold FROM events \
         WHERE seq > (SELECT coalesce(max(seq), 0) FROM events) - ?1 AND tap IS NOT NULL AND member IS NOT NULL \
         ORDER BY seq",
    )?;
    let rows =
        query.query_map([OF_LATE], |row| Ok(KnownTap { member: row.get(0)?, tap: row.get(1)?, hold: row.get(2)? }))?;
    rows.collect()
}
