//! What moves, which way, and where on the body, of every row: as its fields `limb`, `goes`, `part` and `along` say it, else
//! as it follows from what the row says besides, in one place, here. Where it does not follow there is none, and then there
//! is no picture: never a wrong one.

use super::Vocabulary;
use super::motion::{Goes, Limb, Part, Spot};
use super::rows::{Action, Effect, Height, Makes, Need, Posture, Reply, ReplyKind, Target, Touch, Vital, Words};

/// The usual places of targets of which a row says only the height; common practice, no source.
const HEAD: Spot = Spot { part: Part::Head, along: 55 };
const CROWN: Spot = Spot { part: Part::Head, along: 100 };
const CHEST: Spot = Spot { part: Part::Trunk, along: 80 };
const WAIST: Spot = Spot { part: Part::Trunk, along: 45 };
const HIP: Spot = Spot { part: Part::Trunk, along: 5 };
const LEG: Spot = Spot { part: Part::Leg, along: 60 };

impl Target {
    /// Where on the body it lies: as the row says, else by its heights. Nothing for what is no part of the body, and
    /// for a part of which the row says neither place nor height.
    pub fn spot(&self) -> Option<Spot> {
        let usual = self.usual_spot();
        let part = self.part.or(usual.map(|spot| spot.part))?;
        let usual = usual.filter(|spot| spot.part == part).map_or(50, |spot| spot.along);
        self.body.then(|| Spot { part, along: self.along.unwrap_or(usual).min(100) })
    }

    fn usual_spot(&self) -> Option<Spot> {
        let at = |height| self.heights.contains(&height);
        match (at(Height::Overhead), at(Height::High), at(Height::Low)) {
            _ if self.leg => Some(LEG),
            (true, ..) => Some(CROWN),
            (_, true, true) => Some(WAIST),
            (_, true, false) if self.vital == Vital::Never => Some(HEAD),
            (_, true, false) => Some(CHEST),
            (_, false, true) => Some(HIP),
            (false, false, false) => None,
        }
    }
}

impl Action {
    /// What goes to the partner: as the row says, else the weapon where one is needed, the hand that takes hold, the
    /// open hand, the foot of what needs its legs free, and the fist of every other blow.
    pub fn limb(&self) -> Limb {
        let needs = |need| self.needs.contains(&need);
        let grips = self.makes.contains(&Makes::Holds) || needs(Need::Hand) || needs(Need::BothHands);
        self.limb.unwrap_or(match self.touch {
            _ if self.targets.is_empty() => Limb::Body,
            _ if self.needs_weapon => Limb::Blade,
            _ if self.open_hand || grips => Limb::Hand,
            Touch::Bodies => Limb::Body,
            Touch::Blades | Touch::Placed => Limb::Hand,
            Touch::Nothing if needs(Need::Legs) => Limb::Foot,
            Touch::Nothing => Limb::Fist,
        })
    }

    /// Which way it goes: as the row says, else by what it is done with and what it touches.
    pub fn goes(&self) -> Option<Goes> {
        self.goes.or_else(|| match self.limb() {
            Limb::Body | Limb::Hand if self.touch == Touch::Bodies => self.usual_push(),
            _ if self.targets.is_empty() => None,
            Limb::Blade => Some(self.usual_stroke()),
            Limb::Hand => Some(Goes::Cut),
            Limb::Knee => Some(Goes::Up),
            Limb::Hilt | Limb::Fist | Limb::Elbow | Limb::Foot => Some(Goes::Thrust),
            Limb::Body => None,
        })
    }

    fn usual_push(&self) -> Option<Goes> {
        let makes = |makes| self.makes.contains(&makes);
        match () {
            () if makes(Makes::Holds) => Some(Goes::Rest),
            () if self.effects.contains(&Effect::DownsOther) => Some(Goes::Down),
            () if makes(Makes::Closes) || makes(Makes::Parts) => Some(Goes::Forward),
            () => None,
        }
    }

    fn usual_stroke(&self) -> Goes {
        match self.touch {
            _ if self.straight => Goes::Thrust,
            Touch::Placed => Goes::Drawn,
            Touch::Nothing if self.attack => Goes::Sweep,
            Touch::Nothing | Touch::Blades | Touch::Bodies => Goes::Cut,
        }
    }

    /// The same for what is done to a weapon: as the row says, else blades that lie at each other are carried, and
    /// others are beaten.
    pub fn goes_at_weapon(&self) -> Goes {
        let usual = if self.needs.contains(&Need::Blades) { Goes::Carry } else { Goes::Beat };
        self.goes.unwrap_or(usual)
    }
}

impl Vocabulary {
    /// Which way the body of the one who answers goes: as the row says, else by what it makes of the body and by what
    /// it avoids: what parts goes back, what is done from the floor rolls, over the legs one jumps, under the head one ducks.
    pub fn reply_goes(&self, row: &Reply) -> Option<Goes> {
        row.goes.or_else(|| match row.kind {
            ReplyKind::Avoid if row.makes.contains(&Makes::Parts) => Some(Goes::Back),
            ReplyKind::Avoid if row.posture == Posture::Low => Some(Goes::Roll),
            ReplyKind::Avoid => self.usual_avoidance(&row.targets),
            _ => None,
        })
    }

    fn usual_avoidance(&self, targets: &Words) -> Option<Goes> {
        let Words::These(words) = targets else { return None };
        let all = |is: fn(&Target) -> bool| {
            !words.is_empty() && words.iter().all(|word| self.targets.get(word).is_some_and(is))
        };
        match () {
            () if all(|row| row.leg) => Some(Goes::Up),
            () if all(|row| row.vital == Vital::Never) => Some(Goes::Down),
            () => None,
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// What the rows leave out follows from the rest.
    #[test]
    fn what_a_row_leaves_out_follows() {
        let vocabulary = Vocabulary::built_in();
        let of = |word: &str| (vocabulary.actions[word].limb(), vocabulary.actions[word].goes());
        assert_eq!(of("thrust"), (Limb::Blade, Some(Goes::Thrust)));
        assert_eq!(of("cut"), (Limb::Blade, Some(Goes::Cut)));
        assert_eq!(of("slash"), (Limb::Blade, Some(Goes::Sweep)));
        assert_eq!(of("draw-cut"), (Limb::Blade, Some(Goes::Drawn)));
        assert_eq!(of("punch"), (Limb::Fist, Some(Goes::Thrust)));
        assert_eq!(of("slap"), (Limb::Hand, Some(Goes::Cut)));
        assert_eq!(of("kick"), (Limb::Foot, Some(Goes::Thrust)));
        assert_eq!(of("grab"), (Limb::Hand, Some(Goes::Rest)));
        assert_eq!(vocabulary.actions["bind"].goes_at_weapon(), Goes::Carry);
        assert_eq!(vocabulary.actions["beat"].goes_at_weapon(), Goes::Beat);
        let goes = |word: &str| vocabulary.reply_goes(&vocabulary.replies[word]);
        assert_eq!((goes("duck"), goes("jump")), (Some(Goes::Down), Some(Goes::Up)));
        assert_eq!((goes("step-back"), goes("roll-away")), (Some(Goes::Back), Some(Goes::Roll)));
    }

    /// Every part of the body has a place; a weapon has none.
    #[test]
    fn every_part_of_the_body_has_a_place() {
        for (word, row) in &Vocabulary::built_in().targets {
            assert_eq!(row.spot().is_some(), row.body, "{word}");
        }
    }
}
