//! The ceiling of the mix: no sample leaves it beyond full scale, however many voices meet.
//!
//! Up to -3 dB of full scale the mix passes untouched, bit for bit; click and accent peak at -6 dB, so
//! that one alone may be 3 dB louder before it is touched. Above it the excess is bent by a hyperbolic tangent, whose slope joins at 1 and
//! whose limit is full scale. It has no memory and no look-ahead, so that it moves no onset.

/// Where bending begins: -3 dB of full scale.
pub(super) const KNEE: f32 = 0.707_945_76;

/// The sample under the ceiling; what is no number is silence.
pub(super) fn under_ceiling(sample: f32) -> f32 {
    let size = sample.abs();
    if size <= KNEE {
        return sample;
    }
    if size.is_nan() {
        return 0.0;
    }
    let room = 1.0 - KNEE;
    (KNEE + room * ((size - KNEE) / room).tanh()).copysign(sample)
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    proptest! {
        #[test]
        fn never_beyond_full_scale_never_steeper_and_untouched_below_the_knee(a in -100f32..100.0, step in 0f32..1.0) {
            let (low, high) = (under_ceiling(a), under_ceiling(a + step));
            prop_assert!(low.abs() <= 1.0);
            prop_assert!(high >= low && high - low <= step + 1e-5);
            if a.abs() <= KNEE {
                prop_assert_eq!(low, a);
            }
        }
    }

    #[test]
    fn what_is_no_number_is_silence() {
        assert_eq!(under_ceiling(f32::NAN), 0.0);
        assert_eq!(under_ceiling(f32::INFINITY), 1.0);
        assert_eq!(under_ceiling(f32::NEG_INFINITY), -1.0);
    }
}
