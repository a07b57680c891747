//! A bounded pace towards the port: a short burst goes out as it is, a flood is spread out, so that no driver's queue
//! overflows. Pure. The bytes that stop everything are not paced.

use crate::units::{Micros, ServerTime};

/// Messages that may go out at once.
const BURST: i64 = 64;
/// One more may go out every so often: twice what a MIDI cable carries (31,250 baud: 3 bytes in 0.96 ms).
const EVERY: Micros = Micros(480);

/// How many messages may go out.
#[derive(Clone, Debug)]
pub struct Pace {
    /// When the allowance would be full again.
    full_at: ServerTime,
}

impl Pace {
    /// A full allowance.
    pub fn new(now: ServerTime) -> Pace {
        Pace { full_at: now }
    }

    /// When the next message may go out: now, or later.
    pub fn free_at(&self, now: ServerTime) -> ServerTime {
        now.max(self.full_at - Micros(EVERY.0 * (BURST - 1)))
    }

    /// A message went out.
    pub fn spend(&mut self, now: ServerTime) {
        self.full_at = self.full_at.max(now) + EVERY;
    }
}
