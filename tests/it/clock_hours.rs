//! The clock's promise over simulated hours: the error is never larger than the bound, in every sample, on networks with
//! uniform, exponential and two-humped jitter, at drifts of 0 to 500 ppm that change, after stalls and sleeps of the
//! member, standstills of the server, silences of the network and changes of the route.
//!
//! `HOLDFAST_CLOCK_HOURS=10000 cargo test --release --test it clock_hours` simulates as many hours as it says instead of
//! a hundred. Every hour is a world of its own, named by its seed.

use std::collections::VecDeque;

use holdfast::clock::{ClockEstimator, Exchange, MemberTime};
use holdfast::units::ServerTime;

use crate::net_simulated::Random;

const HOUR: i64 = 3_600_000_000;
const SECOND: i64 = 1_000_000;
/// What a member notices of its own clock: a standstill from here on (`ASLEEP` in `src/member/link.rs`, and the pages'
/// `clients/core/stall.ts`).
const NOTICED: i64 = 10_000;

/// How a leg's jitter is spread, µs.
#[derive(Clone, Copy, Debug)]
enum Jitter {
    Uniform(i64),
    Exponential(f64),
    /// Mostly the low hump, sometimes the high one.
    TwoHumps {
        low: i64,
        high: i64,
    },
}

/// One way over the network.
#[derive(Clone, Copy, Debug)]
struct Leg {
    least: i64,
    jitter: Jitter,
    /// No later message may overtake this moment.
    order: i64,
}

impl Leg {
    fn any(random: &mut Random) -> Leg {
        let spread = 20 * 10f64.powf(random.unit() * 3.4) as i64;
        let jitter = match random.between(0, 2) {
            0 => Jitter::Uniform(spread),
            1 => Jitter::Exponential(spread as f64 / 2.0),
            _ => Jitter::TwoHumps { low: spread / 4, high: spread },
        };
        Leg { least: (100.0 * 10f64.powf(random.unit() * 2.5)) as i64, jitter, order: 0 }
    }

    /// When a message that goes out at `time` arrives.
    fn arrival(&mut self, time: i64, random: &mut Random) -> i64 {
        let jitter = match self.jitter {
            Jitter::Uniform(spread) => random.between(0, spread),
            Jitter::Exponential(mean) => (-mean * (1.0 - random.unit()).ln()) as i64,
            Jitter::TwoHumps { low, high } if random.unit() < 0.8 => random.between(0, low.min(high)),
            Jitter::TwoHumps { high, .. } => high + random.between(0, high / 4),
        };
        self.order = self.order.max(time + self.least + jitter);
        self.order
    }
}

/// What happens in the world, besides questions and answers.
#[derive(Clone, Copy, Debug)]
enum Weather {
    /// The clocks part at another rate.
    Rate(f64),
    /// The network is another one.
    Route,
    /// The network carries nothing for so long; what is on the way arrives afterwards.
    Silence(i64),
    /// The member's clock stands still for so long.
    MemberStands(i64),
    /// The server's clock stands still for so long.
    ServerStands(i64),
    /// A run begins or ends.
    Run,
}

/// An hour of a member and a server.
struct Hour {
    random: Random,
    time: i64,
    server: f64,
    rate: f64,
    slept: i64,
    slept_when_looked: i64,
    out: Leg,
    back: Leg,
    in_a_run: bool,
    asked: Option<i64>,
    to_server: VecDeque<(i64, MemberTime)>,
    to_member: VecDeque<(i64, MemberTime, ServerTime)>,
    clock: ClockEstimator,
    /// The server's clock stood still after this question went out, and nothing that was asked since has come back.
    doubtful_until: Option<MemberTime>,
    samples: u64,
    errors: Vec<f64>,
}

impl Hour {
    fn new(seed: u64) -> Hour {
        let mut random = Random(seed);
        let (out, back) = (Leg::any(&mut random), Leg::any(&mut random));
        Hour {
            time: 0,
            server: random.unit() * 1e10,
            rate: any_rate(&mut random),
            slept: 0,
            slept_when_looked: 0,
            out,
            back,
            in_a_run: true,
            asked: None,
            to_server: VecDeque::new(),
            to_member: VecDeque::new(),
            clock: ClockEstimator::new(),
            doubtful_until: None,
            samples: 0,
            errors: Vec::new(),
            random,
        }
    }

    fn simulate(&mut self) -> Result<(), String> {
        let mut weather = weather(&mut self.random).into_iter().peekable();
        loop {
            let ask = self.asked.map_or(0, |asked| asked + self.clock.ask_every(self.in_a_run).0).max(self.time);
            let at = |time: Option<i64>| time.unwrap_or(i64::MAX);
            let (received, returned) =
                (at(self.to_server.front().map(|m| m.0)), at(self.to_member.front().map(|m| m.0)));
            let storm = at(weather.peek().map(|(time, _)| *time));
            let next = ask.min(received).min(returned).min(storm);
            if next > HOUR {
                return Ok(());
            }
            self.pass(next);
            if next == storm {
                self.suffer(weather.next().map_or(Weather::Route, |(_, what)| what));
            } else if next == received {
                self.receive();
            } else if next == returned {
                self.look();
                self.sample()?;
                self.take_answer();
                self.sample()?;
            } else {
                self.look();
                self.sample()?;
                self.asked = Some(self.time);
                let arrival = self.out.arrival(self.time, &mut self.random);
                self.to_server.push_back((arrival, self.member()));
            }
        }
    }

    fn member(&self) -> MemberTime {
        MemberTime(self.time - self.slept)
    }

    fn pass(&mut self, until: i64) {
        let length = (until - self.time).max(0);
        self.server += length as f64 * (1.0 + self.rate);
        self.time = self.time.max(until);
    }

