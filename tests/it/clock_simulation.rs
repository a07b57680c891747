//! How good the clock is, simulated: the 95th percentile of its error after 1, 5 and 30 s of a run, asked as members ask,
//! beside the eight-stage register of RFC 5905 section 10 on the same exchanges. What must be reached are the figures of
//! the clock's own charter, in ms after 5 and 30 s: 1.5 / 0.5 with legs of 30 ± 25 ms (uniform), 0.6 / 0.3 with 10 ± 8.

use std::collections::VecDeque;

use holdfast::clock::{ClockEstimator, Exchange, MemberTime};
use holdfast::units::{Micros, ServerTime};

use crate::net_simulated::{Random, World, ask_as_members_do};

/// So many that a 95th percentile is off by about 6 %.
const WORLDS: u64 = 600;

const CHECKED_AT: [i64; 3] = [1_000_000, 5_000_000, 30_000_000];

/// RFC 5905 section 10's clock filter, as far as the choice of the offset goes: of the last eight, the one with the
/// least delay.
#[derive(Default)]
struct Register(VecDeque<Exchange>);

impl Register {
    fn add(&mut self, exchange: Exchange) {
        self.0.push_front(exchange);
        self.0.truncate(8);
    }

    fn offset(&self) -> Option<Micros> {
        self.0.iter().min_by_key(|exchange| exchange.delay()).map(Exchange::offset)
    }
}

/// Errors in µs at the three moments: the estimator's and the register's.
struct Errors([Vec<f64>; 3], [Vec<f64>; 3]);

fn simulate(middle: i64, spread: i64, drift: f64) -> Errors {
    let mut errors = Errors(Default::default(), Default::default());
    for seed in 0..WORLDS {
        let mut random = Random(seed);
        let drift_ppm = (random.unit() * 2.0 - 1.0) * drift;
        let mut world = World { random, drift_ppm, ahead: 77_000_000.0, slept: 0 };
        let (mut register, mut at_each) = (Register::default(), [[0.0; 2]; 3]);
        let legs = |random: &mut Random| [(); 2].map(|()| random.between(middle - spread, middle + spread));
        let truth = World { random: Random(0), ..world };
        // Whatever was taken before a moment that is checked, the last of it stays.
        let check = |clock: &ClockEstimator, exchange, over| {
            register.add(exchange);
            for (stage, at) in CHECKED_AT.into_iter().enumerate().filter(|(_, at)| (over..over + 500_000).contains(at))
            {
                let error = |offset: Micros| (offset.0 as f64 - truth.true_offset(at)).abs();
                let ours = clock.estimate(MemberTime(at)).unwrap().offset;
                at_each[stage] = [error(ours), error(register.offset().unwrap())];
            }
        };
        ask_as_members_do(&mut world, &mut ClockEstimator::new(), (0, CHECKED_AT[2]), true, legs, check);
        for (stage, [ours, register]) in at_each.into_iter().enumerate() {
            errors.0[stage].push(ours);
            errors.1[stage].push(register);
        }
    }
    errors
}

/// The 95th percentiles in ms.
fn p95(errors: &mut [Vec<f64>; 3]) -> [f64; 3] {
    errors.each_mut().map(|errors| {
        errors.sort_by(f64::total_cmp);
        errors[errors.len() * 95 / 100] / 1000.0
    })
}

#[test]
fn the_clock_is_as_good_in_a_run_as_it_must_be_and_better_than_the_register() {
    for (middle, spread, promised) in [(10_000, 8_000, [0.6, 0.3]), (30_000, 25_000, [1.5, 0.5])] {
        let mut errors = simulate(middle, spread, 50.0);
        let (ours, register) = (p95(&mut errors.0), p95(&mut errors.1));
        println!("{middle} ± {spread} µs, seeds 0..{WORLDS}: {ours:.2?} ms, register {register:.2?} ms");
        assert!(ours.iter().zip(&register).all(|(ours, register)| ours < register), "{ours:?}, register {register:?}");
        assert!(ours[1] <= promised[0] && ours[2] <= promised[1], "{ours:?} ms against {promised:?}");
    }
}

/// A clock that is steered by hundreds of ppm: what that costs in the first seconds is not promised, and after half a
/// minute it is known.
#[test]
fn a_steered_clock_is_known_after_half_a_minute() {
    for (middle, spread, promised) in [(10_000, 8_000, 0.4), (30_000, 25_000, 1.0)] {
        let mut errors = simulate(middle, spread, 499.0);
        let ours = p95(&mut errors.0);
        println!("{middle} ± {spread} µs, steered, seeds 0..{WORLDS}: {ours:.2?} ms");
        assert!(ours[2] <= promised, "{ours:?} ms against {promised}");
    }
}

/// On a quiet network at 50 ppm the skew is what is left to know: asked once a second, the clock stays within 0.03 ms.
#[test]
fn on_a_quiet_network_the_drift_is_followed() {
    let mut errors = Vec::new();
    for seed in 0..200 {
        let mut world = World { random: Random(seed), drift_ppm: 50.0, ahead: 5e6, slept: 0 };
        let quiet = |random: &mut Random| [(); 2].map(|()| random.between(200, 260));
        let world_at = World { random: Random(0), ..world };
        let check = |clock: &ClockEstimator, _, over: i64| {
            if over > 10_000_000 {
                let at = over + 900_000;
                let known = clock.estimate(MemberTime(at)).unwrap();
                errors.push((known.offset.0 as f64 - world_at.true_offset(at)).abs());
            }
        };
        ask_as_members_do(&mut world, &mut ClockEstimator::new(), (0, 60_000_000), false, quiet, check);
    }
    errors.sort_by(f64::total_cmp);
    let p95 = errors[errors.len() * 95 / 100] / 1_000.0;
    println!("quiet, 50 ppm, a second apart: {p95:.3} ms");
    assert!(p95 <= 0.03, "{p95} ms");
}

/// RFC 5905 section 10's register on a worked example (recomputed): of (offset, delay) (3, 20), (1, 8) and (4.5, 31) ms
/// it takes 1 ms, so the comparison above is with the real thing.
#[test]
fn the_register_takes_the_sample_with_the_least_delay() {
    let mut register = Register::default();
    for (offset, delay) in [(3_000, 20_000), (1_000, 8_000), (4_500, 31_000)] {
        let server = ServerTime(offset + delay / 2);
        register.add(Exchange { sent: MemberTime(0), received: server, answered: server, returned: MemberTime(delay) });
    }
    assert_eq!(register.offset(), Some(Micros(1_000)));
}
