//! Clearance: for every instant of every blow, how near what it sweeps comes to whoever it is not meant for, to walls and
//! furniture, and to the audience, by a bound that no instant is below (`Swing`).

use std::collections::BTreeMap;

use super::measure::more;
use super::near::Near;
use super::{Space, told};
use crate::score::problem::{Problem, Severity};
use crate::stage::nearest::{Least, least_below};
use crate::stage::{EXACT, LeastDistances, Outline, Sweep, Swing, Track, Vec2};

/// No body takes up more room, metres: whoever lies, whichever way, and is as tall as may be written.
const MOST_RADIUS: f64 = 1.3;

/// Something that a blow comes too near to.
struct TooNear<'t> {
    swing: Swing<'t>,
    whom: Whom,
    /// How near, metres, and when.
    gap: f64,
    at: f64,
    /// How near it may come.
    allowed: f64,
}

/// What it is, by place among the tracks or in the layout.
#[derive(Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
enum Whom {
    Person(usize),
    Piece(usize),
    Seats(usize),
}

/// C601: a bystander. C602: another fighter. C603: a wall or furniture. C604: the seats. Each once for who strikes and what
/// is struck in a phrase, where it is nearest.
pub(super) fn find(space: &Space<'_, '_>, near: &Near) -> Vec<Problem> {
    let mut found: BTreeMap<(usize, usize, Whom), (TooNear<'_>, usize)> = BTreeMap::new();
    for (own, sweep) in &space.tracks.sweeps {
        let Some(planned) = space.planned(sweep.of_move) else { continue };
        let phrase = planned.phrase_in_range;
        let Some(swing) = Swing::of(space.tracks, planned, (*own, *sweep), space.span_of(phrase)) else { continue };
        for one in too_near(space, near, &swing, (phrase, space.stage.least)) {
            match found.get_mut(&(phrase, *own, one.whom)) {
                Some((least, times)) if least.gap <= one.gap + EXACT => *times += 1,
                Some(worse) => *worse = (one, worse.1 + 1),
                None => drop(found.insert((phrase, *own, one.whom), (one, 0))),
            }
        }
    }
    let told_of = |(one, times): (TooNear<'_>, usize)| {
        let problem = match one.whom {
            Whom::Person(person) => near_person(space, &one, person),
            Whom::Piece(_) | Whom::Seats(_) => near_thing(space, &one),
        };
        let used = space.planned(one.swing.sweep.of_move).and_then(|planned| planned.used.as_ref());
        Some(told(more(problem?, times), used))
    };
    found.into_values().filter_map(told_of).collect()
}

/// How near what a blow sweeps comes to something that it is not meant for.
#[derive(Clone, Debug, PartialEq)]
pub struct Approach {
    /// When it is nearest, seconds from the first beat.
    pub time: f64,
    /// How near, metres: no more than it is, and at most a centimetre less.
    pub gap: f64,
    /// The move, by its place in the plan.
    pub of_move: usize,
    /// To whom or what, by name.
    pub to: String,
    /// True for a block of seats.
    pub seats: bool,
}

/// To what each blow comes nearest of all that it is not meant for, where that is within `limit` metres; in order.
pub(super) fn approaches(space: &Space<'_, '_>, near: &Near, limit: f64) -> Vec<Approach> {
    let least = LeastDistances {
        bystander: limit,
        fighter: limit,
        audience: limit,
        piece: limit,
        edge: space.stage.least.edge,
    };
    let nearest = |(own, sweep): &(usize, Sweep)| {
        let planned = space.planned(sweep.of_move)?;
        let phrase = planned.phrase_in_range;
        let swing = Swing::of(space.tracks, planned, (*own, *sweep), space.span_of(phrase))?;
        let all = too_near(space, near, &swing, (phrase, least));
        let one = all.into_iter().min_by(|one, other| one.gap.total_cmp(&other.gap))?;
        let layout = space.tracks.layout_of_phrase(phrase);
        let to = match one.whom {
            Whom::Person(person) => space.name(person).to_owned(),
            Whom::Piece(piece) => layout?.pieces.get(piece)?.name.clone(),
            Whom::Seats(seats) => layout?.seats.get(seats)?.name.clone(),
        };
        let seats = matches!(one.whom, Whom::Seats(_));
        Some(Approach { time: one.at, gap: one.gap, of_move: sweep.of_move, to, seats })
    };
    space.tracks.sweeps.iter().filter_map(nearest).collect()
}

/// Everybody and everything for which a blow is not meant and to which it comes nearer than is allowed.
fn too_near<'t>(
    space: &Space<'_, '_>,
    near: &Near,
    swing: &Swing<'t>,
    (phrase, least): (usize, LeastDistances),
) -> Vec<TooNear<'t>> {
    people(space, near, swing, least).into_iter().chain(things(space, swing, (phrase, least))).collect()
}

