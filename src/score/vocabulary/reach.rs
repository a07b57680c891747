//! Which lines a target lies in, and which a parry closes: the rows of the vocabulary, read as lines of a body.

use super::lines::Line;
use super::rows::{Across, Height, Parry, Target};
use crate::score::model::{Hand, Side};

impl Target {
    /// The lines by which this target can be reached on somebody whose weapon is in `hand`. A sided target without a
    /// side can be reached by either; a body with no weapon hand is counted like a right-hander's. Empty for a target
    /// that no blade closes, such as the feet.
    pub fn lines(&self, side: Option<Side>, hand: Hand) -> Vec<Line> {
        let across = match (self.sided, side) {
            (true, Some(side)) if (side == Side::Left) == (hand == Hand::Left) => Across::Outside,
            (true, Some(_)) => Across::Inside,
            (true, None) => Across::Either,
            (false, _) => self.across,
        };
        self.lines_across(across)
    }

    /// The same for what comes straight in: a thrust to the middle of the body is swept to either side.
    pub fn lines_of(&self, side: Option<Side>, hand: Hand, straight: bool) -> Vec<Line> {
        if straight && !self.sided { self.lines_across(Across::Either) } else { self.lines(side, hand) }
    }

    fn lines_across(&self, across: Across) -> Vec<Line> {
        self.heights.iter().flat_map(|height| lines_at(*height, across)).copied().collect()
    }
}

impl Parry {
    /// True when this parry closes one of `lines`. The lines are the defender's own, so handedness is already in them.
    pub fn closes_any(&self, lines: &[Line]) -> bool {
        lines.iter().any(|line| *line == self.closes || self.also_closes.contains(line))
    }
}

const fn lines_at(height: Height, across: Across) -> &'static [Line] {
    match (height, across) {
        (Height::High, Across::Inside) => &[Line::HighInside],
        (Height::High, Across::Outside) => &[Line::HighOutside],
        (Height::High, Across::Either) => &[Line::HighInside, Line::HighOutside],
        (Height::Low, Across::Inside) => &[Line::LowInside],
        (Height::Low, Across::Outside) => &[Line::LowOutside],
        (Height::Low, Across::Either) => &[Line::LowInside, Line::LowOutside],
        (Height::Overhead, _) => &[Line::Overhead],
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::score::vocabulary::{Turn, Vocabulary};

    /// Encyclopaedia Britannica, 14th ed., vol. 9, "Fencing": two parries to a line, one pronated, one supinated.
    /// Only 2, 3, 4, 6, 7 and 8 are taught alike by all schools; prime and quinte are marked as school-dependent.
    #[test]
    fn the_parries_are_those_of_the_table() {
        let table = [
            ("2", "seconde", Line::LowOutside, Turn::Pronated),
            ("3", "tierce", Line::HighOutside, Turn::Pronated),
            ("4", "quarte", Line::HighInside, Turn::Supinated),
            ("6", "sixte", Line::HighOutside, Turn::Supinated),
            ("7", "septime", Line::LowInside, Turn::Supinated),
            ("8", "octave", Line::LowOutside, Turn::Supinated),
        ];
        let vocabulary = Vocabulary::built_in();
        for (number, name, line, turn) in table {
            let (found, parry) = vocabulary.parry(name).unwrap();
            assert_eq!((found, parry.closes, parry.hand, parry.school_dependent), (number, line, turn, false));
        }
        for number in ["1", "5"] {
            assert!(vocabulary.parries[number].school_dependent);
        }
        assert_eq!((vocabulary.parry("prime").unwrap().0, vocabulary.parry("quinte").unwrap().0), ("1", "5"));
    }

    #[test]
    fn every_quarter_has_one_pronated_and_one_supinated_parry() {
        let vocabulary = Vocabulary::built_in();
        for line in Line::QUARTERS {
            let mut turns: Vec<Turn> =
                vocabulary.parries.values().filter(|parry| parry.closes == line).map(|parry| parry.hand).collect();
            turns.sort_by_key(|turn| *turn as u8);
            assert_eq!(turns, [Turn::Pronated, Turn::Supinated], "{line:?}");
        }
    }

    #[test]
    fn a_left_hander_mirrors_inside_and_outside() {
        let vocabulary = Vocabulary::built_in();
        for (word, target) in vocabulary.targets.iter().filter(|(_, target)| target.sided) {
            let right = target.lines(Some(Side::Right), Hand::Right);
            assert_eq!(right, target.lines(Some(Side::Left), Hand::Left), "{word}");
            assert_eq!(target.lines(Some(Side::Left), Hand::Right), target.lines(Some(Side::Right), Hand::Left));
            assert!(right.iter().all(|line| matches!(line, Line::HighOutside | Line::LowOutside | Line::Overhead)));
        }
    }

    /// Burton, A New System of Sword Exercise for Infantry (1876), section 5: tierce for the outer side, carte for the
    /// chest and stomach; for the head, modern sabre's quinte (secondary pages).
    #[test]
    fn the_sabre_rows_close_what_their_book_says() {
        let vocabulary = Vocabulary::built_in();
        let rows =
            [("3", "flank", Some(Side::Right)), ("4", "chest", None), ("4", "stomach", None), ("5", "head", None)];
        for (number, target, side) in rows {
            let lines = vocabulary.targets[target].lines(side, Hand::Right);
            assert!(vocabulary.parries[number].closes_any(&lines), "{number} {target}");
        }
        assert!(
            !vocabulary.parries["4"].closes_any(&vocabulary.targets["flank"].lines(Some(Side::Right), Hand::Right))
        );
        assert_eq!(vocabulary.targets["feet"].lines(None, Hand::Right), []);
    }
}
