//! Columns of text: how wide they are, and how a cell fills one.

/// How wide a cell is, counted in characters.
pub(super) fn width(cell: &str) -> usize {
    cell.chars().count()
}

/// The width of a column that holds cells of these widths, at least `least`. Cells wider than `most` do not count:
/// one name of a thousand letters must not push every line that far.
pub(super) fn widest(widths: impl Iterator<Item = usize>, least: usize, most: usize) -> usize {
    widths.filter(|width| *width <= most).fold(least, usize::max)
}

/// A line under construction.
pub(super) struct Row(String);

impl Row {
    /// A line that begins with spaces.
    pub(super) fn indented(spaces: usize) -> Row {
        Row(" ".repeat(spaces))
    }

    /// Writes something without a column of its own.
    pub(super) fn text(mut self, text: &str) -> Row {
        self.0.push_str(text);
        self
    }

    /// Writes a cell at the left of its column, and fills the column with spaces.
    pub(super) fn cell(self, cell: &str, column: usize) -> Row {
        let space = column.saturating_sub(width(cell));
        self.text(cell).space(space)
    }

    /// Writes a cell at the right of its column.
    pub(super) fn cell_right(self, cell: &str, column: usize) -> Row {
        self.space(column.saturating_sub(width(cell))).text(cell)
    }

    /// Writes spaces.
    pub(super) fn space(mut self, spaces: usize) -> Row {
        self.0.extend(std::iter::repeat_n(' ', spaces));
        self
    }

    /// The line, without spaces at its end.
    pub(super) fn finish(mut self) -> String {
        self.0.truncate(self.0.trim_end_matches(' ').len());
        self.0
    }
}
