//! Where everybody stands and walks in a run, and what passes near bystanders, for the pages: in numbers, so that each page says it in its own language.

use crate::call::{Fight, Run};
use crate::score::model::{Arc, Facing, Person, Point, Score, Way};
use crate::stage::{Beside, Passage};
use crate::timeline::{Plan, PlannedPhrase, PlannedPlace, PlannedWalk, Reader};
use crate::units::Ticks;
use crate::wire::{AroundView, BesideView, CueWalk, FeetView, NearView, Part, PointView, WayView, small};

/// Marks and walks in order; the marks of a phrase before its walks.
pub(super) fn feet(score: &Score, plan: &Plan) -> Vec<FeetView> {
    let marks = plan.places().iter().map(|place| mark(score, plan, place));
    let walks = plan.walks().iter().map(|it| walk(score, plan, it));
    let mut feet: Vec<FeetView> = marks.chain(walks).collect();
    feet.sort_by_key(|it| (it.at_ticks, it.beat.is_some()));
    feet
}

/// What passes near whoever only stands by, of the phrases of the run, in order.
pub(super) fn near(fight: &Fight, plan: &Plan) -> Vec<NearView> {
    let score = &fight.score;
    let in_phrase = |phrase: &PlannedPhrase| {
        let start = phrase.at - phrase.skipped;
        let own = fight.passages.all().iter().filter(|it| it.phrase == phrase.phrase && it.at >= phrase.skipped);
        own.map(|it| passage(score, it, start)).collect::<Vec<_>>()
    };
    plan.phrases().iter().flat_map(in_phrase).collect()
}

fn passage(score: &Score, it: &Passage, start: Ticks) -> NearView {
    NearView {
        phrase: small(it.phrase),
        at_ticks: (start + it.at).0,
        beat: it.at.beat_label(),
        who: name(score, Person::Bystander(it.who)),
        by: name(score, it.by),
        action: it.action.clone(),
        metres: it.gap,
        side: match it.side {
            Beside::Front => BesideView::Front,
            Beside::Right => BesideView::Right,
            Beside::Behind => BesideView::Behind,
            Beside::Left => BesideView::Left,
            Beside::Upstage => BesideView::Upstage,
            Beside::StageLeft => BesideView::StageLeft,
            Beside::Downstage => BesideView::Downstage,
            Beside::StageRight => BesideView::StageRight,
        },
    }
}

/// Those of the run's walks, by their places in its plan, as that reader is told of them.
pub(super) fn walks(run: &Run, numbers: &[usize], reader: Reader) -> Vec<CueWalk> {
    let (score, plan) = (&run.setup.fight.score, &run.plan);
    let part = if reader == Reader::Everything { Part::Watch } else { Part::Act };
    let told = |it| CueWalk { part, walk: walk(score, plan, it) };
    numbers.iter().filter_map(|&number| plan.walks().get(number)).map(told).collect()
}

fn mark(score: &Score, plan: &Plan, place: &PlannedPlace) -> FeetView {
    let phrase = plan.phrases().get(place.phrase_in_range);
    let (facing, bearing) = match place.facing {
        Some(Facing::Person(other)) => (Some(name(score, other)), None),
        Some(Facing::Degrees(degrees)) => (None, Some(degrees)),
        None => (None, None),
    };
    FeetView {
        phrase: phrase.map_or(0, |phrase| small(phrase.phrase)),
        at_ticks: phrase.map_or(0, |phrase| phrase.at.0),
        beat: None,
        who: name(score, place.who),
        to: point(place.point),
        further: false,
        around: None,
        facing,
        bearing,
        until_ticks: None,
        until: None,
    }
}

fn walk(score: &Score, plan: &Plan, walk: &PlannedWalk) -> FeetView {
    let phrase = plan.phrases().get(walk.phrase_in_range);
    let start = phrase.map_or_else(Default::default, |phrase| phrase.at - phrase.skipped);
    FeetView {
        phrase: phrase.map_or(0, |phrase| small(phrase.phrase)),
        at_ticks: walk.at.0,
        beat: Some((walk.at - start).beat_label()),
        who: name(score, walk.who),
        to: point(walk.course.to),
        further: walk.course.further,
        around: walk.course.around.map(around),
        facing: None,
        bearing: None,
        until_ticks: Some(walk.until.0),
        until: Some((walk.until - start).beat_label()),
    }
}

fn point(Point { x, y }: Point) -> PointView {
    PointView { x: x.0, y: y.0 }
}

fn around(Arc { centre, way }: Arc) -> AroundView {
    let way = way.map(|way| match way {
        Way::Clockwise => WayView::Clockwise,
        Way::Anticlockwise => WayView::Anticlockwise,
    });
    AroundView { centre: point(centre), way }
}

fn name(score: &Score, person: Person) -> String {
    let name = match person {
        Person::Fighter(id) => score.fighters.get(id.0).map(|it| it.name.as_str()),
        Person::Bystander(id) => score.bystanders.get(id.0).map(|it| it.name.as_str()),
    };
    name.unwrap_or("?").to_owned()
}
