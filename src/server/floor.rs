//! A fight on the stage's plan, for the pages: everybody's ways as [`Tracks`] has them, in numbers from which a page finds where
//! everybody is at any instant. Its twin there is `clients/core/floor.ts`; `tests/vectors/floor.json` holds both together.

use std::sync::Arc;

use crate::check::{self, Approach, HouseRules};
use crate::score::model::{Facing, Person, Score};
use crate::score::vocabulary::Vocabulary;
use crate::stage::{Cause, Kind, Layout, Leg, Pose, StagePlan, Sweep, Thing, Tracks, Vec2, Way, things};
use crate::timeline::{PhraseRange, Plan};
use crate::units::Speed;
use crate::wire::{
    ApproachView, FloorPhrase, FloorSheet, GroundView, LookAt, PoseAt, PoseView, SweepView, TempoView, ThingKind,
    ThingView, WayThrough, small,
};

/// What comes no nearer than this is not told, metres: farther than any least distance that a house would ask for.
const NEAR: f64 = 2.0;
/// Before every fight.
const ALWAYS: f64 = -1e6;

/// A whole fight on a stage; nothing for one without a phrase.
pub fn floor_sheet(score: &Score, vocabulary: &Vocabulary, stage: &Arc<StagePlan>) -> Option<FloorSheet> {
    let plan = Plan::new(score, PhraseRange::whole(score)?, Speed::FULL, 0);
    let tracks = Tracks::of(score, vocabulary, &plan, stage);
    let (grounds, phrases) = grounds(&plan, &tracks, stage);
    let rules = HouseRules { stage: Some(Arc::clone(stage)), ..HouseRules::default() };
    let approaches = check::approaches(score, vocabulary, &rules, NEAR);
    Some(FloorSheet {
        feet: stage.feet,
        phrases,
        tempo: tempo(&plan),
        grounds,
        people: (0..tracks.people.len()).filter_map(|person| way_through(score, &tracks, person)).collect(),
        sweeps: tracks.sweeps.iter().map(|(person, sweep)| swept(*person, sweep)).collect(),
        approaches: approaches.iter().filter_map(|it| approach(score, &plan, it)).collect(),
    })
}

fn tempo(plan: &Plan) -> Vec<TempoView> {
    let stretch = |it: &crate::timeline::Stretch| TempoView {
        at_ticks: it.at.0,
        length_ticks: it.length.0,
        at_us: it.time.0,
        from_bpm: it.from_bpm,
        to_bpm: it.to_bpm,
    };
    plan.tempo().stretches().iter().map(stretch).collect()
}

/// Each layout once, and the phrases with theirs.
fn grounds(plan: &Plan, tracks: &Tracks<'_>, stage: &StagePlan) -> (Vec<GroundView>, Vec<FloorPhrase>) {
    let mut layouts: Vec<&Layout> = Vec::new();
    let mut phrases = Vec::new();
    for phrase in plan.phrases() {
        let layout = tracks.layout_of_phrase(phrase.phrase).unwrap_or(&stage.bare);
        let known = layouts.iter().position(|it| std::ptr::eq(*it, layout));
        let ground = known.unwrap_or_else(|| {
            layouts.push(layout);
            layouts.len() - 1
        });
        phrases.push(FloorPhrase {
            name: phrase.name.clone(),
            at_ticks: phrase.at.0,
            length_ticks: phrase.length.0,
            ground: small(ground),
        });
    }
    let set_of = |layout: &Layout| stage.sets.iter().find(|set| std::ptr::eq(&raw const set.layout, layout));
    let ground = |layout: &&Layout| GroundView {
        set: set_of(layout).map(|set| set.name.clone()),
        things: things(layout).iter().map(thing).collect(),
    };
    (layouts.iter().map(ground).collect(), phrases)
}

