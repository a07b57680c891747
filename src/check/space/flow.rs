//! Flow: nobody walks faster than people do, nobody appears metres from where they were, and whoever strikes, or has to meet
//! a blow, has had the time to turn and look.

use super::{Space, told};
use crate::score::model::Facing;
use crate::score::problem::{Problem, Severity};
use crate::stage::{Blow, Cause, Leg, Seam, Vec2};
use crate::timeline::PlannedPlace;
use crate::units::{TICKS_PER_BEAT, Ticks};

/// Speeds of walking, metres a second: means by sex and decade, 20 to 79 years (Bohannon, Age and Ageing 1997;26:15-19).
/// Nobody's comfortable mean is above the first; the slowest group's fastest mean is the second, the fastest group's the
/// third. Planning values: whoever walks on a stage carries a weapon and an intention.
const COMFORTABLE: f64 = 1.462;
const HURRIED: f64 = 1.749;
const FASTEST: f64 = 2.533;
/// So far from where they were somebody may begin without a word, metres: a step. Assumption.
const A_STEP: f64 = 0.5;
/// How long it takes to turn about, seconds: the row `turn` of the vocabulary.
const TURN: f64 = 0.5;
/// Whoever is turned away further than this from the partner does not see them, degrees. Assumption.
const TURNED_AWAY: f64 = 100.0;

/// F701: too fast. F705: appears elsewhere. F706: turned away.
pub(super) fn find(space: &Space<'_, '_>) -> Vec<Problem> {
    let mut problems = Vec::new();
    for (person, track) in space.tracks.people.iter().enumerate() {
        problems.extend(track.legs.iter().filter_map(|leg| too_fast(space, person, leg)));
    }
    problems.extend(space.tracks.seams.iter().filter_map(|seam| appears(space, seam)));
    problems.extend(turned_away(space));
    problems
}

fn too_fast(space: &Space<'_, '_>, person: usize, leg: &Leg) -> Option<Problem> {
    let Cause::Walk(index) = leg.cause else { return None };
    let walk = space.scene.plan.walks().get(index)?;
    let (long, time) = (leg.way.length(), leg.end - leg.begin);
    let speed = long / time.max(1e-9);
    if speed <= HURRIED || long < A_STEP {
        return None;
    }
    let (who, fast) = (space.name(person), said(space, speed));
    let (severity, than) = if speed > FASTEST {
        (Severity::Error, format!("faster than people walk at their fastest ({})", said(space, FASTEST)))
    } else {
        (Severity::Warning, format!("hurried: {} is a comfortable walk", said(space, COMFORTABLE)))
    };
    let message = format!("{who} walks {} in {time:.1} s, {fast}: {than}", space.far(long));
    let plan = &space.scene.plan;
    let start = plan.phrases().get(walk.phrase_in_range).map_or(Ticks::ZERO, |phrase| phrase.at);
    let ticks = plan.tempo().exact_ticks_at((leg.begin + long / COMFORTABLE) * 1e6) - start.0 as f64;
    let half = TICKS_PER_BEAT / 2;
    let by = Ticks((ticks / half as f64).ceil() as i64 * half).beat_label();
    let shorter = space.more(long - time * COMFORTABLE);
    let help = format!("let it end by {by}, or make it {shorter} shorter");
    let help = if walk.used.is_some() { format!("make it {shorter} shorter, or give it more beats") } else { help };
    Some(told(Problem::new(severity, "F701", walk.span.clone(), message).help(help), walk.used.as_ref()))
}

fn said(space: &Space<'_, '_>, speed: f64) -> String {
    format!("{} a second", space.far(speed))
}

