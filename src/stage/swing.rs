//! A blow on its way: where what it sweeps lies at every instant of it, and how near that comes to somebody. The least distance
//! is a bound that no instant is below (`least_below`).

use super::nearest::{Least, least_below};
use super::sweep::Sweep;
use super::track::{Track, Tracks};
use super::vec2::Vec2;
use crate::score::model::Facing;
use crate::timeline::PlannedMove;

/// How exact a distance is, metres: what is said is at most this much too little.
pub const EXACT: f64 = 0.01;
/// Nearer than this to the partner the way to them turns too fast to be followed: then all around is swept, metres.
const TOO_NEAR_TO_TURN: f64 = 0.3;

/// A blow, who strikes, and the one it is meant for.
#[derive(Clone, Copy, Debug)]
pub struct Swing<'t> {
    /// Who strikes, by place among the tracks.
    pub own: usize,
    track: &'t Track,
    /// Whom it is meant for, where that is known.
    pub partner: Option<(usize, &'t Track)>,
    /// The bearing along which it goes where it is meant for nobody.
    bearing: f64,
    /// What it sweeps.
    pub sweep: Sweep,
    /// The part of its time that lies in its phrase, seconds from the first beat.
    pub span: (f64, f64),
    /// How fast any point of it moves at the most, metres a second.
    pub rate: f64,
}

impl<'t> Swing<'t> {
    /// A blow of somebody's whose phrase goes from one time to another, seconds; nothing for who stands nowhere then.
    pub fn of(
        tracks: &'t Tracks<'_>,
        planned: &PlannedMove,
        (own, sweep): (usize, Sweep),
        (begin, end): (f64, f64),
    ) -> Option<Swing<'t>> {
        let track = tracks.people.get(own)?;
        let span = (sweep.span.0.max(begin), sweep.span.1.min(end).max(sweep.beat));
        track.at(span.0)?;
        let only_other = (tracks.fighters() == 2).then(|| 1 - own.min(1));
        // Where no line says whom it is meant for, it is whom they look at.
        let faces = track.faces(sweep.beat);
        let faced = match faces {
            Some(Facing::Person(person)) => Some(tracks.place_of(person)),
            Some(Facing::Degrees(_)) | None => None,
        };
        let partner = planned.to.or(planned.manner.aimed).map(|it| it.0).or(only_other).or(faced);
        let partner = partner.filter(|it| *it != own);
        let partner = partner.and_then(|partner| Some((partner, tracks.people.get(partner)?)));
        let known = partner.filter(|(_, other)| other.at(span.0).is_some());
        let rate = track.fastest(span.0, span.1);
        let mut swing = Swing { own, track, partner, bearing: 0.0, sweep, span, rate };
        let Some((_, other)) = known else {
            return Some(match faces.filter(|_| partner.is_none()) {
                Some(Facing::Degrees(bearing)) => Swing { bearing, ..swing },
                Some(Facing::Person(_)) | None => swing.all_around(),
            });
        };
        let both = rate + other.fastest(span.0, span.1);
        if both > 0.0 {
            // They are at least this far apart throughout; so fast does the way from one to the other turn at the most.
            let apart = |at: f64| Some(track.at(at)?.distance(other.at(at)?));
            let least = apart(span.0)?.min(apart(span.1)?) - both * (span.1 - span.0) / 2.0;
            if least < TOO_NEAR_TO_TURN {
                return Some(swing.all_around());
            }
            swing.rate += swing.sweep.radius * both / least;
        }
        Some(swing)
    }

    /// The same to all sides.
    fn all_around(self) -> Swing<'t> {
        Swing { sweep: Sweep { angles: (180.0, 180.0), ..self.sweep }, ..self }
    }

    /// Where the one who strikes is at an instant, and the bearing to the partner.
    pub fn at(&self, time: f64) -> (Vec2, f64) {
        let from = self.track.at(time).unwrap_or_default();
        let to = self.partner.and_then(|(_, partner)| partner.at(time));
        (from, to.map_or(self.bearing, |to| (to - from).bearing()))
    }

    /// Where what it sweeps comes nearer than `limit` to the middle of somebody whose whole way is shifted by `off`.
    pub fn comes_near(&self, other: &Track, off: Vec2, limit: f64) -> Option<Least> {
        let value = |time: f64| {
            let (from, bearing) = self.at(time);
            self.sweep.distance(from, bearing, other.at(time).unwrap_or_default() + off)
        };
        let rate = self.rate + other.fastest(self.span.0, self.span.1);
        least_below(self.span, rate, limit, EXACT, value)
    }

    /// How much higher the floor is there than under the one who strikes, metres.
    pub fn rise(&self, tracks: &Tracks<'_>, other: Vec2) -> f64 {
        let floor = |at: Vec2| tracks.layout(self.sweep.beat).map_or(0.0, |layout| layout.floor(at));
        floor(other) - floor(self.at(self.sweep.beat).0)
    }
}
