//! Timecode: how frames are counted, and MIDI Time Code (MMA RP-004/008). Pure.
//!
//! Drop-frame counts 29.97 frames a second with the numbers of 30: the numbers 00 and 01 are left out at the beginning
//! of every minute, except every tenth, so that a label stays within a frame or so of the clock on the wall (SMPTE
//! ST 12-1). No frame is dropped, only numbers.

use std::fmt;

use super::bytes::Message;
use crate::units::Micros;

/// How frames are counted.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub enum Rate {
    /// 24 frames a second.
    Film24,
    /// 25 frames a second.
    Pal25,
    /// 30000/1001 frames a second, drop-frame counting.
    Drop2997,
    /// 30 frames a second.
    Whole30,
}

impl Rate {
    /// Every rate with its name in `production.toml`.
    pub const WORDS: [(&'static str, Rate); 4] =
        [("24", Rate::Film24), ("25", Rate::Pal25), ("29.97", Rate::Drop2997), ("30", Rate::Whole30)];

    /// Frame numbers in a second.
    pub const fn numbers(self) -> u32 {
        match self {
            Rate::Film24 => 24,
            Rate::Pal25 => 25,
            Rate::Drop2997 | Rate::Whole30 => 30,
        }
    }

    /// Frames in a day of labels.
    pub const fn frames_a_day(self) -> i64 {
        match self {
            Rate::Drop2997 => DROP_A_DAY,
            other => other.numbers() as i64 * 86_400,
        }
    }

    /// From the first quarter of a frame to another quarter frame, rounded to the microsecond.
    pub fn time_of_quarters(self, quarters: i64) -> Micros {
        let (top, bottom) = self.quarter();
        Micros(divide_round(i128::from(quarters) * i128::from(top), i128::from(bottom)))
    }

    /// The frame that is nearest to a time.
    pub fn nearest_frame(self, time: Micros) -> i64 {
        let (top, bottom) = self.quarter();
        divide_round(i128::from(time.0) * i128::from(bottom), i128::from(top) * 4)
    }

    /// The rate as the two bits of MIDI Time Code.
    pub const fn bits(self) -> u8 {
        match self {
            Rate::Film24 => 0,
            Rate::Pal25 => 1,
            Rate::Drop2997 => 2,
            Rate::Whole30 => 3,
        }
    }

    /// A quarter of a frame in microseconds, as a fraction.
    const fn quarter(self) -> (i64, i64) {
        match self {
            Rate::Film24 => (1_000_000, 96),
            Rate::Pal25 => (1_000_000, 100),
            Rate::Drop2997 => (1_001_000_000, 120_000),
            Rate::Whole30 => (1_000_000, 120),
        }
    }
}

/// Frames in ten minutes of drop-frame: 10 × 60 × 30 − 9 × 2.
const DROP_TEN_MINUTES: i64 = 17_982;
/// Frames in a minute that leaves out two numbers.
const DROP_MINUTE: i64 = 1_798;
const DROP_A_DAY: i64 = 6 * 24 * DROP_TEN_MINUTES;

/// A label that exists: hours, minutes, seconds, frames.
#[derive(Clone, Copy, Debug, PartialEq, Eq, Hash)]
pub struct Timecode {
    rate: Rate,
    hours: u8,
    minutes: u8,
    seconds: u8,
    frames: u8,
}

/// Why there is no such timecode.
#[derive(Clone, Copy, Debug, PartialEq, Eq, thiserror::Error)]
pub enum TimecodeError {
    /// Written otherwise.
    #[error("is no timecode; write hours, minutes, seconds and frames, such as 01:00:00:00")]
    Form,
    /// Hours to 23, minutes and seconds to 59.
    #[error("has hours, minutes or seconds that no clock has")]
    Clock,
    /// More frames than the rate has.
    #[error("has a frame number that this frame rate does not have; frames are counted from 00")]
    Frame,
    /// One of the numbers that drop-frame leaves out.
    #[error("is a number that drop-frame counting leaves out; take frame 02")]
    Dropped,
}

impl Timecode {
    /// A label.
    ///
    /// # Errors
    /// [`TimecodeError`] when there is no such label at this rate.
    pub fn new(rate: Rate, hours: u8, minutes: u8, seconds: u8, frames: u8) -> Result<Timecode, TimecodeError> {
        if hours > 23 || minutes > 59 || seconds > 59 {
            return Err(TimecodeError::Clock);
        }
        if u32::from(frames) >= rate.numbers() {
            return Err(TimecodeError::Frame);
        }
        if rate == Rate::Drop2997 && !minutes.is_multiple_of(10) && seconds == 0 && frames < 2 {
            return Err(TimecodeError::Dropped);
        }
        Ok(Timecode { rate, hours, minutes, seconds, frames })
    }

    /// Reads `01:00:00:00`; drop-frame may have a `;` before its frames.
    ///
    /// # Errors
    /// [`TimecodeError`].
    pub fn parse(text: &str, rate: Rate) -> Result<Timecode, TimecodeError> {
        let parts: Vec<&str> = text.trim().split([':', ';']).collect();
        let number = |index: usize| -> Result<u8, TimecodeError> {
            let digits =
                parts.get(index).filter(|part| part.len() == 2 && part.bytes().all(|byte| byte.is_ascii_digit()));
            digits.and_then(|digits| digits.parse().ok()).ok_or(TimecodeError::Form)
        };
        if parts.len() != 4 {
            return Err(TimecodeError::Form);
        }
        Timecode::new(rate, number(0)?, number(1)?, number(2)?, number(3)?)
    }

    /// The label of a frame counted from 0; a day goes round.
    pub fn of_frame(rate: Rate, frame: i64) -> Timecode {
        let mut number = frame.rem_euclid(rate.frames_a_day());
        if rate == Rate::Drop2997 {
            let (tens, rest) = (number / DROP_TEN_MINUTES, number % DROP_TEN_MINUTES);
            // The first minute of ten keeps all its numbers; each later one leaves out two.
            let minutes = (rest - 2).max(0) / DROP_MINUTE;
            number += tens * 18 + minutes * 2;
        }
        let numbers = i64::from(rate.numbers());
        let (frames, seconds) = (number % numbers, number / numbers);
        Timecode {
            rate,
            hours: (seconds / 3_600 % 24) as u8,
            minutes: (seconds / 60 % 60) as u8,
            seconds: (seconds % 60) as u8,
            frames: frames as u8,
        }
    }

    /// The frame that bears this label, counted from 0.
    pub fn frame(self) -> i64 {
        let minutes = i64::from(self.hours) * 60 + i64::from(self.minutes);
        let number = (minutes * 60 + i64::from(self.seconds)) * i64::from(self.rate.numbers()) + i64::from(self.frames);
        match self.rate {
            Rate::Drop2997 => number - 2 * (minutes - minutes / 10),
            _ => number,
        }
    }

    /// How its frames are counted.
    pub fn rate(self) -> Rate {
        self.rate
    }

    /// Quarter frame `piece`, 0 to 7: `F1`, then the piece and four bits. All eight say this label, which holds at the
    /// moment of piece 0; whoever has read the eighth adds two frames.
    pub fn quarter_frame(self, piece: u8) -> Message {
        let (hours, piece) = (self.rate.bits() << 5 | self.hours, piece & 7);
        let bits = match piece {
            0 => self.frames & 0x0F,
            1 => self.frames >> 4,
            2 => self.seconds & 0x0F,
            3 => self.seconds >> 4,
            4 => self.minutes & 0x0F,
            5 => self.minutes >> 4,
            6 => hours & 0x0F,
            _ => hours >> 4,
        };
        Message::new(&[0xF1, piece << 4 | bits])
    }

    /// The full frame, for everybody: go to this place and wait.
    pub fn full_frame(self) -> Message {
        let hours = self.rate.bits() << 5 | self.hours;
        Message::new(&[0xF0, 0x7F, 0x7F, 0x01, 0x01, hours, self.minutes, self.seconds, self.frames, 0xF7])
    }
}

impl fmt::Display for Timecode {
    /// `01:37:52:16`, drop-frame `00:01:00;02`.
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        let mark = if self.rate == Rate::Drop2997 { ';' } else { ':' };
        write!(f, "{:02}:{:02}:{:02}{mark}{:02}", self.hours, self.minutes, self.seconds, self.frames)
    }
}

/// The timecode of a run: quarter frames from somewhere in the count-in on. Frame boundary and first beat fall together.
#[derive(Clone, Debug)]
pub struct Quarters {
    rate: Rate,
    /// The frame at the first beat.
    first: i64,
    /// The next quarter, from the first beat; a group of eight begins at every multiple of eight.
    next: i64,
}

impl Quarters {
    /// The quarter frames of a run in which the first beat has this frame, beginning with the first whole group of
    /// eight after `from` (a time from the first beat, negative in the count-in).
    pub fn new(rate: Rate, first: i64, from: Micros) -> Quarters {
        let group = rate.time_of_quarters(8).0.max(1);
        let mut next = from.0.div_euclid(group) * 8;
        while rate.time_of_quarters(next) < from {
            next += 8;
        }
        Quarters { rate, first, next }
    }

    /// The label that the next quarter belongs to.
    pub fn label(&self) -> Timecode {
        Timecode::of_frame(self.rate, self.first + self.next.div_euclid(8) * 2)
    }

    /// The next quarter frame and its time from the first beat, without taking it.
    pub fn peek(&self) -> (Message, Micros) {
        let piece = self.next.rem_euclid(8) as u8;
        (self.label().quarter_frame(piece), self.rate.time_of_quarters(self.next))
    }

    /// Leaves out the rest of a group of eight that has begun.
    pub fn to_whole_group(&mut self) {
        self.next += (-self.next).rem_euclid(8);
    }

    /// Takes the next quarter frame.
    pub fn advance(&mut self) {
        self.next += 1;
    }
}

fn divide_round(top: i128, bottom: i128) -> i64 {
    let (half, sign) = (bottom / 2, if top < 0 { -1 } else { 1 });
    i64::try_from((top + sign * half) / bottom).unwrap_or(i64::MAX)
}
