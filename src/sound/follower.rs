//! Follows the sample clock: which sample is heard at which server time. Pure; it is given every observation.
//!
//! A device's quartz and the server's clock drift apart by up to some 100 parts per million, and the device's time
//! stamps jitter by a millisecond. Two lines are kept apart. The *estimate* is what the stamps say: a Kalman filter
//! with two states, phase and drift (R. E. Kalman 1960, the textbook form for constant drift), its innovations clamped
//! so that a callback that came late counts little. The line *in use* is what voices are placed by: it never jumps,
//! but leans towards the estimate by a few parts per million, so that neighbouring beats keep their distance to the
//! sample. Only when the stream itself jumps (a drop-out, another device) does the line in use begin anew.
//!
//! Nothing is ever resampled: following moves where voices begin, not how they sound, so that it cannot click.

use super::sample::SampleNumber;
use crate::units::ServerTime;

/// The jitter of a time stamp that is reckoned with, microseconds (one standard deviation; recordings from a sound
/// daemon gave 200 to 700).
const JITTER: f64 = 700.0;
/// The drift that is thought likely before anything is known, ppm (one standard deviation).
const LIKELY_DRIFT: f64 = 30.0;
/// How fast the drift itself may wander, ppm² a second: a quartz that warms up.
const WANDER: f64 = 0.01;
/// No clock is worse than this, ppm.
const WORST_DRIFT: f64 = 1_000.0;
/// An observation this far off is a stranger, microseconds; …
const STRANGE: f64 = 20_000.0;
/// … and so many strangers in a row mean that the stream has jumped.
const STRANGERS: u32 = 4;
/// The first observations after a beginning are forgotten: the device is filling its buffer. …
const FORGOTTEN: u32 = 4;
/// … From there up to this one the earliest is taken as the beginning, since a callback can come late but not early.
const FIRST: u32 = 9;
/// For so long after a beginning the line in use follows the estimate freely, seconds.
const SETTLING: f64 = 2.0;
/// The line in use closes the gap to the estimate in about so many seconds, …
const CLOSING: f64 = 20.0;
/// … but never by more than this, ppm.
pub const STEEPEST_SLEW: f64 = 200.0;

/// The relation between samples and server time.
#[derive(Clone, Debug)]
pub struct Follower {
    rate: f64,
    drift: f64,
    drift_variance: f64,
    track: Option<Track>,
    begin_anew: bool,
}

/// Everything is reckoned from an origin: times in seconds of the nominal sample clock since it, errors as microseconds
/// by which a sample is heard later than the nominal clock says.
#[derive(Clone, Debug)]
struct Track {
    origin: (i64, i64),
    seen: u32,
    strangers: u32,
    at: f64,
    phase: f64,
    phase_variance: f64,
    covariance: f64,
    used_phase: f64,
    used_slope: f64,
}

impl Follower {
    /// Knows nothing yet; `rate` is the nominal rate in samples per second.
    pub fn new(rate: u32) -> Follower {
        Follower {
            rate: f64::from(rate.max(1)),
            drift: 0.0,
            drift_variance: LIKELY_DRIFT.powi(2),
            track: None,
            begin_anew: false,
        }
    }

    /// The stream has jumped: the next observation begins a new line. What is known of the drift is kept.
    pub fn begin_anew(&mut self) {
        self.begin_anew = true;
    }

    /// Sample `sample` is heard at `heard`, say the device's time stamps. Samples must not go backwards.
    pub fn observe(&mut self, sample: SampleNumber, heard: ServerTime) {
        let begin = std::mem::take(&mut self.begin_anew);
        let Some(track) = self.track.as_mut().filter(|_| !begin) else {
            self.track = Some(Track::new(sample, heard));
            return;
        };
        let now = (sample.0 - track.origin.0) as f64 / self.rate;
        let error = (heard.0 - track.origin.1) as f64 - now * 1e6;
        track.seen = track.seen.saturating_add(1);
        if track.seen < FIRST {
            let seen = track.seen;
            if seen <= FORGOTTEN || error < 0.0 {
                *track = Track { seen, ..Track::new(sample, heard) };
            }
            return;
        }
        let past = (now - track.at).max(0.0);
        let predicted = track.phase + self.drift * past;
        let mut surprise = error - predicted;
        if surprise.abs() > STRANGE {
            track.strangers += 1;
            if track.strangers >= STRANGERS {
                self.track = Some(Track::new(sample, heard));
            }
            return;
        }
        track.strangers = 0;

        let (p, c, d) = (track.phase_variance, track.covariance, self.drift_variance + WANDER * past);
        let (p, c) = (p + 2.0 * past * c + past * past * d, c + past * d);
        let spread = p + JITTER * JITTER;
        let limit = 2.0 * spread.sqrt();
        surprise = surprise.clamp(-limit, limit);
        let (gain_phase, gain_drift) = (p / spread, c / spread);
        track.phase = predicted + gain_phase * surprise;
        self.drift = (self.drift + gain_drift * surprise).clamp(-WORST_DRIFT, WORST_DRIFT);
        track.phase_variance = (1.0 - gain_phase) * p;
        track.covariance = (1.0 - gain_phase) * c;
        self.drift_variance = d - gain_drift * c;

        track.lean(now, self.drift, now > SETTLING);
    }

    /// The sample to start a voice at, so that it is heard at `due`; nothing before the first observation.
    pub fn sample_at(&self, due: ServerTime) -> Option<SampleNumber> {
        let track = self.track.as_ref()?;
        let nominal = (due.0 - track.origin.1) as f64;
        let seconds = (nominal - track.used_phase + track.used_slope * track.at) / (1e6 + track.used_slope);
        Some(SampleNumber(track.origin.0 + (seconds * self.rate).round() as i64))
    }

    /// When sample `sample` is heard, as well as it is known; nothing before the first observation.
    pub fn heard_at(&self, sample: SampleNumber) -> Option<ServerTime> {
        let track = self.track.as_ref()?;
        let seconds = (sample.0 - track.origin.0) as f64 / self.rate;
        let error = track.phase + self.drift * (seconds - track.at);
        Some(ServerTime(track.origin.1 + (seconds * 1e6 + error).round() as i64))
    }

    /// By how much the device's clock is slow against the server's, parts per million; negative when it is fast.
    pub fn drift_ppm(&self) -> f64 {
        self.drift
    }
}

impl Track {
    fn new(sample: SampleNumber, heard: ServerTime) -> Track {
        Track {
            origin: (sample.0, heard.0),
            seen: 0,
            strangers: 0,
            at: 0.0,
            phase: 0.0,
            phase_variance: JITTER * JITTER,
            covariance: 0.0,
            used_phase: 0.0,
            used_slope: 0.0,
        }
    }

    /// Carries the line in use on to `now` and leans it towards the estimate.
    fn lean(&mut self, now: f64, drift: f64, settled: bool) {
        self.used_phase += self.used_slope * (now - self.at);
        self.at = now;
        if settled {
            let gap = self.phase - self.used_phase;
            self.used_slope = drift + (gap / CLOSING).clamp(-STEEPEST_SLEW, STEEPEST_SLEW);
        } else {
            self.used_phase = self.phase;
            self.used_slope = drift;
        }
    }
}

#[cfg(test)]
#[path = "follower_tests.rs"]
mod tests;
