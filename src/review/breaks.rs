//! Every hold and stop that broke a run, with all that was written down about it.

use std::collections::HashMap;

use serde::Serialize;

use super::history::{Fight, History, Run};
use super::times::Times;
use crate::event::{HoldId, What};
use crate::journal::EventRow;

/// A hold or a stop that ended a run.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Break {
    /// The number of its event in the journal.
    pub event: u64,
    /// The number of the hold; nothing for a stop.
    pub hold: Option<u32>,
    /// `hold` or `stop`.
    pub kind: String,
    /// The run.
    pub run: u32,
    /// When, RFC 3339.
    pub utc: String,
    /// When, in the house's zone: day and time of day.
    pub at: String,
    /// The phrase; nothing before the first.
    pub phrase: Option<String>,
    /// The beat as the score writes it; 0 and below are the count-in.
    pub beat: Option<String>,
    /// The number of the move that was under way, the caller's own where they were in one, in the revision that was run.
    #[serde(rename = "move")]
    pub number: Option<u32>,
    /// That move in words.
    pub words: Option<String>,
    /// The other moves that were under way, in words.
    pub also: Vec<String>,
    /// Percent of performance tempo; nothing in a walk-through.
    pub speed: Option<u16>,
    /// The revision, shortened.
    pub revision: String,
    /// Who played whom.
    pub cast: Vec<Playing>,
    /// Who called it, in order.
    pub callers: Vec<Caller>,
    /// Its reason: the one that was given last after it, and else the first that a caller said with it; nothing where nobody
    /// gave one.
    pub reason: Option<String>,
    /// Who gave it.
    pub reason_by: Option<String>,
    /// True when it was given after it, and not with the call.
    pub explained: bool,
    /// What was noted.
    pub notes: Vec<Note>,
    /// Who released it.
    pub released_by: Option<String>,
    /// Seconds from it to the next start in the same call; nothing when there was none.
    pub lost_seconds: Option<f64>,
    /// The number of the move in the newest text; nothing when it is no longer there, or there was none.
    pub move_now: Option<usize>,
    /// True when its move is in the newest text no longer.
    pub move_gone: bool,
}

/// Somebody in a part.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Playing {
    /// The fighter.
    pub part: String,
    /// The person.
    pub person: String,
}

/// Somebody who called a hold or a stop.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Caller {
    /// Who.
    pub who: String,
    /// In which role.
    pub role: Option<String>,
    /// Why.
    pub reason: Option<String>,
    /// Where the run was on their own screen.
    pub screen: Option<String>,
}

/// A note.
#[derive(Clone, Debug, PartialEq, Eq, Serialize)]
pub struct Note {
    /// Who wrote it.
    pub who: String,
    /// What.
    pub says: String,
}

/// What belongs to holds, found once for all of them.
#[derive(Default)]
pub(super) struct HoldBook {
    joined: HashMap<HoldId, Vec<usize>>,
    notes: HashMap<HoldId, Vec<usize>>,
    /// The reason that was given last.
    reasons: HashMap<HoldId, usize>,
    released: HashMap<HoldId, usize>,
    /// Seconds to the next start in the same call, by the place of the event that broke off.
    lost: HashMap<usize, f64>,
}

impl HoldBook {
    pub(super) fn of(history: &History) -> HoldBook {
        let mut book = HoldBook::default();
        for range in &history.calls.ranges {
            let mut waiting: Vec<usize> = Vec::new();
            for at in range.clone() {
                let Some(event) = history.events.get(at) else { continue };
                book.take(at, event);
                match event.event.what {
                    What::Hold { .. } | What::Stop { .. } => waiting.push(at),
                    What::Start { .. } => {
                        for broke in waiting.drain(..) {
                            book.lost.extend(
                                history.events.get(broke).and_then(|it| Some((broke, seconds_between(it, event)?))),
                            );
                        }
                    }
                    _ => {}
                }
            }
        }
        book
    }

    fn take(&mut self, at: usize, row: &EventRow) {
        match &row.event.what {
            What::HoldJoined(call) => self.joined.entry(call.hold).or_default().push(at),
            What::Note { hold: Some(hold), .. } => self.notes.entry(*hold).or_default().push(at),
            What::Reason { hold: Some(hold), .. } => {
                self.reasons.insert(*hold, at);
            }
            What::Release { hold } => {
                self.released.entry(*hold).or_insert(at);
            }
            _ => {}
        }
    }

