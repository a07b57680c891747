//! What stand-ins measure, and its percentiles.

use crate::units::{Micros, ServerTime};

/// How many of the last cues each stand-in remembers the error of.
const REMEMBERED: usize = 4_000;

/// What one stand-in has met with so far.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Statistics {
    /// True while it has a link.
    pub linked: bool,
    /// How often the link was lost.
    pub losses: u32,
    /// Cues shown at their time.
    pub fired: u64,
    /// Cues shown late or overtaken.
    pub late: u64,
    /// Of the last cues with a time: shown less due, on the server's clock as the stand-in knows it.
    pub errors: Vec<Micros>,
    /// The bound of the clock error, at the last cue or pulse.
    pub bound: Option<Micros>,
    /// The offset to the server's clock, at the last cue or pulse. For a stand-in that was given the server's own
    /// clock this is its error.
    pub offset: Option<Micros>,
    /// The holds it was told of, in order of arrival; one again each time it is told of it.
    pub holds: Vec<HoldHeard>,
}

/// A hold that arrived.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct HoldHeard {
    /// The hold's number.
    pub hold: u32,
    /// The generation that it began.
    pub generation: u64,
    /// When the message was received, on the clock that the stand-in was given.
    pub received: ServerTime,
}

impl Statistics {
    pub(super) fn error(&mut self, error: Micros) {
        if self.errors.len() >= REMEMBERED {
            self.errors.drain(..REMEMBERED / 2);
        }
        self.errors.push(error);
    }

    /// When the first word of that hold arrived.
    pub fn heard_of(&self, hold: u32) -> Option<ServerTime> {
        self.holds.iter().find(|heard| heard.hold == hold).map(|heard| heard.received)
    }
}

/// The figures of many stand-ins in one line.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Summary {
    /// How many stand-ins there are.
    pub count: usize,
    /// How many have a link.
    pub linked: usize,
    /// How often links were lost, all together.
    pub losses: u64,
    /// Cues shown at their time, all together.
    pub fired: u64,
    /// Cues shown late.
    pub late: u64,
    /// Bounds of the clock error, in order.
    bounds: Vec<Micros>,
    /// Shown less due, in order.
    errors: Vec<Micros>,
}

impl Summary {
    /// The figures of all these.
    pub fn of<'a>(all: impl IntoIterator<Item = &'a Statistics>) -> Summary {
        let mut summary = Summary::default();
        for one in all {
            summary.count += 1;
            summary.linked += usize::from(one.linked);
            summary.losses += u64::from(one.losses);
            summary.fired += one.fired;
            summary.late += one.late;
            summary.bounds.extend(one.bound);
            summary.errors.extend(&one.errors);
        }
        summary.bounds.sort_unstable();
        summary.errors.sort_unstable();
        summary
    }

    /// The bound of the clock error that this part of the stand-ins (0 to 1) stays within.
    pub fn bound(&self, part: f64) -> Option<Micros> {
        percentile(&self.bounds, part)
    }

    /// How late after its time this part of the last cues was shown, at most.
    pub fn error(&self, part: f64) -> Option<Micros> {
        percentile(&self.errors, part)
    }
}

impl std::fmt::Display for Summary {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        let pair = |half: Option<Micros>, nearly_all: Option<Micros>| match (half, nearly_all) {
            (Some(half), Some(most)) => format!("{:.1} / {:.1} ms", half.as_millis(), most.as_millis()),
            _ => "none yet".to_owned(),
        };
        write!(
            f,
            "{} of {} linked; cues {}, late {}; clock bound {}, shown after due {} (half / 99 %)",
            self.linked,
            self.count,
            self.fired,
            self.late,
            pair(self.bound(0.5), self.bound(0.99)),
            pair(self.error(0.5), self.error(0.99)),
        )?;
        if self.losses > 0 {
            write!(f, "; links lost {}", self.losses)?;
        }
        Ok(())
    }
}

/// The smallest of these values that at least `part` (0 to 1) of them do not exceed: the nearest-rank percentile.
pub fn percentile(in_order: &[Micros], part: f64) -> Option<Micros> {
    let rank = (part.clamp(0.0, 1.0) * in_order.len() as f64).ceil() as usize;
    in_order.get(rank.saturating_sub(1)).copied()
}

#[cfg(test)]
mod tests {
    use super::*;

    /// The nearest-rank method's usual textbook example (as in the Wikipedia article "Percentile", from memory): of 15,
    /// 20, 35, 40, 50 the 5th, 30th, 40th, 50th and 100th percentiles are 15, 20, 20, 35 and 50.
    #[test]
    fn percentiles_are_the_nearest_rank() {
        let values = [15, 20, 35, 40, 50].map(Micros);
        for (part, value) in [(0.05, 15), (0.3, 20), (0.4, 20), (0.5, 35), (1.0, 50), (0.0, 15), (7.0, 50)] {
            assert_eq!(percentile(&values, part), Some(Micros(value)), "{part}");
        }
        assert_eq!(percentile(&[], 0.5), None);
    }

    #[test]
    fn a_summary_puts_all_stand_ins_in_one_line() {
        let one = |linked, late, error| Statistics {
            linked,
            fired: 10,
            late,
            errors: vec![Micros(error)],
            bound: Some(Micros(error * 2)),
            ..Statistics::default()
        };
        let summary = Summary::of(&[one(true, 0, 1_000), one(true, 2, 3_000), one(false, 1, 9_000)]);
        assert_eq!((summary.count, summary.linked, summary.fired, summary.late), (3, 2, 30, 3));
        assert_eq!(summary.bound(0.5), Some(Micros(6_000)));
        assert_eq!(
            summary.to_string(),
            "2 of 3 linked; cues 30, late 3; clock bound 6.0 / 18.0 ms, shown after due 3.0 / 9.0 ms (half / 99 %)"
        );
        assert!(Summary::of([]).to_string().contains("none yet"));
    }

    #[test]
    fn the_memory_of_errors_is_bounded() {
        let mut statistics = Statistics::default();
        (0..10_000).for_each(|n| statistics.error(Micros(n)));
        assert!(statistics.errors.len() <= REMEMBERED);
        assert_eq!(statistics.errors.last(), Some(&Micros(9_999)));
    }
}
