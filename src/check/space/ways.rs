//! Ways: nobody goes off the stage, through a wall, into a seat or up a level where there are no steps; by a walk, or by the
//! footwork of a move that the score writes no mark for.

use super::marks::{unstandable, what_ends};
use super::{Space, told};
use crate::score::problem::{Problem, Severity};
use crate::stage::{Cause, Layout, Leg, Vec2};

/// The highest step without steps, metres: a riser is 0.18 m at the most in many codes (from memory), and a little more.
const STEP_UP: f64 = 0.2;
/// How near to steps somebody has to be for them to be used, metres. Assumption.
const AT_STEPS: f64 = 0.3;

/// P801 … P803 for the ends of walks. F702: off the stage on the way. F703: through a wall. F704: up or down a level.
pub(super) fn find(space: &Space<'_, '_>) -> Vec<Problem> {
    let mut problems = Vec::new();
    for (person, track) in space.tracks.people.iter().enumerate() {
        for leg in &track.legs {
            problems.extend(of_leg(space, person, leg));
        }
    }
    problems
}

fn of_leg(space: &Space<'_, '_>, person: usize, leg: &Leg) -> Option<Problem> {
    if matches!(leg.cause, Cause::Mark(_)) {
        return None;
    }
    let (span, used, phrase) = space.line(leg.cause)?;
    let layout = space.tracks.layout_of_phrase(phrase)?;
    if let Some(what) = what_ends(leg.cause)
        && let Some(problem) = unstandable(space, layout, (person, leg.to()), what, span)
    {
        return Some(told(problem, used));
    }
    let (at, wrong) = along(layout, &leg.way.corners())?;
    let severity = if matches!(leg.cause, Cause::Walk(_)) { Severity::Error } else { Severity::Warning };
    let (doing, near) = (space.doing(person, leg.cause), space.mark(at));
    let (code, message, help) = match wrong {
        Wrong::Off => ("F702", format!("{doing} leaves the playing area near {near}"), "go round, or begin farther in"),
        Wrong::Seats(name) => ("F702", format!("{doing} goes into the seats “{name}” near {near}"), "go round"),
        Wrong::Piece(name) => (
            "F703",
            format!("{doing} goes through “{name}” near {near}"),
            "go round it: two walks with a mark between them",
        ),
        Wrong::Level(height) => (
            "F704",
            format!("{doing} goes {} up or down near {near}, where there are no steps", space.far(height)),
            "go by the steps, or draw them where they are",
        ),
    };
    Some(told(Problem::new(severity, code, span.clone(), message).help(help), used))
}

/// What is wrong somewhere along a way.
enum Wrong<'l> {
    Off,
    Seats(&'l str),
    Piece(&'l str),
    Level(f64),
}

/// The first place along a way where something is wrong. A way is cut where it crosses an outline; between two cuts it is in the
/// same outlines throughout, so that the middle speaks for the piece.
fn along<'l>(layout: &'l Layout, corners: &[Vec2]) -> Option<(Vec2, Wrong<'l>)> {
    let mut before: Option<f64> = None;
    for (from, to) in corners.iter().copied().zip(corners.iter().copied().skip(1)) {
        let mut cuts = vec![0.0, 1.0];
        let open = std::iter::once(&layout.area);
        let named = layout.doors.iter().chain(&layout.wings).map(|it| &it.outline);
        let raised = layout.pieces.iter().chain(&layout.levels).map(|it| &it.outline);
        let seats = layout.seats.iter().map(|it| &it.outline);
        for outline in open.chain(named).chain(raised).chain(seats) {
            if outline.distance_at_least(from) <= from.distance(to) {
                cuts.extend(outline.crossings(from, to));
            }
        }
        cuts.sort_by(f64::total_cmp);
        for (one, other) in
            cuts.iter().copied().zip(cuts.iter().copied().skip(1)).filter(|(one, other)| other - one > 1e-9)
        {
            let at = from.toward(to, (one + other) / 2.0);
            if let Some(seats) = layout.seats_at(at) {
                return Some((at, Wrong::Seats(&seats.name)));
            }
            if let Some(piece) = layout.piece_at(at) {
                return Some((at, Wrong::Piece(&piece.name)));
            }
            if !layout.is_open(at) {
                return Some((at, Wrong::Off));
            }
            let edge = from.toward(to, one);
            let (floor, steps) =
                (layout.floor(at), layout.steps.iter().any(|it| it.outline.distance(edge) <= AT_STEPS));
            if let Some(last) = before
                && (floor - last).abs() > STEP_UP
                && !steps
            {
                return Some((edge, Wrong::Level((floor - last).abs())));
            }
            before = Some(floor);
        }
    }
    None
}
