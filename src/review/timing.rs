//! What members' devices told of themselves: how late cues were shown, how well their clock was known, how often their
//! link was lost; so that the network is blamed when it is guilty, and not otherwise.

use std::collections::{BTreeMap, BTreeSet, HashMap};

use serde::Serialize;

use super::estimate::quantile;
use super::history::History;
use crate::clock;
use crate::event::What;
use crate::journal::{JournalError, Report};

/// So many of the newest runs are looked at: what a network did last month says little of tonight.
const NEWEST_RUNS: usize = 50;
/// Later than this is late. Ensembles keep together up to some 50 ms of delay between their members (Schuett, Stanford
/// 2002; Chafe, Gurevich, Leslie, Tyan, ISMA 2004); a planning value, no promise.
pub const LATE_MS: f64 = 50.0;
/// Links that are lost this close together were probably lost for one reason.
const TOGETHER_US: i64 = 2_000_000;

/// Timing, phone by phone.
#[derive(Clone, Debug, Default, PartialEq, Serialize)]
pub struct Timing {
    /// How many runs were looked at: the newest.
    pub runs: usize,
    /// Members, in order of their number.
    pub members: Vec<MemberTiming>,
    /// How often two or more members lost their links within two seconds.
    pub lost_together: u64,
    /// What that means.
    pub says: String,
}

/// A member's phone.
#[derive(Clone, Debug, PartialEq, Serialize)]
pub struct MemberTiming {
    /// Their number.
    pub member: u32,
    /// Their name.
    pub who: String,
    /// Cues that it reported on.
    pub reports: u64,
    /// The middle lateness, milliseconds; negative is early.
    pub late_median_ms: Option<f64>,
    /// One in twenty is later than this.
    pub late_p95_ms: Option<f64>,
    /// The latest.
    pub late_worst_ms: Option<f64>,
    /// Half of the time its clock was known to within this, milliseconds.
    pub bound_median_ms: Option<f64>,
    /// One time in twenty it was known worse than this.
    pub bound_p95_ms: Option<f64>,
    /// How often its link was lost.
    pub links_lost: u64,
    /// What that means, in a sentence.
    pub says: String,
}

#[derive(Default)]
struct Gathered {
    late: Vec<f64>,
    bounds: Vec<f64>,
    lost: u64,
}

/// Timing over the newest of these runs, and the lost links of the events that `wanted` wants.
///
/// # Errors
/// Those of the journal.
pub(super) fn timing(
    reports: impl Fn(u32) -> Result<Vec<Report>, JournalError>,
    history: &History,
    runs: &BTreeSet<u32>,
    wanted: impl Fn(usize) -> bool,
) -> Result<Timing, JournalError> {
    let newest: Vec<u32> = runs.iter().rev().take(NEWEST_RUNS).copied().collect();
    let mut gathered: BTreeMap<u32, Gathered> = BTreeMap::new();
    for run in &newest {
        for report in reports(*run)? {
            let own = gathered.entry(report.member).or_default();
            own.late.push(report.fired_us.saturating_sub(report.due_us) as f64 / 1e3);
            own.bounds.extend(report.bound_us.map(|bound| bound as f64 / 1e3));
        }
    }
    let lost = history.events.iter().enumerate();
    let lost = lost.filter(|(at, row)| matches!(row.event.what, What::LinkLost) && wanted(*at));
    let lost: Vec<(u32, i64, i64)> =
        lost.filter_map(|(_, row)| Some((row.event.member()?, row.session, row.event.at.0))).collect();
    for (member, ..) in &lost {
        gathered.entry(*member).or_default().lost += 1;
    }
    let names: HashMap<u32, &str> = history.members.iter().map(|it| (it.member, it.name.as_str())).collect();
    let lost_together = together(&lost);
    let says = match lost_together {
        0 => "No two phones lost their links together.".to_owned(),
        times => format!("Links of several phones were lost together {times} times: look at the network first."),
    };
    let row = |(member, it): (u32, Gathered)| {
        let who = names.get(&member).map_or_else(|| format!("member {member}"), |name| (*name).to_owned());
        it.timing(member, who)
    };
    Ok(Timing { runs: newest.len(), members: gathered.into_iter().map(row).collect(), lost_together, says })
}

/// How often links of different members were lost close together.
fn together(lost: &[(u32, i64, i64)]) -> u64 {
    let mut times = 0;
    let mut at = 0;
    while let Some((_, session, first)) = lost.get(at) {
        let group: Vec<_> = lost
            .iter()
            .skip(at)
            .take_while(|(_, other, us)| other == session && (0..=TOGETHER_US).contains(&us.saturating_sub(*first)))
            .collect();
        let members: BTreeSet<u32> = group.iter().map(|(member, ..)| *member).collect();
        times += u64::from(members.len() > 1);
        at += group.len().max(1);
    }
    times
}

impl Gathered {
    fn timing(mut self, member: u32, who: String) -> MemberTiming {
        self.late.sort_by(f64::total_cmp);
        self.bounds.sort_by(f64::total_cmp);
        let (late, bound) = (quantile(&self.late, 0.95), quantile(&self.bounds, 0.95));
        MemberTiming {
            member,
            who,
            reports: self.late.len() as u64,
            late_median_ms: quantile(&self.late, 0.5),
            late_p95_ms: late,
            late_worst_ms: self.late.last().copied(),
            bound_median_ms: quantile(&self.bounds, 0.5),
            bound_p95_ms: bound,
            links_lost: self.lost,
            says: says(late, bound, self.lost),
        }
    }
}

/// Whose fault it looks like. A clock that is known badly is the network's doing; cues that are late by a clock that is
/// known well are the phone's own.
fn says(late: Option<f64>, bound: Option<f64>, lost: u64) -> String {
    let good_enough = clock::GOOD_ENOUGH.0 as f64 / 1_000.0;
    let mut says = Vec::new();
    if lost > 0 {
        says.push(format!(
            "Its link was lost {}.",
            if lost == 1 { "once".to_owned() } else { format!("{lost} times") }
        ));
    }
    match bound {
        Some(bound) if bound > good_enough => says.push(format!(
            "Its clock was at times known only to within {bound:.0} ms: the network is slow or uneven for it."
        )),
        _ => {}
    }
    match late {
        None => says.push("It reported no cue.".to_owned()),
        Some(late) if late > LATE_MS && bound.is_some_and(|bound| bound <= good_enough) => {
            says.push(format!("One cue in twenty came more than {late:.0} ms late by a clock that was known well: the phone itself is slow."));
        }
        Some(late) if late > LATE_MS => says.push(format!("One cue in twenty came more than {late:.0} ms late.")),
        Some(_) => {}
    }
    if says.is_empty() { "On time.".to_owned() } else { says.join(" ") }
}
