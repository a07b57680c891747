//! Records as rows: which value goes into which column.

use jiff::Timestamp;
use rusqlite::types::Value;
use serde::Serialize;

use super::chain::Head;
use super::record::{Came, MemberJoined, Parting, Report};
use crate::event::{Cast, Revision, RunBegun, RunEnded};

/// A time as the journal writes it: RFC 3339, UTC, always six digits of the second.
pub(super) fn utc(time: Timestamp) -> Value {
    format!("{time:.6}").into()
}

pub(super) fn text(value: Option<&str>) -> Value {
    value.map_or(Value::Null, |text| text.to_owned().into())
}

pub(super) fn number(value: Option<impl Into<i64>>) -> Value {
    value.map_or(Value::Null, |number| number.into().into())
}

/// A column that holds JSON, or nothing.
pub(super) fn json_column(value: Option<&impl Serialize>) -> Value {
    value.and_then(|value| serde_json::to_string(value).ok()).map_or(Value::Null, Value::from)
}

/// A row of `sessions`.
pub(super) fn session(session: i64, at: Timestamp, server: &str) -> Vec<Value> {
    vec![session.into(), utc(at), server.to_owned().into()]
}

/// A row of `session_ends`.
pub(super) fn session_end(session: i64, at: Timestamp, events: u64, head: &Head) -> Vec<Value> {
    vec![session.into(), utc(at), (events as i64).into(), head.link.into(), head.seal.to_vec().into()]
}

/// A row of `revisions`.
pub(super) fn revision(revision: &Revision, at: Timestamp) -> Vec<Value> {
    let Revision { sha256, fight, text } = revision;
    vec![sha256.clone().into(), fight.clone().into(), text.clone().into(), utc(at)]
}

/// A row of `runs`.
pub(super) fn run(session: i64, run: &RunBegun, at: Timestamp) -> Vec<Value> {
    vec![
        i64::from(run.run).into(),
        session.into(),
        run.revision.clone().into(),
        run.fight.clone().into(),
        i64::from(run.from_phrase).into(),
        run.from_name.clone().into(),
        i64::from(run.to_phrase).into(),
        run.to_name.clone().into(),
        number(run.percent),
        i64::from(run.count_in).into(),
        run.drive.clone().into(),
        utc(at),
        run.server_us.into(),
    ]
}

/// A row of `run_ends`.
pub(super) fn run_end(session: i64, end: &RunEnded, at: Timestamp) -> Vec<Value> {
    vec![
        i64::from(end.run).into(),
        session.into(),
        end.how.word().to_owned().into(),
        json_column(end.first.as_ref()),
        json_column(end.last.as_ref()),
        utc(at),
        end.at.0.into(),
    ]
}

/// A row of `casts`.
pub(super) fn cast(run: u32, cast: &Cast) -> Vec<Value> {
    vec![i64::from(run).into(), cast.part.clone().into(), cast.person.clone().into(), number(cast.member)]
}

/// A row of `reports`.
pub(super) fn report(report: &Report) -> Vec<Value> {
    vec![
        i64::from(report.run).into(),
        i64::from(report.member).into(),
        i64::from(report.cue).into(),
        report.due_us.into(),
        report.fired_us.into(),
        number(report.bound_us),
    ]
}

/// A row of `texts`.
pub(super) fn text_of(sha256: &str, text: &str) -> Vec<Value> {
    vec![sha256.to_owned().into(), text.to_owned().into()]
}

/// A row of `inputs`.
pub(super) fn came(session: i64, came: &Came) -> Vec<Value> {
    vec![session.into(), came.at.0.into(), came.body.clone().into()]
}

/// A row of `member_changes`: somebody joined.
pub(super) fn joined(joined: &MemberJoined) -> Vec<Value> {
    vec![
        i64::from(joined.member).into(),
        "joined".to_owned().into(),
        utc(joined.utc),
        joined.name.clone().into(),
        joined.role.word().to_owned().into(),
        text(joined.part.as_deref()),
        joined.key_sha256.clone().into(),
    ]
}

/// A row of `member_changes`: another part, or none.
pub(super) fn part(member: u32, part: Option<&str>, at: Timestamp) -> Vec<Value> {
    let what = "part".to_owned().into();
    vec![i64::from(member).into(), what, utc(at), Value::Null, Value::Null, text(part), Value::Null]
}

/// Rows of `member_changes`: the key is no longer good, and how its member parted. A Holdfast that knows nothing of the
/// second knows the first.
pub(super) fn revoked(member: u32, parting: Parting, at: Timestamp) -> Vec<Vec<Value>> {
    let how = match parting {
        Parting::Left => None,
        Parting::Replaced => Some("replaced"),
        Parting::Removed => Some("removed"),
    };
    [Some("revoked"), how].into_iter().flatten().map(|what| change(member, what, None, at)).collect()
}

/// A row of `member_changes`: another key.
pub(super) fn another_key(member: u32, key_sha256: &str, at: Timestamp) -> Vec<Value> {
    let what = "key".to_owned().into();
    let key = key_sha256.to_owned().into();
    vec![i64::from(member).into(), what, utc(at), Value::Null, Value::Null, Value::Null, key]
}

/// A row of `member_changes`: another name.
pub(super) fn renamed(member: u32, name: &str, at: Timestamp) -> Vec<Value> {
    change(member, "renamed", Some(name), at)
}

/// A row of `member_changes`: the number of the member whose name they gave, or none any more.
pub(super) fn claims(member: u32, of: Option<u32>, at: Timestamp) -> Vec<Value> {
    change(member, "claims", of.map(|of| of.to_string()).as_deref(), at)
}

/// A row of `member_changes`: what they note is taken, or not.
pub(super) fn notes(member: u32, taken: bool, at: Timestamp) -> Vec<Value> {
    change(member, if taken { "heard" } else { "unheard" }, None, at)
}

fn change(member: u32, what: &str, name: Option<&str>, at: Timestamp) -> Vec<Value> {
    let what = what.to_owned().into();
    vec![i64::from(member).into(), what, utc(at), text(name), Value::Null, Value::Null, Value::Null]
}
