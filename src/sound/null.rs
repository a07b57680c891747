//! The null device: takes samples at the pace of the server's clock and throws them away, so that everything behind it
//! goes on as with a loudspeaker.

use super::player::Player;
use crate::time::ServerClock;
use crate::units::{Micros, ServerTime};

/// Samples that are taken at a time.
const CHUNK: usize = 960;
/// After a pause longer than this it does not catch up, but begins anew.
const FORGET: Micros = Micros::seconds(2);

/// Where the null device is.
#[derive(Debug)]
pub(super) struct NullDevice {
    rate: u32,
    began: ServerTime,
    taken: i64,
    waste: [f32; CHUNK],
}

impl NullDevice {
    /// Begins now.
    pub(super) fn new(rate: u32, clock: &ServerClock) -> NullDevice {
        NullDevice { rate, began: clock.now(), taken: 0, waste: [0.0; CHUNK] }
    }

    /// Samples per second.
    pub(super) fn rate(&self) -> u32 {
        self.rate
    }

    /// Takes from `player` what a device would have taken by now.
    pub(super) fn catch_up(&mut self, player: &mut Player, clock: &ServerClock) {
        let now = clock.now();
        if now.since(self.at(self.taken)) > FORGET {
            self.began = now;
            self.taken = 0;
        }
        while self.at(self.taken + CHUNK as i64) <= now {
            let heard = self.at(self.taken);
            // Silence that nobody hears is not mixed.
            if !player.pass_over(CHUNK, heard) {
                player.fill(&mut self.waste, heard);
            }
            self.taken += CHUNK as i64;
        }
    }

    /// When sample `taken` would be heard.
    fn at(&self, taken: i64) -> ServerTime {
        self.began + Micros(taken * 1_000_000 / i64::from(self.rate.max(1)))
    }
}
