//! One phrase over all its runs: where it breaks, move by move; how often it is clean; what its breaks cost; whether it
//! gets better; on which step of the ladder it stands. Moves are those of the newest text; older runs are counted at the
//! move that theirs became.

use std::collections::{BTreeMap, HashMap};

use serde::Serialize;

use super::breaks::HoldBook;
use super::edition::EditionPhrase;
use super::estimate::{PerMinute, Share, median};
use super::history::{Fight, Outcome, Run, Visit};
use super::house::House;
use super::ladder::{self, Standing};
use super::lineage::same_moves;
use super::model::{self, Model};
use super::pass::{Pass, breaks, clean};
use super::progress::{self, Change};
use super::statistics::Proportion;
use super::times::Times;
use crate::check::MoveLimit;
use crate::figure::Picture;

/// A phrase of a fight, as the newest text has it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct PhraseReview {
    /// Its name.
    pub phrase: String,
    /// Its length in beats.
    pub beats: f64,
    /// Its length in seconds at performance tempo.
    pub seconds: f64,
    /// Its moves, in order of performance.
    pub moves: Vec<MoveReview>,
    /// Moves that older revisions had here and that broke there.
    pub moves_gone: Vec<MoveGone>,
    /// How often it was begun.
    pub reached: u64,
    /// How often it broke; all of it lies at its moves, at moves that are gone, or before its first move.
    pub broke: u64,
    /// How often it broke before its first move.
    pub broke_before_first: u64,
    /// How often it is clean: of the runs by the clock that ended here or went through.
    pub clean: Share,
    /// Breaks in a minute of running by the clock.
    pub breaks: PerMinute,
    /// By speed, the slowest first; walk-throughs come first and have none.
    pub by_speed: Vec<SpeedReview>,
    /// Seconds that its breaks cost, all together.
    pub lost_seconds: f64,
    /// The middle one of those times.
    pub lost_median: Option<f64>,
    /// How many of its breaks were followed by a start, so that their cost is known.
    pub lost_known: u64,
    /// Every run that went into it, in order.
    pub visits: Vec<VisitReview>,
    /// The newest week against the one before.
    pub weeks: Option<Change>,
    /// The newest revision that changed this phrase against what was before.
    pub revisions: Option<Change>,
    /// The move that limits its tempo by the checks, where one does.
    pub limit: Option<TempoLimit>,
    /// What speed, cast, text and the weeks do to how often it breaks.
    pub model: Model,
    /// Where it stands on the ladder, with the cast of its newest run.
    pub ladder: Standing,
    /// The same with every cast that has run it, that of the newest run first.
    pub ladders: Vec<Standing>,
}

/// A move.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MoveReview {
    /// Its number in the phrase, from 1.
    #[serde(rename = "move")]
    pub number: usize,
    /// Its beat, as the score writes it.
    pub beat: String,
    /// The same in beats from the first beat of the phrase.
    pub at: f64,
    /// The move in words.
    pub words: String,
    /// How often a run came to it.
    pub reached: u64,
    /// How often a hold or stop is counted at it: [`crate::event::counted_at`].
    pub broke: u64,
    /// Its picture, where it has one.
    #[serde(skip)]
    pub picture: Option<Picture>,
}

/// The move that limits the tempo of a phrase, by the checks; a planning value, no permission.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct TempoLimit {
    /// Its number in the phrase, from 1.
    #[serde(rename = "move")]
    pub number: u32,
    /// Its beat, as the score writes it.
    pub beat: String,
    /// The move in words.
    pub words: String,
    /// The fastest, percent of performance tempo.
    pub percent: u16,
}

impl TempoLimit {
    /// Of what the checks found.
    pub(super) fn of(limit: &MoveLimit) -> TempoLimit {
        let percent = (limit.factor * 100.0).floor().clamp(0.0, 999.0) as u16;
        TempoLimit { number: limit.number, beat: limit.beat.clone(), words: limit.words.clone(), percent }
    }
}

