//! Figures in words, the same on every kind of paper.

use super::estimate::{PerMinute, Share};
use super::history::{How, Outcome};

/// `80 %`, or `walk`.
pub(super) fn speed(speed: Option<u16>) -> String {
    speed.map_or_else(|| "walk".to_owned(), |percent| format!("{percent} %"))
}

/// `12 of 17`.
pub(super) fn share(share: &Share) -> String {
    format!("{} of {}", share.count, share.of)
}

/// `45 to 84 %`.
pub(super) fn share_interval(share: &Share) -> String {
    if share.of == 0 {
        return "nothing known".to_owned();
    }
    format!("{:.0} to {:.0} %", share.interval.low * 100.0, share.interval.high.unwrap_or(1.0) * 100.0)
}

/// `0.41 (0.20 to 0.75)`.
pub(super) fn per_minute(rate: &PerMinute) -> String {
    match (rate.estimate, rate.interval.high) {
        (Some(estimate), Some(high)) => format!("{estimate:.2} ({:.2} to {high:.2})", rate.interval.low),
        _ => "no running time known".to_owned(),
    }
}

/// `1 min 20 s`, `45 s`.
pub(super) fn seconds(seconds: f64) -> String {
    let whole = seconds.max(0.0).round() as u64;
    match (whole / 3600, whole / 60 % 60, whole % 60) {
        (0, 0, seconds) => format!("{seconds} s"),
        (0, minutes, seconds) => format!("{minutes} min {seconds:02} s"),
        (hours, minutes, _) => format!("{hours} h {minutes:02} min"),
    }
}

/// The same, or a dash.
pub(super) fn maybe_seconds(value: Option<f64>) -> String {
    value.map_or_else(|| "–".to_owned(), seconds)
}

/// Milliseconds, or a dash.
pub(super) fn ms(value: Option<f64>) -> String {
    value.map_or_else(|| "–".to_owned(), |value| format!("{value:.0} ms"))
}

/// `1 run`, `3 runs`.
pub(super) fn counted(count: usize, one: &str, many: &str) -> String {
    format!("{count} {}", if count == 1 { one } else { many })
}

/// `3 of 7 have no reason.`, `1 of 7 has no reason.`, `All 7 have no reason.`; nothing of nothing.
pub(super) fn of_all(count: usize, of: usize, one: &str, many: &str) -> String {
    match (count, of) {
        (_, 0) => String::new(),
        (0, _) => format!("None of {of} {one}."),
        (1, 1) => format!("The only one {one}."),
        (1, _) => format!("1 of {of} {one}."),
        _ if count == of => format!("All {of} {many}."),
        _ => format!("{count} of {of} {many}."),
    }
}

impl How {
    /// The end of a run in words.
    pub const fn words(self) -> &'static str {
        match self {
            How::Complete => "to its end",
            How::Held => "held",
            How::Stopped => "stopped",
            How::Unfinished => "cut off or under way",
        }
    }
}

impl Outcome {
    /// The outcome in a word.
    pub const fn word(self) -> &'static str {
        match self {
            Outcome::Clean => "clean",
            Outcome::Broke => "broke",
            Outcome::Part => "clean, not from its beginning",
            Outcome::Unfinished => "unfinished",
        }
    }
}
