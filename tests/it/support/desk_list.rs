//! What the desk reads of people, and what is written down of what it does about them.

use std::path::Path;

use holdfast::event::{DoorChange, EventKind, What};
use holdfast::journal::{EventFilter, Reader};
use holdfast::wire::{MemberView, Subject, SubjectTold, ToMember, ToServer};

use super::raw::Raw;

/// The member of that name, once a page that shows the roster is told something of them that is so.
pub(crate) async fn row(desk: &mut Raw, name: &str, is_so: impl Fn(&MemberView) -> bool) -> MemberView {
    let of = |message: &ToMember| match message {
        ToMember::Subject { tells: SubjectTold::Roster { members, .. } } => {
            members.iter().find(|member| member.name == name && is_so(member)).cloned()
        }
        _ => None,
    };
    of(&desk.hear_until(|message| of(message).is_some()).await.unwrap()).unwrap()
}

/// A page shows the roster from now on; the member of that name, once it is told something of them that is so.
pub(crate) async fn shown(desk: &mut Raw, name: &str, is_so: impl Fn(&MemberView) -> bool) -> MemberView {
    for subjects in [vec![], vec![Subject::Roster]] {
        desk.say(&ToServer::Show { subjects }).await;
    }
    row(desk, name, is_so).await
}

/// Why a page does not get what it asked for.
pub(crate) async fn refusal(page: &mut Raw) -> String {
    match page.hear_until(|message| matches!(message, ToMember::Refused { .. })).await {
        Some(ToMember::Refused { reason, .. }) => reason,
        other => panic!("not refused: {other:?}"),
    }
}

/// What was done at the door, and by whom.
pub(crate) fn written(folder: &Path) -> Vec<(String, DoorChange)> {
    let filter = EventFilter { kind: Some(EventKind::Door), ..EventFilter::default() };
    let rows = Reader::open(folder).unwrap().events(filter).unwrap();
    let change = |what| if let What::Door(change) = what { change } else { panic!("{what:?}") };
    rows.into_iter().map(|row| (row.event.who.unwrap().name, change(row.event.what))).collect()
}
