//! Everybody in the call with tonight's casts, and who reads what of a run that goes. That follows from them and from the run,
//! and is looked up for every cue: it is worked out when a run has begun and whenever anybody or any cast has changed.
//! Nobody can change them past the count of their changes, so that what was kept is never older than they are.

use std::collections::BTreeMap;

use super::casts::{Casts, FightCast};
use super::{Fight, MemberId, Roster, Run};
use crate::score::model::Person;
use crate::timeline::Reader;

/// Everybody, and whom the desk has cast.
#[derive(Debug, Default)]
pub(super) struct Ensemble {
    roster: Roster,
    casts: Casts,
    /// How often either may have changed.
    changes: u64,
}

impl Ensemble {
    /// Everybody.
    pub(super) fn roster(&self) -> &Roster {
        &self.roster
    }

    /// Whom the desk has cast.
    pub(super) fn casts(&self) -> &Casts {
        &self.casts
    }

    /// Everybody, to be changed.
    pub(super) fn roster_mut(&mut self) -> &mut Roster {
        self.changes += 1;
        &mut self.roster
    }

    /// Whom the desk has cast, to be changed.
    pub(super) fn casts_mut(&mut self) -> &mut Casts {
        self.changes += 1;
        &mut self.casts
    }

    /// Who plays what in a fight, with those away whom `is_away` knows by name.
    pub(super) fn cast<'f>(&self, fight: &'f Fight, is_away: impl Fn(&str) -> bool) -> FightCast<'f> {
        self.casts.of(fight, &self.roster, is_away)
    }
}

/// Who reads what of a run.
#[derive(Debug, Default, PartialEq, Eq)]
pub(super) struct Reading {
    /// Whoever has a part in the fight, linked or not.
    parts: BTreeMap<MemberId, Reader>,
    /// Everybody who is linked, by what they read.
    readers: Vec<(Reader, Vec<MemberId>)>,
}

impl Reading {
    /// Whoever has a part in this fight reads their own; everybody else reads everything. Whoever was there at the start of
    /// the run plays until it is over.
    fn new(ensemble: &Ensemble, run: &Run) -> Reading {
        let fight = &run.setup.fight;
        let cast = ensemble.cast(fight, |name| run.away.contains(name));
        let mut reading = Reading::default();
        for (id, member) in ensemble.roster.iter() {
            let reader = match cast.part_of(id).and_then(|part| fight.person(part)) {
                Some(Person::Fighter(fighter)) => Reader::Fighter(fighter),
                Some(Person::Bystander(bystander)) => Reader::Bystander(bystander),
                None => Reader::Everything,
            };
            if reader != Reader::Everything {
                reading.parts.insert(id, reader);
            }
            if member.linked {
                match reading.readers.iter_mut().find(|(known, _)| *known == reader) {
                    Some((_, members)) => members.push(id),
                    None => reading.readers.push((reader, vec![id])),
                }
            }
        }
        reading
    }

    /// What a member reads.
    pub(super) fn of(&self, member: MemberId) -> Reader {
        self.parts.get(&member).copied().unwrap_or(Reader::Everything)
    }

    /// Everybody who is linked, by what they read.
    pub(super) fn readers(&self) -> &[(Reader, Vec<MemberId>)] {
        &self.readers
    }
}

/// Who reads what of one run that goes, kept with it.
#[derive(Debug, Default)]
pub(super) struct Kept {
    /// With the number of changes after which it was worked out.
    last: Option<(u64, Reading)>,
}

