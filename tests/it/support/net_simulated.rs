//! A simulated network between two clocks, from a seed: legs of random length, drift, sleep. Nothing here waits.

use std::collections::VecDeque;

use holdfast::clock::{ClockEstimator, Exchange, MemberTime};
use holdfast::units::ServerTime;

/// Random numbers from a seed: SplitMix64 (Steele, Lea and Flood, OOPSLA 2014), so that a seed means the same for ever.
pub(crate) struct Random(pub(crate) u64);

impl Random {
    /// The next 64 bits.
    pub(crate) fn bits(&mut self) -> u64 {
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    /// A number from 0 up to but not 1.
    pub(crate) fn unit(&mut self) -> f64 {
        (self.bits() >> 11) as f64 / (1u64 << 53) as f64
    }

    /// A whole number in that range, both ends included.
    pub(crate) fn between(&mut self, low: i64, high: i64) -> i64 {
        low + (self.unit() * (high - low + 1) as f64) as i64
    }
}

/// Two clocks and the way between them. True time is the member's clock while it is awake.
pub(crate) struct World {
    pub(crate) random: Random,
    /// How much faster the server's clock runs, parts in a million.
    pub(crate) drift_ppm: f64,
    /// The server's clock when true time is 0.
    pub(crate) ahead: f64,
    /// How long the member's clock has stood still so far, µs.
    pub(crate) slept: i64,
}

impl World {
    /// What the server's clock reads at that true time, in µs and fractions.
    pub(crate) fn server(&self, time: i64) -> f64 {
        self.ahead + time as f64 * (1.0 + self.drift_ppm / 1e6)
    }

    /// What the member's clock reads at that true time.
    pub(crate) fn member(&self, time: i64) -> MemberTime {
        MemberTime(time - self.slept)
    }

    /// How far the server is ahead of the member at that true time.
    pub(crate) fn true_offset(&self, time: i64) -> f64 {
        self.server(time) - self.member(time).0 as f64
    }

    /// An exchange begun at that true time: way out, time at the server, way back. Also when it was over.
    pub(crate) fn exchange(&self, time: i64, out: i64, held: i64, back: i64) -> (Exchange, i64) {
        let read = |time: i64| ServerTime(self.server(time).floor() as i64);
        let exchange = Exchange {
            sent: self.member(time),
            received: read(time + out),
            answered: read(time + out + held),
            returned: self.member(time + out + held + back),
        };
        (exchange, time + out + held + back)
    }
}

/// A member that asks as members do (rule 7 of the estimator) over a line that keeps the order, until that true time:
/// `taken` gets every exchange with the moment its answer came, right after the clock has taken it.
pub(crate) fn ask_as_members_do(
    world: &mut World,
    clock: &mut ClockEstimator,
    (from, until): (i64, i64),
    in_a_run: bool,
    mut legs: impl FnMut(&mut Random) -> [i64; 2],
    mut taken: impl FnMut(&ClockEstimator, Exchange, i64),
) {
    let (mut asked, mut last_over) = (None::<i64>, from);
    let mut on_the_way: VecDeque<(Exchange, i64)> = VecDeque::new();
    loop {
        let ask_at = asked.map_or(from, |asked| asked + clock.ask_every(in_a_run).0);
        if let Some((exchange, over)) = on_the_way.front().copied().filter(|(_, over)| *over <= ask_at.max(from)) {
            if over > until {
                return;
            }
            on_the_way.pop_front();
            clock.add(exchange);
            taken(clock, exchange, over);
            continue;
        }
        // An answer may have shortened the wait: then the question goes out when the answer came.
        let time = ask_at.max(asked.unwrap_or(from));
        if time > until {
            return;
        }
        let [out, back] = legs(&mut world.random);
        let (_, over) = world.exchange(time, out, 50, back);
        let back = back + (last_over - over).max(0);
        let (exchange, over) = world.exchange(time, out, 50, back);
        (asked, last_over) = (Some(time), over);
        on_the_way.push_back((exchange, over));
    }
}
