//! How long an evening takes: all times in it are true microseconds from its beginning.

/// A second.
pub(super) const SECOND: i64 = 1_000_000;
/// For so long chance does its worst.
pub(super) const CHAOS: i64 = 40 * SECOND;
/// And for so long all is well afterwards.
pub(super) const CALM: i64 = 12 * SECOND;
