//! The whole way of a sound, from its sample to somebody's ear, and what a viewer notices of what is left. Pure.

use serde::Serialize;

use crate::units::{Metres, Micros};

/// The parts of the delay. Every sound is sent early by their sum.
#[derive(Clone, Copy, Debug, Default, PartialEq, Serialize)]
pub struct Delay {
    /// What the device says of itself.
    pub device: Micros,
    /// What was measured besides: amplifier, radio, processor.
    pub calibrated: Micros,
    /// Through the air.
    pub air: Micros,
}

impl Delay {
    /// All of it.
    pub fn whole(&self) -> Micros {
        self.device + self.calibrated + self.air
    }
}

/// The speed of sound in dry air, metres a second: 331.3 √(1 + θ/273.15), the usual formula for an ideal gas. Published
/// values at 20 °C lie within 0.3 % of it.
pub fn speed_of_sound(celsius: f64) -> f64 {
    331.3 * (1.0 + celsius.max(-100.0) / 273.15).sqrt()
}

/// How long sound takes from the loudspeaker to the place for which it is to be in time.
pub fn through_air(distance: Metres, celsius: f64) -> Micros {
    Micros((distance.0.max(0.0) / speed_of_sound(celsius) * 1e6).round() as i64)
}

/// What a viewer makes of a sound that is heard before or after what is seen.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Judgement {
    /// Nobody notices.
    InTime,
    /// Noticed: it is heard before it is seen.
    Early,
    /// Noticed: it is heard after it is seen.
    Late,
}

/// Sound may be this much early before it is noticed (ITU-R BT.1359-1, threshold of detectability).
pub const NOTICED_EARLY: Micros = Micros::millis(45);
/// Sound may be this much late before it is noticed (ITU-R BT.1359-1): in nature it always comes late.
pub const NOTICED_LATE: Micros = Micros::millis(125);

/// Judges what is left: how much later than its time a sound is heard.
pub fn judge(late: Micros) -> Judgement {
    if late < -NOTICED_EARLY {
        Judgement::Early
    } else if late > NOTICED_LATE {
        Judgement::Late
    } else {
        Judgement::InTime
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use proptest::prelude::*;

    /// Source: the formula of an ideal gas, and the spread of published values at 20 °C, 342.6 to 343.4 m/s (0.3 %).
    #[test]
    fn sound_is_as_fast_as_published() {
        for (celsius, expected) in [(0.0, 331.30), (20.0, 343.21), (25.0, 346.13), (30.0, 349.02)] {
            assert!((speed_of_sound(celsius) - expected).abs() < 0.01, "{celsius} °C");
        }
        for published in [342.6, 343.4] {
            assert!((speed_of_sound(20.0) / published - 1.0).abs() < 0.003);
        }
    }

    /// Source: distances over 343.2 m/s, recomputed.
    #[test]
    fn air_takes_its_time() {
        for (metres, millis) in [(5.0, 14.57), (10.0, 29.14), (15.0, 43.71), (20.0, 58.28), (30.0, 87.41)] {
            let found = through_air(Metres(metres), 20.0).as_millis();
            assert!((found - millis).abs() < 0.01, "{metres} m: {found} ms");
        }
        assert_eq!(through_air(Metres(-3.0), 20.0), Micros::ZERO);
        assert_eq!(through_air(Metres(f64::NAN), 20.0), Micros::ZERO);
    }

    /// Source: ITU-R BT.1359-1: +45 ms to -125 ms.
    #[test]
    fn the_limits_are_those_of_the_recommendation() {
        for (late, expected) in [
            (-45_001, Judgement::Early),
            (-45_000, Judgement::InTime),
            (0, Judgement::InTime),
            (125_000, Judgement::InTime),
            (125_001, Judgement::Late),
        ] {
            assert_eq!(judge(Micros(late)), expected, "{late} µs");
        }
    }

    proptest! {
        /// Late is never judged worse than as much early.
        #[test]
        fn late_is_forgiven_more(error in 0i64..1_000_000) {
            if judge(Micros(error)) == Judgement::Late {
                prop_assert_eq!(judge(Micros(-error)), Judgement::Early);
            }
        }
    }
}
