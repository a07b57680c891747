//! The record of each fight call, as the stage manager's report needs it: who was there and who was not, what was
//! checked and signed, what was run at which speed, every hold with its notes, and who released it.

use std::collections::{BTreeMap, BTreeSet};
use std::ops::Range;

use serde::Serialize;

use super::breaks::{Break, HoldBook};
use super::evening::{OrderRow, order};
use super::history::{Fight, History, How, Run};
use super::house::House;
use super::near_miss::NearMiss;
use super::times::Times;
use crate::event::What;
use crate::journal::EventRow;

/// A fight call.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct CallRecord {
    /// The day, in the house's zone.
    pub day: String,
    /// The first event, time of day.
    pub from: String,
    /// The last event, time of day.
    pub to: String,
    /// Who was there.
    pub present: Vec<Person>,
    /// Who plays a part and was not there.
    pub absent: Vec<Person>,
    /// Who stood in for whom.
    pub understudies: Vec<Understudy>,
    /// The checks before the call, as the company lists them, and whatever else was signed.
    pub checks: Vec<Check>,
    /// The order of the evening, and what of it was done; nothing where none was given.
    pub order: Vec<OrderRow>,
    /// The runs.
    pub runs: Vec<RunLine>,
    /// Every hold and stop, those between runs too.
    pub breaks: Vec<Break>,
    /// What nearly went wrong, as it was reported.
    pub near_misses: Vec<NearMiss>,
    /// Who ended the call at the desk; nothing when nobody did.
    pub ended_by: Option<String>,
    /// Who signed this record at the desk; nothing when nobody did.
    pub signed_by: Option<String>,
    /// How often the server was started in the middle of it.
    pub restarts: u64,
}

/// Somebody at a call.
#[derive(Clone, Debug, PartialEq, Eq, PartialOrd, Ord, Serialize)]
pub struct Person {
    /// Their name.
    pub who: String,
    /// Their role.
    pub role: String,
    /// The part they played, or play; of somebody who was absent, the part they had.
    pub part: Option<String>,
    /// Of somebody who was there and went: when the desk noted that, time of day.
    pub since: Option<String>,
}

/// Somebody who played a part that usually somebody else plays.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Understudy {
    /// The fight.
    pub fight: String,
    /// The part.
    pub part: String,
    /// Who played it.
    pub who: String,
    /// Who had played it most often until then.
    pub usually: String,
}

/// A check before a call.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Check {
    /// What is checked.
    pub check: String,
    /// Who signed; nothing when nobody did.
    pub signed_by: Option<String>,
    /// When, time of day.
    pub at: Option<String>,
    /// What was noted.
    pub note: Option<String>,
    /// False when it was signed as not in order.
    pub in_order: bool,
}

/// A run of a call.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct RunLine {
    /// Its number.
    pub run: u32,
    /// When it began, time of day.
    pub at: String,
    /// The fight.
    pub fight: String,
    /// From this phrase.
    pub from: String,
    /// From this move of it, counted from 1; nothing for its beginning.
    pub from_move: Option<u32>,
    /// To this phrase.
    pub to: String,
    /// Percent of performance tempo; nothing in a walk-through.
    pub speed: Option<u16>,
    /// How it ended.
    pub how: How,
    /// The revision, shortened.
    pub revision: String,
    /// The set of weapons; nothing for those that the score names.
    pub weapons: Option<String>,
}

/// What records are made of.
pub(super) struct Recorder<'h> {
    pub(super) history: &'h History,
    pub(super) house: &'h House,
    pub(super) book: &'h HoldBook,
    /// Runs by their number.
    pub(super) runs: BTreeMap<u32, (&'h Fight, &'h Run)>,
}

