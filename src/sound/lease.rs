//! The player on loan to a device: a rodio source while it is away, and back home when the device is done with it.

use std::num::NonZero;
use std::sync::mpsc::Sender;
use std::time::Duration;

use super::player::Player;

/// One continuous source of one channel that never ends. When it is dropped (which only closing the stream does), the
/// player goes home, with everything that waits in it.
pub(super) struct Lease {
    player: Option<Player>,
    home: Sender<Player>,
    rate: NonZero<u32>,
}

impl Lease {
    /// Lends `player`, whose rate is `rate`.
    pub(super) fn new(player: Player, rate: NonZero<u32>, home: Sender<Player>) -> Lease {
        Lease { player: Some(player), home, rate }
    }
}

impl Iterator for Lease {
    type Item = f32;

    #[inline]
    fn next(&mut self) -> Option<f32> {
        self.player.as_mut().map(Player::next_sample)
    }
}

impl rodio::Source for Lease {
    fn current_span_len(&self) -> Option<usize> {
        None
    }

    fn channels(&self) -> NonZero<u16> {
        NonZero::<u16>::MIN
    }

    fn sample_rate(&self) -> NonZero<u32> {
        self.rate
    }

    fn total_duration(&self) -> Option<Duration> {
        None
    }
}

impl Drop for Lease {
    fn drop(&mut self) {
        if let Some(player) = self.player.take() {
            // Nobody is at home when the whole of the sound is being closed: then it ends here.
            let _ = self.home.send(player);
        }
    }
}
