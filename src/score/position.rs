//! From a byte of the text to the line and column that a person counts, and back to the line.

use std::ops::Range;

/// A place as an editor shows it: both counted from 1, the column in characters.
#[derive(Clone, Copy, Debug, PartialEq, Eq, PartialOrd, Ord)]
pub struct Position {
    /// The line.
    pub line: usize,
    /// The column, in characters.
    pub column: usize,
}

/// Where the lines of a text begin. Made once for a text, asked often.
#[derive(Debug)]
pub struct Lines<'a> {
    text: &'a str,
    starts: Vec<usize>,
}

impl<'a> Lines<'a> {
    /// Finds the lines of `text`.
    pub fn new(text: &'a str) -> Lines<'a> {
        let after_breaks = text.bytes().enumerate().filter(|(_, byte)| *byte == b'\n').map(|(at, _)| at + 1);
        Lines { text, starts: std::iter::once(0).chain(after_breaks).collect() }
    }

    /// The place of a byte. A byte past the end is at the end; one within a character is at the character.
    pub fn position(&self, byte: usize) -> Position {
        let byte = self.floor(byte);
        let line = self.starts.partition_point(|start| *start <= byte);
        let start = self.starts.get(line.saturating_sub(1)).copied().unwrap_or(0);
        let column = self.text.get(start..byte).map_or(0, |before| before.chars().count()) + 1;
        Position { line, column }
    }

    /// The bytes of a line, counted from 1, without its break.
    pub fn bytes_of(&self, line: usize) -> Range<usize> {
        let start = self.starts.get(line.saturating_sub(1)).copied().unwrap_or(self.text.len());
        let end = self.starts.get(line).copied().unwrap_or(self.text.len());
        let body = self.text.get(start..end).unwrap_or("");
        start..start + body.trim_end_matches(['\n', '\r']).len()
    }

    /// The nearest character boundary at or before a byte.
    pub fn floor(&self, byte: usize) -> usize {
        let mut byte = byte.min(self.text.len());
        while !self.text.is_char_boundary(byte) {
            byte -= 1;
        }
        byte
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn columns_are_characters_and_lines_end_at_their_break() {
        let lines = Lines::new("fé\r\nab\n");
        for (byte, line, column) in [(0, 1, 1), (2, 1, 2), (3, 1, 3), (5, 2, 1), (6, 2, 2), (8, 3, 1), (99, 3, 1)] {
            assert_eq!(lines.position(byte), Position { line, column }, "byte {byte}");
        }
        assert_eq!((lines.bytes_of(1), lines.bytes_of(2), lines.bytes_of(3)), (0..3, 5..7, 8..8));
    }
}
