//! The journal's rows, put together: every fight with its revisions and runs, every run with the phrases it went through
//! and how each came out. What is told twice is counted once, and what does not fit together is said.

use std::collections::{BTreeMap, HashMap};

use jiff::civil::Date;
use serde::Serialize;

use super::calls::{self, Calls};
use super::edition::Edition;
use super::house::{AS_WRITTEN, Filter, House};
use super::newest::{self, Newest, Older};
use super::times::Times;
use crate::event::{Event, RunEnd, Spot, UnderWay, What, counted_at};
use crate::journal::{EventRow, JournalError, Member, Played, Reader, RevisionRow, RunRow};

/// All that a journal tells.
pub(super) struct History {
    pub(super) events: Vec<EventRow>,
    pub(super) calls: Calls,
    pub(super) members: Vec<Member>,
    /// In order of their first text.
    pub(super) fights: Vec<Fight>,
    pub(super) live: bool,
    /// The place of the first event that is looked at; those before it tell who was there when that began.
    pub(super) from: usize,
    /// That there is more than was looked at.
    pub(super) older: Option<Older>,
}

/// A fight.
pub(super) struct Fight {
    pub(super) name: String,
    /// In order of first use.
    pub(super) editions: Vec<Edition>,
    /// Who has run each of them, in the same order: of the whole journal, whatever is looked at of it.
    pub(super) run_by: Vec<RunBy>,
    /// In order.
    pub(super) runs: Vec<Run>,
}

/// Who has run a text, and how often.
#[derive(Default)]
pub(super) struct RunBy {
    /// The day of each run.
    pub(super) runs: Vec<Option<Date>>,
    /// Everybody with their part, as a person says it, and the day on which they first ran it.
    pub(super) people: BTreeMap<String, Option<Date>>,
}

/// A run.
pub(super) struct Run {
    pub(super) row: RunRow,
    /// The place of its text in [`Fight::editions`].
    pub(super) edition: usize,
    pub(super) day: Option<Date>,
    /// Who played whom: fighter, person.
    pub(super) cast: Vec<(String, String)>,
    /// The phrases it went through, in order.
    pub(super) visits: Vec<Visit>,
    /// The event that broke it, as a place in [`History::events`].
    pub(super) broke: Option<usize>,
    /// How it ended.
    pub(super) how: How,
}

impl Run {
    /// The set of weapons that it was done with, for people.
    pub(super) fn weapons(&self) -> &str {
        self.row.begun.weapons.as_deref().unwrap_or(AS_WRITTEN)
    }
}

/// How a run ended, as far as it can be told.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum How {
    /// It came to its end.
    Complete,
    /// A hold ended it.
    Held,
    /// It was stopped.
    Stopped,
    /// The server went away, or it is still under way.
    Unfinished,
}

impl How {
    /// How an event ends a run, if it does.
    fn of(what: &What) -> Option<How> {
        match what {
            What::Complete => Some(How::Complete),
            What::Hold { .. } => Some(How::Held),
            What::Stop { .. } => Some(How::Stopped),
            _ => None,
        }
    }

    /// How a run ended of which no event tells.
    fn of_row(row: &RunRow) -> How {
        match row.how {
            Some(RunEnd::Complete) => How::Complete,
            Some(RunEnd::Held) => How::Held,
            Some(RunEnd::Stopped) => How::Stopped,
            Some(RunEnd::NotStarted | RunEnd::CutOff) | None => How::Unfinished,
        }
    }
}

/// A phrase as one run went through it.
#[derive(Clone, Debug, PartialEq)]
pub(super) struct Visit {
    pub(super) phrase: String,
    /// The number of the last move reached; 0 before the first.
    pub(super) reached: usize,
    /// How many of its moves lie before the one at which the run began.
    pub(super) before: usize,
    /// How many moves it has in that revision.
    pub(super) of: usize,
    pub(super) outcome: Outcome,
    /// The numbers of the moves that its break is counted at ([`counted_at`]); none when it did not break, or before its
    /// first move.
    pub(super) broke_at: Vec<usize>,
    /// Percent of performance tempo; nothing in a walk-through.
    pub(super) speed: Option<u16>,
    /// How long it ran, by the server's clock.
    pub(super) seconds: Option<f64>,
}

