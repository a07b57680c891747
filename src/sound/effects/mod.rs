//! The effects that are computed, so that a new production sounds at once. One file an effect; what they share lies
//! beside them: bars that bend (`beam`), modes that ring (`modal`), blades that meet (`blades`), the boards of a stage
//! (`deck`), moving air (`filter`). Every effect has several takes that differ in what differs between two blows: where,
//! how hard, how often it bounces. A take is computed, so it comes out the same on every machine that computes alike.
//!
//! A new effect is a file, a kind in [`Effect`] and its row in [`Effect::name`] and [`Effect::render`].

pub mod beam;
mod bell;
mod blades;
mod cloth;
mod deck;
mod fall;
mod filter;
mod finish;
mod grunt;
mod heavy_steel;
pub(super) mod hold_tone;
pub mod material;
pub mod modal;
mod punch;
mod scrape;
mod seed;
mod slap;
mod stamp;
mod steel;
mod swish;
mod wood;

use modal::Mode;
pub(super) use seed::Seed;

/// An effect, by what is heard.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Effect {
    /// Two light blades meet.
    Steel,
    /// Two heavy blades meet.
    HeavySteel,
    /// A blade on the bell of a guard.
    Bell,
    /// A blade slides along another.
    Scrape,
    /// A blade through air.
    Swish,
    /// A blade into cloth, a hand on cloth.
    Cloth,
    /// A slap, made with the hands.
    Slap,
    /// A fist on a body.
    Punch,
    /// A body on the boards.
    Fall,
    /// Wood on wood.
    Wood,
    /// A breath that is heard.
    Grunt,
    /// A foot on the boards.
    Stamp,
}

/// How many takes every effect has.
pub const TAKES: u8 = 5;

impl Effect {
    /// Every effect.
    pub const ALL: [Effect; 12] = [
        Effect::Steel,
        Effect::HeavySteel,
        Effect::Bell,
        Effect::Scrape,
        Effect::Swish,
        Effect::Cloth,
        Effect::Slap,
        Effect::Punch,
        Effect::Fall,
        Effect::Wood,
        Effect::Grunt,
        Effect::Stamp,
    ];

    /// Its name in scores: that of the built-in vocabulary.
    pub const fn name(self) -> &'static str {
        match self {
            Effect::Steel => "steel",
            Effect::HeavySteel => "heavy-steel",
            Effect::Bell => "bell",
            Effect::Scrape => "scrape",
            Effect::Swish => "swish",
            Effect::Cloth => "cloth",
            Effect::Slap => "slap",
            Effect::Punch => "punch",
            Effect::Fall => "fall",
            Effect::Wood => "wood",
            Effect::Grunt => "grunt",
            Effect::Stamp => "stamp",
        }
    }

    /// True when a new one of it cuts off the one before: what one blade or one throat cannot do twice at a time.
    pub const fn is_alone(self) -> bool {
        matches!(self, Effect::Scrape | Effect::Grunt)
    }

    /// True for what has no contact to begin with and swells: a blade that passes, a breath. Everything else begins with the
    /// contact that its beat is for.
    pub const fn swells(self) -> bool {
        matches!(self, Effect::Swish | Effect::Grunt)
    }

    /// Computes a take (counted from 0; beyond [`TAKES`] they go on, all different) at `rate` samples per second: one
    /// channel, highest sample 1. Its first sample is not zero, its last is.
    pub fn render(self, take: u8, rate: u32) -> Vec<f32> {
        let seed = self.seed(take);
        let raw = match self {
            Effect::Steel => steel::meeting(seed).render(rate),
            Effect::HeavySteel => heavy_steel::meeting(seed).render(rate),
            Effect::Bell => bell::render(seed, rate),
            Effect::Scrape => scrape::render(seed, rate),
            Effect::Swish => swish::render(seed, rate),
            Effect::Cloth => cloth::render(seed, rate),
            Effect::Slap => slap::render(seed, rate),
            Effect::Punch => punch::render(seed, rate),
            Effect::Fall => fall::render(seed, rate),
            Effect::Wood => wood::meeting(seed).render(rate),
            Effect::Grunt => grunt::render(seed, rate),
            Effect::Stamp => stamp::render(seed, rate),
        };
        finish::finish(&raw, rate)
    }

    /// The modes that ring in a take, from beam theory; nothing for what is air, cloth or flesh.
    pub fn modes(self, take: u8) -> Vec<Mode> {
        let mut seed = self.seed(take);
        match self {
            Effect::Steel => steel::meeting(seed).modes(),
            Effect::HeavySteel => heavy_steel::meeting(seed).modes(),
            Effect::Bell => bell::modes(&mut seed),
            Effect::Wood => wood::meeting(seed).modes(),
            _ => Vec::new(),
        }
    }

    /// Every take of every effect has a stream of chance of its own.
    fn seed(self, take: u8) -> Seed {
        Seed::new(((self as u64) << 8) | u64::from(take))
    }
}
