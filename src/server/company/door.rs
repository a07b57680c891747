//! What the desk does about people: each act is written down, with whoever did it.

use std::collections::BTreeMap;

use jiff::Timestamp;

use super::{Company, may_invite, who};
use crate::call::{Call, Input, MemberId, Role, Stage};
use crate::event::{DoorChange, What};
use crate::journal::{Parting, Record};
use crate::server::deed::Deed;
use crate::server::keeper::Keep;
use crate::server::request::{LinkId, Speaker};
use crate::wire::DoorAsk;

/// What was changed, and what is to be done for it; nothing when it was so before.
type Changes = Vec<(DoorChange, Vec<Deed>)>;

impl Company {
    /// The desk changes who may come in. Every change is written down, with whoever made it.
    pub(in crate::server) fn door(&mut self, call: &Call, by: Speaker, ask: DoorAsk, utc: Timestamp) -> Vec<Deed> {
        let changed = self.may_ask(call, by.member, &ask).and_then(|()| match ask {
            DoorAsk::Remove { member } => self.take_out(call, by.member, MemberId(member), utc),
            DoorAsk::Notes { member, taken } => self.take_notes(call, MemberId(member), taken, utc),
            DoorAsk::Same { member, same } => self.same(call, MemberId(member), same, utc),
            DoorAsk::SameAll {} => self.same_all(call, utc),
            DoorAsk::Role { role, open } => Ok(self.open_role(by.link, role, open, utc)),
        });
        let note = |(change, deeds)| [Deed::Note(who(call, by.member), What::Door(change))].into_iter().chain(deeds);
        match changed {
            Ok(changes) => changes.into_iter().flat_map(note).collect(),
            Err(reason) => vec![Deed::Refuse(by.link, "door", reason)],
        }
    }

    /// The desk may ask for all of it; whose name a newcomer gave may say whether that is them.
    fn may_ask(&self, call: &Call, by: MemberId, ask: &DoorAsk) -> Result<(), String> {
        match ask {
            DoorAsk::Same { member, .. } if self.claims.of(MemberId(*member)) == Some(by) => Ok(()),
            _ => may_invite(call, by),
        }
    }

    /// A newcomer is the one whose name they gave, and takes their place; or is somebody else.
    fn same(&mut self, call: &Call, newcomer: MemberId, same: bool, utc: Timestamp) -> Result<Changes, String> {
        let settled = || "That is settled already. Look at the list again.".to_owned();
        let of = self.claims.of(newcomer).ok_or_else(settled)?;
        let (name, was) = (name_of(call, of)?, name_of(call, newcomer)?);
        if !same {
            self.claims.settle(newcomer);
            let other = Record::MemberClaims { member: newcomer.0, of: None, utc };
            return Ok(vec![(DoorChange::Other { newcomer: was, name }, vec![Deed::Record(other), Deed::Changed])]);
        }
        if matches!(call.stage(), Stage::Going(..)) {
            return Err(format!(
                "Who plays whom stays as it is while a run goes. Say that it is {name} when it is over."
            ));
        }
        if let (Some(before), Some(came)) = (self.came.get(&of).cloned(), self.came.get_mut(&newcomer)) {
            (came.likeness, came.notes_taken) = (before.likeness, before.notes_taken);
        }
        let renamed = Record::MemberRenamed { member: newcomer.0, name: name.clone(), utc };
        let mut deeds = vec![Deed::Record(renamed), Deed::Give(Input::SamePerson { member: newcomer, of })];
        for other in self.claims.newcomers(of).into_iter().filter(|other| *other != newcomer) {
            deeds.push(Deed::Record(Record::MemberClaims { member: other.0, of: Some(newcomer.0), utc }));
        }
        self.claims.pass_on(of, newcomer);
        deeds.extend(self.replace(of, utc));
        Ok(vec![(DoorChange::Same { newcomer: was, name }, deeds)])
    }

    /// Every newcomer who gave the name of somebody who is not linked is that person: of several, the last one.
    fn same_all(&mut self, call: &Call, utc: Timestamp) -> Result<Changes, String> {
        let linked = |id: MemberId| call.roster().get(id).is_some_and(|member| member.linked);
        let last: BTreeMap<MemberId, MemberId> =
            self.claims.all().into_iter().filter(|(_, of)| !linked(*of)).map(|(newcomer, of)| (of, newcomer)).collect();
        let mut changes = Changes::new();
        for newcomer in last.into_values() {
            changes.extend(self.same(call, newcomer, true, utc)?);
        }
        Ok(changes)
    }

    fn take_out(&mut self, call: &Call, by: MemberId, whom: MemberId, utc: Timestamp) -> Result<Changes, String> {
        let name = name_of(call, whom)?;
        if by == whom {
            return Err("You cannot take yourself out of the call. Somebody else at the desk can.".to_owned());
        }
        let reason = "The stage manager has taken you out of the call. Ask them for a new invitation.";
        Ok(vec![(DoorChange::Removed { name }, self.put_out(whom, reason, utc))])
    }

    /// The desk lets go of a member: their key may do nothing any more, and their lines are closed.
    pub(super) fn put_out(&mut self, member: MemberId, reason: &str, utc: Timestamp) -> Vec<Deed> {
        self.directory.remove(member);
        self.part_from(member, reason, Parting::Removed, utc)
    }

    fn take_notes(&mut self, call: &Call, whom: MemberId, taken: bool, utc: Timestamp) -> Result<Changes, String> {
        let name = name_of(call, whom)?;
        let came = self.came.get_mut(&whom).filter(|came| came.notes_taken != taken);
        let changed = came.map(|came| came.notes_taken = taken).is_some();
        let change = if taken { DoorChange::NotesTaken { name } } else { DoorChange::NotesRefused { name } };
        let kept = Record::MemberNotes { member: whom.0, taken, utc };
        Ok(changed.then(|| (change, vec![Deed::Record(kept), Deed::Changed])).into_iter().collect())
    }

    fn open_role(&mut self, link: LinkId, role: Role, open: bool, utc: Timestamp) -> Changes {
        let change = if open { DoorChange::Opened { role } } else { DoorChange::Closed { role } };
        let changed = self.directory.close(role, !open);
        let keep = || Deed::Keep(Keep::Invitations(self.directory.to_keep(), link));
        changed.then(|| (change, vec![keep(), self.invitations_to(link, utc)])).into_iter().collect()
    }
}

/// What somebody in the call is called.
fn name_of(call: &Call, member: MemberId) -> Result<String, String> {
    let known = call.roster().get(member);
    known.map(|known| known.name.clone()).ok_or_else(|| "That person has left. Look at the list again.".to_owned())
}
