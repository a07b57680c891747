//! Marks: on the playing area, not in a wall, not in a seat, no two people on one; and who has none.

use super::{Space, told};
use crate::score::model::{FighterId, Span};
use crate::score::problem::Problem;
use crate::stage::{Cause, FOOT, Layout, Vec2};

/// Two marks nearer than this are one mark, metres. Assumption: two bodies touch at half a metre.
const ONE_MARK: f64 = 0.3;

/// P801, P802, P803: where nobody can stand. P804: nobody knows where somebody stands. P805: two on one mark.
pub(super) fn find(space: &Space<'_, '_>) -> Vec<Problem> {
    let mut problems = Vec::new();
    let places = space.scene.plan.places();
    for place in places {
        let person = space.tracks.place_of(place.who);
        let Some(layout) = space.tracks.layout_of_phrase(place.phrase_in_range) else { continue };
        let at = Vec2::from(place.point);
        problems.extend(unstandable(space, layout, (person, at), "mark", &place.span));
        // Places stand in order of their phrases.
        let first = places.partition_point(|other| other.phrase_in_range < place.phrase_in_range);
        let own = places.iter().skip(first).take_while(|other| other.phrase_in_range == place.phrase_in_range);
        let beside = own.into_iter().find(|other| {
            other.span.start < place.span.start
                && other.who != place.who
                && Vec2::from(other.point).distance(at) < ONE_MARK
        });
        if let Some(other) = beside {
            let (one, two) = (space.scene.person(other.who), space.name(person));
            let apart = space.far(Vec2::from(other.point).distance(at));
            let message = format!("{one} and {two} stand on one mark, {apart} apart");
            let problem = Problem::warning("P805", place.span.clone(), message);
            problems.push(problem.help("two bodies need half a metre").related(other.span.clone(), "the other mark"));
        }
    }
    problems.extend(without(space));
    problems
}

/// What keeps somebody from standing there, and the nearest place where they could.
pub(super) fn unstandable(
    space: &Space<'_, '_>,
    layout: &Layout,
    (person, at): (usize, Vec2),
    what: &str,
    span: &Span,
) -> Option<Problem> {
    let who = space.name(person);
    if let Some(seats) = layout.seats_at(at) {
        let message = format!("{who}'s {what} {} is in the seats “{}”", space.mark(at), seats.name);
        return Some(Problem::error("P803", span.clone(), message).help(back(space, layout, at)));
    }
    if !layout.is_open(at) {
        let off = space.far(layout.area.rim(at));
        let message = format!("{who}'s {what} {} is {off} off the playing area", space.mark(at));
        let in_feet = layout.is_open(at * FOOT);
        let help = if space.stage.feet && in_feet {
            let mark = space.mark(at * FOOT);
            format!("scores count in metres: if that was meant in feet, write {mark}; {}", back(space, layout, at))
        } else {
            back(space, layout, at)
        };
        return Some(Problem::error("P801", span.clone(), message).help(help));
    }
    let piece = layout.piece_at(at)?;
    let message = format!("{who}'s {what} {} is in “{}”", space.mark(at), piece.name);
    let out = piece.outline.nearest_on_rim(at);
    let way = (out - at).unit().unwrap_or(Vec2::along(180.0));
    let clear = out + way * crate::stage::BODY_RADIUS;
    let help = format!("clear of it is {}, {} from there", space.mark(clear), space.way(clear - at));
    Some(Problem::error("P802", span.clone(), message).help(help))
}

/// The nearest place on the playing area, a body's breadth from its rim.
fn back(space: &Space<'_, '_>, layout: &Layout, at: Vec2) -> String {
    let rim = layout.area.nearest_on_rim(at);
    let inward = (rim - at).unit().map_or(rim, |way| rim + way * crate::stage::BODY_RADIUS);
    let inside = if layout.is_open(inward) { inward } else { rim };
    format!("the nearest mark on it is {}, {} from there", space.mark(inside), space.way(inside - at))
}

/// Fighters who have something to do and no mark.
fn without(space: &Space<'_, '_>) -> Option<Problem> {
    let plan = &space.scene.plan;
    let acts = |at: usize| plan.moves().iter().any(|it| it.involves(FighterId(at)));
    let fighters = space.scene.score.fighters.iter().enumerate();
    let missing: Vec<_> = fighters
        .filter(|(at, _)| acts(*at) && space.tracks.people.get(*at).is_some_and(|track| track.legs.is_empty()))
        .map(|(_, fighter)| fighter)
        .collect();
    let first = missing.first()?;
    let names: Vec<&str> = missing.iter().map(|fighter| fighter.name.as_str()).collect();
    let has = if names.len() == 1 { "has no mark" } else { "have no marks" };
    let message = format!("{} {has}: how near anything comes to them was not checked", names.join(", "));
    let help = format!("write where they begin into the first phrase: `place {} 0,2`", first.name);
    Some(told(Problem::advice("P804", first.span.clone(), message).help(help), None))
}

/// The place where a leg ends, as a mark is judged; moves that no line writes a mark for are judged by their way.
pub(super) fn what_ends(cause: Cause) -> Option<&'static str> {
    match cause {
        Cause::Walk(_) => Some("walk to"),
        Cause::Mark(_) | Cause::Move(_) => None,
    }
}
