//! The clock's promise, by property: the error is never larger than the bound, under any delays, asymmetry, drift up to
//! 500 ppm and any sleep, from the first exchange after it on; a sleep shorter than a round trip must be told to the
//! clock. `clock_hours.rs` is the same promise over simulated hours.

use holdfast::clock::{ClockEstimator, Exchange};
use holdfast::rules::DRIFT_PPM;
use proptest::prelude::*;

use crate::net_simulated::{Random, World};

/// What happens next between the two clocks.
#[derive(Clone, Debug)]
enum Turn {
    /// An exchange with these legs and this time at the server.
    Exchange { out: i64, held: i64, back: i64 },
    /// Nothing, for so long.
    Wait(i64),
    /// The member's clock stands still for so long, and the member notices or does not.
    Sleep { length: i64, told: bool },
}

fn turns() -> impl Strategy<Value = Vec<Turn>> {
    let leg = || prop_oneof![100..2_000i64, 2_000..60_000i64, 60_000..900_000i64];
    prop::collection::vec(
        prop_oneof![
            10 => (leg(), 0..5_000i64, leg()).prop_map(|(out, held, back)| Turn::Exchange { out, held, back }),
            5 => (1_000..2_000_000i64).prop_map(Turn::Wait),
            1 => (2_000_000..60_000_000i64).prop_map(Turn::Wait),
            1 => (3_000_000..20_000_000_000i64).prop_map(|length| Turn::Sleep { length, told: false }),
            1 => (1..3_000_000i64).prop_map(|length| Turn::Sleep { length, told: true }),
        ],
        1..120,
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(2_000))]

    #[test]
    fn the_error_is_never_larger_than_the_bound(turns in turns(), drift_ppm in -500.0..=500.0f64, ahead in -1e12..1e12f64) {
        let mut world = World { random: Random(0), drift_ppm, ahead, slept: 0 };
        let mut clock = ClockEstimator::new();
        let (mut time, mut awake) = (0, true);
        for turn in turns {
            match turn {
                Turn::Exchange { out, held, back } => {
                    let (exchange, over) = world.exchange(time, out, held, back);
                    prop_assert!(clock.add(exchange));
                    (time, awake) = (over, true);
                }
                Turn::Wait(length) => time += length,
                Turn::Sleep { length, told } => {
                    (time, awake) = (time + length, false);
                    world.slept += length;
                    if told {
                        clock.forget(world.member(time));
                    }
                }
            }
            // Nothing can be known of a sleep before the first exchange after it.
            if let Some(known) = clock.estimate(world.member(time)).filter(|_| awake) {
                let error = (known.offset.0 as f64 - world.true_offset(time)).abs();
                prop_assert!(error <= known.bound.0 as f64 + 1e-3, "error {error} µs, {known:?}");
            }
        }
    }

    /// Many exchanges never enclose less well than the last of them alone: its round trip, what both legs may have
    /// drifted meanwhile, and what the readings leave out.
    #[test]
    fn the_bound_is_never_worse_than_the_last_round_trip(
        legs in prop::collection::vec((100..100_000i64, 100..100_000i64), 1..60),
    ) {
        let world = World { random: Random(0), drift_ppm: 0.0, ahead: 5e6, slept: 0 };
        let mut clock = ClockEstimator::new();
        let mut time = 0;
        for (out, back) in legs {
            let (exchange, over) = world.exchange(time, out, 0, back);
            clock.add(exchange);
            let known = clock.estimate(exchange.returned).unwrap();
            let drift = (exchange.delay().0 * DRIFT_PPM).div_euclid(1_000_000) + 1;
            prop_assert!(known.bound.0 <= exchange.delay().0 + drift + 2);
            prop_assert!(known.round_trip <= exchange.delay());
            time = over;
        }
    }

    #[test]
    fn no_timestamps_upset_it(times in prop::collection::vec(any::<[i64; 4]>(), 0..20), now in any::<i64>(), heard in any::<i64>()) {
        use holdfast::{clock::MemberTime, units::ServerTime};
        let mut clock = ClockEstimator::new();
        for [t1, t2, t3, t4] in times {
            clock.add(Exchange { sent: MemberTime(t1), received: ServerTime(t2), answered: ServerTime(t3), returned: MemberTime(t4) });
            for now in [MemberTime(now), MemberTime(t4)] {
                clock.estimate(now);
                clock.to_server(now);
                clock.to_member(ServerTime(heard), now);
                clock.could_be(ServerTime(heard), MemberTime(t1), now);
                clock.skew();
            }
            if t1 == heard {
                clock.forget(MemberTime(now));
            }
        }
    }
}
