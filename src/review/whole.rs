//! The whole review, as one value.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::ops::Range;
use std::path::Path;

use jiff::civil::Date;
use serde::Serialize;

use super::breaks::HoldBook;
use super::drill::{self, Drill};
use super::edition::Edition;
use super::fight::{FightReview, Reviewer};
use super::history::{Fight, History, How, Run};
use super::house::{AS_WRITTEN, Filter, House, ReviewError, named};
use super::newest::Older;
use super::news::{self, News};
use super::order::{self, CallOrder, Lately};
use super::ready::{self, Ready};
use super::record::{CallRecord, Recorder};
use super::times::Times;
use super::timing::{self, Timing};
use crate::event::{EventKind, What};
use crate::journal::{DAMAGED, EventRow, JournalError, Reader, Report};

/// What the journal tells. Its serialisation is `holdfast report --format json` and stays as it is; fields may be added.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Review {
    /// The production's name, where it is known.
    pub production: Option<String>,
    /// What was asked for.
    pub filter: Filter,
    /// That the journal has more than was looked at; nothing where all of it was, or days were named.
    pub older: Option<Older>,
    /// The zone in which days and times of day are told.
    pub zone: String,
    /// True when a server was writing the journal meanwhile.
    pub live: bool,
    /// The day of the first run.
    pub first_day: Option<String>,
    /// The day of the last run.
    pub last_day: Option<String>,
    /// How much there is.
    pub totals: Totals,
    /// What can be asked for: every fight that was run, with its phrases.
    pub choices: Vec<Choice>,
    /// The sets of weapons that can be asked for; none where every run was done with what its score names.
    pub weapons: Vec<String>,
    /// What cannot be told, and why.
    pub notes: Vec<String>,
    /// What to drill next.
    pub drill: Drill,
    /// A proposed order for the next call.
    pub order: CallOrder,
    /// Who is ready for what.
    pub ready: Ready,
    /// What the newest day brought.
    pub news: News,
    /// The rule of the speed ladder, in words.
    pub ladder_rule: String,
    /// The fights that were run, in order of their first text.
    pub fights: Vec<FightReview>,
    /// What the phones told.
    pub timing: Timing,
    /// The fight calls, in order.
    pub calls: Vec<CallRecord>,
}

/// How much there is.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Totals {
    /// Fight calls.
    pub calls: usize,
    /// Runs.
    pub runs: usize,
    /// Runs that came to their end.
    pub complete: usize,
    /// Runs that a hold ended.
    pub held: usize,
    /// Runs that were stopped.
    pub stopped: usize,
    /// Runs that were cut off with the server, or are under way.
    pub unfinished: usize,
    /// Holds that were called while nothing ran.
    pub holds_between: usize,
    /// Near misses that were reported.
    pub near_misses: usize,
}

/// A fight that can be asked for.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Choice {
    /// Its name.
    pub fight: String,
    /// Its phrases, in order of the newest text, then those that were run and are no longer in it.
    pub phrases: Vec<String>,
}

impl Review {
    /// Reads and counts.
    ///
    /// # Errors
    /// Those of the journal; `Unknown` and `Ambiguous` when the filter names a fight or phrase that was never run.
    pub fn of(reader: &Reader, house: &House, filter: &Filter) -> Result<Review, ReviewError> {
        Review::of_history(reader, &History::read(reader, house, filter)?, house, filter)
    }

    /// The same of what is good of the journal of a production folder, of a data folder, or of the file itself, with what
    /// is damaged, a sentence each. Every row of a short journal is looked at; of a long one those that are counted, and
    /// the others only where these are damaged.
    ///
    /// # Errors
    /// As [`Review::of`].
    pub fn of_good(data: &Path, house: &House, filter: &Filter) -> Result<(Review, Vec<String>), ReviewError> {
        let quick = Reader::open_newest(data)?;
        if quick.rows().is_ok_and(|rows| rows > house.extent.short)
            && let Ok(history) = History::read(&quick, house, filter)
            && let Some(first) = history.events.first()
            && quick.holds_from(first.seq).unwrap_or(false)
            && quick.damage().is_empty()
        {
            return Ok((Review::of_history(&quick, &history, house, filter)?, Vec::new()));
        }
        drop(quick);
        let reader = Reader::open_good(data)?;
        let review = Review::of(&reader, house, filter)?;
        Ok((review, reader.damage()))
    }