/// People for whom it is not meant and who come too near.
fn people<'t>(space: &Space<'_, '_>, near: &Near, swing: &Swing<'t>, least: LeastDistances) -> Vec<TooNear<'t>> {
    let far = swing.sweep.radius + least.bystander.max(least.fighter) + MOST_RADIUS;
    let far = far + swing.rate * (swing.span.1 - swing.span.0);
    let (from, _) = swing.at(swing.sweep.beat);
    let there = near.within(&[from], far, swing.span).into_iter();
    let others = there.filter(|&it| it != swing.own && swing.partner.is_none_or(|(partner, _)| partner != it));
    others.filter_map(|person| one(space, swing, person, least)).collect()
}

fn one<'t>(space: &Space<'_, '_>, swing: &Swing<'t>, person: usize, least: LeastDistances) -> Option<TooNear<'t>> {
    let other = space.tracks.people.get(person)?;
    other.at(swing.span.0)?;
    let room = other.room(swing.span.0, swing.span.1);
    let allowed = if space.is_bystander(person) { least.bystander } else { least.fighter };
    let rise = swing.rise(space.tracks, other.at(swing.sweep.beat)?);
    if !swing.sweep.is_as_high_as(rise + room.low, rise + room.high) {
        return None;
    }
    let Least { value, at } = swing.comes_near(other, Vec2::default(), allowed + room.radius)?;
    Some(TooNear { swing: *swing, whom: Whom::Person(person), gap: (value - room.radius).max(0.0), at, allowed })
}

/// True when what a blow sweeps comes nearer to somebody than is allowed.
pub(super) fn reaches(space: &Space<'_, '_>, swing: &Swing<'_>, person: usize) -> bool {
    one(space, swing, person, space.stage.least).is_some()
}

fn near_person(space: &Space<'_, '_>, near: &TooNear<'_>, person: usize) -> Option<Problem> {
    let TooNear { swing, gap, at, allowed, .. } = near;
    let planned = space.planned(swing.sweep.of_move)?;
    let other = space.tracks.people.get(person)?;
    let (who, whom) = (space.name(swing.own), space.name(person));
    let bystander = space.is_bystander(person);
    let here = other.at(*at)?;
    let how =
        if *gap < EXACT { format!("reaches {whom}") } else { format!("comes within {} of {whom}", space.far(*gap)) };
    let whose = if bystander { "whoever stands by" } else { "a fighter it is not meant for" };
    let message = format!(
        "{who}'s {} at beat {} {how}, at {} then; {} is the least to {whose}",
        planned.action,
        planned.beat.beat_label(),
        space.mark(here),
        space.far(*allowed)
    );
    let help = match clear_of(space, near, (person, other)) {
        Some(off) => format!("let {whom} be {} from there, at {}", space.way(off), space.mark(here + off)),
        None => format!("let {whom} be elsewhere, or the two fight farther off"),
    };
    let severity = if bystander && *gap < EXACT { Severity::Error } else { Severity::Warning };
    let code = if bystander { "C601" } else { "C602" };
    Some(Problem::new(severity, code, planned.span.clone(), message).help(help))
}

