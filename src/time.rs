//! The one module that reads a clock. Everything else is given the time.

use std::time::Instant;

use crate::units::{Micros, ServerTime};

/// The server's monotonic clock: microseconds since it was made. Copies tell the same time.
#[derive(Clone, Copy, Debug)]
pub struct ServerClock {
    epoch: Instant,
}

impl ServerClock {
    /// A clock that starts now.
    #[allow(clippy::new_without_default, reason = "starting a clock is an act, not a default value")]
    #[allow(clippy::disallowed_methods, reason = "this module owns the clock")]
    pub fn new() -> ServerClock {
        ServerClock { epoch: Instant::now() }
    }

    /// The time now.
    #[allow(clippy::disallowed_methods, reason = "this module owns the clock")]
    pub fn now(&self) -> ServerTime {
        ServerTime(i64::try_from(self.epoch.elapsed().as_micros()).unwrap_or(i64::MAX))
    }
}

/// Tells when this machine was asleep: the clock that goes on then has run ahead of the one that does not
/// (`CLOCK_BOOTTIME` and `CLOCK_MONOTONIC`, clock_gettime(2)).
#[derive(Clone, Copy, Debug)]
pub struct SleepWatch {
    ahead: Micros,
}

impl SleepWatch {
    /// Watches from now on.
    pub fn begin() -> SleepWatch {
        SleepWatch { ahead: ahead() }
    }

    /// For how long the machine was asleep since this was last asked.
    pub fn slept(&mut self) -> Micros {
        let before = std::mem::replace(&mut self.ahead, ahead());
        self.ahead - before
    }
}

#[cfg(target_os = "linux")]
fn ahead() -> Micros {
    use rustix::time::{ClockId, clock_gettime};
    let micros = |clock| {
        let now = clock_gettime(clock);
        now.tv_sec.saturating_mul(1_000_000).saturating_add(now.tv_nsec / 1_000)
    };
    // Read between two readings of the other clock, and again if this thread was held up in the middle.
    for _ in 0..5 {
        let (before, boot, after) = (micros(ClockId::Monotonic), micros(ClockId::Boottime), micros(ClockId::Monotonic));
        if after - before <= 100 {
            return Micros(boot - before);
        }
    }
    Micros(micros(ClockId::Boottime) - micros(ClockId::Monotonic))
}

/// Other systems' monotonic clocks tell nothing of sleep.
#[cfg(not(target_os = "linux"))]
fn ahead() -> Micros {
    Micros::ZERO
}

/// The wall clock, UTC, for the log.
#[allow(clippy::disallowed_methods, reason = "this module owns the clock")]
pub fn utc_now() -> jiff::Timestamp {
    jiff::Timestamp::now()
}
