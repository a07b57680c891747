//! The call's entries as the journal keeps them. Nothing is decided here.

use jiff::Timestamp;

use crate::call::{Detail, Drive, Entry, EntryKind, Roster, Run, Spot};
use crate::journal::{Cast, Event, EventKind, Revision, RunBegun, RunEnd, RunEnded};
use crate::units::ServerTime;

/// An entry as an event.
pub(super) fn event(entry: Entry, utc: Timestamp) -> Event {
    let (member, who, role) = match entry.who {
        Some((member, name, role)) => (member.of_person(), Some(name), Some(role)),
        None => (None, None, None),
    };
    Event {
        run: entry.run,
        who,
        member,
        role,
        spot: entry.spot.map(spot),
        screen: entry.screen.map(spot),
        percent: entry.speed.map(|speed| speed.as_percent()),
        reason: entry.reason,
        hold: entry.hold.map(|hold| hold.0),
        tap: entry.tap,
        detail: entry.detail.map_or(serde_json::Value::Null, detail),
        ..Event::new(kind(entry.kind), entry.at.0, utc)
    }
}

/// What the review reads, as `src/review/record.rs` looks for it.
fn detail(detail: Detail) -> serde_json::Value {
    match detail {
        Detail::Check { in_order, note, by } => {
            serde_json::json!({ "in_order": in_order, "note": note, "signed_by": by })
        }
        Detail::Attendance { person, present } => serde_json::json!({ "person": person, "present": present }),
        Detail::SignedBy(by) => serde_json::json!({ "signed_by": by }),
    }
}

/// The journal's kind for an entry's.
pub(super) fn kind(kind: EntryKind) -> EventKind {
    match kind {
        EntryKind::Joined => EventKind::Joined,
        EntryKind::Left => EventKind::Left,
        EntryKind::LinkLost => EventKind::LinkLost,
        EntryKind::LinkBack => EventKind::LinkBack,
        EntryKind::Part => EventKind::Part,
        EntryKind::Places => EventKind::Places,
        EntryKind::Ready => EventKind::Ready,
        EntryKind::Start => EventKind::Start,
        EntryKind::Step => EventKind::Step,
        EntryKind::Phrase => EventKind::Phrase,
        EntryKind::Hold => EventKind::Hold,
        EntryKind::HoldJoined => EventKind::HoldJoined,
        EntryKind::HoldLate => EventKind::HoldLate,
        EntryKind::Release => EventKind::Release,
        EntryKind::Stop => EventKind::Stop,
        EntryKind::Speed => EventKind::Speed,
        EntryKind::Note => EventKind::Note,
        EntryKind::Complete => EventKind::Complete,
        EntryKind::Check => EventKind::Check,
        EntryKind::Attendance => EventKind::Attendance,
        EntryKind::End => EventKind::End,
    }
}

/// How an entry of that kind ends a run that was going, if it does.
pub(super) fn ends_run(kind: EntryKind) -> Option<RunEnd> {
    match kind {
        EntryKind::Hold => Some(RunEnd::Held),
        EntryKind::Stop => Some(RunEnd::Stopped),
        EntryKind::Complete => Some(RunEnd::Complete),
        _ => None,
    }
}

/// The end of a run.
pub(super) fn run_ended(
    run: u32,
    how: RunEnd,
    last: Option<Spot>,
    first: Option<Spot>,
    at: ServerTime,
    utc: Timestamp,
) -> RunEnded {
    RunEnded { run, how, first: first.map(spot), last: last.map(spot), utc, server_us: at.0 }
}

/// The score's text that a run is set up with.
pub(super) fn revision(run: &Run, utc: Timestamp) -> Revision {
    let fight = &run.setup.fight;
    Revision { sha256: fight.revision.clone(), fight: fight.score.name.clone(), text: fight.text.clone(), utc }
}

/// The beginning of a run.
pub(super) fn run_begun(run: &Run, at: ServerTime, utc: Timestamp) -> RunBegun {
    let fight = &run.setup.fight;
    let name = |number: usize| fight.score.phrases.get(number).map(|phrase| phrase.name.clone()).unwrap_or_default();
    let (first, last) = (run.setup.range.first, run.setup.range.last);
    RunBegun {
        run: run.number,
        revision: fight.revision.clone(),
        fight: fight.score.name.clone(),
        from_phrase: u32::try_from(first).unwrap_or(u32::MAX),
        from_name: name(first),
        to_phrase: u32::try_from(last).unwrap_or(u32::MAX),
        to_name: name(last),
        percent: (run.setup.drive == Drive::Clock).then(|| run.setup.speed.as_percent()),
        count_in: run.setup.count_in,
        drive: match run.setup.drive {
            Drive::Clock => "clock".to_owned(),
            Drive::Step => "step".to_owned(),
        },
        utc,
        server_us: at.0,
    }
}

/// Who plays whom in a run.
pub(super) fn casts(run: &Run, roster: &Roster) -> Vec<Cast> {
    let fighters = run.setup.fight.score.fighters.iter();
    fighters
        .filter_map(|fighter| {
            let (member, person) = roster.holder_of(&fighter.name)?;
            Some(Cast {
                run: run.number,
                part: fighter.name.clone(),
                person: person.name.clone(),
                member: Some(member.0),
            })
        })
        .collect()
}

fn spot(spot: Spot) -> crate::journal::Spot {
    crate::journal::Spot {
        phrase: u32::try_from(spot.phrase).unwrap_or(u32::MAX),
        phrase_name: spot.phrase_name,
        beat: spot.beat,
        number: spot.number,
        words: spot.words,
    }
}
