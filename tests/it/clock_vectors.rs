//! The clock's vectors: the same exchanges, the same estimates, here and in the pages' twin (`clients/core/clock.ts`).
//! Most are asked as members ask. `HOLDFAST_WRITE=1 cargo test clock_vectors` writes `tests/vectors/clock.json` anew; the test fails when it has
//! changed.

use std::fmt::Write;
use std::fs;
use std::path::Path;

use holdfast::clock::{ClockEstimator, Exchange, MemberTime};
use holdfast::units::ServerTime;

use crate::net_simulated::{Random, World, ask_as_members_do};

struct Case {
    name: String,
    exchanges: Vec<[i64; 4]>,
    at: i64,
    /// Set where the questions were asked as members ask, in a run or outside of one.
    in_a_run: Option<bool>,
}

#[test]
fn the_vectors_are_what_the_estimator_says() {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/vectors/clock.json");
    let expected = written(&cases());
    if std::env::var_os("HOLDFAST_WRITE").is_some() {
        fs::write(&file, &expected).unwrap();
    }
    let found = fs::read_to_string(&file).unwrap_or_default();
    assert_eq!(found, expected, "write it anew with HOLDFAST_WRITE=1 cargo test clock_vectors");
    let read: serde_json::Value = serde_json::from_str(&found).unwrap();
    assert_eq!(read["cases"].as_array().unwrap().len(), cases().len());
}

fn cases() -> Vec<Case> {
    let mut cases = by_hand();
    for (name, drift_ppm, jitter) in [
        ("calm network", 0.0, 2_000),
        ("busy network, server fast", 30.0, 16_000),
        ("bad network, server slow", -30.0, 50_000),
        ("quiet network, steered clock", 420.0, 40),
    ] {
        for (when, in_a_run) in [("in a run", true), ("outside of a run", false)] {
            cases.push(scheduled(&format!("{name}, {when}"), drift_ppm, jitter, in_a_run, 35_000_000));
        }
        cases.push(scheduled(&format!("{name}, the first seconds"), drift_ppm, jitter, true, 3_000_000));
        cases.push(random(&format!("{name}, asked 20 s later"), drift_ppm, jitter, 20, 500_000, 20_000_000));
    }
    cases
}

fn by_hand() -> Vec<Case> {
    let case = |name: &str, exchanges: &[[i64; 4]], at: i64| Case {
        name: name.into(),
        exchanges: exchanges.into(),
        at,
        in_a_run: None,
    };
    let hour = 3_600_000_000;
    let second = 1_000_000;
    vec![
        case("nothing yet: no estimate", &[], 1_000),
        case(
            "RFC 5905 numbers: one hour ahead, two seconds of delay",
            &[[10 * hour, 11 * hour + second, 11 * hour + 2 * second, 10 * hour + 3 * second]],
            10 * hour + 3 * second,
        ),
        case("legs of 10 and 30 ms, 2 ms at the server, true offset 0.5 s", &[[0, 510_000, 512_000, 42_000]], 42_000),
        case("odd sum: the offset is rounded down, the bound up", &[[0, 1_003, 1_003, 0]], 0),
        case("odd sum below zero", &[[0, -1_003, -1_003, 2_010]], 2_010),
        case("an age of one microsecond is charged one", &[[0, 5_000, 5_000, 10_000]], 10_001),
        case("2,000 µs of age are charged one", &[[0, 5_000, 5_000, 10_000]], 12_000),
        case("2,001 µs of age are charged two", &[[0, 5_000, 5_000, 10_000]], 12_001),
        case("asked for a moment before the answer: no charge", &[[0, 5_000, 5_000, 10_000]], 4_000),
        case("exactly 30 s old still counts", &[[0, 5_000, 5_000, 10_000]], 30 * second + 10_000),
        case("older than 30 s: no estimate", &[[0, 5_000, 5_000, 10_000]], 30 * second + 10_001),
        case(
            "fast way out of one, fast way back of the other",
            &[[0, 1_000_100, 1_000_100, 9_000], [10_000, 1_018_000, 1_018_000, 18_300]],
            18_300,
        ),
        case(
            "a gap of more than 30 s drops what was before",
            &[[0, 100, 100, 200], [31 * second, 31 * second + 9_000, 31 * second + 9_000, 31 * second + 12_000]],
            31 * second + 12_000,
        ),
        case(
            "absurd exchanges are ignored",
            &[
                [0, 5_000, 5_000, 10_000],
                [50_000, 40_000, 40_000, 40_000],
                [60_000, 70_000, 69_000, 80_000],
                [90_000, 90_000, 99_000, 95_000],
            ],
            100_000,
        ),
        case("two microseconds less than nothing are the reading of the clocks", &[[0, 0, 6, 4]], 4),
        case(
            "two microseconds of contradiction are the reading of the clocks",
            &[[0, 100, 100, 200], [1_000, 897, 897, 1_200]],
            1_200,
        ),
        case("three microseconds of contradiction are a step", &[[0, 100, 100, 200], [1_000, 896, 896, 1_200]], 1_200),
        case(
            "the laptop slept an hour",
            &[
                [0, 5_000, 5_000, 10_000],
                [second, second + 5_000, second + 5_000, second + 10_000],
                [2 * second, 2 * second + 6_000 + hour, 2 * second + 6_000 + hour, 2 * second + 11_000],
            ],
            2 * second + 20_000,
        ),
        case(
            "the member's clock went back: what is later than now is dropped",
            &[[0, 5_000, 5_000, 10_000], [2_000, 9_000, 9_000, 8_000]],
            8_000,
        ),
        case(
            "the server began anew",
            &[[0, 50 * hour, 50 * hour + 100, 10_000], [second, 3_000, 3_100, second + 8_000]],
            second + 8_000,
        ),
        case("far apart: a server up for a year", &[[12_345, 31_536_000_000_000, 31_536_000_000_321, 20_001]], 20_001),
    ]
}

