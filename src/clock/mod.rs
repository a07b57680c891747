//! The member's clock: what the server's clock reads, worked out from four-timestamp exchanges, with a bound on how
//! wrong that can be. Pure: every time is an argument. `clients/core/clock.ts` follows the same rules to the
//! microsecond, and both are tested on `tests/vectors/clock.json`.

mod estimator;
mod exchange;

pub use estimator::{ClockEstimator, DRIFT_PPM, Estimate, WINDOW};
pub use exchange::{Exchange, MemberTime};