/// How a phrase came out in a run.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Outcome {
    /// Gone through without a hold or stop.
    Clean,
    /// A hold or a stop ended it.
    Broke,
    /// Gone through to its end without a hold or stop, by a run that began in the middle of it. [`PART_RULE`] says what that
    /// counts for.
    Part,
    /// Nobody knows: the server went away, or the run is still under way.
    Unfinished,
}

impl Outcome {
    /// True when it counts as a clean or a broken run of the phrase.
    pub(super) fn counts(self) -> bool {
        matches!(self, Outcome::Clean | Outcome::Broke)
    }
}

/// What a run counts for that began in the middle of a phrase.
pub(super) const PART_RULE: &str =
    "A run that began in the middle of a phrase is no clean run of it; a hold or stop in it counts as any.";

impl History {
    /// Of a journal in which nothing stands.
    pub(super) fn empty() -> History {
        History {
            events: Vec::new(),
            calls: calls::divide(&[]),
            members: Vec::new(),
            fights: Vec::new(),
            live: false,
            from: 0,
            older: None,
        }
    }

    /// Reads as much as is asked for: everything but the lateness reports.
    ///
    /// # Errors
    /// Those of the journal.
    pub(super) fn read(reader: &Reader, house: &House, filter: &Filter) -> Result<History, JournalError> {
        let times = Times { zone: &house.zone };
        let newest = newest::read(reader, filter, house.extent, &times)?;
        let rows = match newest.first_run() {
            _ if newest.whole => reader.runs()?,
            Some(first) => reader.runs_from(first)?,
            None => Vec::new(),
        };
        let (mut fights, places) = fights(reader, house, |at, texts| newest.whole || is_of(&rows, at, texts))?;
        run_by(reader, &places, &mut fights, &times)?;
        let Newest { events, calls, from, older, .. } = newest;
        let by_run = events_by_run(&events);
        for row in rows {
            let Some((fight, edition)) = places.get(&row.begun.revision).copied() else { continue };
            let Some(fight) = fights.get_mut(fight) else { continue };
            let own = by_run.get(&row.begun.run).map_or(&[][..], Vec::as_slice);
            if let Some(run) = fight.editions.get(edition).map(|it| run(row, edition, it, own, &events, &times)) {
                fight.runs.push(run);
            }
        }
        Ok(History { calls, members: reader.members()?, fights, live: reader.is_live(), events, from, older })
    }
}

/// Where a revision's text is: the fight, and its place among the fight's editions.
type Places = HashMap<String, (usize, usize)>;

/// The fights with those of their texts that are `wanted`, each by its place among all.
fn fights(
    reader: &Reader,
    house: &House,
    wanted: impl Fn(usize, &[RevisionRow]) -> bool,
) -> Result<(Vec<Fight>, Places), JournalError> {
    let mut fights: Vec<Fight> = Vec::new();
    let mut places = Places::new();
    let texts = reader.revisions()?;
    for (at, row) in texts.iter().enumerate() {
        if !wanted(at, &texts) {
            continue;
        }
        let at = fights.iter().position(|fight| fight.name == row.fight).unwrap_or_else(|| {
            fights.push(Fight { name: row.fight.clone(), editions: Vec::new(), run_by: Vec::new(), runs: Vec::new() });
            fights.len() - 1
        });
        if let Some(fight) = fights.get_mut(at) {
            places.insert(row.sha256.clone(), (at, fight.editions.len()));
            fight.editions.push(Edition::read(row, &house.vocabulary));
            fight.run_by.push(RunBy::default());
        }
    }
    Ok((fights, places))
}

/// Fills in who has run which text.
fn run_by(reader: &Reader, places: &Places, fights: &mut [Fight], times: &Times<'_>) -> Result<(), JournalError> {
    let mut with = |revision: &str, note: &mut dyn FnMut(&mut RunBy)| {
        let place = places.get(revision);
        if let Some(text) = place.and_then(|(fight, edition)| fights.get_mut(*fight)?.run_by.get_mut(*edition)) {
            note(text);
        }
    };
    for (revision, utc) in reader.texts_run()? {
        with(&revision, &mut |text| text.runs.push(times.day(&utc)));
    }
    for Played { revision, part, person, first_utc } in reader.played()? {
        with(&revision, &mut |text| {
            text.people.insert(format!("{person} as {part}"), times.day(&first_utc));
        });
    }
    Ok(())
}

