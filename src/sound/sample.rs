//! Sample numbers: the sample clock's own time, a type of its own so that it is never mixed up with microseconds.

use crate::units::Micros;

/// The number of a sample on one channel, counted from the first that was ever asked for. One sample lasts 1/rate
/// seconds; what is heard at the same moment on all channels has one number.
#[derive(Clone, Copy, Debug, Default, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct SampleNumber(pub i64);

impl SampleNumber {
    /// The sample nearest to `time` after sample 0, at `rate` samples per second; halves go up. Exact: whole numbers
    /// throughout, so that a practice track of an hour agrees with the timeline to the sample.
    pub fn nearest(time: Micros, rate: u32) -> SampleNumber {
        let twice = 2 * i128::from(time.0) * i128::from(rate) + 1_000_000;
        SampleNumber(i64::try_from(twice.div_euclid(2_000_000)).unwrap_or(i64::MAX))
    }

    /// How many samples `length` lasts, rounded up.
    pub(crate) fn count(length: Micros, rate: u32) -> i64 {
        let exact = i128::from(length.0) * i128::from(rate);
        i64::try_from((exact + 999_999).div_euclid(1_000_000)).unwrap_or(i64::MAX)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_nearest_sample_is_exact_over_hours() {
        for (us, rate, sample) in [
            (0, 48_000, 0),
            (10, 48_000, 0),
            (11, 48_000, 1),
            (1_000_000, 44_100, 44_100),
            (3_600_000_000, 44_100, 158_760_000),
            (-1_000_000, 8_000, -8_000),
            (-10, 48_000, 0),
        ] {
            assert_eq!(SampleNumber::nearest(Micros(us), rate), SampleNumber(sample), "{us} µs at {rate} Hz");
        }
    }
}