/// The shortest way by which somebody's own way can be shifted so that the blow is far enough from them throughout: of 16
/// bearings the one on which the least is enough, to ten centimetres; no farther than anybody could be told to stand off.
fn clear_of(space: &Space<'_, '_>, near: &TooNear<'_>, (_, other): (usize, &Track)) -> Option<Vec2> {
    let TooNear { swing, at, allowed, .. } = near;
    let radius = other.room(swing.span.0, swing.span.1).radius;
    let layout = space.tracks.layout(*at)?;
    let here = other.at(*at)?;
    let bearings: Vec<Vec2> = (0..16).map(|step| Vec2::along(f64::from(step) * 22.5)).collect();
    let farthest = ((swing.sweep.radius + allowed + radius) * 20.0).ceil() as u32;
    (1..=farthest).find_map(|tenths| {
        let offs = bearings.iter().map(|way| *way * (f64::from(tenths) / 10.0));
        let stands = |off: &Vec2| layout.is_open(here + *off) && layout.piece_at(here + *off).is_none();
        offs.filter(stands).find(|off| swing.comes_near(other, *off, allowed + radius).is_none())
    })
}

/// Walls, furniture and seats that a weapon comes too near to.
fn things<'t>(space: &Space<'_, '_>, swing: &Swing<'t>, (phrase, least): (usize, LeastDistances)) -> Vec<TooNear<'t>> {
    let Some(layout) = space.tracks.layout_of_phrase(phrase).filter(|_| swing.sweep.armed) else { return Vec::new() };
    let floor = layout.floor(swing.at(swing.sweep.beat).0);
    let pieces = layout.pieces.iter().enumerate();
    let pieces = pieces.filter(|(_, piece)| swing.sweep.is_as_high_as(-floor, piece.height - floor));
    let pieces = pieces.map(|(at, it)| (&it.outline, Whom::Piece(at), least.piece));
    let seats = layout.seats.iter().enumerate();
    let seats = seats.map(|(at, it)| (&it.outline, Whom::Seats(at), least.audience));
    let near = |(outline, whom, allowed): (&Outline, Whom, f64)| {
        let Least { value, at } = gap_to(swing, outline, allowed)?;
        Some(TooNear { swing: *swing, whom, gap: value.max(0.0), at, allowed })
    };
    pieces.chain(seats).filter_map(near).collect()
}

fn near_thing(space: &Space<'_, '_>, near: &TooNear<'_>) -> Option<Problem> {
    let TooNear { swing, gap, at, allowed, whom } = near;
    let planned = space.planned(swing.sweep.of_move)?;
    let layout = space.tracks.layout_of_phrase(planned.phrase_in_range)?;
    let (outline, what, seats) = match whom {
        Whom::Piece(piece) => layout.pieces.get(*piece).map(|it| (&it.outline, format!("“{}”", it.name), false))?,
        Whom::Seats(seats) => {
            layout.seats.get(*seats).map(|it| (&it.outline, format!("the seats “{}”", it.name), true))?
        }
        Whom::Person(_) => return None,
    };
    let (who, beat) = (space.name(swing.own), planned.beat.beat_label());
    let how = if *gap < EXACT { "reaches".to_owned() } else { format!("comes within {} of", space.far(*gap)) };
    let (from, bearing) = swing.at(*at);
    let message =
        format!("{who}'s {} at beat {beat} {how} {what}; {} is the least", planned.action, space.far(*allowed));
    let way = (from - outline.nearest_on_rim(from)).unit().unwrap_or(Vec2::along(0.0));
    let far = |tenths: u32| way * (f64::from(tenths) / 10.0);
    let clear = |off: &Vec2| outline.distance_of(&swing.sweep.corners(from + *off, bearing)) >= *allowed;
    let help = match (1..=60).map(far).find(clear) {
        Some(off) => format!("let the two fight {} from there", space.way(off)),
        None => "let the two fight farther off".to_owned(),
    };
    let severity = if seats && *gap < EXACT { Severity::Error } else { Severity::Warning };
    let code = if seats { "C604" } else { "C603" };
    Some(Problem::new(severity, code, planned.span.clone(), message).help(help))
}

fn gap_to(swing: &Swing<'_>, outline: &Outline, allowed: f64) -> Option<Least> {
    let (from, _) = swing.at(swing.sweep.beat);
    let moves = swing.rate * (swing.span.1 - swing.span.0);
    // The corners of the polygon around a sweep lie a hair outside of its radius.
    if outline.distance_at_least(from) > swing.sweep.radius * 1.01 + allowed + moves {
        return None;
    }
    let value = |time: f64| {
        let (from, bearing) = swing.at(time);
        outline.distance_of(&swing.sweep.corners(from, bearing))
    };
    least_below(swing.span, swing.rate, allowed, EXACT, value)
}