/// A move that is in the newest text no longer.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MoveGone {
    /// The move in words.
    pub words: String,
    /// The newest revision that had it, shortened.
    pub revision: String,
    /// How often a run came to it.
    pub reached: u64,
    /// How often it broke there.
    pub broke: u64,
}

/// The runs at one speed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct SpeedReview {
    /// Percent of performance tempo; nothing in a walk-through.
    pub speed: Option<u16>,
    /// How often it is clean.
    pub clean: Share,
}

/// A run through the phrase.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct VisitReview {
    /// The run.
    pub run: u32,
    /// The day, in the house's zone.
    pub day: Option<String>,
    /// Percent of performance tempo; nothing in a walk-through.
    pub speed: Option<u16>,
    /// How it came out.
    pub outcome: Outcome,
    /// The number of the last move reached, in the revision that was run.
    pub reached: usize,
    /// Of how many moves.
    pub of: usize,
    /// How long it ran, seconds.
    pub seconds: Option<f64>,
    /// What its break cost, seconds to the next start.
    pub lost_seconds: Option<f64>,
    /// The revision, shortened.
    pub revision: String,
    /// The set of weapons; nothing for those that the score names.
    pub weapons: Option<String>,
}

/// Moves of older revisions as moves of the newest one, by the place of the revision: made once for a phrase.
pub(super) struct Heirs<'h> {
    fight: &'h Fight,
    now: &'h EditionPhrase,
    known: HashMap<usize, Vec<Option<usize>>>,
}

impl<'h> Heirs<'h> {
    pub(super) fn new(fight: &'h Fight, now: &'h EditionPhrase) -> Heirs<'h> {
        Heirs { fight, now, known: HashMap::new() }
    }

    /// For every move that the phrase had in that revision, its place now.
    pub(super) fn of(&mut self, edition: usize) -> &[Option<usize>] {
        let (fight, now) = (self.fight, self.now);
        self.known.entry(edition).or_insert_with(|| {
            let then = fight.editions.get(edition).and_then(|then| then.phrase(&now.name));
            then.map_or_else(Vec::new, |(_, then)| same_moves(&then.moves, &now.moves))
        })
    }
}

/// What is asked about a phrase.
pub(super) struct Asked<'h> {
    pub(super) fight: &'h Fight,
    pub(super) house: &'h House,
    pub(super) book: &'h HoldBook,
    /// The place of the newest text.
    pub(super) newest: usize,
}