/// A case from a seed: `count` exchanges, `every` µs, legs of 1 ms and up to `jitter` more, asked for `later` µs after
/// the last.
fn random(name: &str, drift_ppm: f64, jitter: i64, count: i64, every: i64, later: i64) -> Case {
    let seed = name.bytes().fold(7, |seed: u64, byte| seed.wrapping_mul(31).wrapping_add(u64::from(byte)));
    let mut world = World { random: Random(seed), drift_ppm, ahead: 123_456_789.0, slept: 0 };
    let mut case = Case { name: name.into(), exchanges: Vec::new(), at: 0, in_a_run: None };
    for n in 0..count {
        let [out, back] = [(); 2].map(|()| 1_000 + world.random.between(0, jitter));
        let held = world.random.between(10, 300);
        let (exchange, over) = world.exchange(n * every, out, held, back);
        case.exchanges.push([exchange.sent.0, exchange.received.0, exchange.answered.0, exchange.returned.0]);
        case.at = over + later;
    }
    case
}

/// A case from a seed, asked as members ask for `length` µs: legs of 0.1 ms and up to `jitter` more.
fn scheduled(name: &str, drift_ppm: f64, jitter: i64, in_a_run: bool, length: i64) -> Case {
    let seed = name.bytes().fold(7, |seed: u64, byte| seed.wrapping_mul(31).wrapping_add(u64::from(byte)));
    let mut world = World { random: Random(seed), drift_ppm, ahead: 123_456_789.0, slept: 0 };
    let legs = |random: &mut Random| [(); 2].map(|()| 100 + random.between(0, jitter));
    let mut case = Case { name: name.into(), exchanges: Vec::new(), at: length, in_a_run: Some(in_a_run) };
    let note = |_: &ClockEstimator, exchange: Exchange, _| {
        case.exchanges.push([exchange.sent.0, exchange.received.0, exchange.answered.0, exchange.returned.0]);
    };
    ask_as_members_do(&mut world, &mut ClockEstimator::new(), (0, length), in_a_run, legs, note);
    case
}

/// One case a line, so that a person can read a difference.
fn written(cases: &[Case]) -> String {
    let mut text = String::from("{\"cases\":[\n");
    for (n, Case { name, exchanges, at, in_a_run }) in cases.iter().enumerate() {
        let mut clock = ClockEstimator::new();
        for &[sent, received, answered, returned] in exchanges {
            clock.add(Exchange {
                sent: MemberTime(sent),
                received: ServerTime(received),
                answered: ServerTime(answered),
                returned: MemberTime(returned),
            });
        }
        let estimate = clock.estimate(MemberTime(*at));
        let ask_ms = [true, false].map(|in_a_run| clock.ask_every(in_a_run).0 / 1_000);
        let line = serde_json::json!({
            "name": name,
            "exchanges": exchanges,
            "at": at,
            "offset_us": estimate.map(|known| known.offset),
            "bound_us": estimate.map(|known| known.bound),
            "round_trip_us": estimate.map(|known| known.round_trip),
            "skew_ppb": clock.skew().map(|skew| skew.ppb),
            "skew_within_ppb": clock.skew().map(|skew| skew.within_ppb),
            "ask_ms": ask_ms,
            "in_a_run": in_a_run,
        });
        let comma = if n + 1 < cases.len() { "," } else { "" };
        writeln!(text, "{line}{comma}").unwrap();
    }
    text.push_str("]}\n");
    text
}
