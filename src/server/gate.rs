//! What becomes of those who come with a wrong secret: each failure from an address makes the next answer to it slower.
//! Secrets are far too long to guess; this keeps guessing from costing anybody else time.

use std::collections::HashMap;
use std::net::IpAddr;
use std::sync::{Mutex, PoisonError};
use std::time::Duration;

use crate::rules::LONGEST_REFUSAL;
use crate::units::{Micros, ServerTime};

const FORGOTTEN_AFTER: Micros = Micros::seconds(60);
const LONGEST_PAUSE: Duration = Duration::from_micros(LONGEST_REFUSAL.0.unsigned_abs());
const MOST_ADDRESSES: usize = 10_000;

/// The failures of late, by address.
#[derive(Debug, Default)]
pub(super) struct Gate {
    failures: Mutex<HashMap<IpAddr, (u32, ServerTime)>>,
}

impl Gate {
    /// Counts a failure; says how long the refusal is to be kept back.
    pub(super) fn refused(&self, from: IpAddr, now: ServerTime) -> Duration {
        let mut failures = self.failures.lock().unwrap_or_else(PoisonError::into_inner);
        if failures.len() >= MOST_ADDRESSES {
            failures.retain(|_, (_, last)| now.since(*last) < FORGOTTEN_AFTER);
        }
        let (count, last) = failures.entry(from).or_insert((0, now));
        if now.since(*last) >= FORGOTTEN_AFTER {
            *count = 0;
        }
        *count = count.saturating_add(1);
        *last = now;
        Duration::from_millis(50).saturating_mul(1 << (*count).min(10)).min(LONGEST_PAUSE)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn each_failure_waits_longer_and_a_minute_forgives() {
        let gate = Gate::default();
        let here = IpAddr::from([127, 0, 0, 1]);
        let first = gate.refused(here, ServerTime(0));
        let second = gate.refused(here, ServerTime(1));
        assert!(second > first);
        for _ in 0..20 {
            assert!(gate.refused(here, ServerTime(2)) <= LONGEST_PAUSE);
        }
        assert_eq!(gate.refused(IpAddr::from([127, 0, 0, 2]), ServerTime(3)), first, "nobody else waits");
        assert_eq!(gate.refused(here, ServerTime(61_000_000)), first);
    }
}