impl Kept {
    /// Who reads what of the run that this is kept with.
    pub(super) fn reading(&mut self, ensemble: &Ensemble, run: &Run) -> &Reading {
        let last = self.last.take().filter(|(changes, _)| *changes == ensemble.changes);
        let (_, reading) = self.last.insert(last.unwrap_or_else(|| (ensemble.changes, Reading::new(ensemble, run))));
        reading
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use proptest::prelude::*;

    use super::*;
    use crate::call::{Drive, Role, Setup, SetupRequest};
    use crate::score::read;
    use crate::score::vocabulary::Vocabulary;

    const FIGHT: &str = r#"fight "The Quay"
beats 4
tempo 120
fighters
  MARET rapier right
  OSK   rapier right
phrase "One"
  place MARET -1,3
  place OSK 1,3
  1  MARET cut head / OSK parry 5
"#;

    fn run(away: &[&str]) -> Run {
        let score = read(FIGHT, "quay.fight", &Vocabulary::built_in()).score.unwrap();
        let fights = [Arc::new(Fight::unchecked(score, "0".repeat(64), FIGHT.into()))];
        let request = SetupRequest {
            fight: "The Quay".into(),
            weapons: None,
            first: 0,
            from_move: None,
            last: 0,
            percent: 100,
            count_in: 0,
            drive: Drive::Clock,
        };
        let away = away.iter().map(|name| (*name).to_owned()).collect();
        Run { away, ..Run::new(1, Setup::check(&request, &fights).unwrap()) }
    }

    #[derive(Clone, Debug)]
    enum Does {
        Join(u32, Option<&'static str>),
        Leave(u32),
        Link(u32, bool),
        Part(u32, Option<&'static str>),
        Cast(&'static str, u32),
        Uncast(&'static str),
        Gone(u32, Option<u32>),
        UnlinkAll,
        ClearCasts,
        Nothing,
    }

    fn does() -> impl Strategy<Value = Does> {
        let who = || 1u32..5;
        let part = || prop::sample::select(vec!["MARET", "OSK"]);
        prop_oneof![
            3 => (who(), prop::option::of(part())).prop_map(|(who, part)| Does::Join(who, part)),
            1 => who().prop_map(Does::Leave),
            2 => (who(), any::<bool>()).prop_map(|(who, linked)| Does::Link(who, linked)),
            1 => (who(), prop::option::of(part())).prop_map(|(who, part)| Does::Part(who, part)),
            3 => (part(), who()).prop_map(|(part, who)| Does::Cast(part, who)),
            1 => part().prop_map(Does::Uncast),
            1 => (who(), prop::option::of(who())).prop_map(|(who, instead)| Does::Gone(who, instead)),
            1 => Just(Does::UnlinkAll),
            1 => Just(Does::ClearCasts),
            2 => Just(Does::Nothing),
        ]
    }

    fn happens(ensemble: &mut Ensemble, does: Does) {
        let fight = "The Quay";
        match does {
            Does::Join(who, part) => {
                let (name, part) = (format!("member {who}"), part.map(str::to_owned));
                ensemble.roster_mut().join(MemberId(who), name, Role::Performer, part);
            }
            Does::Leave(who) => drop(ensemble.roster_mut().remove(MemberId(who))),
            Does::Link(who, linked) => {
                if let Some(member) = ensemble.roster_mut().get_mut(MemberId(who)) {
                    member.linked = linked;
                }
            }
            Does::Part(who, part) => {
                if let Some(member) = ensemble.roster_mut().get_mut(MemberId(who)) {
                    member.part = part.map(str::to_owned);
                }
            }
            Does::Cast(part, who) => ensemble.casts_mut().put(fight, part, MemberId(who)),
            Does::Uncast(part) => drop(ensemble.casts_mut().take_out(fight, part)),
            Does::Gone(who, instead) => ensemble.casts_mut().gone(MemberId(who), instead.map(MemberId)),
            Does::UnlinkAll => ensemble.roster_mut().unlink_all(),
            Does::ClearCasts => ensemble.casts_mut().clear(),
            Does::Nothing => {}
        }
    }

    proptest! {
        #[test]
        fn what_is_kept_is_what_would_be_worked_out_anew(
            all in prop::collection::vec(does(), 0..40),
            away in prop::sample::subsequence(vec!["member 1", "member 2"], 0..=2),
        ) {
            let (run, mut ensemble, mut kept) = (run(&away), Ensemble::default(), Kept::default());
            for does in all {
                happens(&mut ensemble, does);
                prop_assert_eq!(kept.reading(&ensemble, &run), &Reading::new(&ensemble, &run));
            }
        }
    }

    #[test]
    fn nothing_is_worked_out_while_nobody_changes() {
        let (run, mut ensemble, mut kept) = (run(&[]), Ensemble::default(), Kept::default());
        happens(&mut ensemble, Does::Join(1, Some("MARET")));
        let first: *const _ = kept.reading(&ensemble, &run).readers().as_ptr();
        assert_eq!(kept.reading(&ensemble, &run).readers().as_ptr(), first);
    }
}