    fn suffer(&mut self, what: Weather) {
        match what {
            Weather::Rate(rate) => self.rate = rate,
            Weather::Route => {
                let order = [self.out.order, self.back.order];
                (self.out, self.back) = (Leg::any(&mut self.random), Leg::any(&mut self.random));
                [self.out.order, self.back.order] = order;
            }
            Weather::Silence(length) => {
                self.out.order = self.out.order.max(self.time + length);
                self.back.order = self.back.order.max(self.time + length);
            }
            Weather::MemberStands(length) => {
                // Everything but the member goes on: what arrives at it waits.
                let until = self.time + length;
                self.server += length as f64 * (1.0 + self.rate);
                self.server_goes_on(length);
                self.time = until;
                self.slept += length;
            }
            Weather::ServerStands(length) => {
                self.time += length;
                self.doubtful_until = Some(self.member());
            }
            Weather::Run => self.in_a_run ^= true,
        }
    }

    /// What reaches the server while the member stands still is answered then.
    fn server_goes_on(&mut self, length: i64) {
        let now = self.server;
        while let Some((arrival, sent)) = self.to_server.front().copied().filter(|m| m.0 <= self.time + length) {
            self.to_server.pop_front();
            let then = now - (self.time + length - arrival) as f64 * (1.0 + self.rate);
            let back = self.back.arrival(arrival, &mut self.random);
            self.to_member.push_back((back, sent, ServerTime(then.floor() as i64)));
        }
    }

    fn receive(&mut self) {
        let Some((_, sent)) = self.to_server.pop_front() else { return };
        let back = self.back.arrival(self.time, &mut self.random);
        self.to_member.push_back((back, sent, ServerTime(self.server.floor() as i64)));
    }

    /// Before anything is believed of the time, the member asks whether its clock stood still.
    fn look(&mut self) {
        if self.slept - self.slept_when_looked >= NOTICED {
            self.clock.forget(self.member());
        }
        self.slept_when_looked = self.slept;
    }

    fn take_answer(&mut self) {
        let Some((_, sent, server)) = self.to_member.pop_front() else { return };
        let exchange = Exchange { sent, received: server, answered: server, returned: self.member() };
        if self.clock.add(exchange) && self.doubtful_until.is_some_and(|doubtful| doubtful <= sent) {
            self.doubtful_until = None;
        }
    }

    fn sample(&mut self) -> Result<(), String> {
        // Nobody can know of a server that stood still before something that was asked afterwards comes back.
        let Some(known) = self.clock.estimate(self.member()).filter(|_| self.doubtful_until.is_none()) else {
            return Ok(());
        };
        let error = (known.offset.0 as f64 - (self.server - self.member().0 as f64)).abs();
        self.samples += 1;
        if self.samples.is_multiple_of(64) {
            self.errors.push(error);
        }
        if error > known.bound.0 as f64 + 1e-3 {
            return Err(format!("at {} µs: off by {error} µs, {known:?}", self.time));
        }
        Ok(())
    }
}

/// 0 to 500 ppm, either way: half of the time what quartz does, else anything up to what a clock is steered by.
fn any_rate(random: &mut Random) -> f64 {
    let most = if random.unit() < 0.5 { 50e-6 } else { 499.9e-6 };
    (random.unit() * 2.0 - 1.0) * most
}

/// The weather of an hour, in order.
fn weather(random: &mut Random) -> Vec<(i64, Weather)> {
    let mut all = Vec::new();
    for n in 0..30 {
        let time = random.between(0, HOUR);
        let length =
            |random: &mut Random, least: f64, decades: f64| (least * 10f64.powf(random.unit() * decades)) as i64;
        let what = match n % 10 {
            0..=2 => Weather::Rate(any_rate(random)),
            3 => Weather::Route,
            4 => Weather::Silence(length(random, 50_000.0, 3.0)),
            5 | 6 => Weather::MemberStands(length(random, NOTICED as f64, 4.0)),
            // Longer than any round trip of these networks: a machine that sleeps.
            7 if n < 10 => Weather::ServerStands(length(random, 60.0 * SECOND as f64, 0.5)),
            _ => Weather::Run,
        };
        all.push((time, what));
    }
    all.sort_by_key(|(time, _)| *time);
    all
}

#[test]
fn the_error_is_within_the_bound_in_every_sample_of_many_hours() {
    let hours = std::env::var("HOLDFAST_CLOCK_HOURS").ok().and_then(|hours| hours.parse().ok()).unwrap_or(100);
    let threads = std::thread::available_parallelism().map_or(1, |threads| threads.get() as u64);
    let (mut samples, mut errors) = (0, Vec::new());
    std::thread::scope(|scope| {
        let work = |first: u64| move || (first..hours).step_by(threads as usize).map(simulated).collect::<Vec<_>>();
        let threads: Vec<_> = (0..threads).map(|first| scope.spawn(work(first))).collect();
        for hour in threads.into_iter().flat_map(|thread| thread.join().unwrap()) {
            samples += hour.samples;
            errors.extend(hour.errors);
        }
    });
    errors.sort_by(f64::total_cmp);
    let ms = |part: usize| errors[errors.len() * part / 100] / 1_000.0;
    println!("{hours} hours, {samples} samples: error {:.3} ms in the middle, {:.3} ms at 95 %", ms(50), ms(95));
    assert!(samples > hours * 10_000, "only {samples} samples in {hours} hours");
}

fn simulated(seed: u64) -> Hour {
    let mut hour = Hour::new(seed);
    if let Err(why) = hour.simulate() {
        panic!("the bound broke in the hour of seed {seed}, {why}");
    }
    hour
}
