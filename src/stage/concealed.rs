//! What of a fight is to be hidden from the seats: where a wound that is taken, or a blow that must not land, has its gap, and
//! who of the audience sees it.

use super::blow::{self, Blow, SHORT};
use super::body::BODY_RADIUS;
use super::plan::Layout;
use super::sight::{Eye, Gap, Screen, Shape, places, things};
use super::track::Tracks;
use super::vec2::Vec2;
use super::view::View;
use crate::score::model::{Side, StageSide, StatedTouch};
use crate::score::vocabulary::{Action, Goes, Limb, ReplyKind, Touch, Vocabulary};
use crate::timeline::{Plan, PlannedMove};

/// Less of a gap than this is not seen to be one: a third of it. Assumption, no source.
const CLOSED: f64 = 0.05;
/// How far to its side of the stage a seat may stand, degrees: four sides of the stage share all there is around it.
const QUARTER: f64 = 45.0;

/// A blow of which a gap is to be hidden.
#[derive(Clone, Debug, PartialEq)]
pub struct Concealed {
    /// Its move in the plan.
    pub of_move: usize,
    /// Who strikes, by place among the tracks.
    pub own: usize,
    /// Whom.
    pub partner: usize,
    /// When, seconds from the first beat.
    pub time: f64,
    /// Where the two stand then.
    pub at: (Vec2, Vec2),
    /// How high above the stage floor it would land, metres.
    pub high: f64,
    /// Where it may pass the body; the score leaves more than one open where it names no side of a wound.
    pub passes: Vec<Passes>,
    /// The side of the stage on which the score has it hidden.
    pub side: Option<StageSide>,
}

/// Where a blow ends or passes, as the one who is hit sees it.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Passes {
    /// Short of the body, between the two.
    Before,
    /// Past their left.
    Left,
    /// Past their right.
    Right,
}

impl Passes {
    /// True when what passes there is seen by somebody who looks from there. Who looks along the line of a blow that stops short
    /// sees no gap; what goes past a body is given away wherever it is seen not to go in.
    fn is_seen(self, gap: &Gap, eye: Eye, screens: &[Screen<'_>]) -> bool {
        let wide = if self == Passes::Before { gap.seen(eye, screens) } else { gap.shown(eye, screens) };
        wide >= CLOSED
    }

    /// From the way to the partner to where the gap is, degrees.
    const fn turn(self) -> f64 {
        match self {
            Passes::Before => 0.0,
            Passes::Left => -90.0,
            Passes::Right => 90.0,
        }
    }
}

/// The seats of a stage.
#[derive(Clone, Debug)]
pub struct Audience {
    /// By block: its places.
    blocks: Vec<Vec<Place>>,
}

#[derive(Clone, Copy, Debug)]
struct Place {
    eye: Eye,
    /// The way to it from the nearest point of the playing area.
    from_stage: Vec2,
}

impl StageSide {
    /// The way to that side, one metre.
    pub const fn way(self) -> Vec2 {
        match self {
            StageSide::Upstage => Vec2::new(0.0, 1.0),
            StageSide::Downstage => Vec2::new(0.0, -1.0),
            StageSide::StageLeft => Vec2::new(1.0, 0.0),
            StageSide::StageRight => Vec2::new(-1.0, 0.0),
        }
    }
}

/// Every wound that is taken, every blow that must not land, and whatever else the score has hidden; whose two people stand
/// somewhere, in order. What is parried or stopped has no gap.
pub fn concealed(vocabulary: &Vocabulary, plan: &Plan, tracks: &Tracks<'_>) -> Vec<Concealed> {
    let each = |blow: &Blow| {
        let planned = plan.moves().get(blow.of_move)?;
        let action = vocabulary.actions.get(planned.action_word.as_str())?;
        let kind =
            planned.reply_word.as_ref().and_then(|word| vocabulary.replies.get(word.as_str())).map(|row| row.kind);
        let hides = has_gap(planned, action, kind);
        let time = blow.time;
        let partner = tracks.people.get(blow.partner)?;
        let at = (tracks.people.get(blow.own)?.at(time)?, partner.at(time)?);
        let word = planned.reply_arg.as_ref().filter(|_| kind == Some(ReplyKind::Take)).or(planned.target.as_ref());
        let target = word.and_then(|word| vocabulary.targets.get(word.as_str()));
        let floor = tracks.layout(time).map_or(0.0, |layout| layout.floor(at.1));
        let high = floor + blow::share_of(target) * partner.build.room(partner.pose(time)).high;
        let sided = target.is_some_and(|row| row.sided);
        let passes = passes(planned, action, kind, sided);
        let side = planned.manner.hidden;
        let of =
            Concealed { of_move: blow.of_move, own: blow.own, partner: blow.partner, time, at, high, passes, side };
        hides.then_some(of)
    };
    tracks.blows.iter().filter_map(each).collect()
}

/// True for what has a gap that would give it away.
fn has_gap(planned: &PlannedMove, action: &Action, kind: Option<ReplyKind>) -> bool {
    let touch = match planned.manner.touch {
        Some(StatedTouch::Clear) => Touch::Nothing,
        Some(StatedTouch::Contact) => Touch::Bodies,
        Some(StatedTouch::Placed) => Touch::Placed,
        None => action.touch,
    };
    match kind {
        Some(ReplyKind::Parry | ReplyKind::CircularParry | ReplyKind::Block | ReplyKind::Meet) => false,
        Some(ReplyKind::Take) => action.attack && (touch != Touch::Bodies || action.needs_weapon),
        // Who gets out of the way of a blade is seen to do so; a fist that misses is to look like a hit.
        Some(ReplyKind::Avoid) => {
            planned.manner.hidden.is_some()
                || (touch == Touch::Nothing && action.attack && action.limb() != Limb::Blade)
        }
        Some(ReplyKind::Yield) | None => {
            planned.manner.hidden.is_some() || (touch == Touch::Nothing && action.attack && kind.is_some())
        }
    }
}

/// Where a blow goes past the body: at the side that the score names; a point that is taken without one on either side, or
/// short of the body; anything else short of it.
fn passes(planned: &PlannedMove, action: &Action, kind: Option<ReplyKind>, sided: bool) -> Vec<Passes> {
    let taken = kind == Some(ReplyKind::Take);
    let side = planned.reply_side.filter(|_| taken).or(planned.side);
    match side {
        Some(Side::Left) => vec![Passes::Left],
        Some(Side::Right) => vec![Passes::Right],
        None if sided => vec![Passes::Left, Passes::Right],
        None if taken && action.goes() == Some(Goes::Thrust) => vec![Passes::Before, Passes::Left, Passes::Right],
        None => vec![Passes::Before],
    }
}

impl Concealed {
    /// The gap, where the two stand so.
    pub fn gap(&self, passes: Passes, (own, partner): (Vec2, Vec2)) -> Gap {
        let out = Vec2::along((own - partner).bearing() + passes.turn());
        Gap { body: partner + out * BODY_RADIUS, blade: partner + out * (BODY_RADIUS + SHORT), high: self.high }
    }