    fn of_history(reader: &Reader, history: &History, house: &House, filter: &Filter) -> Result<Review, ReviewError> {
        let reports = |run: u32| reader.reports(Some(run));
        Review::counted(history, house, filter, reports, reader.damage())
    }

    /// The review of a production that has no journal yet.
    ///
    /// # Errors
    /// `Unknown` when the filter names a fight or phrase: none was run.
    pub fn of_nothing(house: &House, filter: &Filter) -> Result<Review, ReviewError> {
        Review::counted(&History::empty(), house, filter, |_| Ok(Vec::new()), Vec::new())
    }

    fn counted(
        history: &History,
        house: &House,
        filter: &Filter,
        reports: impl Fn(u32) -> Result<Vec<Report>, JournalError>,
        mut damage: Vec<String>,
    ) -> Result<Review, ReviewError> {
        let filter = resolve(history, filter)?;
        let runs = wanted_runs(history, &filter);
        let numbers: BTreeSet<u32> =
            runs.iter().flat_map(|(_, runs)| runs.iter().map(|run| run.row.begun.run)).collect();
        let book = HoldBook::of(history);
        let reviewer = Reviewer { history, house, book: &book, filter: &filter };
        let fights: Vec<FightReview> = runs.iter().map(|(fight, runs)| reviewer.fight(fight, runs)).collect();
        let times = Times { zone: &house.zone };
        let wanted = wanted_events(history, &filter, &numbers, &times);
        let wants = |at: usize| wanted.get(at).copied().unwrap_or(false);
        let recorder = Recorder { history, house, book: &book, runs: by_number(history) };
        let calls = recorder.records(|range: &Range<usize>| range.clone().any(&wants));
        let days: BTreeSet<_> = runs.iter().flat_map(|(_, runs)| runs.iter().filter_map(|run| run.day)).collect();
        let near_misses = near_misses(history, days.last().copied(), &times);
        let lately = Lately { newest: days.last().copied(), near_misses: &near_misses };
        let timing = timing::timing(reports, history, &numbers, wants)?;
        if !damage.is_empty() {
            damage.insert(0, DAMAGED.to_owned());
        }
        Ok(Review {
            production: house.production.clone(),
            zone: times.zone_name(),
            live: history.live,
            older: history.older.clone(),
            first_day: days.first().map(ToString::to_string),
            last_day: days.last().map(ToString::to_string),
            totals: totals(history, &runs, calls.len(), wants),
            choices: history.fights.iter().filter(|fight| !fight.runs.is_empty()).map(choice).collect(),
            weapons: weapons(history),
            notes: damage.into_iter().chain(notes(history, &times)).collect(),
            drill: drill::rank(fights.iter().map(|it| (it.fight.as_str(), it.phrases.as_slice()))),
            order: order::propose(&fights, &house.ladder, &lately),
            ready: ready::ready(&fights),
            news: news::news(&reviewer, &runs),
            ladder_rule: house.ladder.rule(),
            timing,
            fights,
            calls,
            filter,
        })
    }
}

fn choice(fight: &Fight) -> Choice {
    let texts = fight.editions.iter().rev().flat_map(Edition::known_phrases).map(|phrase| phrase.name.as_str());
    let seen = fight.runs.iter().flat_map(|run| run.visits.iter().map(|visit| visit.phrase.as_str()));
    let mut known = BTreeSet::new();
    let phrases = texts.chain(seen).filter(|name| known.insert(*name)).map(str::to_owned).collect();
    Choice { fight: fight.name.clone(), phrases }
}

/// The sets of weapons that runs were done with, the score's own first; nothing where there was no other.
fn weapons(history: &History) -> Vec<String> {
    let runs = || history.fights.iter().flat_map(|fight| &fight.runs);
    let sets: BTreeSet<&String> = runs().filter_map(|run| run.row.begun.weapons.as_ref()).collect();
    let all = std::iter::once(AS_WRITTEN.to_owned()).chain(sets.iter().map(|set| (*set).clone()));
    if sets.is_empty() { Vec::new() } else { all.collect() }
}

