//! A scrape: one blade slides along another. What is rough catches and lets go, some hundred times a second and faster
//! as the blades part; each time is a tiny touch that makes both ring, and the place of it wanders along both.

use super::modal::{Mode, Push, ring};
use super::seed::Seed;
use super::steel::light_blade;

/// Pressed against each other, blades lose more than in the hand alone, 1/s.
const PRESSED: f64 = 14.0;
/// One catch is much shorter than a blow, seconds.
const CATCH: f64 = 1.1e-4;

/// The sound that a seed gives.
pub(super) fn render(mut seed: Seed, rate: u32) -> Vec<f64> {
    let blades = [light_blade(&mut seed, 0.3, 0.4), light_blade(&mut seed, 0.25, 0.35)];
    let ends = [seed.between(0.75, 0.92), seed.between(0.12, 0.2)];
    let length = seed.between(0.42, 0.52);
    let modes: Vec<(usize, f64, Mode)> = blades
        .iter()
        .enumerate()
        .flat_map(|(which, blade)| blade.modes().into_iter().map(move |(root, mode)| (which, root, mode)))
        .map(|(which, root, mode)| (which, root, Mode { fall: mode.fall + PRESSED, ..mode }))
        .collect();
    let mut pushes = Vec::new();
    let mut at = 0.0;
    while at < length {
        let done: f64 = at / length;
        let strength = seed.noise().powi(3) * (0.35 + 0.65 * (1.0 - (2.0 * done - 1.0).powi(2)));
        let amount = |(which, root, mode): &(usize, f64, Mode)| {
            let (Some(blade), Some(end)) = (blades.get(*which), ends.get(*which)) else { return 0.0 };
            let place = blade.touched + (end - blade.touched) * done;
            strength * blade.push(*root, mode.hertz, place, CATCH)
        };
        pushes.push(Push { at, amounts: modes.iter().map(amount).collect() });
        at += seed.between(0.6, 1.4) / (380.0 + 620.0 * done);
    }
    let modes: Vec<Mode> = modes.iter().map(|(.., mode)| *mode).collect();
    ring(&modes, &pushes, length + 0.5, rate)
}
