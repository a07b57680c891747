//! How long to wait before trying to reach the server again.

use crate::units::Micros;

const FIRST: Micros = Micros::millis(200);
const LONGEST: Micros = Micros::seconds(2);

/// The wait after `failures` attempts in a row without a welcome: 200 ms doubling to 2 s, and of that a part between
/// half and the whole, by `chance` (0 to 1), so that fifty phones do not all come back in the same instant.
pub fn wait_before_retry(failures: u32, chance: f64) -> Micros {
    let whole = FIRST.0.saturating_mul(1 << failures.min(16)).min(LONGEST.0);
    let chance = if chance.is_finite() { chance.clamp(0.0, 1.0) } else { 1.0 };
    Micros(whole / 2 + (whole as f64 / 2.0 * chance) as i64)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn it_doubles_to_two_seconds_and_varies_by_half() {
        for (failures, whole) in [(0, 200), (1, 400), (2, 800), (3, 1600), (4, 2000), (5, 2000), (60, 2000)] {
            assert_eq!(wait_before_retry(failures, 1.0), Micros::millis(whole));
            assert_eq!(wait_before_retry(failures, 0.0), Micros(Micros::millis(whole).0 / 2));
        }
        assert_eq!(wait_before_retry(0, f64::NAN), Micros::millis(200));
        assert_eq!(wait_before_retry(0, -3.0), Micros::millis(100));
    }
}
