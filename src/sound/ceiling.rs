//! The ceiling of the mix: no true peak leaves it over -1 dBTP, however many sounds meet (EBU R 128 asks for no more of a
//! programme). What stays under it passes untouched, bit for bit.
//!
//! A limiter that delays nothing. The mix of the next millisecond or so is computed ahead, from the sounds that have begun:
//! the gain falls in a straight line to what each coming peak asks for, and comes back slowly. What begins meanwhile, and is
//! too loud with the rest, turns it down at once: that step lies in a loud onset, and the onset stays where it is. Where the
//! mix is silent the gain comes back at once, so that the call of a hold is as loud as it is meant to be.
//!
//! Peaks are those between samples as well (`between`).

use super::between::{Between, REACH};
use super::loudness::HIGHEST;
use crate::units::Decibels;

/// Samples over which the gain falls from all to nothing: 1.3 ms at 48 kHz.
const AHEAD: usize = 64;
/// How many samples of the mix have to be known beyond those that are limited.
pub(super) const LOOK: usize = AHEAD + REACH;
/// The most samples that are limited at a time.
pub(super) const MOST: usize = 512;
/// Two thirds of the way back take so long: seconds.
const RELEASE: f32 = 0.060;
/// So near to all the gain counts as all.
const ALL: f32 = 0.999;
/// Decibels that are left for the gain's own movement within a peak, and for what two meters of true peaks differ by.
const SPARE: f64 = 0.5;
/// What is beyond this is no sound.
const ABSURD: f32 = 10_000.0;

/// The limiter.
#[derive(Debug)]
pub(super) struct Ceiling {
    between: Between,
    highest: f32,
    /// Of samples that are no higher no peak can be too high.
    quiet: f32,
    /// How much of the way back the gain comes with each sample.
    back: f32,
    gain: f32,
    /// The samples before, as they were mixed.
    past: [f32; REACH],
}

impl Ceiling {
    /// A limiter at so many samples per second, after silence.
    pub(super) fn new(rate: u32) -> Ceiling {
        let between = Between::new();
        let highest = Decibels(HIGHEST - SPARE).amplitude() as f32;
        let quiet = highest / between.most();
        let back = 1.0 - (-1.0 / (RELEASE * rate.max(1) as f32)).exp();
        Ceiling { between, highest, quiet, back, gain: 1.0, past: [0.0; REACH] }
    }

    /// Gives the first of `mix` to `out`, at most [`MOST`], and none of their peaks over the ceiling. `mix` has [`LOOK`] more.
    pub(super) fn pass(&mut self, mix: &[f32], out: &mut [f32]) {
        let mut all = [0.0; REACH + MOST + LOOK];
        let (past, coming) = all.split_at_mut(REACH);
        past.copy_from_slice(&self.past);
        for (here, sample) in coming.iter_mut().zip(mix) {
            *here = if sample.is_nan() { 0.0 } else { sample.clamp(-ABSURD, ABSURD) };
        }
        let all = &all[..REACH + out.len() + LOOK];
        if self.gain == 1.0 && all.iter().all(|sample| sample.abs() <= self.quiet) {
            out.copy_from_slice(&all[REACH..REACH + out.len()]);
        } else {
            self.turn_down(all, out);
        }
        self.past.copy_from_slice(&all[out.len()..out.len() + REACH]);
    }

    fn turn_down(&mut self, all: &[f32], out: &mut [f32]) {
        let mut asked = [1.0_f32; MOST + AHEAD];
        let asked = &mut asked[..out.len() + AHEAD];
        self.ask(all, asked);
        let mut next = 1.0_f32;
        for gain in asked.iter_mut().rev() {
            *gain = gain.min(next + 1.0 / AHEAD as f32);
            next = *gain;
        }
        let pairs = all[REACH - 1..].windows(2);
        for ((out, pair), asked) in out.iter_mut().zip(pairs).zip(asked) {
            let is_silent = pair[0] == 0.0 && pair[1] == 0.0;
            let back = self.gain + (1.0 - self.gain) * self.back;
            self.gain = if is_silent || back > ALL { 1.0 } else { back }.min(*asked);
            *out = pair[1] * self.gain;
        }
    }

    /// The gain that each sample asks for, and the points on either side of it.
    fn ask(&self, all: &[f32], asked: &mut [f32]) {
        let mut before = 0.0_f32;
        // The nth window lies around the points between the sample before the nth and the nth.
        for (n, (around, asks)) in all.windows(2 * REACH).zip(asked.iter_mut()).enumerate() {
            let after = match all.get(n + 1..n + 1 + 2 * REACH) {
                Some(next) => highest(self.between.points(next)),
                None => 0.0,
            };
            if n == 0 {
                before = highest(self.between.points(around));
            }
            let peak = before.max(after).max(around[REACH].abs());
            if peak > self.highest {
                *asks = self.highest / peak;
            }
            before = after;
        }
    }
}

fn highest<const N: usize>(points: [f32; N]) -> f32 {
    points.into_iter().fold(0.0, |highest, point| highest.max(point.abs()))
}