/// Something on the stage, as a page draws it.
pub(super) fn thing(thing: &Thing) -> ThingView {
    let kind = match thing.kind {
        Kind::Area => ThingKind::Area,
        Kind::Wing => ThingKind::Wing,
        Kind::Seats => ThingKind::Seats,
        Kind::Level => ThingKind::Level,
        Kind::Steps => ThingKind::Steps,
        Kind::Piece => ThingKind::Piece,
        Kind::Door => ThingKind::Door,
        Kind::Edge => ThingKind::Edge,
    };
    let corners = thing.corners.iter().map(|it| place(*it)).collect();
    let (height, eyes) = (thing.height.map(round), thing.eyes.map(round));
    ThingView { kind, name: thing.name.clone(), corners, height, eyes }
}

fn way_through(score: &Score, tracks: &Tracks<'_>, person: usize) -> Option<WayThrough> {
    let track = tracks.people.get(person)?;
    let who = match track.who {
        Person::Fighter(id) => score.fighters.get(id.0)?.name.clone(),
        Person::Bystander(id) => score.bystanders.get(id.0)?.name.clone(),
    };
    let look = |(at, facing): &(f64, Facing)| match facing {
        Facing::Person(other) => LookAt { at: time(*at), person: Some(small(tracks.place_of(*other))), bearing: None },
        Facing::Degrees(degrees) => LookAt { at: time(*at), person: None, bearing: Some(round(*degrees)) },
    };
    let written = track.legs.iter().enumerate().filter(|(_, leg)| !matches!(leg.cause, Cause::Move(_)));
    Some(WayThrough {
        who,
        bystander: matches!(track.who, Person::Bystander(_)),
        reach: round(track.build.reach),
        stature: round(track.build.stature),
        legs: track.legs.iter().map(leg).collect(),
        written: written.map(|(at, _)| small(at)).collect(),
        poses: track.poses().iter().map(|(at, it)| PoseAt { at: time(*at), pose: pose(*it) }).collect(),
        looks: track.looks().iter().map(look).collect(),
        blades: tracks.held(person).iter().map(|(at, length)| [time(*at), round(*length)]).collect(),
    })
}

fn leg(leg: &Leg) -> Vec<f64> {
    let mut numbers = vec![time(leg.begin), time(leg.end)];
    match leg.way {
        Way::Stand(at) => numbers.extend(place(at)),
        Way::Straight { from, to } => numbers.extend(place(from).into_iter().chain(place(to))),
        Way::Round { middle, bearing, turn, radii } => {
            numbers.extend(place(middle));
            numbers.extend([round(bearing), round(turn), round(radii.0), round(radii.1)]);
        }
    }
    numbers
}

fn swept(person: usize, sweep: &Sweep) -> SweepView {
    SweepView {
        person: small(person),
        from: time(sweep.span.0),
        beat: time(sweep.beat),
        until: time(sweep.span.1),
        radius: round(sweep.radius),
        left: round(sweep.angles.0),
        right: round(sweep.angles.1),
        armed: sweep.armed,
    }
}

fn approach(score: &Score, plan: &Plan, it: &Approach) -> Option<ApproachView> {
    let planned = plan.moves().get(it.of_move)?;
    Some(ApproachView {
        at: time(it.time),
        gap: round(it.gap),
        who: score.fighters.get(planned.who.0)?.name.clone(),
        action: planned.action.to_string(),
        phrase: small(planned.phrase_in_range),
        beat: planned.beat.beat_label(),
        to: it.to.clone(),
        seats: it.seats,
    })
}

const fn pose(pose: Pose) -> PoseView {
    match pose {
        Pose::Standing => PoseView::Standing,
        Pose::Ducking => PoseView::Ducking,
        Pose::Jumping => PoseView::Jumping,
        Pose::Kneeling => PoseView::Kneeling,
        Pose::Seated => PoseView::Seated,
        Pose::Lying => PoseView::Lying,
    }
}

fn place(at: Vec2) -> [f64; 2] {
    [round(at.x), round(at.y)]
}

/// A length to the millimetre, an angle to a thousandth of a degree; no `-0`.
fn round(value: f64) -> f64 {
    (value * 1e3).round() / 1e3 + 0.0
}

/// A time to a tenth of a millisecond, and never later: at its own instant a page finds what begins then.
fn time(at: f64) -> f64 {
    (at.max(ALWAYS) * 1e4 + 1e-6).floor() / 1e4 + 0.0
}
