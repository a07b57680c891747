//! A company's vocabulary, laid over the built-in one and alone. Everything that is wrong is told with its line and key;
//! what is read can be read again from the texts that it keeps, as a journal does.

use std::fs;

use holdfast::production::Judge;
use holdfast::score::vocabulary::{Mode, Vocabulary};

use super::toml_problems::{are_told_well, line_that_is_not_utf8, moved_by_a_line, with_a_line_before};

const FILE: &str = "vocabulary.toml";

pub(crate) fn run(bytes: &[u8]) {
    let Ok(text) = std::str::from_utf8(bytes) else { return refused_by_the_production(bytes) };
    for mode in [Mode::Extend, Mode::Replace] {
        let read = Vocabulary::from_toml(text, FILE, mode);
        let moved = with_a_line_before(text).map(|text| Vocabulary::from_toml(&text, FILE, mode));
        match (read, moved) {
            (Ok(read), moved) => {
                assert_eq!(Vocabulary::from_texts(&read.texts).as_ref(), Ok(&read), "read otherwise from its texts");
                assert!(moved.is_none_or(|moved| moved.is_ok()), "a comment makes it wrong");
            }
            (Err(error), moved) => {
                are_told_well(&error.problems, FILE, text);
                if let Some(moved) = moved {
                    let moved = moved.expect_err("a comment makes it right");
                    moved_by_a_line(&error.problems, &moved.problems);
                }
            }
        }
    }
}

/// What is no text is refused before it is read, with the line.
fn refused_by_the_production(bytes: &[u8]) {
    let folder = tempfile::tempdir().unwrap();
    fs::write(folder.path().join("production.toml"), "name = \"The Salt Stair\"\n").unwrap();
    fs::write(folder.path().join(FILE), bytes).unwrap();
    let said = Judge::of_production(folder.path()).expect_err("read, and is no text").to_string();
    let line = line_that_is_not_utf8(bytes).unwrap();
    assert!(said.contains(&format!("{FILE} cannot be read: line {line} is not UTF-8")), "{said}");
}
