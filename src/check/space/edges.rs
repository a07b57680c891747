//! Edges: nobody stands, walks or is sent too near to where it goes down.

use std::collections::BTreeMap;

use super::{Space, told};
use crate::score::problem::{Problem, Severity};
use crate::stage::nearest::{part_nearest, segment_to_segment};
use crate::stage::{Cause, Edge, Leg, Vec2};

/// Nobody is hurt who steps down this far, metres: a stair. Assumption.
pub(super) const A_STAIR: f64 = 0.2;

/// P806: too near to an edge, once for each person, edge and phrase, where it is nearest.
pub(super) fn find(space: &Space<'_, '_>) -> Vec<Problem> {
    let mut nearest: BTreeMap<(usize, usize, usize), (f64, &Leg)> = BTreeMap::new();
    for (person, track) in space.tracks.people.iter().enumerate() {
        for leg in &track.legs {
            let Some((_, _, phrase)) = space.line(leg.cause) else { continue };
            let Some(layout) = space.tracks.layout_of_phrase(phrase) else { continue };
            for (number, edge) in layout.edges.iter().enumerate().filter(|(_, edge)| edge.drop > A_STAIR) {
                let far = distance(leg, edge);
                let best = nearest.entry((person, phrase, number)).or_insert((far, leg));
                // What the score writes is said before what follows from it.
                if far < best.0 - 1e-6 {
                    *best = (far, leg);
                }
            }
        }
    }
    let least = space.stage.least.edge;
    let near = nearest.into_iter().filter(|(_, (far, _))| *far < least);
    near.filter_map(|((person, phrase, number), (far, leg))| {
        let edge = space.tracks.layout_of_phrase(phrase)?.edges.get(number)?;
        let (span, used, _) = space.line(leg.cause)?;
        let doing = space.doing(person, leg.cause);
        let deep = space.far(edge.drop);
        let over = far <= 0.0;
        let message = if over {
            format!("{doing} goes over the edge “{}”, {deep} deep", edge.name)
        } else {
            let (far, least) = (space.far(far), space.far(least));
            format!("{doing} comes within {far} of the edge “{}”, {deep} deep; {least} is the least", edge.name)
        };
        let away = away_from(edge, leg.to()) * (least - far + 0.01);
        let help = match leg.cause {
            Cause::Move(_) => format!("let them begin {} from here", space.way(away)),
            Cause::Mark(_) | Cause::Walk(_) => {
                format!("{} is far enough: {}", space.mark(leg.to() + away), space.way(away))
            }
        };
        let severity = if over { Severity::Error } else { Severity::Warning };
        Some(told(Problem::new(severity, "P806", span.clone(), message).help(help), used))
    })
    .collect()
}

fn distance(leg: &Leg, edge: &Edge) -> f64 {
    let corners = leg.way.corners();
    let pieces = corners.iter().copied().zip(corners.iter().copied().skip(1));
    let first = corners.first().map(|at| (*at, *at));
    let apart = pieces.chain(first).map(|piece| segment_to_segment(piece, (edge.from, edge.to)));
    apart.fold(f64::INFINITY, f64::min)
}

/// One metre away from an edge, from a place beside it.
fn away_from(edge: &Edge, at: Vec2) -> Vec2 {
    let on = edge.from.toward(edge.to, part_nearest(at, edge.from, edge.to));
    (at - on).unit().unwrap_or_else(|| {
        let along = edge.to - edge.from;
        Vec2::new(-along.y, along.x).unit().unwrap_or(Vec2::along(0.0))
    })
}
