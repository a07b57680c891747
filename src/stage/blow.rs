//! What a blow needs and what it sweeps: how far apart the two may stand, by arm and weapon, and the outer volume of the
//! swing, from the rows of the vocabulary.

use super::body::{Build, CHEST};
use super::sweep::{FOLLOWS, Sweep};
use super::vec2::Vec2;
use crate::score::model::Side;
use crate::score::vocabulary::{
    Action, Goes, Height, Limb, Makes, Part, Reply, ReplyKind, STEP_IN, Target, Touch, Vocabulary,
};
use crate::timeline::PlannedMove;

/// A blow of the fight.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Blow {
    /// Its move in the plan.
    pub of_move: usize,
    /// Who strikes, and whom, by place among the tracks.
    pub own: usize,
    /// Whom.
    pub partner: usize,
    /// When, seconds from the first beat.
    pub time: f64,
    /// How far apart the middles of the bodies are before either takes a step for it, metres.
    pub apart: f64,
    /// How far off that may be: the footwork of both since their marks and walks that no line writes.
    pub slack: f64,
    /// How far apart they may be.
    pub needs: Needs,
    /// Where the two stand then.
    pub at: (Vec2, Vec2),
}

/// How far apart the middles of two bodies may be for a blow, metres.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct Needs {
    /// No nearer: there is no room to use the weapon, or one who is late would be hit. 0 where nothing is too near.
    pub nearest: f64,
    /// Why that is the nearest.
    pub why: Near,
    /// Up to here it is believed without a step.
    pub believed: f64,
    /// Up to here with a step, or from the measure of the longer weapon of the two.
    pub farthest: f64,
}

/// Why two stand too near.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Near {
    /// The weapon cannot be used.
    NoRoom,
    /// The point reaches a body that only gets out of the way.
    Reaches,
    /// The weapon reaches the body with a bent arm, whatever the reply is.
    BentArm,
    /// A hand that must not land does, with the arm held out.
    Lands,
}

/// From which of the reach of both arms a weapon in two hands is swung. Assumption.
const TWO_HANDS: f64 = 0.65;
/// How far short of a body that gets out of its way a blow ends: two school handouts let a hand end 15 to 20 cm short (weak).
pub(super) const SHORT: f64 = 0.15;
/// How much of the reach is left out of an arm that is bent by half: where the weapon reaches the body even so, no reply
/// helps. Assumption; of the fights that were placed blind (`tests/it/fights/placed.txt`) the nearest parry of a well placed
/// one lies 0.26 m within full stretch, where this allows 0.39.
const BENT: f64 = 0.5;
/// How much nearer than an outstretched arm a hand that must not land may be, metres: the hand bends away. Assumption.
const HAND: f64 = 0.1;
/// How far a blow can fall short of the body and still be believed by the house. Assumption.
const BELIEVED_SHORT: f64 = 0.25;
/// How much farther apart than they fence two stand between two exchanges: a step. Assumption.
const FROM_MEASURE: f64 = 0.5;
/// The reach of elbow, knee and foot, as a share: of an arm, of an arm, of the stature. Assumptions; a leg is about half the
/// stature, and the hip turns with it.
const ELBOW: f64 = 0.6;
const LEG: f64 = 0.55;
/// How much is added to what a blow sweeps up and down, metres. Assumption.
const MARGIN: f64 = 0.1;
/// How high above the shoulder a cut begins, metres, with the hand beside the head. Assumption.
const DRAWN_UP: f64 = 0.3;

/// A blow as it is found in the plan.
pub(super) struct Found<'b> {
    pub(super) index: usize,
    pub(super) planned: &'b PlannedMove,
    pub(super) action: &'b Action,
    pub(super) reply: Option<&'b Reply>,
    pub(super) vocabulary: &'b Vocabulary,
    /// The length of blade, and whether it takes both hands.
    pub(super) weapon: (f64, bool),
    /// The longest blade that either came with: that far off they stand, drawn or not.
    pub(super) longest: f64,
    pub(super) builds: (Build, Build),
    /// How high the partner's body ends.
    pub(super) partner_high: f64,
}

