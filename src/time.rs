//! The one module that reads a clock. Everything else is given the time.

use std::fmt;
use std::sync::Arc;
use std::time::Instant;

use crate::units::{Micros, ServerTime};

/// The server's monotonic clock: microseconds since it was made. Copies tell the same time.
#[derive(Clone, Copy, Debug)]
pub struct ServerClock {
    source: Source,
}

/// Where the time is from.
#[derive(Clone, Copy, Debug)]
enum Source {
    /// This machine, since then.
    Machine(Instant),
    /// A simulation, which says how late it is.
    #[cfg(test)]
    Told(&'static std::sync::atomic::AtomicI64),
}

impl ServerClock {
    /// A clock that starts now.
    #[allow(clippy::new_without_default, reason = "starting a clock is an act, not a default value")]
    #[allow(clippy::disallowed_methods, reason = "this module owns the clock")]
    pub fn new() -> ServerClock {
        ServerClock { source: Source::Machine(Instant::now()) }
    }

    /// A clock that tells the time which a simulation puts there.
    #[cfg(test)]
    pub(crate) fn told(now: &'static std::sync::atomic::AtomicI64) -> ServerClock {
        ServerClock { source: Source::Told(now) }
    }

    /// The time now.
    #[allow(clippy::disallowed_methods, reason = "this module owns the clock")]
    pub fn now(&self) -> ServerTime {
        match self.source {
            Source::Machine(epoch) => ServerTime(i64::try_from(epoch.elapsed().as_micros()).unwrap_or(i64::MAX)),
            #[cfg(test)]
            Source::Told(now) => ServerTime(now.load(std::sync::atomic::Ordering::Relaxed)),
        }
    }
}

/// Tells when this machine was asleep: the clock that goes on then has run ahead of the one that does not
/// (`CLOCK_BOOTTIME` and `CLOCK_MONOTONIC`, clock_gettime(2)).
#[derive(Debug)]
pub struct SleepWatch {
    clock: SleepClock,
    ahead: Micros,
}

impl SleepWatch {
    /// Watches this machine from now on.
    pub fn begin() -> SleepWatch {
        SleepWatch::of(SleepClock::of_this_machine())
    }

    /// Watches what that clock tells from now on.
    pub fn of(clock: SleepClock) -> SleepWatch {
        SleepWatch { ahead: clock.read(), clock }
    }

    /// For how long the machine was asleep since this was last asked.
    pub fn slept(&mut self) -> Micros {
        let before = std::mem::replace(&mut self.ahead, self.clock.read());
        self.ahead - before
    }
}

/// How long this machine has slept, counted from any instant. A test may tell another story: no test can put the
/// machine to sleep.
#[derive(Clone)]
pub struct SleepClock(Arc<dyn Fn() -> Micros + Send + Sync>);

impl SleepClock {
    /// What this machine's own clocks say.
    pub fn of_this_machine() -> SleepClock {
        SleepClock::new(ahead)
    }

    /// What `slept` says, which never falls.
    pub fn new(slept: impl Fn() -> Micros + Send + Sync + 'static) -> SleepClock {
        SleepClock(Arc::new(slept))
    }

    fn read(&self) -> Micros {
        (self.0)()
    }
}

impl fmt::Debug for SleepClock {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str("SleepClock")
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

/// The wall clock as files know it.
#[allow(clippy::disallowed_methods, reason = "this module owns the clock")]
pub fn file_time_now() -> std::time::SystemTime {
    std::time::SystemTime::now()
}

/// The wall clock, UTC, for the log.
#[allow(clippy::disallowed_methods, reason = "this module owns the clock")]
pub fn utc_now() -> jiff::Timestamp {
    jiff::Timestamp::now()
}

/// The day, where this machine stands.
#[allow(clippy::disallowed_methods, reason = "this module owns the clock")]
pub fn today() -> jiff::civil::Date {
    jiff::tz::TimeZone::system().to_datetime(utc_now()).date()
}
