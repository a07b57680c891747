//! How far an action or a reply takes the bodies over the floor, and how wide a blow sweeps: as its fields `travel_m`,
//! `out_m`, `sends_m` and `sweep_degrees` say it, else as it follows from the way that the row goes. The usual figures are
//! assumptions: no table of them was found. They err on the wide side where a blow could meet somebody.

use super::Vocabulary;
use super::motion::{Goes, Limb};
use super::rows::{Action, Effect, Makes, Reply, ReplyKind, Touch};

/// A step forward, back or aside, metres.
const STEP: f64 = 0.5;
/// One foot past the other.
const PASS: f64 = 0.8;
/// Out of balance.
const REEL: f64 = 0.6;
/// Over and over, or a body that goes to the floor at its full length.
const ROLL: f64 = 1.0;
/// How far somebody who is pushed or thrown off goes who does not say how.
const SENT: f64 = 0.5;
/// How far a blow is carried in with a step where the partner stands too far off for it to be believed.
pub const STEP_IN: f64 = 0.75;

/// How far a blow sweeps to either side of the way to the partner, degrees: on the side that it comes from, and beyond.
#[derive(Clone, Copy, Debug, PartialEq)]
pub struct SweepAngles {
    /// On the side that it comes from.
    pub from: f64,
    /// On the other side: where it stops, or goes past.
    pub past: f64,
    /// True when it goes over the head or straight in: then there is no side that it comes from.
    pub upright: bool,
}

impl Action {
    /// How far it takes the one who does it, metres, the way it goes, and whether they stay there.
    pub fn travels(&self) -> f64 {
        self.travel.map_or_else(|| self.usual_travel(), |it| it.0)
    }

    fn usual_travel(&self) -> f64 {
        let walks = self.limb() == Limb::Body && self.targets.is_empty() && !self.attack;
        match self.goes() {
            Some(Goes::Forward | Goes::Back | Goes::Aside) if walks => STEP,
            Some(Goes::Pass) if walks => PASS,
            Some(Goes::Reel) if walks => REEL,
            Some(Goes::Roll) if walks => ROLL,
            _ => 0.0,
        }
    }

    /// How far it can carry the one who does it to the partner and back, metres: a lunge.
    pub fn reaches_out(&self) -> f64 {
        self.out.map_or(0.0, |it| it.0)
    }

    /// How far it sends a partner who goes along with it, metres.
    pub fn sends_away(&self) -> f64 {
        let usual = if self.touch == Touch::Bodies && self.makes.contains(&Makes::Parts) { SENT } else { 0.0 };
        self.sends.map_or(usual, |it| it.0)
    }

    /// How wide it sweeps; nothing for what sweeps nothing.
    pub fn sweeps(&self) -> Option<SweepAngles> {
        let angles = |from: f64, past: f64, upright| Some(SweepAngles { from, past, upright });
        let limb = self.limb();
        if limb == Limb::Body || self.targets.is_empty() || self.touch == Touch::Bodies {
            return None;
        }
        if let Some(degrees) = self.sweep {
            return angles(f64::from(degrees), f64::from(degrees), false);
        }
        match self.goes()? {
            Goes::Thrust | Goes::Up | Goes::Down => angles(20.0, 20.0, true),
            Goes::Cut if limb == Limb::Blade => angles(90.0, 20.0, false),
            Goes::Sweep if limb == Limb::Blade => angles(90.0, 90.0, false),
            Goes::Wind if limb == Limb::Blade => angles(110.0, 30.0, false),
            Goes::Drawn | Goes::Carry | Goes::Wind => angles(60.0, 60.0, false),
            Goes::Beat | Goes::Rest => angles(30.0, 30.0, true),
            Goes::Sweep | Goes::Cut => angles(60.0, 60.0, false),
            _ => angles(45.0, 45.0, false),
        }
    }
}

impl Vocabulary {
    /// How far a reply takes the one who answers, metres, the way it goes; they stay there.
    pub fn reply_travels(&self, row: &Reply) -> f64 {
        if let Some(travel) = row.travel {
            return travel.0;
        }
        match self.reply_goes(row) {
            Some(Goes::Back | Goes::Aside) => STEP,
            Some(Goes::Pass) => PASS,
            Some(Goes::Reel) => REEL,
            Some(Goes::Roll) => ROLL,
            _ if row.effects.contains(&Effect::GoesDown) => STEP,
            _ => 0.0,
        }
    }

    /// How much further a reply takes the attacked place away while the feet stay, metres. Assumption: half a step at the most.
    pub fn reply_hollows(&self, row: &Reply) -> f64 {
        match self.reply_goes(row) {
            Some(Goes::Hollow | Goes::Lean) if row.kind == ReplyKind::Avoid => STEP / 2.0,
            _ => 0.0,
        }
    }
}

#[cfg(test)]
mod tests {
    use crate::score::vocabulary::{Mode, Vocabulary};

    #[test]
    fn what_travels_follows_from_the_way_it_goes() {
        let vocabulary = Vocabulary::built_in();
        let action = |word: &str| vocabulary.actions[word].travels();
        let reply = |word: &str| vocabulary.reply_travels(&vocabulary.replies[word]);
        assert_eq!((action("advance"), action("retire"), action("pass")), (0.5, 0.5, 0.8));
        assert_eq!((action("cut"), action("salute"), action("guard"), action("turn")), (0.0, 0.0, 0.0, 0.0));
        assert_eq!((reply("parry"), reply("duck"), reply("away"), reply("jump")), (0.0, 0.0, 0.0, 0.0));
        assert_eq!((reply("step-back"), reply("stagger"), reply("sidestep"), reply("pass-back")), (0.5, 0.6, 0.5, 0.8));
        assert!(vocabulary.actions["lunge"].reaches_out() > 0.0 && vocabulary.actions["push"].sends_away() > 0.0);
        assert_eq!(vocabulary.actions["grab"].sends_away(), 0.0);
    }

    #[test]
    fn a_company_says_how_far_its_own_go_and_how_wide() {
        let text =
            "[actions.advance]\ntravel_m = 0.9\n[actions.cut]\nsweep_degrees = 180\n[replies.stagger]\ntravel_m = 0";
        let vocabulary = Vocabulary::from_toml(text, "vocabulary.toml", Mode::Extend).unwrap();
        assert_eq!(vocabulary.actions["advance"].travels(), 0.9);
        assert_eq!(vocabulary.reply_travels(&vocabulary.replies["stagger"]), 0.0);
        let sweep = vocabulary.actions["cut"].sweeps().unwrap();
        assert_eq!((sweep.from, sweep.past), (180.0, 180.0));
    }

    #[test]
    fn every_blow_of_a_blade_sweeps_something() {
        let vocabulary = Vocabulary::built_in();
        for (word, row) in vocabulary.actions.iter().filter(|(_, row)| row.attack && row.needs_weapon) {
            let bodies = row.touch == crate::score::vocabulary::Touch::Bodies;
            assert!(row.sweeps().is_some() || bodies || row.targets.is_empty(), "{word}");
        }
    }
}
