//! A body on the boards: knee, hip, shoulder and arm come down one after the other, soft and heavy, and the boards answer.

use super::cloth::rustle;
use super::deck::Deck;
use super::modal::ring;
use super::seed::Seed;

/// What comes down: after how many seconds, how hard, and how long it touches. The hip weighs most.
const PARTS: [(f64, f64, f64); 4] = [(0.0, 0.7, 0.005), (0.085, 1.0, 0.007), (0.165, 0.6, 0.005), (0.25, 0.3, 0.003)];

/// The sound that a seed gives.
pub(super) fn render(mut seed: Seed, rate: u32) -> Vec<f64> {
    let deck = Deck::new(900.0);
    let mut place = (seed.between(0.25, 0.4), seed.between(0.3, 0.45));
    let mut pushes = Vec::new();
    let mut clothes = Vec::new();
    for (at, strength, touch) in PARTS {
        let at = at * seed.between(0.85, 1.2);
        let strength = strength * seed.between(0.8, 1.2);
        pushes.push(deck.push(at, place, touch * seed.between(0.8, 1.3), strength));
        clothes.push((at, strength));
        place = (place.0 + seed.between(0.02, 0.1), place.1 + seed.between(-0.05, 0.08));
    }
    let mut out = ring(&deck.modes(), &pushes, 1.0, rate);
    let highest = out.iter().fold(0.0f64, |high, sample| high.max(sample.abs()));
    for (at, strength) in clothes {
        let cloth = rustle(&mut seed, rate, 700.0, 0.03, 0.15);
        let first = (at * f64::from(rate)).round() as usize;
        for (sample, cloth) in out.iter_mut().skip(first).zip(cloth) {
            *sample += 0.35 * highest * strength * cloth;
        }
    }
    out
}