impl Recorder<'_> {
    /// The records of these calls, in order. A call in which nothing was run, held, reported or signed is none.
    pub(super) fn records(&self, wants: impl Fn(&Range<usize>) -> bool) -> Vec<CallRecord> {
        let mut linked: BTreeSet<u32> = BTreeSet::new();
        let mut usual = Usual::default();
        let mut records = Vec::new();
        for range in &self.history.calls.ranges {
            let events = self.history.events.get(range.clone()).unwrap_or_default();
            let seen = attendance(events, &mut linked);
            let runs = self.runs_of(events);
            let understudies = usual.take(&runs, events);
            if wants(range) {
                records.extend(self.record(range, events, &seen, &runs, understudies));
            }
        }
        records
    }

    fn record(
        &self,
        range: &Range<usize>,
        events: &[EventRow],
        seen: &Seen,
        runs: &[(&Fight, &Run)],
        understudies: Vec<Understudy>,
    ) -> Option<CallRecord> {
        let times = Times { zone: &self.house.zone };
        let breaks = self.breaks(range, &times);
        let signed = events.iter().any(|row| matches!(row.event.what, What::Check { .. }));
        let near_misses: Vec<NearMiss> = events.iter().filter_map(|row| NearMiss::of(row, &times)).collect();
        if runs.is_empty() && breaks.is_empty() && near_misses.is_empty() && !signed {
            return None;
        }
        let (first, last) = (events.first()?, events.last()?);
        let starts_server = |row: &EventRow| matches!(row.event.what, What::Session { .. });
        let sessions = events.iter().filter(|row| starts_server(row)).count() as u64;
        let (present, absent) = self.people(seen, runs, events, &times);
        let (ended_by, signed_by) = ending(events);
        Some(CallRecord {
            day: times.day(&first.utc).map_or_else(|| "unknown day".to_owned(), |day| day.to_string()),
            from: times.time(&first.utc),
            to: times.time(&last.utc),
            present,
            absent,
            understudies,
            checks: checks(&self.house.before_call, events, &times),
            order: order(events),
            runs: runs.iter().map(|(fight, run)| line(fight, run, &times)).collect(),
            breaks,
            near_misses,
            ended_by,
            signed_by,
            restarts: sessions.saturating_sub(u64::from(starts_server(first))),
        })
    }

    fn runs_of(&self, events: &[EventRow]) -> Vec<(&Fight, &Run)> {
        let starts = events.iter().filter(|row| matches!(row.event.what, What::Start { .. }));
        let numbers: BTreeSet<u32> = starts.filter_map(|row| row.event.run).collect();
        numbers.iter().filter_map(|run| self.runs.get(run).copied()).collect()
    }

    fn breaks(&self, range: &Range<usize>, times: &Times<'_>) -> Vec<Break> {
        let ends = |row: &EventRow| matches!(row.event.what, What::Hold { .. } | What::Stop { .. });
        let places = range.clone().filter(|at| self.history.events.get(*at).is_some_and(ends));
        let found = places.filter_map(|at| {
            let run = self.history.events.get(at).and_then(|it| it.event.run).and_then(|run| self.runs.get(&run));
            match run.filter(|(_, run)| run.broke == Some(at)) {
                Some((fight, run)) => self.book.of_run(self.history, fight, run, times),
                None => self.book.break_at(self.history, at, times),
            }
        });
        found.collect()
    }

    /// Who was there, and who was not: whoever the desk noted as absent, whatever has become of their part, and whoever has a
    /// part and was not seen. Whoever was in a run was there; noted as absent after it they have gone. What the desk noted goes
    /// before what the links tell.
    fn people(
        &self,
        seen: &Seen,
        runs: &[(&Fight, &Run)],
        events: &[EventRow],
        times: &Times<'_>,
    ) -> (Vec<Person>, Vec<Person>) {
        let until = events.last().map_or("", |last| last.utc.as_str());
        let last_run = last_runs(events);
        let cast: BTreeMap<&str, &str> = runs
            .iter()
            .flat_map(|(_, run)| run.cast.iter().map(|(part, person)| (person.as_str(), part.as_str())))
            .collect();
        let mut present = BTreeSet::new();
        let mut absent = BTreeSet::new();
        for member in &self.history.members {
            let name = member.name.as_str();
            let (noted, ran) = (seen.noted.get(name), cast.contains_key(name));
            let there = ran || noted.map_or(seen.members.contains(&member.member), |noted| noted.present);
            let part = cast.get(name).map(|part| (*part).to_owned()).or_else(|| member.part.clone());
            let person = Person { who: member.name.clone(), role: member.role.word().to_owned(), part, since: None };
            let gone = noted.filter(|noted| !noted.present && last_run.get(name).is_none_or(|run| *run < noted.seq));
            let has_part = person.part.is_some() && !member.revoked && member.joined_utc.as_str() <= until;
            if let Some(noted) = gone {
                let since = ran.then(|| times.time(&noted.utc));
                let part = noted.part.clone().or_else(|| person.part.clone());
                absent.insert(Person { part, since, ..person.clone() });
            } else if !there && has_part {
                absent.insert(person.clone());
            }
            if there {
                present.insert(person);
            }
        }
        // Without a phone nobody is a member; the desk noted them by name.
        for (name, noted) in &seen.noted {
            if !self.history.members.iter().any(|member| member.name == *name) {
                let person =
                    Person { who: name.clone(), role: "no phone".to_owned(), part: noted.part.clone(), since: None };
                if noted.present {
                    present.insert(person)
                } else {
                    absent.insert(person)
                };
            }
        }
        let here: BTreeSet<&str> = present.iter().map(|person| person.who.as_str()).collect();
        absent.retain(|person| person.since.is_some() || !here.contains(person.who.as_str()));
        (present.iter().cloned().collect(), absent.into_iter().collect())
    }
}

/// Who was seen at a call.
#[derive(Default)]
struct Seen {
    members: BTreeSet<u32>,
    /// What the desk noted last, by name.
    noted: BTreeMap<String, Noted>,
}

/// What the desk noted of somebody.
struct Noted {
    present: bool,
    /// The part that somebody had who was noted as absent.
    part: Option<String>,
    /// The number of the event, and when it was.
    seq: u64,
    utc: String,
}

/// The last start of a run that each person was in, by the number of its event.
fn last_runs(events: &[EventRow]) -> BTreeMap<&str, u64> {
    let begun = events.iter().filter_map(|row| match &row.event.what {
        What::Start { begun: Some(begun), .. } => Some((row.seq, begun)),
        _ => None,
    });
    begun.flat_map(|(seq, begun)| begun.cast.iter().map(move |it| (it.person.as_str(), seq))).collect()
}

