//! What a parry and a target become when a pattern is mirrored or done at the other height. Inside and outside change
//! places, or high and low; the hand keeps its turn. Done twice it is what it was: the parries of a line and a turn are
//! counted in their order, and the one of the same count in the other line is taken.

use super::lines::Line;
use super::{Parry, Vocabulary};

impl Line {
    /// The line on the other side of the body. From above is from above.
    pub const fn mirrored(self) -> Line {
        match self {
            Line::HighInside => Line::HighOutside,
            Line::HighOutside => Line::HighInside,
            Line::LowInside => Line::LowOutside,
            Line::LowOutside => Line::LowInside,
            Line::Overhead => Line::Overhead,
        }
    }

    /// The line at the other height. From above has none other.
    pub const fn other_height(self) -> Line {
        match self {
            Line::HighInside => Line::LowInside,
            Line::HighOutside => Line::LowOutside,
            Line::LowInside => Line::HighInside,
            Line::LowOutside => Line::HighOutside,
            Line::Overhead => Line::Overhead,
        }
    }
}

impl Vocabulary {
    /// The number of the parry that closes the mirrored line with the same turn of the hand; nothing when there is none.
    pub fn mirrored_parry(&self, number: &str) -> Option<&str> {
        self.parry_at(number, Line::mirrored)
    }

    /// The number of the parry that closes the line at the other height with the same turn; nothing when there is none.
    pub fn parry_at_other_height(&self, number: &str) -> Option<&str> {
        self.parry_at(number, Line::other_height)
    }

    fn parry_at(&self, number: &str, other: impl Fn(Line) -> Line) -> Option<&str> {
        let parry = self.parries.get(number)?;
        let like = |line: Line| {
            let same = move |it: &&Parry| it.closes == line && it.hand == parry.hand;
            self.parries.iter().filter(move |(_, row)| same(row)).map(|(number, _)| number.as_str())
        };
        let count = like(parry.closes).position(|it| it == number)?;
        like(other(parry.closes)).nth(count)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Encyclopaedia Britannica, 14th ed., vol. 9, "Fencing": two parries to a line, one pronated, one supinated. So
    /// every parry has one across the body with the same turn, and one above or below it.
    #[test]
    fn parries_change_places_in_pairs() {
        let vocabulary = Vocabulary::built_in();
        for (one, other) in [("4", "6"), ("3", "5"), ("7", "8"), ("1", "2")] {
            assert_eq!((vocabulary.mirrored_parry(one), vocabulary.mirrored_parry(other)), (Some(other), Some(one)));
        }
        for (one, other) in [("4", "7"), ("6", "8"), ("3", "2"), ("5", "1")] {
            assert_eq!(vocabulary.parry_at_other_height(one), Some(other));
            assert_eq!(vocabulary.parry_at_other_height(other), Some(one));
        }
    }

    #[test]
    fn places_at_the_other_height_go_back() {
        let vocabulary = Vocabulary::built_in();
        for (word, row) in &vocabulary.targets {
            let Some(other) = &row.other_height else { continue };
            assert_eq!(vocabulary.targets[other].other_height.as_ref(), Some(word), "{word}");
            assert_eq!(vocabulary.targets[other].sided, row.sided, "{word}");
        }
    }
}
