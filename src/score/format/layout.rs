//! Which lines belong together, how far each is indented, where blank lines stand, and where comments go.

use super::columns::{Row, widest, width};
use super::rows::{Columns, is_timed, name_column, write};
use crate::score::raw::{RawLine, RawScore, Statement};

/// Spaces for each level of indentation.
const STEP: usize = 2;
/// Deeper repeats are indented no further, so that a hostile file does not grow with the square of its length.
const DEEPEST: usize = 16;
/// The least column of a comment in the header, and in a phrase.
const COMMENTS: [usize; 2] = [28, 34];
/// The furthest column that a line can push comments to.
const FURTHEST_COMMENT: usize = 110;

/// The whole text.
pub(in crate::score) fn lay_out(raw: &RawScore) -> String {
    let indents = indents(&raw.lines);
    let names = name_column(raw);
    let mut lines: Vec<String> = Vec::new();
    let mut start = 0;
    while start < raw.lines.len() {
        let end = end_of_block(&raw.lines, start);
        if let (Some(block), Some(indents)) = (raw.lines.get(start..end), indents.get(start..end)) {
            lay_out_block(block, indents, names, &mut lines);
        }
        start = end;
    }
    while lines.last().is_some_and(String::is_empty) {
        lines.pop();
    }
    lines.into_iter().map(|line| line + "\n").collect()
}

/// The line after a block: the header with the cast is one, each pattern and each phrase.
fn end_of_block(lines: &[RawLine], start: usize) -> usize {
    let next = lines
        .iter()
        .skip(start + 1)
        .position(|line| matches!(line.statement, Some(Statement::Phrase(_) | Statement::Pattern(_))));
    next.map_or(lines.len(), |offset| start + 1 + offset)
}

fn lay_out_block(block: &[RawLine], indents: &[usize], names: usize, lines: &mut Vec<String>) {
    let columns = Columns::of(block, indents, names);
    let written: Vec<Option<String>> = (block.iter().zip(indents))
        .map(|(line, indent)| line.statement.as_ref().map(|statement| write(statement, *indent, &columns)))
        .collect();
    let in_phrase = block.first().is_some_and(opens_a_block);
    let comments = comment_columns(block, &written, COMMENTS[usize::from(in_phrase)]);
    for ((line, text), indent) in block.iter().zip(written).zip(indents) {
        if opens_a_part(line) {
            open_a_part(lines);
        }
        match (text, &line.comment) {
            (None, None) => blank(lines),
            (Some(text), None) => lines.push(text),
            (None, Some(comment)) => lines.push(Row::indented(*indent).text(&comment.value).finish()),
            (Some(text), Some(comment)) => {
                let column = comments[usize::from(is_timed(line))];
                lines.push(Row::indented(0).cell(&text, column).text("  ").text(&comment.value).finish());
            }
        }
    }
}

fn opens_a_part(line: &RawLine) -> bool {
    opens_a_block(line) || matches!(line.statement, Some(Statement::FightersHead))
}

fn opens_a_block(line: &RawLine) -> bool {
    matches!(line.statement, Some(Statement::Phrase(_) | Statement::Pattern(_)))
}

/// A blank line before a part, above the comments that stand directly on it.
fn open_a_part(lines: &mut Vec<String>) {
    let comments = lines.iter().rev().take_while(|line| line.starts_with('#')).count();
    let at = lines.len() - comments;
    if at > 0 && lines.get(at - 1).is_some_and(|line| !line.is_empty()) {
        lines.insert(at, String::new());
    }
}

/// One blank line, unless one is there already or nothing is.
fn blank(lines: &mut Vec<String>) {
    if lines.last().is_some_and(|line| !line.is_empty()) {
        lines.push(String::new());
    }
}

/// The columns of the comments behind untimed and timed lines. They differ, because moves are long.
fn comment_columns(block: &[RawLine], written: &[Option<String>], least: usize) -> [usize; 2] {
    [false, true].map(|timed| {
        let commented = block.iter().zip(written).filter(|(line, _)| line.comment.is_some() && is_timed(line) == timed);
        widest(commented.filter_map(|(_, text)| text.as_deref()).map(width), least, FURTHEST_COMMENT)
    })
}

/// How far each line is indented. A comment on a line of its own goes with the line directly under it, or with the
/// part it ends.
fn indents(lines: &[RawLine]) -> Vec<usize> {
    let mut indents = Vec::with_capacity(lines.len());
    let (mut base, mut depth) = (0, 0_usize);
    for line in lines {
        let own = match &line.statement {
            Some(
                Statement::FightersHead | Statement::BystandersHead | Statement::Phrase(_) | Statement::Pattern(_),
            ) => {
                (base, depth) = (STEP, 0);
                0
            }
            Some(Statement::Repeat(_)) => {
                depth += 1;
                base + STEP * (depth - 1).min(DEEPEST)
            }
            Some(Statement::End) => {
                depth = depth.saturating_sub(1);
                base + STEP * depth.min(DEEPEST)
            }
            _ => base + STEP * depth.min(DEEPEST),
        };
        indents.push(own);
    }
    let mut below = None;
    for (line, indent) in lines.iter().zip(&mut indents).rev() {
        let comment_alone = line.statement.is_none() && line.comment.is_some();
        if comment_alone {
            *indent = below.unwrap_or(*indent);
        }
        below = if comment_alone {
            below
        } else {
            line.statement.as_ref().filter(|s| **s != Statement::End).map(|_| *indent)
        };
    }
    indents
}