/// True of a text that one of these runs used, and of the one that its fight had before, which it is compared with.
fn is_of(runs: &[RunRow], at: usize, texts: &[RevisionRow]) -> bool {
    let Some((text, later)) = texts.get(at..).and_then(<[RevisionRow]>::split_first) else { return false };
    let used = |text: &RevisionRow| runs.iter().any(|run| run.begun.revision == text.sha256);
    used(text) || later.iter().find(|it| it.fight == text.fight).is_some_and(used)
}

fn events_by_run(events: &[EventRow]) -> HashMap<u32, Vec<usize>> {
    let mut by_run: HashMap<u32, Vec<usize>> = HashMap::new();
    for (at, row) in events.iter().enumerate() {
        if let Some(run) = row.event.run {
            by_run.entry(run).or_default().push(at);
        }
    }
    by_run
}

fn run(row: RunRow, edition: usize, text: &Edition, own: &[usize], events: &[EventRow], times: &Times<'_>) -> Run {
    // A hold that was called at places carries the number of the run that comes after it.
    let what = |at: &usize| events.get(*at).map(|row| &row.event.what);
    let start = own.iter().position(|at| matches!(what(at), Some(What::Start { .. }))).unwrap_or(0);
    let own = own.get(start..).unwrap_or_default();
    let ending = own.iter().copied().find_map(|at| Some((at, How::of(what(&at)?)?)));
    let how = ending.map_or_else(|| How::of_row(&row), |(_, how)| how);
    let ending = ending.map(|(at, _)| at);
    let broke = ending.filter(|_| matches!(how, How::Held | How::Stopped));
    let event = |at: usize| events.get(at).map(|row| &row.event);
    let own: Vec<&Event> =
        own.iter().take_while(|at| Some(**at) <= ending || ending.is_none()).filter_map(|at| event(*at)).collect();
    let visits = Going { row: &row, text, own: &own, how, ending: ending.and_then(event) }.visits();
    let cast = row.begun.cast.iter().map(|it| (it.part.clone(), it.person.clone())).collect();
    Run { edition, day: times.day(&row.begun_utc), cast, visits, broke, how, row }
}

/// A run whose way through the phrases is to be found.
struct Going<'e> {
    row: &'e RunRow,
    text: &'e Edition,
    /// Its events up to the one that ended it.
    own: &'e [&'e Event],
    how: How,
    ending: Option<&'e Event>,
}

/// How far a run came: the place in its list of phrases, and the number of the last move reached there.
struct Reach {
    phrase: usize,
    moves: usize,
    /// Those that a hold or stop there is counted at.
    broke_at: Vec<usize>,
}

