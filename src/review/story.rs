//! One hold or stop, told whole: who called it and why, what was noted, and what everybody's phone had shown just then:
//! the last cue that each reported, how late it came, how well its clock was known, and whether its link was there.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use serde::Serialize;

use super::breaks::Break;
use super::estimate::quantile;
use super::house::House;
use super::whole::Review;
use crate::call::{Begin, Drive, Fight, Run, Setup};
use crate::event::What;
use crate::journal::{EventFilter, EventRow, JournalError, Reader, Report, RunRow};
use crate::score::read;
use crate::timeline::PhraseRange;
use crate::units::Speed;

/// A hold or stop with all that is known of it.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Story {
    /// The fight; nothing when nothing ran.
    pub fight: Option<String>,
    /// What happened.
    pub broke: Break,
    /// What everybody's phone had shown, the cast first.
    pub phones: Vec<Phone>,
    /// What cannot be told, a sentence each.
    pub notes: Vec<String>,
}

/// What somebody's phone had shown when it happened.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Phone {
    /// Who.
    pub who: String,
    /// The part that they played.
    pub part: Option<String>,
    /// The number of the last cue that it showed; nothing when it reported none.
    pub cue: Option<u32>,
    /// That cue's place, as a person would say it.
    pub shown: Option<String>,
    /// How long before the hold or stop it was shown, milliseconds.
    pub before_ms: Option<f64>,
    /// How late it was shown, milliseconds; negative is early.
    pub late_ms: Option<f64>,
    /// The middle lateness of the whole run, milliseconds.
    pub late_median_ms: Option<f64>,
    /// To within how much its clock was known then, milliseconds.
    pub bound_ms: Option<f64>,
    /// False when its link was lost at that moment.
    pub linked: bool,
    /// What it showed in the seconds before, in order.
    pub lately: Vec<Shown>,
}

/// A cue that a phone showed.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct Shown {
    /// The number of the cue.
    pub cue: u32,
    /// How long before the hold or stop it was shown, milliseconds.
    pub before_ms: f64,
    /// How late it was shown, milliseconds; negative is early.
    pub late_ms: f64,
    /// Its place, as a person would say it.
    pub shown: Option<String>,
}

/// So long before a hold or stop what phones showed is told cue by cue, milliseconds.
pub const LATELY_MS: f64 = 8_000.0;

/// The story of the hold or stop with that number in the journal; nothing when the review has none of it.
///
/// # Errors
/// Those of the journal.
pub fn story(reader: &Reader, house: &House, review: &Review, event: u64) -> Result<Option<Story>, JournalError> {
    let of_fights = review.fights.iter().flat_map(|it| it.breaks.iter().map(move |broke| (Some(&it.fight), broke)));
    let of_calls = review.calls.iter().flat_map(|call| call.breaks.iter().map(|broke| (None, broke)));
    let Some((fight, broke)) = of_fights.chain(of_calls).find(|(_, broke)| broke.event == event) else {
        return Ok(None);
    };
    let mut story = Story { fight: fight.cloned(), broke: broke.clone(), phones: Vec::new(), notes: Vec::new() };
    let Some(row) = reader.runs()?.into_iter().find(|row| row.begun.run == broke.run) else {
        story.notes.push("Nothing ran, so no phone was shown anything.".to_owned());
        return Ok(Some(story));
    };
    story.fight = Some(row.begun.fight.clone());
    let events = reader.events(EventFilter { run: Some(row.begun.run), kind: None })?;
    let Some(at) = events.iter().find(|it| it.seq == event) else { return Ok(Some(story)) };
    let run = run_of(reader, house, &row)?;
    if run.is_none() {
        story.notes.push(
            "The score of this run cannot be read with today's vocabulary, so cues are told by their numbers."
                .to_owned(),
        );
    }
    let moment = Moment { at, events: &events, run: run.as_ref() };
    story.phones = phones(reader, &row, &moment)?;
    if story.phones.iter().all(|phone| phone.cue.is_none()) {
        story.notes.push("No phone reported a cue of this run before it.".to_owned());
    }
    Ok(Some(story))
}