impl<'h> Asked<'h> {
    /// The runs, of those given, that went into a phrase.
    pub(super) fn passes(&self, runs: &[&'h Run], phrase: &str) -> Vec<Pass<'h>> {
        let pass = |run: &&'h Run| {
            let visit = run.visits.iter().find(|visit| visit.phrase == phrase)?;
            let lost = run.broke.filter(|_| visit.outcome == Outcome::Broke).and_then(|at| self.book.lost(at));
            Some(Pass { run, visit, lost })
        };
        runs.iter().filter_map(pass).collect()
    }

    /// The review of a phrase of the newest text.
    pub(super) fn phrase(
        &self,
        phrase: &'h EditionPhrase,
        limit: Option<&MoveLimit>,
        runs: &[&'h Run],
    ) -> PhraseReview {
        let passes = self.passes(runs, &phrase.name);
        let times = Times { zone: &self.house.zone };
        let mut heirs = Heirs::new(self.fight, phrase);
        let Counted { moves, gone, before_first } = self.count(phrase, &passes, &mut heirs);
        let ladders = ladder::stand(&self.house.ladder, self.fight, phrase, &passes);
        let mut lost: Vec<f64> = passes.iter().filter_map(|pass| pass.lost).collect();
        PhraseReview {
            phrase: phrase.name.clone(),
            beats: phrase.beats,
            seconds: phrase.seconds,
            moves,
            moves_gone: gone,
            reached: passes.len() as u64,
            broke: passes.iter().filter(|pass| pass.visit.outcome == Outcome::Broke).count() as u64,
            broke_before_first: before_first,
            clean: clean(&passes).into(),
            breaks: breaks(&passes).into(),
            by_speed: by_speed(&passes),
            lost_seconds: lost.iter().sum(),
            lost_known: lost.len() as u64,
            lost_median: median(&mut lost),
            weeks: progress::weeks(&passes),
            revisions: progress::revisions(self.fight, self.newest, &phrase.name, &passes),
            limit: limit.map(TempoLimit::of),
            model: model::of(self.fight, phrase, &passes),
            ladder: ladders.first().cloned().unwrap_or_else(|| ladder::not_run(&self.house.ladder)),
            ladders,
            visits: passes.iter().map(|pass| self.visit(pass, &times)).collect(),
        }
    }

    fn visit(&self, pass: &Pass<'h>, times: &Times<'_>) -> VisitReview {
        let Visit { speed, outcome, reached, of, seconds, .. } = *pass.visit;
        VisitReview {
            run: pass.run.row.begun.run,
            day: times.day(&pass.run.row.begun_utc).map(|day| day.to_string()),
            speed,
            outcome,
            reached,
            of,
            seconds,
            lost_seconds: pass.lost,
            revision: self.fight.editions.get(pass.run.edition).map(|it| it.short()).unwrap_or_default(),
            weapons: pass.run.row.begun.weapons.clone(),
        }
    }

    fn count(&self, phrase: &EditionPhrase, passes: &[Pass<'h>], heirs: &mut Heirs<'h>) -> Counted {
        let blank = |(at, it): (usize, &super::edition::EditionMove)| MoveReview {
            number: at + 1,
            beat: it.beat.clone(),
            at: it.at,
            words: it.words.clone(),
            reached: 0,
            broke: 0,
            picture: it.picture.clone(),
        };
        let mut counted =
            Counted { moves: phrase.moves.iter().enumerate().map(blank).collect(), gone: Vec::new(), before_first: 0 };
        // By words: the place of the newest revision that had it, how often reached, how often broken.
        let mut gone: BTreeMap<String, (usize, u64, u64)> = BTreeMap::new();
        for pass in passes {
            let edition = pass.run.edition;
            let broke = pass.visit.outcome == Outcome::Broke;
            counted.before_first += u64::from(broke && pass.visit.reached == 0);
            let then = self.fight.editions.get(edition).and_then(|then| then.phrase(&phrase.name));
            let places = heirs.of(edition);
            for at in pass.visit.before..pass.visit.reached {
                let last = broke && pass.visit.broke_at.contains(&(at + 1));
                let place = places.get(at).copied().flatten();
                if let Some(now) = place.and_then(|place| counted.moves.get_mut(place)) {
                    now.reached += 1;
                    now.broke += u64::from(last);
                } else if let Some(words) = then.and_then(|(_, then)| then.moves.get(at)).map(|it| it.words.clone()) {
                    let (newest, reached, broken) = gone.entry(words).or_default();
                    *newest = edition.max(*newest);
                    *reached += 1;
                    *broken += u64::from(last);
                }
            }
        }
        let short = |edition: usize| self.fight.editions.get(edition).map(|it| it.short()).unwrap_or_default();
        counted.gone = gone
            .into_iter()
            .filter(|(_, (_, _, broke))| *broke > 0)
            .map(|(words, (edition, reached, broke))| MoveGone { words, revision: short(edition), reached, broke })
            .collect();
        counted
    }
}

struct Counted {
    moves: Vec<MoveReview>,
    gone: Vec<MoveGone>,
    before_first: u64,
}

fn by_speed(passes: &[Pass<'_>]) -> Vec<SpeedReview> {
    let mut speeds: BTreeMap<Option<u16>, (u64, u64)> = BTreeMap::new();
    for pass in passes.iter().filter(|pass| pass.visit.outcome.counts()) {
        let (clean, of) = speeds.entry(pass.visit.speed).or_default();
        *clean += u64::from(pass.visit.outcome == Outcome::Clean);
        *of += 1;
    }
    let row = |(speed, (clean, of))| SpeedReview { speed, clean: Proportion::new(clean, of).into() };
    speeds.into_iter().map(row).collect()
}
