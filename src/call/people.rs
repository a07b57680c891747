//! People: who joins and leaves, whose link is lost and back, who plays which part.

use super::{Call, MemberId, Output, Role, Stage};
use crate::event::{Entry, Event, What};

impl Call {
    /// Somebody joins. Who they were until now, if anybody, is gone, and what that member was cast for is theirs.
    pub(super) fn joined(
        &mut self,
        member: MemberId,
        (name, role): (String, Role),
        part: Option<String>,
        instead_of: Option<MemberId>,
    ) {
        if let Some(part) = part.as_deref().filter(|_| role == Role::Performer) {
            self.free_of_absent(member, part);
        }
        if let Some(before) = instead_of {
            self.ensemble.casts_mut().gone(before, Some(member));
            self.gone(before);
        }
        self.ensemble.roster_mut().join(member, name, role, part);
        self.out.push(Output::Changed);
        let part = self.ensemble.roster().get(member).and_then(|member| member.part.clone());
        let event = Event { who: self.who(member), ..self.event(What::Joined { part }) };
        self.write(event);
        self.catch_up(member);
    }

    /// Somebody from before this server was started: known, but not here yet.
    pub(super) fn known(&mut self, member: MemberId, name: String, role: Role, part: Option<String>) {
        self.ensemble.roster_mut().join(member, name, role, part);
        if let Some(known) = self.ensemble.roster_mut().get_mut(member) {
            (known.linked, known.came) = (false, false);
        }
        self.out.push(Output::Changed);
    }

    pub(super) fn gone(&mut self, member: MemberId) {
        let who = self.who(member);
        self.ensemble.casts_mut().gone(member, None);
        if let Some(gone) = self.ensemble.roster_mut().remove(member) {
            self.out.push(Output::Changed);
            let event = Event { who, ..self.event(What::Left { part: gone.part }) };
            self.write(event);
        }
    }

    /// A newcomer is who somebody else was: they have the name from now on, and the part; who it was is gone.
    pub(super) fn same_person(&mut self, member: MemberId, of: MemberId) {
        let Some(before) = self.ensemble.roster().get(of).cloned() else { return };
        self.ensemble.casts_mut().gone(of, Some(member));
        self.gone(of);
        let Some(known) = self.ensemble.roster_mut().get_mut(member) else { return };
        known.name = before.name;
        self.out.push(Output::Changed);
        if before.part.is_some() && known.part != before.part {
            (known.part, known.ready) = (before.part.clone(), false);
            self.write_part(member, before.part);
        }
    }

    pub(super) fn link_back(&mut self, member: MemberId) {
        let Some(known) = self.ensemble.roster_mut().get_mut(member) else { return };
        // A new line may come before the old one is known to be lost: its page has none of what stands on screens.
        if known.linked {
            return self.catch_up(member);
        }
        (known.linked, known.came) = (true, true);
        self.out.push(Output::Changed);
        self.write_link(member, What::LinkBack);
        self.catch_up(member);
    }

    /// A lost link is told. Where the house holds for it, whoever noticed has pulled the brake.
    pub(super) fn link_lost(&mut self, member: MemberId) {
        let Some(lost) = self.ensemble.roster_mut().get_mut(member).filter(|lost| lost.linked) else { return };
        lost.linked = false;
        lost.ready = false;
        self.out.push(Output::Changed);
        self.write_link(member, What::LinkLost);
    }

    fn write_link(&mut self, member: MemberId, what: What) {
        let (who, run, spot) = (self.who(member), self.run_going(), self.spot());
        let event = Event { who, run, spot, ..self.event(what) };
        self.write(event);
    }

    pub(super) fn take_part(&mut self, by: MemberId, whose: MemberId, part: Option<String>) -> Result<(), String> {
        if matches!(self.stage, Stage::Going(..)) {
            return Err("Parts stay as they are while a run goes. Hold or stop it first.".to_owned());
        }
        let Some(member) = self.ensemble.roster().get(whose) else {
            return Err("That person has left. Look at the list again.".to_owned());
        };
        if member.role != Role::Performer {
            return Err(format!("{} is a {} and plays no part.", member.name, member.role.title()));
        }
        if part.is_some() && self.signing.is_away(&member.name) {
            return Err(format!("{} is noted as absent. Note them as present first.", member.name));
        }
        if let Some(part) = &part {
            if !self.fights.iter().any(|fight| fight.person(part).is_some()) {
                return Err(format!(
                    "Nobody called {part} is in a fight of this production. Choose a part from the list."
                ));
            }
            self.make_free(by, whose, part)?;
            if by != whose {
                self.uncast(by, part);
            }
        }
        if let Some(member) = self.ensemble.roster_mut().get_mut(whose) {
            member.part.clone_from(&part);
            member.ready = false;
        }
        self.out.push(Output::Changed);
        self.write_part(whose, part);
        Ok(())
    }

    /// A part that changed hands is kept for the next start of the server, and told.
    fn write_part(&mut self, member: MemberId, part: Option<String>) {
        self.write(Entry::Part { member: member.0, part: part.clone() });
        let event = Event { who: self.who(member), ..self.event(What::Part { part }) };
        self.write(event);
    }

    /// Whoever is noted as absent keeps a part only until somebody else takes it.
    fn free_of_absent(&mut self, whose: MemberId, part: &str) {
        let holder = self
            .ensemble
            .roster()
            .holder_of(part)
            .filter(|(id, member)| *id != whose && self.signing.is_away(&member.name));
        let Some(holder) = holder.map(|(id, _)| id) else { return };
        if let Some(member) = self.ensemble.roster_mut().get_mut(holder) {
            (member.part, member.ready) = (None, false);
        }
        self.write_part(holder, None);
    }

    /// A part has one holder. The desk may take it from somebody; a performer may only take one that is free.
    fn make_free(&mut self, by: MemberId, whose: MemberId, part: &str) -> Result<(), String> {
        self.free_of_absent(whose, part);
        let Some((holder, name)) = self.ensemble.roster().holder_of(part).map(|(id, member)| (id, member.name.clone()))
        else {
            return Ok(());
        };
        if holder == whose {
            return Ok(());
        }
        if by == whose {
            return Err(format!("{name} has {part}. Ask the stage manager if you are to take it over."));
        }
        if let Some(member) = self.ensemble.roster_mut().get_mut(holder) {
            member.part = None;
            member.ready = false;
        }
        self.write_part(holder, None);
        Ok(())
    }

    fn run_going(&self) -> Option<u32> {
        match &self.stage {
            Stage::Going(run, _) => Some(run.number),
            _ => None,
        }
    }
}
