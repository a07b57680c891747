//! The follower, by simulation: a device whose clock is off, whose time stamps jitter, and whose callbacks are
//! sometimes late. The truth is known here, so that the error can be measured.

use super::*;
use proptest::prelude::*;

/// A small random generator (xorshift64*, S. Vigna 2016), so that a failing case is its seed.
struct Dice(u64);

impl Dice {
    fn roll(&mut self) -> f64 {
        self.0 ^= self.0 >> 12;
        self.0 ^= self.0 << 25;
        self.0 ^= self.0 >> 27;
        (self.0.wrapping_mul(0x2545_F491_4F6C_DD1D) >> 11) as f64 / (1u64 << 53) as f64
    }

    /// Nearly normal, mean 0, standard deviation 1: twelve uniform ones added.
    fn normal(&mut self) -> f64 {
        (0..12).map(|_| self.roll()).sum::<f64>() - 6.0
    }
}

/// A device whose clock is slow by `ppm`, in buffers of `buffer` frames.
struct Device {
    rate: f64,
    ppm: f64,
    buffer: i64,
    next: i64,
    started: f64,
    dice: Dice,
}

impl Device {
    /// When `sample` is truly heard, microseconds.
    fn truth(&self, sample: i64) -> f64 {
        self.started + sample as f64 / self.rate * (1e6 + self.ppm)
    }

    /// One callback: stamps that jitter by 0.5 ms, one in fifty late by up to 15 ms.
    fn call(&mut self, follower: &mut Follower) {
        let late = if self.dice.roll() < 0.02 { self.dice.roll() * 15_000.0 } else { 0.0 };
        let heard = self.truth(self.next) + 500.0 * self.dice.normal() + late;
        follower.observe(SampleNumber(self.next), ServerTime(heard.round() as i64));
        self.next += self.buffer;
    }

    fn seconds(&self) -> f64 {
        self.next as f64 / self.rate
    }
}

fn device(rate: u32, ppm: f64, buffer: i64, seed: u64) -> Device {
    Device { rate: f64::from(rate), ppm, buffer, next: 0, started: 5e6, dice: Dice(seed | 1) }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]

    #[test]
    fn it_follows_a_drifting_clock_without_a_jump(
        rate in prop::sample::select(vec![44_100u32, 48_000, 96_000]),
        ppm in -100f64..100.0,
        buffer in prop::sample::select(vec![256i64, 1024, 2048]),
        seed in any::<u64>(),
    ) {
        let mut follower = Follower::new(rate);
        let mut device = device(rate, ppm, buffer, seed);
        let mut before: Option<(i64, i64)> = None;
        while device.seconds() < 90.0 {
            device.call(&mut follower);
            // A voice that is due half a second from now: how far from its time is it heard?
            let due = ServerTime((device.truth(device.next) + 500_000.0) as i64);
            let sample = follower.sample_at(due).unwrap().0;
            let error = (device.truth(sample) - due.0 as f64).abs();
            let allowed = match device.seconds() {
                early if early < 3.0 => 20_000.0,
                young if young < 40.0 => 2_000.0,
                _ => 500.0,
            };
            prop_assert!(error < allowed, "{error:.0} µs off after {:.1} s", device.seconds());
            // Its distance from the last such voice, against the distance that the server's clock asks for.
            if let Some((due_before, sample_before)) = before.filter(|_| device.seconds() > 4.0) {
                let asked = (due.0 - due_before) as f64 * 1e-6 * f64::from(rate);
                let lean = (sample - sample_before) as f64 / asked - 1.0;
                let most = (STEEPEST_SLEW + 150.0) * 1e-6 + 3.0 / asked;
                prop_assert!(lean.abs() < most, "a lean of {:.0} ppm", lean * 1e6);
            }
            before = Some((due.0, sample));
        }
        prop_assert!((follower.drift_ppm() - ppm).abs() < 12.0, "{} for {ppm} ppm", follower.drift_ppm());
    }

    #[test]
    fn a_drop_out_begins_a_new_line_and_keeps_the_drift(gap in 30_000f64..2e6, told in any::<bool>(), seed in any::<u64>()) {
        let mut follower = Follower::new(48_000);
        let mut device = device(48_000, 80.0, 1024, seed);
        while device.seconds() < 60.0 {
            device.call(&mut follower);
        }
        device.started += gap;
        if told {
            follower.begin_anew();
        }
        for _ in 0..60 {
            device.call(&mut follower);
        }
        let due = ServerTime((device.truth(device.next) + 200_000.0) as i64);
        let error = device.truth(follower.sample_at(due).unwrap().0) - due.0 as f64;
        prop_assert!(error.abs() < 1_500.0, "{error} µs off");
        prop_assert!((follower.drift_ppm() - 80.0).abs() < 15.0);
    }
}

/// Half a second is 24,000 samples, give or take the one that rounding to whole samples costs, although the stamps
/// jitter by 24 samples: in all but one of a thousand beats, and that one is off by two.
#[test]
fn neighbouring_beats_keep_their_distance_to_the_sample() {
    let (mut beats, mut off) = (0, 0);
    for seed in 1..100u64 {
        let mut follower = Follower::new(48_000);
        let mut device = device(48_000, 0.0, 2048, seed.wrapping_mul(0x9E37_79B9_7F4A_7C15));
        let mut last: Option<i64> = None;
        let mut due = 8_000_000i64;
        while device.seconds() < 30.0 {
            device.call(&mut follower);
            while (due as f64) < device.truth(device.next) {
                let sample = follower.sample_at(ServerTime(due)).unwrap().0;
                if let Some(last) = last {
                    let error = (sample - last - 24_000).abs();
                    assert!(error <= 2, "{error} samples, seed {seed}");
                    beats += 1;
                    off += i32::from(error == 2);
                }
                last = Some(sample);
                due += 500_000;
            }
        }
    }
    assert!(off * 1_000 <= beats, "{off} of {beats}");
}

#[test]
fn nothing_is_known_before_the_first_stamp() {
    let mut follower = Follower::new(48_000);
    assert_eq!(follower.sample_at(ServerTime(0)), None);
    follower.observe(SampleNumber(480), ServerTime(1_000_000));
    assert_eq!(follower.sample_at(ServerTime(1_010_000)), Some(SampleNumber(960)));
    assert_eq!(follower.heard_at(SampleNumber(0)), Some(ServerTime(990_000)));
}
