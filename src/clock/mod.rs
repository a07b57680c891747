//! The member's clock: what the server's clock reads, worked out from four-timestamp exchanges, with a bound on how
//! wrong that can be. Pure: every time is an argument. `clients/core/clock.ts` and `clients/core/line.ts` follow the same
//! rules to the microsecond, and both are tested on `tests/vectors/clock.json`.

mod estimator;
mod exchange;
mod line;

pub use estimator::{ClockEstimator, Estimate, GOOD_ENOUGH, Skew};
pub use exchange::{Exchange, MemberTime};
