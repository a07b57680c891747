//! What the call does with tonight's casts: who is cast for what, who plays what, for whom somebody covers.

use super::{Call, Fight, FightCast, Member, MemberId, Output, Role, Run, Stage};
use crate::event::{Cast, Event, What};

impl Call {
    /// Who plays what in a fight tonight.
    pub fn cast_of<'f>(&self, fight: &'f Fight) -> FightCast<'f> {
        match &self.stage {
            Stage::Going(run, _) if run.setup.fight.score.name == fight.score.name => {
                self.ensemble.cast(fight, |name| run.away.contains(name))
            }
            _ => self.ensemble.cast(fight, |name| self.signing.is_away(name)),
        }
    }

    /// Who plays what in the run that is set up; nothing while none is.
    pub fn cast_of_run(&self) -> Option<FightCast<'_>> {
        self.run().map(|run| self.cast_of(&run.setup.fight))
    }

    /// What a member plays in the run that is set up, by its cast; a part that is not in it stays their own.
    pub fn part_by<'c>(&'c self, cast: Option<&FightCast<'c>>, id: MemberId, member: &'c Member) -> Option<&'c str> {
        let own = member.part.as_deref().filter(|_| !self.signing.is_away(&member.name));
        match (cast, self.run()) {
            (Some(cast), Some(run)) => cast.part_of(id).or(own.filter(|part| run.setup.fight.part(part).is_none())),
            _ => own,
        }
    }

    /// What a member plays now.
    pub fn part_of(&self, id: MemberId) -> Option<&str> {
        self.part_by(self.cast_of_run().as_ref(), id, self.ensemble.roster().get(id)?)
    }

    /// True when the desk has cast that member for that part of that fight tonight.
    pub fn is_cast(&self, fight: &str, part: &str, member: Option<MemberId>) -> bool {
        member.is_some() && self.ensemble.casts().get(fight, part) == member
    }

    /// Whether somebody who is not noted as absent usually has that part, and who.
    pub fn keeper_of(&self, part: &str) -> Option<(MemberId, &Member)> {
        self.ensemble.roster().holder_of(part).filter(|(_, member)| !self.signing.is_away(&member.name))
    }

    /// Whose the part is that somebody else plays: of whoever is noted as absent and had it, else of whoever usually has it.
    pub fn covered_by(&self, part: &str, player: &str) -> Option<String> {
        let absent = self.signing.absent_with(part).filter(|name| *name != player);
        let usual = || self.ensemble.roster().holder_of(part).map(|(_, member)| member.name.as_str());
        absent.or_else(usual).filter(|name| *name != player).map(str::to_owned)
    }

    /// Who plays whom in a run, as it is written down: who fights, then who only stands by.
    pub(super) fn cast_written(&self, run: &Run) -> Vec<Cast> {
        let cast = self.cast_of(&run.setup.fight);
        let playing = run.setup.fight.parts().filter_map(|part| {
            let player = cast.player(part)?;
            let (part, person) = (part.to_owned(), self.ensemble.roster().get(player)?.name.clone());
            let covers = self.covered_by(&part, &person);
            Some(Cast { part, person, member: Some(player.0), covers })
        });
        playing.collect()
    }

    /// The desk casts somebody for a part of a fight, or leaves it to whoever usually has it.
    pub(super) fn cast(
        &mut self,
        by: MemberId,
        fight: String,
        part: String,
        member: Option<MemberId>,
    ) -> Result<(), String> {
        if matches!(self.stage, Stage::Going(..)) {
            return Err("Parts stay as they are while a run goes. Hold or stop it first.".to_owned());
        }
        let known = self.fights.iter().find(|it| it.score.name == fight).cloned();
        let known = known.ok_or_else(|| {
            format!("There is no fight called “{fight}” in this production. Choose one from the list.")
        })?;
        if known.part(&part).is_none() {
            return Err(format!("Nobody called {part} is in “{fight}”. Choose a part from the list."));
        }
        let before = self.cast_of(&known).player(&part);
        match member {
            None if !self.ensemble.casts_mut().take_out(&fight, &part) => return Ok(()),
            None => {}
            Some(id) if self.ensemble.casts().get(&fight, &part) == Some(id) => return Ok(()),
            Some(id) => {
                self.may_be_cast(&known, &part, id)?;
                self.ensemble.casts_mut().put(&fight, &part, id);
            }
        }
        for id in [before, member].into_iter().flatten() {
            self.not_ready(id);
        }
        self.out.push(Output::Changed);
        self.write_cast(by, fight, part, member);
        Ok(())
    }

    fn may_be_cast(&self, fight: &Fight, part: &str, id: MemberId) -> Result<(), String> {
        let member = self.ensemble.roster().get(id).ok_or("That person has left. Look at the list again.")?;
        let name = &member.name;
        if member.role != Role::Performer {
            return Err(format!("{name} is a {} and plays no part.", member.role.title()));
        }
        if self.signing.is_away(name) {
            return Err(format!("{name} is noted as absent. Note them as present first."));
        }
        match self.cast_of(fight).part_of(id).filter(|other| *other != part) {
            None => Ok(()),
            Some(other) => Err(format!(
                "{name} plays {other} in “{}”, and nobody plays two parts in one fight. Give {other} to somebody else first.",
                fight.score.name
            )),
        }
    }

    /// A part is somebody else's from now on: whoever the desk had cast for it in some fight is not any more.
    pub(super) fn uncast(&mut self, by: MemberId, part: &str) {
        for fight in self.ensemble.casts().fights_of(part) {
            self.ensemble.casts_mut().take_out(&fight, part);
            self.write_cast(by, fight, part.to_owned(), None);
        }
    }

    /// Whoever plays something else has not said ready for it.
    pub(super) fn not_ready(&mut self, id: MemberId) {
        if let Some(member) = self.ensemble.roster_mut().get_mut(id) {
            member.ready = false;
        }
    }

    fn write_cast(&mut self, by: MemberId, fight: String, part: String, player: Option<MemberId>) {
        let person = player.and_then(|id| self.named(id)).map(|(name, _)| name);
        let covers = person.as_deref().and_then(|person| self.covered_by(&part, person));
        let what = What::Cast { fight, part, person, member: player.map(|id| id.0), covers };
        let event = Event { who: self.who(by), ..self.event(what) };
        self.write(event);
    }
}