/// The run as it was planned, so that a cue's number is a place again.
fn run_of(reader: &Reader, house: &House, row: &RunRow) -> Result<Option<Run>, JournalError> {
    let Some(text) = reader.revisions()?.into_iter().find(|text| text.sha256 == row.begun.revision) else {
        return Ok(None);
    };
    let Some(score) = read(&text.text, "the journal", &house.vocabulary).score else { return Ok(None) };
    let Some(range) = PhraseRange::new(&score, row.begun.from_phrase as usize, row.begun.to_phrase as usize) else {
        return Ok(None);
    };
    let setup = Setup {
        range,
        begin: row.begun.from_move.map(|number| Begin { number, stands: Vec::new() }),
        // Cues have the same numbers at every speed.
        speed: row.begun.percent.and_then(Speed::percent).unwrap_or(Speed::FULL),
        count_in: row.begun.count_in,
        drive: if row.begun.percent.is_some() { Drive::Clock } else { Drive::Step },
        fight: Arc::new(Fight {
            vocabulary: house.vocabulary.texts.clone(),
            weapons: row.begun.weapons.clone(),
            ..Fight::unchecked(score, text.sha256, text.text)
        }),
    };
    Ok(Some(Run::new(row.begun.run, setup)))
}

/// The moment of a hold or stop.
struct Moment<'e> {
    at: &'e EventRow,
    /// The events of its run.
    events: &'e [EventRow],
    run: Option<&'e Run>,
}

fn phones(reader: &Reader, row: &RunRow, moment: &Moment<'_>) -> Result<Vec<Phone>, JournalError> {
    let names: BTreeMap<u32, String> =
        reader.members()?.into_iter().map(|member| (member.member, member.name)).collect();
    let mut reports: BTreeMap<u32, Vec<Report>> = BTreeMap::new();
    for report in reader.reports(Some(row.begun.run))? {
        reports.entry(report.member).or_default().push(report);
    }
    let cast = row.begun.cast.as_slice();
    let of_cast: BTreeSet<u32> = cast.iter().filter_map(|it| it.member).collect();
    let mut phones: Vec<Phone> = Vec::new();
    for it in cast {
        let own = it.member.and_then(|member| reports.get(&member)).map_or(&[][..], Vec::as_slice);
        phones.push(moment.phone(it.person.clone(), Some(it.part.clone()), it.member, own));
    }
    for (member, own) in reports.iter().filter(|(member, _)| !of_cast.contains(member)) {
        let who = names.get(member).cloned().unwrap_or_else(|| format!("member {member}"));
        phones.push(moment.phone(who, None, Some(*member), own));
    }
    Ok(phones)
}

impl Moment<'_> {
    fn phone(&self, who: String, part: Option<String>, member: Option<u32>, reports: &[Report]) -> Phone {
        let ms = |us: i64| us as f64 / 1e3;
        let late = |report: &Report| ms(report.fired_us.saturating_sub(report.due_us));
        let mut all: Vec<f64> = reports.iter().map(late).collect();
        all.sort_by(f64::total_cmp);
        let before = reports.iter().filter(|report| report.fired_us <= self.at.event.at.0);
        let last = before.max_by_key(|report| (report.fired_us, report.cue));
        Phone {
            who,
            part,
            cue: last.map(|report| report.cue),
            shown: last.and_then(|report| self.place(report.cue)),
            before_ms: last.map(|report| ms(self.at.event.at.0.saturating_sub(report.fired_us))),
            late_ms: last.map(late),
            late_median_ms: quantile(&all, 0.5),
            bound_ms: last.and_then(|report| report.bound_us).map(ms),
            linked: member.is_none_or(|member| self.was_linked(member)),
            lately: self.lately(reports),
        }
    }

    /// What of these reports was shown in the seconds before.
    fn lately(&self, reports: &[Report]) -> Vec<Shown> {
        let ms = |us: i64| us as f64 / 1e3;
        let shown = |report: &Report| Shown {
            cue: report.cue,
            before_ms: ms(self.at.event.at.0.saturating_sub(report.fired_us)),
            late_ms: ms(report.fired_us.saturating_sub(report.due_us)),
            shown: self.place(report.cue),
        };
        let mut lately: Vec<Shown> =
            reports.iter().map(shown).filter(|it| (0.0..=LATELY_MS).contains(&it.before_ms)).collect();
        lately.sort_by(|a, b| b.before_ms.total_cmp(&a.before_ms));
        lately
    }

    /// A cue's place, as the journal tells places.
    fn place(&self, cue: u32) -> Option<String> {
        let spot = self.run?.spot(cue as usize)?;
        let words = spot.words.map_or_else(String::new, |words| format!(": {words}"));
        Some(format!("{}, beat {}{words}", spot.phrase_name, spot.beat))
    }

    /// True unless the last that the run heard of this member's link before was its loss.
    fn was_linked(&self, member: u32) -> bool {
        let before = self.events.iter().take_while(|row| row.seq < self.at.seq);
        let own = before.filter(|row| row.event.member() == Some(member));
        let links = own.filter(|row| matches!(row.event.what, What::LinkLost | What::LinkBack));
        links.last().is_none_or(|row| !matches!(row.event.what, What::LinkLost))
    }
}