impl Going<'_> {
    fn visits(&self) -> Vec<Visit> {
        let phrases = self.phrases();
        let Some(reach) = self.reach(&phrases) else { return Vec::new() };
        let begun = self.begun(&phrases);
        let before = self.row.begun.from_move.map_or(0, |number| number.saturating_sub(1) as usize);
        let visit = |(at, (name, of)): (usize, &(String, usize))| {
            let last = at == reach.phrase;
            let outcome = match (last, self.how) {
                (false, _) | (true, How::Complete) if at == 0 && before > 0 => Outcome::Part,
                (false, _) | (true, How::Complete) => Outcome::Clean,
                (true, How::Held | How::Stopped) => Outcome::Broke,
                (true, How::Unfinished) => Outcome::Unfinished,
            };
            let reached = if matches!(outcome, Outcome::Clean | Outcome::Part) { *of } else { reach.moves.min(*of) };
            let own = begun.get(&at);
            let broke = outcome == Outcome::Broke;
            let broke_at = reach.broke_at.iter().filter(|_| broke).map(|&number| number.min(*of)).collect();
            Visit {
                phrase: name.clone(),
                reached,
                before: if at == 0 { before } else { 0 },
                of: *of,
                outcome,
                broke_at,
                speed: self.row.begun.percent.and(own.and_then(|begun| begun.percent)).or(self.row.begun.percent),
                seconds: own.and_then(|own| self.seconds(own.at.0, begun.get(&(at + 1)), last)),
            }
        };
        phrases.iter().enumerate().take(reach.phrase + 1).map(visit).collect()
    }

    /// The names of the phrases of the range, and how many moves each has. Without a text that can be read they are
    /// those that were reached, and their moves are not known.
    fn phrases(&self) -> Vec<(String, usize)> {
        let (from, to) = (self.row.begun.from_phrase as usize, self.row.begun.to_phrase as usize);
        if let Some(phrases) = self.text.phrases.as_ref().and_then(|all| all.get(from..=to.max(from))) {
            return phrases.iter().map(|phrase| (phrase.name.clone(), phrase.moves.len())).collect();
        }
        let mut names: Vec<(String, usize)> = Vec::new();
        for (spot, _) in self.begins() {
            if !names.iter().any(|(known, _)| *known == spot.phrase_name) {
                names.push((spot.phrase_name.clone(), 0));
            }
        }
        names
    }

    /// The events with which phrases began, in order.
    fn begins(&self) -> impl Iterator<Item = (&Spot, &Event)> {
        let begins = self.own.iter().filter(|event| matches!(event.what, What::Phrase));
        begins.filter_map(|event| Some((event.spot.as_ref()?, *event)))
    }

    fn reach(&self, phrases: &[(String, usize)]) -> Option<Reach> {
        if self.how == How::Complete {
            let last = phrases.len().checked_sub(1)?;
            let moves = phrases.last().map_or(0, |(_, of)| *of);
            return Some(Reach { phrase: last, moves, broke_at: Vec::new() });
        }
        // The place of the ending is the truth; where it is not known, the furthest that any event tells.
        let ended = self.ending.and_then(|event| event.spot.as_ref()).or(self.row.last.as_ref());
        let spot = ended.or_else(|| self.own.iter().rev().find_map(|event| event.spot.as_ref()))?;
        if in_count_in(&spot.beat) {
            return None;
        }
        let by_index = (spot.phrase as usize).checked_sub(self.row.begun.from_phrase as usize);
        let by_index = by_index.filter(|at| phrases.get(*at).is_some_and(|(known, _)| *known == spot.phrase_name));
        let phrase = by_index.or_else(|| phrases.iter().position(|(known, _)| *known == spot.phrase_name))?;
        let under_way = self.ending.map_or(&[][..], |event| event.what.under_way());
        let numbers = |moves: &[&UnderWay]| -> Vec<usize> { moves.iter().map(|it| it.number as usize).collect() };
        let counted = numbers(&counted_at(under_way, self.part_of_caller()));
        let at = spot.number.unwrap_or(0) as usize;
        // What was under way may have been written before the last move that was reached, and counts as reached with it.
        let moves = numbers(&under_way.iter().collect::<Vec<_>>()).into_iter().fold(at, usize::max);
        let broke_at = if counted.is_empty() { vec![at] } else { counted };
        Some(Reach { phrase, moves, broke_at })
    }

    /// Whom the one who ended the run plays in it.
    fn part_of_caller(&self) -> Option<&str> {
        let caller = self.ending?.member()?;
        let own = self.row.begun.cast.iter().find(|it| it.member == Some(caller));
        own.map(|it| it.part.as_str())
    }

    /// The event with which each phrase began.
    fn begun(&self, phrases: &[(String, usize)]) -> BTreeMap<usize, &Event> {
        let placed = self.begins().filter_map(|(spot, event)| {
            Some((phrases.iter().position(|(known, _)| *known == spot.phrase_name)?, event))
        });
        let mut begun = BTreeMap::new();
        placed.for_each(|(at, event)| {
            begun.entry(at).or_insert(event);
        });
        begun
    }

    /// How long a phrase ran: to the beginning of the next, or to the end of the run. The server's clock cannot be set.
    fn seconds(&self, from_us: i64, next: Option<&&Event>, last: bool) -> Option<f64> {
        let ended = || match self.how {
            How::Unfinished => None,
            _ => self.ending.map(|event| event.at.0).or(self.row.ended_us),
        };
        let until = if last { ended()? } else { next?.at.0 };
        let us = until.checked_sub(from_us).filter(|us| (0..LONGEST_US).contains(us))?;
        Some(us as f64 / 1e6)
    }
}

/// No phrase runs for an hour: what says so is a clock that was not to be believed.
const LONGEST_US: i64 = 3_600_000_000;

/// True when a beat, as the score writes it, comes before beat 1.
fn in_count_in(beat: &str) -> bool {
    let whole = beat.split('+').next().unwrap_or(beat);
    whole.parse::<i64>().is_ok_and(|whole| whole < 1)
}

#[cfg(test)]
mod tests {
    use super::in_count_in;

    #[test]
    fn the_count_in_is_known_by_its_beats() {
        let rows =
            [("0", true), ("-3", true), ("0+1/2", true), ("1", false), ("4+1/2", false), ("?", false), ("", false)];
        for (beat, is) in rows {
            assert_eq!(in_count_in(beat), is, "{beat}");
        }
    }
}
