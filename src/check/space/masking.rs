//! Masking: a wound that is taken, or a blow that must not land, is hidden where the score says that it is, from every seat
//! across from that side. Where the score says nothing, nothing is said: `holdfast plan` shows from where each is seen.

use super::measure::more;
use super::{Space, told};
use crate::score::model::StageSide;
use crate::score::problem::Problem;
use crate::score::vocabulary::ReplyKind;
use crate::stage::sight::Eye;
use crate::stage::{Audience, Concealed, Layout, Passes, Vec2, View, concealed};

/// The two are turned by so much more at a time, degrees.
const TURN: i32 = 5;
/// Seen from fewer seats than this share of a block it is advice: the last seats of the last row. Assumption.
const FEW: f64 = 0.05;
/// Two who are so far apart up and down stage stand one upstage of the other, metres.
const UPSTAGE: f64 = 0.1;

/// V901: what is to be hidden is seen. V902: nobody sits where it is to be hidden from. V903: there is nothing to hide.
pub(super) fn find(space: &Space<'_, '_>) -> Vec<Problem> {
    let moves = space.scene.plan.moves();
    if moves.iter().all(|planned| planned.manner.hidden.is_none()) {
        return Vec::new();
    }
    let mut problems: Vec<Problem> = nothing_to_hide(space);
    let mut house: Option<(&Layout, Audience)> = None;
    let mut found: Vec<(usize, Problem, usize)> = Vec::new();
    for it in concealed(space.scene.vocabulary, &space.scene.plan, space.tracks) {
        let (Some(side), Some(layout)) = (it.side, space.tracks.layout(it.time)) else { continue };
        if layout.seats.is_empty() {
            continue;
        }
        if house.as_ref().is_none_or(|(known, _)| !std::ptr::eq(*known, layout)) {
            house = Some((layout, Audience::of(layout)));
        }
        let Some((_, house)) = &house else { continue };
        let Some(planned) = space.planned(it.of_move) else { continue };
        // A line that is done again is told once.
        if let Some((.., times)) = found.iter_mut().find(|(start, ..)| *start == planned.span.start) {
            *times += 1;
        } else if let Some(problem) = judge(space, (&it, side), house, layout) {
            found.push((planned.span.start, told(problem, planned.used.as_ref()), 0));
        }
    }
    problems.extend(found.into_iter().map(|(_, problem, times)| more(problem, times)));
    problems
}

fn judge(
    space: &Space<'_, '_>,
    (it, side): (&Concealed, StageSide),
    house: &Audience,
    layout: &Layout,
) -> Option<Problem> {
    let planned = space.planned(it.of_move)?;
    let doing = format!("{}'s {} at beat {}", space.name(it.own), planned.action, planned.beat.beat_label());
    if house.nobody_sees(side) {
        let message = format!("{doing} is to be hidden {}, and nobody sits {}", side.word(), side.opposite().word());
        let problem = Problem::advice("V902", planned.span.clone(), message);
        return Some(problem.help("write the side that lies away from the seats, or draw the seats"));
    }
    let (passes, views) = it.best(house, space.tracks)?;
    let seen: Vec<&View> = views.iter().filter(|view| view.seen() > 0).collect();
    if seen.is_empty() {
        return None;
    }
    let from: Vec<String> = seen.iter().map(|view| view.says(layout)).collect();
    let partner = space.name(it.partner);
    let gap = match passes {
        Passes::Before => format!("between it and {partner}"),
        Passes::Left => format!("at {partner}'s left"),
        Passes::Right => format!("at {partner}'s right"),
    };
    let message = format!("{doing} is to be hidden {}, and the gap {gap} is seen {}", side.word(), from.join("; "));
    let few = seen.iter().all(|view| view.share() < FEW);
    let problem = if few { Problem::advice } else { Problem::warning }("V901", planned.span.clone(), message);
    Some(problem.help(turned(space, it, &mut house.eyes(side), layout)))
}

/// The smallest turn of the two about the middle between them after which it is hidden, as a sentence.
fn turned(space: &Space<'_, '_>, it: &Concealed, seats: &mut [Eye], layout: &Layout) -> String {
    let (who, partner) = (space.name(it.own), space.name(it.partner));
    let middle = it.at.0.toward(it.at.1, 0.5);
    let stands = |at: Vec2| layout.is_open(at) && layout.piece_at(at).is_none();
    let turns = (1..=180 / TURN).flat_map(|step| [step * TURN, -step * TURN]);
    for turn in turns {
        let place = |at: Vec2| {
            let way = at - middle;
            rounded(middle + Vec2::along(way.bearing() + f64::from(turn)) * way.length())
        };
        let pair = (place(it.at.0), place(it.at.1));
        if stands(pair.0) && stands(pair.1) && it.is_hidden(seats, space.tracks, pair) {
            let clock = if turn > 0 { "with" } else { "against" };
            let rise = pair.0.y - pair.1.y;
            let upstage = match () {
                () if rise > UPSTAGE => format!(", {who} upstage of {partner}"),
                () if rise < -UPSTAGE => format!(", {partner} upstage of {who}"),
                () => String::new(),
            };
            return format!(
                "turn the two {} degrees {clock} the clock{upstage}: {who} at {}, {partner} at {} then",
                turn.abs(),
                space.mark(pair.0),
                space.mark(pair.1)
            );
        }
    }
    "no turn of the two hides it there: let somebody or something stand before it, or let it pass on another side"
        .to_owned()
}

/// To the centimetre, as it is said.
fn rounded(at: Vec2) -> Vec2 {
    let number = |it: f64| (it * 100.0).round() / 100.0;
    Vec2::new(number(at.x), number(at.y))
}

/// What is to be hidden although it is stopped.
fn nothing_to_hide(space: &Space<'_, '_>) -> Vec<Problem> {
    let stopped = |(at, planned): (usize, &crate::timeline::PlannedMove)| {
        let side = planned.manner.hidden?;
        let stops = matches!(
            space.scene.rows_of(at).reply?.kind,
            ReplyKind::Parry | ReplyKind::CircularParry | ReplyKind::Block | ReplyKind::Meet
        );
        let message = format!(
            "{} at beat {} is to be hidden {}, and it is stopped: there is no gap",
            space.scene.whose(planned),
            planned.beat.beat_label(),
            side.word()
        );
        let help = format!("delete `hidden {}`", side.word());
        let problem = Problem::advice("V903", planned.span.clone(), message).help(help);
        stops.then(|| told(problem, planned.used.as_ref()))
    };
    space.scene.plan.moves().iter().enumerate().filter_map(stopped).collect()
}