/// The filter with the names that were meant.
fn resolve(history: &History, filter: &Filter) -> Result<Filter, ReviewError> {
    let mut filter = filter.clone();
    if let Some(asked) = &filter.fight {
        let names: Vec<&str> = history.fights.iter().map(|fight| fight.name.as_str()).collect();
        filter.fight = Some(named("fight", asked, &names)?);
    }
    if let Some(asked) = &filter.phrase {
        let fights = history.fights.iter().filter(|fight| filter.fight.as_ref().is_none_or(|name| *name == fight.name));
        let mut names: Vec<&str> = Vec::new();
        for fight in fights {
            let texts = fight.editions.iter().flat_map(Edition::known_phrases).map(|phrase| phrase.name.as_str());
            let seen = fight.runs.iter().flat_map(|run| run.visits.iter().map(|visit| visit.phrase.as_str()));
            names.extend(texts.chain(seen));
        }
        names.sort_unstable();
        names.dedup();
        filter.phrase = Some(named("phrase", asked, &names)?);
    }
    if let Some(asked) = &filter.weapons {
        let mut known = weapons(history);
        known.is_empty().then(|| known.push(AS_WRITTEN.to_owned()));
        let names: Vec<&str> = known.iter().map(String::as_str).collect();
        filter.weapons = Some(named("weapon set", asked, &names)?);
    }
    Ok(filter)
}

/// The runs that are asked for, by fight; fights without any are left out.
fn wanted_runs<'h>(history: &'h History, filter: &Filter) -> Vec<(&'h Fight, Vec<&'h Run>)> {
    let fights = history.fights.iter().filter(|fight| filter.fight.as_ref().is_none_or(|name| *name == fight.name));
    let went_there =
        |run: &Run| filter.phrase.as_ref().is_none_or(|phrase| run.visits.iter().any(|visit| visit.phrase == *phrase));
    let with_these = |run: &Run| filter.weapons.as_ref().is_none_or(|weapons| run.weapons() == weapons);
    let wanted = |run: &&Run| filter.wants(run.day) && went_there(run) && with_these(run);
    fights
        .map(|fight| (fight, fight.runs.iter().filter(wanted).collect::<Vec<_>>()))
        .filter(|(_, runs)| !runs.is_empty())
        .collect()
}

/// For every event, whether it is asked for: on a day that is, and in a run that is, where a fight or phrase is named.
fn wanted_events(history: &History, filter: &Filter, runs: &BTreeSet<u32>, times: &Times<'_>) -> Vec<bool> {
    let named = filter.fight.is_some() || filter.phrase.is_some() || filter.weapons.is_some();
    let dated = filter.since.is_some() || filter.until.is_some();
    let wants = |(at, event): (usize, &EventRow)| {
        let of_run = !named || event.event.run.is_some_and(|run| runs.contains(&run));
        at >= history.from && of_run && (!dated || filter.wants(times.day(&event.utc)))
    };
    history.events.iter().enumerate().map(wants).collect()
}

/// Near misses of runs in the weeks up to the newest day, by fight and phrase. They are told apart by their word: a
/// journal of a newer Holdfast may have them before this one makes them.
fn near_misses(history: &History, newest: Option<Date>, times: &Times<'_>) -> BTreeMap<(String, String), u64> {
    let runs = by_number(history);
    let is_new = |utc: &str| {
        let days = newest.zip(times.day(utc)).and_then(|(newest, day)| newest.since(day).ok());
        days.is_some_and(|span| (0..order::NEAR_DAYS).contains(&i64::from(span.get_days())))
    };
    let mut counts: BTreeMap<(String, String), u64> = BTreeMap::new();
    for row in history.events.iter().filter(|row| row.event.what.word() == NEAR_MISS && is_new(&row.utc)) {
        let fight = row.event.run.and_then(|run| runs.get(&run)).map(|(fight, _)| fight.name.clone());
        if let Some((fight, spot)) = fight.zip(row.event.spot.as_ref()) {
            *counts.entry((fight, spot.phrase_name.clone())).or_default() += 1;
        }
    }
    counts
}