    /// Seconds from a break, by its place, to the next start.
    pub(super) fn lost(&self, at: usize) -> Option<f64> {
        self.lost.get(&at).copied()
    }

    /// The hold or stop at that place of the history.
    pub(super) fn break_at(&self, history: &History, at: usize, times: &Times<'_>) -> Option<Break> {
        let row = history.events.get(at)?;
        let (event, hold, spot) = (&row.event, row.event.what.hold(), row.event.spot.as_ref());
        let of = |map: &HashMap<HoldId, Vec<usize>>| -> Vec<&EventRow> {
            let places = hold.and_then(|hold| map.get(&hold)).map_or(&[][..], Vec::as_slice);
            places.iter().filter_map(|at| history.events.get(*at)).collect()
        };
        let first = event.what.under_way().first();
        let given = hold.and_then(|hold| self.reasons.get(&hold)).and_then(|at| history.events.get(*at));
        let callers: Vec<Caller> = std::iter::once(row).chain(of(&self.joined)).map(caller).collect();
        let said = callers.iter().find_map(|it| Some((it.reason.clone()?, it.who.clone())));
        let (reason, reason_by) = given.and_then(|it| Some((it.event.what.says()?, name(it)))).or(said).unzip();
        let released = hold.and_then(|hold| self.released.get(&hold)).and_then(|at| history.events.get(*at));
        Some(Break {
            event: row.seq,
            hold: hold.map(|hold| hold.0),
            kind: event.what.word().to_owned(),
            run: event.run.unwrap_or(0),
            utc: row.utc.clone(),
            at: times.both(&row.utc),
            phrase: spot.map(|spot| spot.phrase_name.clone()),
            beat: spot.map(|spot| spot.beat.clone()),
            number: first.map(|it| it.number).or(spot.and_then(|spot| spot.number)),
            words: first.map(|it| it.words.clone()).or(spot.and_then(|spot| spot.words.clone())),
            also: event.what.under_way().iter().skip(1).map(|it| it.words.clone()).collect(),
            speed: event.percent,
            revision: String::new(),
            cast: Vec::new(),
            callers,
            reason,
            reason_by,
            explained: given.is_some(),
            notes: of(&self.notes).into_iter().map(note).collect(),
            released_by: released.map(name),
            lost_seconds: self.lost(at),
            move_now: None,
            move_gone: false,
        })
    }

    /// The break of a run, with what the run knows of it.
    pub(super) fn of_run(&self, history: &History, fight: &Fight, run: &Run, times: &Times<'_>) -> Option<Break> {
        let found = self.break_at(history, run.broke?, times)?;
        let revision = fight.editions.get(run.edition).map(|edition| edition.short()).unwrap_or_default();
        let cast =
            run.cast.iter().map(|(part, person)| Playing { part: part.clone(), person: person.clone() }).collect();
        Some(Break { revision, cast, run: run.row.begun.run, ..found })
    }
}

fn caller(row: &EventRow) -> Caller {
    let screen = row.event.what.screen().map(|place| {
        let words = place.words.as_ref().map_or_else(String::new, |words| format!(": {words}"));
        format!("{}, beat {}{words}", place.phrase_name, place.beat)
    });
    let role = row.event.who.as_ref().and_then(|who| who.role);
    Caller { who: name(row), role: role.map(|role| role.word().to_owned()), reason: row.event.what.says(), screen }
}

fn note(row: &EventRow) -> Note {
    Note { who: name(row), says: row.event.what.says().unwrap_or_default() }
}

fn name(row: &EventRow) -> String {
    row.event.name().unwrap_or("nobody known").to_owned()
}

/// Seconds by the server's own clock; nothing across a new start of the server.
fn seconds_between(from: &EventRow, to: &EventRow) -> Option<f64> {
    let us = to.event.at.0.checked_sub(from.event.at.0).filter(|us| *us >= 0 && from.session == to.session)?;
    Some(us as f64 / 1e6)
}