/// Who was linked or did anything; `linked` is carried from call to call, because a link that stays makes no event.
fn attendance(events: &[EventRow], linked: &mut BTreeSet<u32>) -> Seen {
    let mut seen = Seen { members: linked.clone(), ..Seen::default() };
    let mut anew = false;
    for row in events {
        match (&row.event.what, row.event.member()) {
            (What::Session { .. }, _) => {
                linked.clear();
                // Before its first event nobody was at this call yet.
                if !anew && row.seq == events.first().map_or(0, |first| first.seq) {
                    seen.members.clear();
                }
                anew = true;
            }
            (What::Attendance { person, present, part }, _) => {
                let (seq, utc) = (row.seq, row.utc.clone());
                seen.noted.insert(person.clone(), Noted { present: *present, part: part.clone(), seq, utc });
            }
            (What::Left { .. } | What::LinkLost, Some(member)) => {
                linked.remove(&member);
            }
            // Whose part the desk gives or takes need not be there.
            (What::Unknown(_) | What::Part { .. }, _) => {}
            (_, Some(member)) => {
                linked.insert(member);
                seen.members.insert(member);
            }
            _ => {}
        }
    }
    seen
}

/// Who ended a call, and who signed its record.
fn ending(events: &[EventRow]) -> (Option<String>, Option<String>) {
    let end = events.iter().rev().find_map(|row| match &row.event.what {
        What::End { signed_by } => Some((row.event.name().map(str::to_owned), signed_by.clone())),
        _ => None,
    });
    end.unwrap_or_default()
}

/// Who usually plays what, learnt call by call.
#[derive(Default)]
struct Usual {
    /// By fight and part: how often each person played it.
    played: BTreeMap<(String, String), BTreeMap<String, u32>>,
}

impl Usual {
    /// Who stood in at a call, for whom by its record or by who usually plays it; then the call is learnt.
    fn take(&mut self, runs: &[(&Fight, &Run)], events: &[EventRow]) -> Vec<Understudy> {
        let mut understudies = covers(events);
        for (fight, run) in runs {
            for (part, who) in &run.cast {
                let played = self.played.get(&(fight.name.clone(), part.clone()));
                let usually = played.and_then(|people| people.iter().max_by_key(|(_, times)| **times));
                let Some((usually, _)) = usually.filter(|(usual, _)| *usual != who) else { continue };
                let understudy = Understudy {
                    fight: fight.name.clone(),
                    part: part.clone(),
                    who: who.clone(),
                    usually: usually.clone(),
                };
                let is_it = |it: &Understudy| (&it.fight, &it.part, &it.who) == (&fight.name, part, who);
                if !understudies.iter().any(is_it) {
                    understudies.push(understudy);
                }
            }
        }
        for (fight, run) in runs {
            for (part, who) in &run.cast {
                let people = self.played.entry((fight.name.clone(), part.clone())).or_default();
                *people.entry(who.clone()).or_default() += 1;
            }
        }
        understudies
    }
}

/// Who covered for somebody, by what the runs say themselves, each once.
fn covers(events: &[EventRow]) -> Vec<Understudy> {
    let mut covers: Vec<Understudy> = Vec::new();
    for row in events {
        let What::Start { begun: Some(begun), .. } = &row.event.what else { continue };
        for it in &begun.cast {
            let Some(usually) = it.covers.clone() else { continue };
            let (fight, part, who) = (begun.fight.clone(), it.part.clone(), it.person.clone());
            let cover = Understudy { fight, part, who, usually };
            if !covers.contains(&cover) {
                covers.push(cover);
            }
        }
    }
    covers
}

/// The company's list with what was signed, then what was signed beside it. What was signed last counts.
fn checks(list: &[String], events: &[EventRow], times: &Times<'_>) -> Vec<Check> {
    let blank = |check: &String| Check { check: check.clone(), signed_by: None, at: None, note: None, in_order: true };
    let mut checks: Vec<Check> = list.iter().map(blank).collect();
    for row in events {
        let What::Check { check, in_order, note, by } = &row.event.what else { continue };
        let signed = Check {
            check: check.clone(),
            signed_by: by.as_deref().or(row.event.name()).map(str::to_owned),
            at: Some(times.time(&row.utc)),
            note: note.clone(),
            in_order: *in_order,
        };
        match checks.iter_mut().find(|known| known.check == *check) {
            Some(known) => *known = signed,
            None => checks.push(signed),
        }
    }
    checks
}

fn line(fight: &Fight, run: &Run, times: &Times<'_>) -> RunLine {
    RunLine {
        run: run.row.begun.run,
        at: times.time(&run.row.begun_utc),
        fight: run.row.begun.fight.clone(),
        from: run.row.begun.from_name.clone(),
        from_move: run.row.begun.from_move,
        to: run.row.begun.to_name.clone(),
        speed: run.row.begun.percent,
        how: run.how,
        revision: fight.editions.get(run.edition).map(|it| it.short()).unwrap_or_default(),
        weapons: run.row.begun.weapons.clone(),
    }
}
