//! Measure: at the moment of a blow the two are neither too far apart for it to be believed nor too near for it to be safe.

use std::collections::BTreeMap;

use super::{Space, told};
use crate::score::model::FighterId;
use crate::score::problem::Problem;
use crate::score::vocabulary::Makes;
use crate::stage::{Blow, Near};
use crate::timeline::PlannedMove;

/// The hundredth of a metre by which a figure may miss.
const HAIR: f64 = 0.01;

/// M501: out of distance. M502: no room for the weapon. M503: the point reaches a body that only gets out of the way. M504: a
/// bent arm reaches the body. M505: a hand that must not land does. Each once for two people in a phrase, at its first blow.
pub(super) fn find(space: &Space<'_, '_>) -> Vec<Problem> {
    let mut found: BTreeMap<(usize, usize, usize, &str), (Problem, usize)> = BTreeMap::new();
    for blow in &space.tracks.blows {
        let Some(planned) = space.planned(blow.of_move) else { continue };
        let Some(problem) = judge(space, blow) else { continue };
        let key = (planned.phrase_in_range, blow.own, blow.partner, problem.code);
        let problem = told(problem, planned.used.as_ref());
        found.entry(key).or_insert((problem, 0)).1 += 1;
    }
    found.into_values().map(|(problem, times)| more(problem, times - 1)).collect()
}

/// Says of how many more blows the same is true.
pub(super) fn more(mut problem: Problem, times: usize) -> Problem {
    if times > 0 {
        let blows = if times == 1 { "one more blow".to_owned() } else { format!("{times} more blows") };
        problem.message += &format!("; so do {blows} of this phrase");
    }
    problem
}

fn judge(space: &Space<'_, '_>, blow: &Blow) -> Option<Problem> {
    let planned = space.planned(blow.of_move)?;
    let layout = space.tracks.layout(blow.time)?;
    let (from, to) = blow.at;
    let rise = layout.floor(to) - layout.floor(from);
    let apart = blow.apart.hypot(rise);
    let (who, other) = (space.name(blow.own), space.name(blow.partner));
    let (doing, beat) = (format!("{who}'s {}", planned.action), planned.beat.beat_label());
    let needs = blow.needs;
    let toward = (from - to).unit()?;
    if apart > needs.farthest + blow.slack + HAIR {
        let height =
            if rise.abs() > 0.2 { format!(", {} of it in height", space.far(rise.abs())) } else { String::new() };
        let message = format!(
            "{doing} at beat {beat} comes from {} away{height}, and reaches {} with a step: {other} is out of distance",
            space.far(apart),
            space.far(needs.farthest)
        );
        let nearer = apart - needs.believed + HAIR;
        let help = format!(
            "bring them {} nearer before it: {other} at {}, or {who} at {}",
            space.more(nearer),
            space.mark(to + toward * nearer),
            space.mark(from - toward * nearer)
        );
        return Some(Problem::warning("M501", planned.span.clone(), message).help(help));
    }
    if apart + blow.slack >= needs.nearest - HAIR || (needs.why == Near::Lands && have_hold(space, blow)) {
        return None;
    }
    let back = needs.nearest - apart + HAIR;
    let (code, why) = match needs.why {
        Near::NoRoom => ("M502", format!("there is no room for the weapon under {}", space.far(needs.nearest))),
        Near::Reaches => (
            "M503",
            format!(
                "{other} only gets out of the way: under {} the point reaches whoever is late",
                space.far(needs.nearest)
            ),
        ),
        Near::BentArm => (
            "M504",
            format!("under {} even a bent arm reaches {other}, whatever the reply is", space.far(needs.nearest)),
        ),
        Near::Lands => {
            ("M505", format!("it must not land: under {} it does, with the arm held out", space.far(needs.nearest)))
        }
    };
    let message = format!("{doing} at beat {beat} is done from {} away, and {why}", space.far(apart));
    let help = format!("let {other} stand {} farther off, at {}", space.more(back), space.mark(to - toward * back));
    Some(Problem::warning(code, planned.span.clone(), message).help(help))
}

/// True where one of the two has hold of the other: whoever holds works at the body, and the hand goes by.
fn have_hold(space: &Space<'_, '_>, blow: &Blow) -> bool {
    let Some(planned) = space.planned(blow.of_move) else { return false };
    let two = [planned.who, FighterId(blow.partner)];
    let earlier = (0..blow.of_move).rev().map_while(|index| Some((index, space.planned(index)?)));
    let of_phrase = earlier.take_while(|(_, it)| it.phrase_in_range == planned.phrase_in_range);
    let between = of_phrase.filter(|(_, it)| two.contains(&it.who) && it.to.is_none_or(|to| two.contains(&to)));
    let hold = |(index, _): (usize, &PlannedMove)| {
        let rows = space.scene.rows_of(index);
        let makes = rows.action.iter().flat_map(|row| &row.makes).chain(rows.reply.iter().flat_map(|row| &row.makes));
        makes.fold(None, |hold, makes| match makes {
            Makes::Holds | Makes::Closes => Some(true),
            Makes::Releases | Makes::Frees | Makes::Parts => Some(false),
            _ => hold,
        })
    };
    between.into_iter().find_map(hold).unwrap_or(false)
}