fn appears(space: &Space<'_, '_>, seam: &Seam) -> Option<Problem> {
    let place = space.scene.plan.places().get(seam.place)?;
    let apart = seam.from.distance(seam.to);
    let gap = apart - seam.slack;
    if gap <= A_STEP {
        return None;
    }
    let free = (seam.free.1 - seam.free.0).max(0.0);
    let severity = match gap {
        _ if gap <= free * COMFORTABLE => Severity::Advice,
        _ if gap <= free * FASTEST => Severity::Warning,
        _ => Severity::Error,
    };
    let (who, from) = (space.name(seam.person), space.mark(seam.from));
    let time = if severity == Severity::Error { "no time".to_owned() } else { format!("{free:.1} s") };
    let message = format!(
        "{who} was at {from} and begins here {} away, with {time} to get there and no walk that says how",
        space.far(apart)
    );
    let help = format!(
        "end the phrase before with `{who} walk {} by …`, or begin where they are: `place {who} {from}`",
        space.mark(seam.to)
    );
    Some(Problem::new(severity, "F705", place.span.clone(), message).help(help))
}

/// Whoever is turned away by their own mark from whom they strike at once, or whose blow they have to meet at once.
fn turned_away(space: &Space<'_, '_>) -> Vec<Problem> {
    let mut problems = Vec::new();
    let mut begun = std::collections::HashSet::new();
    for blow in &space.tracks.blows {
        let Some(planned) = space.planned(blow.of_move) else { continue };
        let met = space.scene.rows_of(blow.of_move).reply.is_some_and(|row| row.kind.is_met());
        let strikes = begun.insert((planned.phrase_in_range, blow.own));
        let meets = met && begun.insert((planned.phrase_in_range, blow.partner));
        problems.extend(Some((blow.own, blow.at)).filter(|_| strikes).and_then(|it| turned(space, blow, it)));
        let other = Some((blow.partner, (blow.at.1, blow.at.0))).filter(|_| meets);
        problems.extend(other.and_then(|it| turned(space, blow, it)));
    }
    problems
}

/// One of the two of a blow, who stands at the first place and is to look at the second.
fn turned(space: &Space<'_, '_>, blow: &Blow, (person, at): (usize, (Vec2, Vec2))) -> Option<Problem> {
    let planned = space.planned(blow.of_move)?;
    let place = mark_of(space, person, planned.phrase_in_range)?;
    let looks = match place.facing? {
        Facing::Degrees(degrees) => degrees,
        Facing::Person(other) => {
            let other = space.tracks.people.get(space.tracks.place_of(other)).and_then(|it| it.at(blow.time))?;
            (other - at.0).unit().filter(|_| other.distance(at.0) > 0.1)?.bearing()
        }
    };
    let least = space.scene.rows_of(blow.of_move).action.map_or(0.0, |row| row.least.0 as f64 / 1e6);
    let since = blow.time - space.span_of(planned.phrase_in_range).0;
    let turn = (((at.1 - at.0).bearing() - looks + 180.0).rem_euclid(360.0) - 180.0).abs();
    if turn <= TURNED_AWAY || since >= TURN + least {
        return None;
    }
    let (who, own) = (space.name(person), person == blow.own);
    let other = space.name(if own { blow.partner } else { blow.own });
    let away = format!("{who} is turned away from {other}, {turn:.0} degrees, and");
    let message = if own {
        format!("{away} strikes {since:.1} s later: there is no time to turn and look")
    } else {
        format!("{away} has to meet {other}'s {} {since:.1} s later: nobody meets what they do not see", planned.action)
    };
    let help = format!("let {who} face {other}, or begin the blow {:.1} s later", TURN + least - since);
    let problem = Problem::warning("F706", planned.span.clone(), message).help(help);
    Some(told(problem.related(place.span.clone(), "the mark"), planned.used.as_ref()))
}

/// Somebody's own mark in a phrase.
fn mark_of<'s>(space: &'s Space<'_, '_>, person: usize, phrase: usize) -> Option<&'s PlannedPlace> {
    let places = space.scene.plan.places();
    let first = places.partition_point(|place| place.phrase_in_range < phrase);
    let mut own_phrase = places.iter().skip(first).take_while(|it| it.phrase_in_range == phrase);
    own_phrase.find(|place| space.tracks.place_of(place.who) == person)
}
