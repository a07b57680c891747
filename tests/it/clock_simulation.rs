//! How good the clock is, simulated: the 95th percentile of its error after 1, 5 and 30 s on two networks, beside the
//! eight-stage register of RFC 5905 section 10. The figures to reach are those of the project's own study of filters (8
//! exchanges a second, drift within ±30 ppm; error in ms): 2.0 / 0.5 / 0.3 with 10 ± 8 ms of delay a leg and 5.7 / 1.3
//! / 0.5 with 30 ± 25; the register stays at 3.5 / 3.4 / 3.5 and 10 / 11 / 10.6.

use std::collections::VecDeque;

use holdfast::clock::{ClockEstimator, Exchange, MemberTime};
use holdfast::units::{Micros, ServerTime};

use crate::net_simulated::{Random, World};

const WORLDS: u64 = 400;
/// The study does not say how its delays were spread. Ours are uniform, which is harsher: the register itself comes out
/// 1.25 times worse here than there. Ours may be that much worse, and as much again for 400 worlds being few.
const ABOUT: f64 = 1.25 * 1.25;

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

fn simulate(middle: i64, spread: i64, every: impl Fn(&ClockEstimator) -> Micros) -> Errors {
    let mut errors = Errors(Default::default(), Default::default());
    for seed in 0..WORLDS {
        let mut random = Random(seed);
        let drift_ppm = random.unit() * 60.0 - 30.0;
        let mut world = World { random, drift_ppm, ahead: 77_000_000.0, slept: 0 };
        let (mut clock, mut register) = (ClockEstimator::new(), Register::default());
        let (mut time, mut checks) = (0, CHECKED_AT.into_iter().enumerate().peekable());
        while let Some(&(stage, at)) = checks.peek() {
            if time > at {
                let error = |offset: Micros| (offset.0 as f64 - world.true_offset(at)).abs();
                errors.0[stage].push(error(clock.estimate(MemberTime(at)).unwrap().offset));
                errors.1[stage].push(error(register.offset().unwrap()));
                checks.next();
                continue;
            }
            let [out, back] = [(); 2].map(|()| world.random.between(middle - spread, middle + spread));
            let (exchange, over) = world.exchange(time, out, 50, back);
            if over <= at {
                clock.add(exchange);
                register.add(exchange);
            }
            time += every(&clock).0;
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
fn the_clock_is_as_good_as_the_study_says_and_better_than_the_register() {
    for (middle, spread, promised) in [(10_000, 8_000, [2.0, 0.5, 0.3]), (30_000, 25_000, [5.7, 1.3, 0.5])] {
        let mut errors = simulate(middle, spread, |_| Micros::millis(125));
        let (ours, register) = (p95(&mut errors.0), p95(&mut errors.1));
        println!("{middle} ± {spread} µs, seeds 0..{WORLDS}: ours {ours:.2?} ms, register {register:.2?} ms");
        for stage in 0..3 {
            assert!(ours[stage] <= promised[stage] * ABOUT, "stage {stage}: {ours:?} ms against {promised:?}");
            assert!(ours[stage] < register[stage], "stage {stage}: {ours:?} ms, register {register:?}");
        }
    }
}

/// With the schedule that members keep (eight a second for two seconds, then one a second) it still gets better with
/// time.
#[test]
fn the_schedule_of_members_keeps_the_clock_within_a_few_milliseconds() {
    for (middle, spread, enough) in [(10_000, 8_000, [3.0, 1.5, 1.0]), (30_000, 25_000, [8.5, 4.0, 2.5])] {
        let mut errors = simulate(middle, spread, ClockEstimator::ask_every);
        let ours = p95(&mut errors.0);
        println!("{middle} ± {spread} µs, members' schedule, seeds 0..{WORLDS}: {ours:.2?} ms");
        for stage in 0..3 {
            assert!(ours[stage] <= enough[stage], "stage {stage}: {ours:?} ms against {enough:?}");
        }
    }
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
