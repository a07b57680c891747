//! A foot on the boards: the heel, hard and short, then the sole.

use super::deck::Deck;
use super::modal::ring;
use super::seed::Seed;

/// The sound that a seed gives.
pub(super) fn render(mut seed: Seed, rate: u32) -> Vec<f64> {
    let deck = Deck::new(2_600.0);
    let place = (seed.between(0.3, 0.7), seed.between(0.3, 0.7));
    let sole = (place.0 + seed.between(0.06, 0.1), place.1 + seed.between(-0.03, 0.03));
    let pushes = [
        deck.push(0.0, place, seed.between(0.0006, 0.0010), 1.0),
        deck.push(seed.between(0.012, 0.028), sole, seed.between(0.0012, 0.0022), seed.between(0.4, 0.7)),
    ];
    ring(&deck.modes(), &pushes, 0.7, rate)
}
