//! The one module that reads a clock. Everything else is given the time.

use std::time::Instant;

use crate::units::ServerTime;

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

/// The wall clock, UTC, for the log.
#[allow(clippy::disallowed_methods, reason = "this module owns the clock")]
pub fn utc_now() -> jiff::Timestamp {
    jiff::Timestamp::now()
}
