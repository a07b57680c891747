//! Two texts side by side: which lines are in both, and what stands in whose place. The comparison is `diffy`'s (Myers' of
//! 1986, by lines); this file only lays it out.

use std::collections::VecDeque;

use diffy::{DiffOptions, Line};

/// A row of the two columns.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub struct Row<'t> {
    /// The line of the older text, its number from 1 first; nothing where the newer one has one more.
    pub older: Option<(usize, &'t str)>,
    /// The line of the newer text.
    pub newer: Option<(usize, &'t str)>,
}

/// Both texts, row by row, without their line ends. Lines that stand in each other's place are in one row.
pub fn side_by_side<'t>(older: &'t str, newer: &'t str) -> Vec<Row<'t>> {
    let lines = older.lines().count() + newer.lines().count();
    let patch = DiffOptions::new().set_context_len(lines).create_patch(older, newer);
    let hunks: Vec<&Line<'_, str>> = patch.hunks().iter().flat_map(diffy::Hunk::lines).collect();
    let mut columns =
        Columns { older: older.lines().zip(1..).collect(), newer: newer.lines().zip(1..).collect(), rows: Vec::new() };
    if hunks.is_empty() {
        columns.both(columns.older.len());
    }
    let mut rest = hunks.as_slice();
    while let [first, ..] = rest {
        let is_same = |line: &&&Line<'_, str>| matches!(line, Line::Context(_)) == matches!(first, Line::Context(_));
        let length = rest.iter().take_while(is_same).count();
        let (run, after) = rest.split_at(length);
        let gone = run.iter().filter(|line| matches!(line, Line::Delete(_))).count();
        match first {
            Line::Context(_) => columns.both(length),
            Line::Delete(_) | Line::Insert(_) => columns.instead(gone, length - gone),
        }
        rest = after;
    }
    columns.rows
}

/// The lines that are not laid out yet, and the rows that are.
struct Columns<'t> {
    older: VecDeque<(&'t str, usize)>,
    newer: VecDeque<(&'t str, usize)>,
    rows: Vec<Row<'t>>,
}

impl Columns<'_> {
    fn both(&mut self, lines: usize) {
        self.instead(lines, lines);
    }

    /// So many lines of the older text, and so many of the newer one in their place.
    fn instead(&mut self, older: usize, newer: usize) {
        for row in 0..older.max(newer) {
            let next = |column: &mut VecDeque<_>, lines| {
                (row < lines).then(|| column.pop_front()).flatten().map(|(text, number)| (number, text))
            };
            let row = Row { older: next(&mut self.older, older), newer: next(&mut self.newer, newer) };
            self.rows.push(row);
        }
    }
}

#[cfg(test)]
mod tests {
    use proptest::prelude::*;

    use super::*;

    fn text() -> impl Strategy<Value = String> {
        prop::collection::vec(
            prop::sample::select(vec!["", "1 A cut head", "rest 2", "phrase \"x\"", "# a note"]),
            0..12,
        )
        .prop_map(|lines| lines.iter().map(|line| format!("{line}\n")).collect())
    }

    proptest! {
        /// Each column is its text, line by line, and a text beside itself has changed nothing.
        #[test]
        fn every_line_stands_once_in_its_column(older in text(), newer in text()) {
            let rows = side_by_side(&older, &newer);
            let column = |of: fn(&Row<'_>) -> Option<(usize, String)>| rows.iter().filter_map(of).collect::<Vec<_>>();
            let lines = |text: &str| text.lines().map(str::to_owned).zip(1..).map(|(text, at)| (at, text)).collect::<Vec<_>>();
            prop_assert_eq!(column(|row| row.older.map(|(at, text)| (at, text.to_owned()))), lines(&older));
            prop_assert_eq!(column(|row| row.newer.map(|(at, text)| (at, text.to_owned()))), lines(&newer));
            prop_assert!(rows.iter().all(|row| row.older.is_some() || row.newer.is_some()));
            let same = side_by_side(&older, &older);
            prop_assert!(same.iter().all(|row| row.older == row.newer));
        }
    }

    #[test]
    fn a_line_that_was_changed_stands_beside_what_it_was() {
        let rows = side_by_side("a\nb\nc\nd\n", "a\nB\nc\nd\ne\n");
        let shown: Vec<_> = rows.iter().map(|row| (row.older.map(|it| it.1), row.newer.map(|it| it.1))).collect();
        let both = |text| (Some(text), Some(text));
        assert_eq!(shown, [both("a"), (Some("b"), Some("B")), both("c"), both("d"), (None, Some("e"))]);
        assert_eq!(side_by_side("", "").len(), 0);
        assert_eq!(side_by_side("a\n", "").len(), 1);
    }
}