    /// Everybody's bodies at that instant, with the two where they would stand. A body hides no more than it is broad, also
    /// one that lies.
    pub fn bodies(&self, tracks: &Tracks<'_>, pair: (Vec2, Vec2)) -> Vec<Screen<'static>> {
        let body = |(person, track): (usize, &super::Track)| {
            let at = match person {
                it if it == self.own => pair.0,
                it if it == self.partner => pair.1,
                _ => track.at(self.time)?,
            };
            let floor = tracks.layout(self.time).map_or(0.0, |layout| layout.floor(at));
            let room = track.build.room(track.pose(self.time));
            let shape = Shape::Round { middle: at, radius: room.radius.min(BODY_RADIUS) };
            Some(Screen { shape, low: floor + room.low, high: floor + room.high })
        };
        tracks.people.iter().enumerate().filter_map(body).collect()
    }

    /// The way past the body that the fewest of the asked seats see, and what is seen from every block then.
    pub fn best(&self, house: &Audience, tracks: &Tracks<'_>) -> Option<(Passes, Vec<View>)> {
        let layout = tracks.layout(self.time)?;
        let bodies = self.bodies(tracks, self.at);
        let screens: Vec<Screen<'_>> = bodies.into_iter().chain(things(layout)).collect();
        let views = self.passes.iter().map(|it| (*it, house.views(*it, &self.gap(*it, self.at), &screens, self.side)));
        views.min_by_key(|(_, views)| views.iter().map(View::seen).sum::<usize>())
    }

    /// True when none of those seats sees it, with the two where they would stand. A seat that sees it is asked first the next
    /// time: it is most often the one that sees it again.
    pub fn is_hidden(&self, seats: &mut [Eye], tracks: &Tracks<'_>, pair: (Vec2, Vec2)) -> bool {
        let Some(layout) = tracks.layout(self.time) else { return false };
        let bodies = self.bodies(tracks, pair);
        let screens: Vec<Screen<'_>> = bodies.into_iter().chain(things(layout)).collect();
        self.passes.iter().any(|it| {
            let gap = self.gap(*it, pair);
            let sees = seats.iter().position(|eye| it.is_seen(&gap, *eye, &screens));
            sees.inspect(|sees| seats.swap(0, *sees)).is_none()
        })
    }
}

impl Audience {
    /// The seats of what stands where.
    pub fn of(layout: &Layout) -> Audience {
        let block = |seats: &super::Seats| {
            let place = |at: Vec2| Place {
                eye: Eye { at, high: seats.floor + seats.eyes },
                from_stage: if layout.area.contains(at) {
                    Vec2::default()
                } else {
                    at - layout.area.nearest_on_rim(at)
                },
            };
            places(seats).into_iter().map(place).collect()
        };
        Audience { blocks: layout.seats.iter().map(block).collect() }
    }

    /// True when nobody sits across from that side.
    pub fn nobody_sees(&self, side: StageSide) -> bool {
        self.asked(Some(side)).next().is_none()
    }

    /// The eyes across from a side.
    pub fn eyes(&self, side: StageSide) -> Vec<Eye> {
        self.asked(Some(side)).map(|place| place.eye).collect()
    }

    fn asked(&self, side: Option<StageSide>) -> impl Iterator<Item = &Place> {
        self.blocks.iter().flatten().filter(move |place| place.is_asked(side))
    }

    /// What is seen of a gap from every block, of the seats across from a side, or of all.
    pub fn views(&self, passes: Passes, gap: &Gap, screens: &[Screen<'_>], side: Option<StageSide>) -> Vec<View> {
        let view = |(block, seats): (usize, &Vec<Place>)| {
            let asked = seats.iter().filter(|place| place.is_asked(side));
            let seats = asked.map(|it| (it.eye.at, passes.is_seen(gap, it.eye, screens))).collect();
            View { block, seats }
        };
        self.blocks.iter().enumerate().map(view).filter(|view| !view.seats.is_empty()).collect()
    }
}

impl Place {
    /// True for a seat across the stage from a side.
    fn is_asked(&self, side: Option<StageSide>) -> bool {
        let Some(side) = side else { return true };
        let far = self.from_stage.length();
        -self.from_stage.dot(side.way()) >= far * QUARTER.to_radians().cos() - 1e-9
    }
}