impl Found<'_> {
    /// How far from the middle of the body it reaches at full stretch, metres.
    fn stretch(&self, two_hands: f64) -> f64 {
        let (build, (blade, both)) = (self.builds.0, self.weapon);
        match self.action.limb() {
            Limb::Blade => build.reach * if both { two_hands } else { 1.0 } + blade,
            Limb::Hilt | Limb::Fist | Limb::Hand => build.reach,
            Limb::Elbow | Limb::Knee => build.reach * ELBOW,
            Limb::Foot => build.stature * LEG,
            Limb::Body => CHEST,
        }
    }

    /// How far apart the two may be; nothing for what is not done to anybody.
    pub(super) fn needs(&self) -> Option<Needs> {
        let action = self.action;
        let done_to = action.attack || self.planned.to.is_some();
        if !done_to || (action.targets.is_empty() && action.touch != Touch::Bodies && !action.attack) {
            return None;
        }
        let stretch = self.stretch(1.0).max(if action.touch == Touch::Bodies { self.builds.0.reach } else { 0.0 });
        let touches = action.touch == Touch::Bodies || action.makes.contains(&Makes::Holds);
        let met = if self.at_weapon() && !touches { self.builds.1.reach } else { 0.0 };
        let believed = stretch + CHEST + if touches { 0.0 } else { BELIEVED_SHORT } + met;
        let (nearest, why) = self.nearest();
        let step = match () {
            () if action.reaches_out() > 0.0 => action.reaches_out(),
            // Both come in.
            () if action.makes.contains(&Makes::Closes) => 2.0 * STEP_IN,
            () => STEP_IN,
        };
        // Whoever grapples or draws a knife comes in from where the longer weapon is fenced.
        let measure = self.builds.0.reach + CHEST + BELIEVED_SHORT + self.longest + FROM_MEASURE;
        Some(Needs { nearest, why, believed, farthest: measure.max(believed + step) })
    }

    /// What is done to a weapon, or to the hand that holds it, meets it on the way.
    fn at_weapon(&self) -> bool {
        self.target().is_none_or(|(_, row)| !row.body || row.part == Some(Part::Arm))
    }

    /// How near is too near, and why: the farthest of all that says so.
    fn nearest(&self) -> (f64, Near) {
        let action = self.action;
        if !action.attack || action.touch == Touch::Bodies {
            return (0.0, Near::NoRoom);
        }
        let armed = action.limb() == Limb::Blade && self.weapon.0 > 0.0;
        let all = if armed { self.nearest_armed() } else { [(self.hand_lands(), Near::Lands); 3] };
        all.into_iter().fold((0.0, Near::NoRoom), |one, other| if other.0 > one.0 { other } else { one })
    }

    fn nearest_armed(&self) -> [(f64, Near); 3] {
        let (action, (blade, _)) = (self.action, self.weapon);
        let room = if action.touch == Touch::Placed { 0.0 } else { (self.builds.0.reach + blade) / 2.0 };
        let away = self.reply.filter(|row| row.kind == ReplyKind::Avoid).map(|row| {
            let goes = self.vocabulary.reply_goes(row);
            let back = matches!(goes, Some(Goes::Hollow | Goes::Lean | Goes::Back | Goes::Pass));
            back.then(|| self.vocabulary.reply_hollows(row) + self.vocabulary.reply_travels(row))
        });
        let reaches = match away.flatten() {
            Some(away) if action.touch == Touch::Nothing => self.stretch(TWO_HANDS) + CHEST + SHORT - away,
            _ => 0.0,
        };
        [(room, Near::NoRoom), (reaches, Near::Reaches), (self.bent_arm_reaches(), Near::BentArm)]
    }

    /// From where a weapon that is met, or got out of the way of, reaches the body with a bent arm; 0 for one that is not
    /// meant to be.
    fn bent_arm_reaches(&self) -> f64 {
        let met = self.reply.is_some_and(|row| row.kind.is_met());
        let meant = met && matches!(self.action.touch, Touch::Blades | Touch::Nothing) && !self.at_weapon();
        if meant { self.stretch(1.0) + CHEST - self.builds.0.reach * BENT } else { 0.0 }
    }

    /// From where a hand that must not touch the head lands on it with the arm held out; 0 for all else, which schools do at
    /// any distance.
    fn hand_lands(&self) -> f64 {
        let head = self.target().is_some_and(|(_, row)| row.part == Some(Part::Head));
        let hand = matches!(self.action.limb(), Limb::Hand | Limb::Fist);
        if head && hand && self.action.touch == Touch::Nothing { self.stretch(1.0) + CHEST - HAND } else { 0.0 }
    }

    fn target(&self) -> Option<(&str, &Target)> {
        let word = self.planned.target.as_deref()?;
        Some((word, self.vocabulary.targets.get(word)?))
    }

    /// What it sweeps.
    pub(super) fn sweep(&self, beat: f64) -> Option<Sweep> {
        let wide = self.action.sweeps()?;
        let target = self.target();
        let overhead = target.is_some_and(|(_, row)| row.heights.contains(&Height::Overhead));
        let both = wide.from.max(wide.past);
        let angles = match (self.planned.side, target) {
            _ if wide.upright => (wide.from, wide.from),
            // Over the head it comes down in the plane of the two; what goes past it comes from the side.
            (_, _) if overhead && self.action.goes() == Some(Goes::Cut) => (wide.past, wide.past),
            // The left of the one who is hit is on the right of the one who strikes: with the clock.
            (Some(Side::Left), Some((_, row))) if row.sided => (wide.past, wide.from),
            (Some(Side::Right), Some((_, row))) if row.sided => (wide.from, wide.past),
            _ => (both, both),
        };
        let least = self.action.least.0 as f64 / 1e6;
        Some(Sweep {
            of_move: self.index,
            span: (beat - least, beat + FOLLOWS),
            beat,
            radius: self.stretch(1.0),
            angles,
            heights: self.heights(target.map(|(_, row)| row), overhead),
            armed: self.action.limb() == Limb::Blade && self.weapon.0 > 0.0,
        })
    }

    /// From the lowest to the highest of what it sweeps, above the floor of the one who strikes.
    fn heights(&self, target: Option<&Target>, overhead: bool) -> (f64, f64) {
        let (build, shoulder) = (self.builds.0, self.builds.0.shoulder());
        let target = share_of(target) * self.partner_high;
        let hand = match self.action.limb() {
            // A foot leaves the floor.
            Limb::Foot | Limb::Knee => 0.0,
            _ => target.clamp(shoulder * 0.75, shoulder * 1.05),
        };
        let swung = matches!(self.action.goes(), Some(Goes::Cut | Goes::Sweep | Goes::Wind));
        let top = match () {
            () if overhead => build.stature + self.stretch(1.0) / 2.0,
            () if swung && self.action.limb() == Limb::Blade => shoulder + DRAWN_UP,
            () => hand,
        };
        (target.min(hand) - MARGIN, target.max(hand).max(top) + MARGIN)
    }
}

/// How high a place on a body lies, as a share of how high the body ends. Assumption, after figures of proportion.
pub(super) fn share_of(target: Option<&Target>) -> f64 {
    target.and_then(Target::spot).map_or(0.6, |spot| {
        let along = f64::from(spot.along) / 100.0;
        match spot.part {
            Part::Head => 0.85 + 0.15 * along,
            Part::Trunk | Part::Back => 0.52 + 0.30 * along,
            Part::Arm => 0.45 + 0.35 * along,
            Part::Leg => 0.52 * along,
        }
    })
}
