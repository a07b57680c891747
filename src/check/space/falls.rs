//! Falls: whoever comes to lie takes up as much floor as they are tall: around where they stood, whichever way they fall, and
//! where another sends them down, away from that one by their whole length. Nobody else is in it, no wall or furniture, and no
//! edge.

use super::edges::A_STAIR;
use super::{Space, told};
use crate::score::problem::{Problem, Severity};
use crate::stage::nearest::segment_to_segment;
use crate::stage::{BODY_RADIUS, Fall, Pose, Vec2};

/// A fall is told to be farther off by this at the most, metres.
const FARTHEST: u32 = 30;

/// C607: on somebody. C608: against something. P807: over an edge.
pub(super) fn find(space: &Space<'_, '_>) -> Vec<Problem> {
    let all = |fall: &Fall| {
        let down = Down::of(space, fall)?;
        Some([on_somebody(space, fall, down), against(space, fall, down), over_an_edge(space, fall, down)])
    };
    space.tracks.falls.iter().filter_map(all).flatten().flatten().collect()
}

/// The floor that a body takes up that falls.
#[derive(Clone, Copy)]
struct Down {
    /// From where it stood to where its head comes to lie; where nothing says which way, the same place twice.
    along: (Vec2, Vec2),
    /// How far around where it stood, metres: half its length.
    around: f64,
}

impl Down {
    fn of(space: &Space<'_, '_>, fall: &Fall) -> Option<Down> {
        let around = space.tracks.people.get(fall.person)?.build.room(Pose::Lying).radius;
        let sent = fall.with.filter(|other| space.planned(fall.of_move).is_some_and(|it| it.who.0 == *other));
        let from = sent.and_then(|other| space.tracks.people.get(other)?.at(fall.time));
        let way = from.and_then(|from| (fall.at - from).unit()).unwrap_or_default();
        Some(Down { along: (fall.at, fall.at + way * (2.0 * around)), around })
    }

    /// How far something is from it, metres, that is so far from a way over the floor; less than nothing within it.
    fn gap(self, distance: impl Fn((Vec2, Vec2)) -> f64) -> f64 {
        (distance((self.along.0, self.along.0)) - self.around).min(distance(self.along))
    }

    fn shifted(self, off: Vec2) -> Down {
        Down { along: (self.along.0 + off, self.along.1 + off), ..self }
    }
}

/// Whom or what it comes too near to.
struct TooNear<'n> {
    severity: Severity,
    code: &'static str,
    /// `PELL`, `“table”`, `the edge “front”, 1.0 m deep`.
    what: &'n str,
    /// How far that is from where the body stood.
    far: f64,
    /// How far it is to be from the floor that the body takes up.
    least: f64,
}

fn tell(
    space: &Space<'_, '_>,
    fall: &Fall,
    down: Down,
    near: &TooNear<'_>,
    distance: impl Fn((Vec2, Vec2)) -> f64,
) -> Option<Problem> {
    let planned = space.planned(fall.of_move)?;
    let (who, beat, far) = (space.name(fall.person), planned.beat.beat_label(), space.far(near.far));
    let sent = down.along.0 != down.along.1;
    let how = if sent { "is sent down" } else { "comes to lie" };
    let long = space.far(2.0 * down.around);
    let message = format!("{who} {how} at beat {beat}, {far} from {}: a body that falls is {long} long", near.what);
    let layout = space.tracks.layout(fall.time)?;
    let bearings: Vec<Vec2> = (0..16).map(|step| Vec2::along(f64::from(step) * 22.5)).collect();
    let clear = |off: &Vec2| layout.is_open(fall.at + *off) && down.shifted(*off).gap(&distance) >= near.least;
    let far_enough =
        (1..=FARTHEST).find_map(|tenths| bearings.iter().map(|way| *way * (f64::from(tenths) / 10.0)).find(clear));
    let help = match far_enough {
        Some(off) => format!("let {who} fall {} from there, at {}", space.way(off), space.mark(fall.at + off)),
        None => format!("let {who} fall elsewhere"),
    };
    let problem = Problem::new(near.severity, near.code, planned.span.clone(), message).help(help);
    Some(told(problem, planned.used.as_ref()))
}

fn on_somebody(space: &Space<'_, '_>, fall: &Fall, down: Down) -> Option<Problem> {
    let others = space.tracks.people.iter().enumerate();
    let others = others.filter(|(person, _)| *person != fall.person && !knows(space, fall, *person));
    let distance = |at: Vec2| move |way| segment_to_segment(way, (at, at)) - BODY_RADIUS;
    let gaps = others.filter_map(|(person, track)| {
        let at = track.at(fall.time)?;
        Some((person, at, down.gap(distance(at))))
    });
    let (person, at, _) = gaps.min_by(|one, other| one.2.total_cmp(&other.2)).filter(|it| it.2 < 0.0)?;
    let severity = if space.is_bystander(person) { Severity::Error } else { Severity::Warning };
    let far = at.distance(fall.at);
    let near = TooNear { severity, code: "C607", what: space.name(person), far, least: 0.0 };
    tell(space, fall, down, &near, distance(at))
}

/// True for the other of the move, and for whoever fought them before it in the same phrase: they see them fall.
fn knows(space: &Space<'_, '_>, fall: &Fall, person: usize) -> bool {
    let phrase = |index: usize| space.planned(index).map(|it| it.phrase_in_range);
    let two = |one: usize, other: usize| (one, other) == (fall.person, person) || (other, one) == (fall.person, person);
    let before = space.tracks.blows.iter().take_while(|blow| blow.time <= fall.time);
    let mut in_phrase = before.filter(|blow| phrase(blow.of_move) == phrase(fall.of_move));
    fall.with == Some(person) || in_phrase.any(|blow| two(blow.own, blow.partner))
}

fn against(space: &Space<'_, '_>, fall: &Fall, down: Down) -> Option<Problem> {
    let layout = space.tracks.layout(fall.time)?;
    let gaps = layout.pieces.iter().map(|piece| (piece, down.gap(|way| piece.outline.distance_of(&[way.0, way.1]))));
    let (piece, _) = gaps.min_by(|one, other| one.1.total_cmp(&other.1)).filter(|it| it.1 <= 0.0)?;
    let (what, far) = (format!("“{}”", piece.name), piece.outline.distance(fall.at));
    let near = TooNear { severity: Severity::Warning, code: "C608", what: &what, far, least: 0.01 };
    tell(space, fall, down, &near, |way| piece.outline.distance_of(&[way.0, way.1]))
}

fn over_an_edge(space: &Space<'_, '_>, fall: &Fall, down: Down) -> Option<Problem> {
    let layout = space.tracks.layout(fall.time)?;
    let edges = layout.edges.iter().filter(|edge| edge.drop > A_STAIR);
    let gaps = edges.map(|edge| (edge, down.gap(|way| segment_to_segment(way, (edge.from, edge.to)))));
    let least = space.stage.least.edge;
    let (edge, gap) = gaps.min_by(|one, other| one.1.total_cmp(&other.1)).filter(|it| it.1 < least)?;
    let severity = if gap <= 0.0 { Severity::Error } else { Severity::Warning };
    let what = format!(
        "the edge “{}”, {} deep, from which {} is the least",
        edge.name,
        space.far(edge.drop),
        space.far(least)
    );
    let far = segment_to_segment((fall.at, fall.at), (edge.from, edge.to));
    let near = TooNear { severity, code: "P807", what: &what, far, least };
    tell(space, fall, down, &near, |way| segment_to_segment(way, (edge.from, edge.to)))
}