/// The word of a near miss in the journal.
const NEAR_MISS: &str = "near-miss";

fn by_number(history: &History) -> BTreeMap<u32, (&Fight, &Run)> {
    history
        .fights
        .iter()
        .flat_map(|fight| fight.runs.iter().map(move |run| (run.row.begun.run, (fight, run))))
        .collect()
}

fn totals(history: &History, runs: &[(&Fight, Vec<&Run>)], calls: usize, wants: impl Fn(usize) -> bool) -> Totals {
    let all = || runs.iter().flat_map(|(_, runs)| runs.iter());
    let ended = |how: How| all().filter(|run| run.how == how).count();
    let broke: BTreeSet<usize> =
        history.fights.iter().flat_map(|it| it.runs.iter().filter_map(|run| run.broke)).collect();
    let holds = history.events.iter().enumerate();
    let holds = holds.filter(|(at, row)| matches!(row.event.what, What::Hold { .. }) && wants(*at));
    Totals {
        calls,
        runs: all().count(),
        complete: ended(How::Complete),
        held: ended(How::Held),
        stopped: ended(How::Stopped),
        unfinished: ended(How::Unfinished),
        near_misses: history
            .events
            .iter()
            .enumerate()
            .filter(|(at, row)| matches!(row.event.what, What::NearMiss { .. }) && wants(*at))
            .count(),
        holds_between: holds.filter(|(at, _)| !broke.contains(at)).count(),
    }
}

/// What cannot be told of the journal as a whole.
fn notes(history: &History, times: &Times<'_>) -> Vec<String> {
    let mut notes = Vec::new();
    if let Some((count, first)) = &history.calls.jumps {
        notes.push(format!(
            "The laptop's wall clock jumped {} (first about {}): days and times of day around that may be wrong. \
             Lengths of time are right; they come from a clock that nobody can set.",
            if *count == 1 { "once".to_owned() } else { format!("{count} times") },
            times.both(first)
        ));
    }
    for (kind, says) in [
        (EventKind::RowsLost, "Rows at the end of the journal were missing when a server started"),
        (EventKind::ReportsLost, "Lateness reports were dropped because the disk could not keep up"),
        (EventKind::Misrecorded, "A record did not fit into the journal and is not counted here"),
    ] {
        match history.events.iter().skip(history.from).filter(|row| row.event.what.kind() == Some(kind)).count() {
            0 => {}
            1 => notes.push(format!("{says}. See `holdfast log --kind {}`.", kind.word())),
            times => notes.push(format!("{says} ({times} times). See `holdfast log --kind {}`.", kind.word())),
        }
    }
    notes.extend(renamed(history));
    notes
}

/// Fights that look like another one under a new name. It is said and not acted upon.
fn renamed(history: &History) -> Vec<String> {
    let mut says = Vec::new();
    for new in &history.fights {
        for old in history.fights.iter().filter(|old| old.name != new.name) {
            let last_run = old.runs.last().map(|run| run.row.begun.run).unwrap_or(0);
            let follows = new.runs.first().is_some_and(|run| run.row.begun.run > last_run && last_run > 0);
            let (Some(then), Some(now)) = (old.editions.last(), new.editions.first()) else { continue };
            let (shared, of) = shared_moves(then, now);
            // Two thirds of the moves in common are no accident.
            if follows && of > 0 && shared * 3 >= of * 2 {
                says.push(format!(
                    "“{}” has {shared} of its {of} moves from “{}”, which was not run again: renamed? Their figures \
                     are kept apart.",
                    new.name, old.name
                ));
            }
        }
    }
    says
}

/// How many moves of `new` are in `old` too, and how many it has.
fn shared_moves(old: &Edition, new: &Edition) -> (usize, usize) {
    let words = |text: &Edition| -> HashMap<String, usize> {
        let mut counts = HashMap::new();
        for it in text.known_phrases().iter().flat_map(|phrase| &phrase.moves) {
            *counts.entry(it.words.clone()).or_default() += 1;
        }
        counts
    };
    let (old, new) = (words(old), words(new));
    let shared = new.iter().map(|(words, count)| old.get(words).map_or(0, |other| *count.min(other))).sum();
    (shared, new.values().sum())
}
