//! Falls: whoever comes to lie takes up as much floor as they are tall, whichever way they fall. Nobody else is in it, no wall
//! or furniture, and no edge.

use super::{Space, told};
use crate::score::problem::{Problem, Severity};
use crate::stage::nearest::point_to_segment;
use crate::stage::{BODY_RADIUS, Edge, Fall, Pose, Vec2};

use super::edges::A_STAIR;

/// C607: on somebody. C608: against something. P807: over an edge.
pub(super) fn find(space: &Space<'_, '_>) -> Vec<Problem> {
    let all = |fall: &Fall| [on_somebody(space, fall), against(space, fall), over_an_edge(space, fall)];
    space.tracks.falls.iter().flat_map(all).flatten().collect()
}

/// How far from the middle of somebody who lies their body reaches, metres.
fn long(space: &Space<'_, '_>, fall: &Fall) -> Option<f64> {
    Some(space.tracks.people.get(fall.person)?.build.room(Pose::Lying).radius)
}

/// What falls, where, and what is said of it.
fn told_of(
    space: &Space<'_, '_>,
    fall: &Fall,
    (severity, code): (Severity, &'static str),
    (near, off): (String, Vec2),
) -> Option<Problem> {
    let planned = space.planned(fall.of_move)?;
    let who = space.name(fall.person);
    let message = format!("{who} comes to lie at beat {}, {near}", planned.beat.beat_label());
    let help = format!("let {who} fall {} from there, at {}", space.way(off), space.mark(fall.at + off));
    Some(told(Problem::new(severity, code, planned.span.clone(), message).help(help), planned.used.as_ref()))
}

fn on_somebody(space: &Space<'_, '_>, fall: &Fall) -> Option<Problem> {
    let needs = long(space, fall)? + BODY_RADIUS;
    let others = space.tracks.people.iter().enumerate();
    let others = others.filter(|(person, _)| *person != fall.person && !knows(space, fall, *person));
    let there = others.filter_map(|(person, track)| {
        let at = track.at(fall.time).filter(|_| track.pose(fall.time) != Pose::Lying)?;
        Some((person, at, at.distance(fall.at)))
    });
    let (person, at, far) = there.min_by(|one, other| one.2.total_cmp(&other.2)).filter(|it| it.2 < needs)?;
    let severity = if space.is_bystander(person) { Severity::Error } else { Severity::Warning };
    let near = format!(
        "{} from {}: a body reaches {} from its middle, whichever way it falls",
        space.far(far),
        space.name(person),
        space.far(needs)
    );
    let off = (fall.at - at).unit().unwrap_or(Vec2::along(0.0)) * (needs - far + 0.01);
    told_of(space, fall, (severity, "C607"), (near, off))
}

/// True for the other of the move, and for whoever fought them before it in the same phrase: they see them fall.
fn knows(space: &Space<'_, '_>, fall: &Fall, person: usize) -> bool {
    let phrase = |index: usize| space.planned(index).map(|it| it.phrase_in_range);
    let two = |one: usize, other: usize| (one, other) == (fall.person, person) || (other, one) == (fall.person, person);
    let before = space.tracks.blows.iter().take_while(|blow| blow.time <= fall.time);
    let mut in_phrase = before.filter(|blow| phrase(blow.of_move) == phrase(fall.of_move));
    fall.with == Some(person) || in_phrase.any(|blow| two(blow.own, blow.partner))
}

fn against(space: &Space<'_, '_>, fall: &Fall) -> Option<Problem> {
    let (needs, layout) = (long(space, fall)?, space.tracks.layout(fall.time)?);
    let pieces = layout.pieces.iter().map(|piece| (piece, piece.outline.distance(fall.at)));
    let (piece, far) = pieces.min_by(|one, other| one.1.total_cmp(&other.1)).filter(|it| it.1 < needs)?;
    let near = format!(
        "{} from “{}”: a body reaches {} from its middle, and a head is at one end of it",
        space.far(far),
        piece.name,
        space.far(needs)
    );
    let away = (fall.at - piece.outline.nearest_on_rim(fall.at)).unit().unwrap_or(Vec2::along(0.0));
    told_of(space, fall, (Severity::Warning, "C608"), (near, away * (needs - far + 0.01)))
}

fn over_an_edge(space: &Space<'_, '_>, fall: &Fall) -> Option<Problem> {
    let (long, layout) = (long(space, fall)?, space.tracks.layout(fall.time)?);
    let least = space.stage.least.edge;
    let edges = layout.edges.iter().filter(|edge| edge.drop > A_STAIR);
    let edges = edges.map(|edge: &Edge| (edge, point_to_segment(fall.at, edge.from, edge.to)));
    let (edge, far) = edges.min_by(|one, other| one.1.total_cmp(&other.1)).filter(|it| it.1 < long + least)?;
    let severity = if far < long { Severity::Error } else { Severity::Warning };
    let near = format!(
        "{} from the edge “{}”, {} deep: a body reaches {} from its middle, and {} is the least beside it",
        space.far(far),
        edge.name,
        space.far(edge.drop),
        space.far(long),
        space.far(least)
    );
    let away = super::edges::away_from(edge, fall.at);
    told_of(space, fall, (severity, "P807"), (near, away * (long + least - far + 0.01)))
}
