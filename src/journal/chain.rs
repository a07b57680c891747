//! The chain: every row of the journal carries a seal over itself and over the row before it, so that a row that was
//! altered, removed or put in afterwards is found. `seal = SHA-256(seal before ‖ SHA-256(row))`; the first row follows
//! on 32 zero bytes. It shows damage and clumsy edits; whoever rewrites the whole file can seal it anew.

use rusqlite::types::{Value, ValueRef};
use rusqlite::{Connection, params_from_iter};
use sha2::{Digest, Sha256};

use super::schema::Table;

/// A SHA-256.
pub(super) type Seal = [u8; 32];

/// The end of the chain.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq)]
pub(super) struct Head {
    /// How many rows there are; the last one's link.
    pub(super) link: i64,
    /// The last one's seal.
    pub(super) seal: Seal,
}

/// SHA-256 of a row: the table's name, the link, and each column as a letter for its type, the length, and the bytes.
/// Nothing that differs in any column, type or order has the same bytes.
pub(super) fn row_digest<'a>(table: &str, link: i64, values: impl Iterator<Item = ValueRef<'a>>) -> Seal {
    let mut hash = Sha256::new();
    let mut part = |kind: u8, bytes: &[u8]| {
        hash.update([kind]);
        hash.update((bytes.len() as u64).to_le_bytes());
        hash.update(bytes);
    };
    part(b't', table.as_bytes());
    part(b'i', &link.to_le_bytes());
    for value in values {
        match value {
            ValueRef::Null => part(b'n', &[]),
            ValueRef::Integer(number) => part(b'i', &number.to_le_bytes()),
            ValueRef::Real(number) => part(b'r', &number.to_le_bytes()),
            ValueRef::Text(text) => part(b't', text),
            ValueRef::Blob(bytes) => part(b'b', bytes),
        }
    }
    hash.finalize().into()
}

/// The seal of a row with that digest after a row with that seal.
pub(super) fn seal(before: &Seal, digest: &Seal) -> Seal {
    Sha256::new().chain_update(before).chain_update(digest).finalize().into()
}

/// Adds a row to a table at the end of the chain. `head` moves only when the row is in.
///
/// # Errors
/// Whatever SQLite says.
pub(super) fn append(db: &Connection, head: &mut Head, table: &Table, values: Vec<Value>) -> rusqlite::Result<()> {
    let link = head.link + 1;
    let digest = row_digest(table.name, link, values.iter().map(ValueRef::from));
    let next = Head { link, seal: seal(&head.seal, &digest) };
    let places = vec!["?"; values.len() + 2].join(", ");
    let sql = format!("INSERT INTO {} (link, {}, seal) VALUES ({places})", table.name, table.columns.join(", "));
    let row = std::iter::once(Value::from(link)).chain(values).chain(std::iter::once(Value::from(next.seal.to_vec())));
    db.prepare_cached(&sql)?.execute(params_from_iter(row))?;
    *head = next;
    Ok(())
}

/// The end of the chain of a database: the row with the greatest link over all tables.
///
/// # Errors
/// Whatever SQLite says, also when a seal is not 32 bytes long.
pub(super) fn find_head(db: &Connection, tables: &[Table]) -> rusqlite::Result<Head> {
    let mut head = Head::default();
    for table in tables {
        let sql = format!("SELECT link, seal FROM {} ORDER BY link DESC LIMIT 1", table.name);
        let mut query = db.prepare(&sql)?;
        let mut rows = query.query([])?;
        if let Some(row) = rows.next()?
            && row.get::<_, i64>(0)? > head.link
        {
            head = Head { link: row.get(0)?, seal: row.get(1)? };
        }
    }
    Ok(head)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn no_two_different_rows_look_alike() {
        let rows: [(&str, i64, Vec<Value>); 7] = [
            ("a", 1, vec![Value::from("xy".to_owned()), Value::Null]),
            ("a", 1, vec![Value::from("x".to_owned()), Value::from("y".to_owned())]),
            ("a", 1, vec![Value::Null, Value::from("xy".to_owned())]),
            ("a", 2, vec![Value::from("xy".to_owned()), Value::Null]),
            ("b", 1, vec![Value::from("xy".to_owned()), Value::Null]),
            ("a", 1, vec![Value::from(b"xy".to_vec()), Value::Null]),
            ("a", 1, vec![Value::from("xy".to_owned()), Value::from(0)]),
        ];
        let digests: std::collections::HashSet<Seal> =
            rows.iter().map(|(t, l, v)| row_digest(t, *l, v.iter().map(ValueRef::from))).collect();
        assert_eq!(digests.len(), rows.len());
    }
}
