//! Numbers as a score writes them: beats, which are exact, and decimals, which are measured.

use crate::units::{TICKS_PER_BEAT, Ticks};

/// The furthest beat that can be written, and the longest phrase: at the fastest tempo more than four hours.
pub(crate) const MOST_BEATS: i64 = 100_000;

/// Why something is no beat.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub(crate) enum BeatFault {
    /// Not of the form `3`, `3.5` or `3+1/2`.
    NotABeat,
    /// Of the form, but between two ticks.
    NotWholeTicks,
    /// Beyond [`MOST_BEATS`].
    TooLarge,
}

/// Reads a number of beats exactly. A sign is read so that a beat before the first can be named for what it is.
pub(crate) fn beats(text: &str) -> Result<Ticks, BeatFault> {
    let (sign, body) = match text.strip_prefix('-') {
        Some(rest) => (-1, rest),
        None => (1, text),
    };
    let (whole, part) = match body.split_once('+') {
        Some((whole, fraction)) => (whole_number(whole)?, fraction_ticks(fraction)?),
        None => match body.split_once('.') {
            Some((whole, decimals)) => (whole_number(whole)?, decimal_ticks(decimals)?),
            None => (whole_number(body)?, 0),
        },
    };
    let ticks = whole * TICKS_PER_BEAT + part;
    if ticks > MOST_BEATS * TICKS_PER_BEAT { Err(BeatFault::TooLarge) } else { Ok(Ticks(sign * ticks)) }
}

/// Reads a decimal number such as `-1.5`; nothing else that a machine might call a number.
pub(crate) fn decimal(text: &str) -> Option<f64> {
    let body = text.strip_prefix(['-', '+']).unwrap_or(text);
    let (whole, decimals) = body.split_once('.').unwrap_or((body, "0"));
    if !all_digits(whole) || !all_digits(decimals) {
        return None;
    }
    text.parse().ok().filter(|value: &f64| value.is_finite())
}

/// True for anything that starts like a beat, so that the line is read as one.
pub(crate) fn looks_like_a_beat(text: &str) -> bool {
    let body = text.strip_prefix(['-', '+', '.']).unwrap_or(text);
    body.starts_with(|letter: char| letter.is_ascii_digit())
}

fn all_digits(text: &str) -> bool {
    !text.is_empty() && text.bytes().all(|byte| byte.is_ascii_digit())
}

fn whole_number(text: &str) -> Result<i64, BeatFault> {
    if !all_digits(text) {
        return Err(BeatFault::NotABeat);
    }
    let value: i64 = text.parse().map_err(|_| BeatFault::TooLarge)?;
    if value > MOST_BEATS { Err(BeatFault::TooLarge) } else { Ok(value) }
}

fn fraction_ticks(text: &str) -> Result<i64, BeatFault> {
    let (top, bottom) = text.split_once('/').ok_or(BeatFault::NotABeat)?;
    exact(whole_number(top)?, whole_number(bottom)?)
}

fn decimal_ticks(decimals: &str) -> Result<i64, BeatFault> {
    if !all_digits(decimals) {
        return Err(BeatFault::NotABeat);
    }
    let significant = decimals.trim_end_matches('0');
    match u32::try_from(significant.len()) {
        Ok(0) => Ok(0),
        // 960 is 2⁶·3·5, so no tick needs more than six decimals.
        Ok(digits @ 1..=6) => exact(significant.parse().map_err(|_| BeatFault::NotABeat)?, 10_i64.pow(digits)),
        _ => Err(BeatFault::NotWholeTicks),
    }
}

fn exact(top: i64, bottom: i64) -> Result<i64, BeatFault> {
    match bottom {
        0 => Err(BeatFault::NotABeat),
        _ if top * TICKS_PER_BEAT % bottom == 0 => Ok(top * TICKS_PER_BEAT / bottom),
        _ => Err(BeatFault::NotWholeTicks),
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    #[test]
    fn beats_are_exact_or_refused() {
        let rows = [
            ("1", Ok(960)),
            ("4+1/2", Ok(4320)),
            ("4.5", Ok(4320)),
            ("1.015625", Ok(975)),
            ("2+1/3", Ok(2240)),
            ("0", Ok(0)),
            ("-1", Ok(-960)),
            ("1.3333", Err(BeatFault::NotWholeTicks)),
            ("1+1/7", Err(BeatFault::NotWholeTicks)),
            ("1+1/0", Err(BeatFault::NotABeat)),
            ("1/2", Err(BeatFault::NotABeat)),
            ("", Err(BeatFault::NotABeat)),
            ("1e3", Err(BeatFault::NotABeat)),
            ("100001", Err(BeatFault::TooLarge)),
            ("99999999999999999999999", Err(BeatFault::TooLarge)),
        ];
        for (text, ticks) in rows {
            assert_eq!(beats(text), ticks.map(Ticks), "{text}");
        }
    }

    #[test]
    fn only_plain_decimals_are_numbers() {
        for text in ["NaN", "inf", "1e9", "", "-", ".", "1.", ".5", "0x1", "1_000", "١"] {
            assert_eq!(decimal(text), None, "{text}");
        }
        assert_eq!(decimal("-1.50"), Some(-1.5));
    }

    proptest! {
        #[test]
        fn every_tick_can_be_written_and_read(ticks in 0..MOST_BEATS * TICKS_PER_BEAT) {
            prop_assert_eq!(beats(&Ticks(ticks).length_label()), Ok(Ticks(ticks)));
        }

        #[test]
        fn no_text_panics(text in any::<String>()) {
            let _ = (beats(&text), decimal(&text), looks_like_a_beat(&text));
        }
    }
}
