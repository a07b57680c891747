//! Who plays what tonight, fight by fight: whoever the desk has cast, else whoever usually has the part, and never
//! somebody who is noted as absent. The same person may play in several fights; in one fight they play one part.

use std::collections::BTreeMap;

use super::{Fight, Member, MemberId, Role, Roster};

/// Whom the desk has cast, by fight and part.
#[derive(Clone, Debug, Default)]
pub(super) struct Casts {
    by_fight: BTreeMap<String, BTreeMap<String, MemberId>>,
}

/// Who plays what in one fight: each part has one player, and each player one part.
#[derive(Clone, Debug, Default, PartialEq, Eq)]
pub struct FightCast<'f> {
    players: BTreeMap<&'f str, MemberId>,
    parts: BTreeMap<MemberId, &'f str>,
}

impl<'f> FightCast<'f> {
    /// Who plays that part.
    pub fn player(&self, part: &str) -> Option<MemberId> {
        self.players.get(part).copied()
    }

    /// What that member plays.
    pub fn part_of(&self, member: MemberId) -> Option<&'f str> {
        self.parts.get(&member).copied()
    }

    /// Gives a part that is free to somebody who has none.
    fn put(&mut self, part: &'f str, member: MemberId) {
        if !self.players.contains_key(part) && !self.parts.contains_key(&member) {
            self.players.insert(part, member);
            self.parts.insert(member, part);
        }
    }
}

impl Casts {
    /// True while nobody is cast.
    pub(super) fn is_empty(&self) -> bool {
        self.by_fight.is_empty()
    }

    pub(super) fn clear(&mut self) {
        self.by_fight.clear();
    }

    /// Whom the desk has cast for that part of that fight.
    pub(super) fn get(&self, fight: &str, part: &str) -> Option<MemberId> {
        self.by_fight.get(fight)?.get(part).copied()
    }

    /// From now on that member plays that part of that fight. What they were cast for in it before is free.
    pub(super) fn put(&mut self, fight: &str, part: &str, member: MemberId) {
        let cast = self.by_fight.entry(fight.to_owned()).or_default();
        cast.retain(|_, player| *player != member);
        cast.insert(part.to_owned(), member);
    }

    /// From now on that part of that fight is played by whoever usually does. True when somebody was cast.
    pub(super) fn take_out(&mut self, fight: &str, part: &str) -> bool {
        let was = self.by_fight.get_mut(fight).and_then(|cast| cast.remove(part)).is_some();
        self.by_fight.retain(|_, cast| !cast.is_empty());
        was
    }

    /// The fights in which somebody is cast for that part.
    pub(super) fn fights_of(&self, part: &str) -> Vec<String> {
        let cast = self.by_fight.iter().filter(|(_, cast)| cast.contains_key(part));
        cast.map(|(fight, _)| fight.clone()).collect()
    }

    /// That member is gone; whoever they really are, if anybody, plays what they were cast for.
    pub(super) fn gone(&mut self, member: MemberId, instead: Option<MemberId>) {
        for cast in self.by_fight.values_mut() {
            let parts: Vec<String> =
                cast.iter().filter(|(_, player)| **player == member).map(|(part, _)| part.clone()).collect();
            for part in parts {
                cast.remove(&part);
                if let Some(instead) = instead.filter(|instead| cast.values().all(|player| player != instead)) {
                    cast.insert(part, instead);
                }
            }
        }
        self.by_fight.retain(|_, cast| !cast.is_empty());
    }

    /// Who plays what in a fight, with those away whom `is_away` knows by name.
    pub(super) fn of<'f>(&self, fight: &'f Fight, roster: &Roster, is_away: impl Fn(&str) -> bool) -> FightCast<'f> {
        let mut cast = FightCast::default();
        let may_play = |member: &Member| member.role == Role::Performer && !is_away(&member.name);
        if let Some(chosen) = self.by_fight.get(&fight.score.name) {
            for part in fight.parts() {
                let player = chosen.get(part).copied();
                let there = player.filter(|id| roster.get(*id).is_some_and(may_play));
                there.into_iter().for_each(|player| cast.put(part, player));
            }
        }
        // Whoever usually has a part, a linked member before a lost one.
        let mut usual: BTreeMap<&str, (MemberId, bool)> = BTreeMap::new();
        for (id, member) in roster.iter() {
            let Some(part) = member.part.as_deref().and_then(|part| fight.part(part)) else { continue };
            let free = cast.part_of(id).is_none() && may_play(member);
            let better = usual.get(part).is_none_or(|(_, linked)| member.linked >= *linked);
            if free && better {
                usual.insert(part, (id, member.linked));
            }
        }
        usual.into_iter().for_each(|(part, (player, _))| cast.put(part, player));
        cast
    }
}
