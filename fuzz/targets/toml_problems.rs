//! What holds for every problem in a TOML file that people write by hand.

use holdfast::toml_table::TomlProblem;

/// Each problem is a sentence with the file, a line of the text and, unless the text is no TOML there, a key; and they
/// are in the order of the text.
pub(super) fn are_told_well(problems: &[TomlProblem], file: &str, text: &str) {
    assert!(!problems.is_empty(), "refused without a reason");
    assert!(problems.is_sorted_by_key(|problem| problem.line));
    let lines = text.split('\n').count();
    for problem in problems {
        assert_eq!(problem.file, file);
        assert!((1..=lines).contains(&problem.line), "{problem} (the text has {lines} lines)");
        assert!(problem.key.is_some() || problem.says.starts_with("this is not TOML: "), "{problem}");
        assert!(problem.key.as_ref().is_none_or(|key| !key.is_empty()), "{problem:?}");
        assert!(problem.says.trim_end_matches(['.', '?', ' ']).len() > 8, "{problem}");
    }
}

/// A line more before the text moves every problem down by a line and changes nothing else. What is said of the file
/// as a whole, of a key that is missing, stays at its first line.
pub(super) fn moved_by_a_line(before: &[TomlProblem], after: &[TomlProblem]) {
    // In one line what is said of the line stands beside what is said of the whole: there the order is another.
    let sorted = |problems: &[TomlProblem]| {
        let mut problems = problems.to_vec();
        problems.sort_by(|a, b| (&a.key, &a.says, a.line).cmp(&(&b.key, &b.says, b.line)));
        problems
    };
    let (before, after) = (sorted(before), sorted(after));
    assert_eq!(before.len(), after.len(), "{before:?}\n{after:?}");
    for (before, after) in before.iter().zip(&after) {
        assert_eq!((&before.key, &before.says), (&after.key, &after.says));
        let of_the_whole = before.key.is_some() && (before.line, after.line) == (1, 1);
        assert!(after.line == before.line + 1 || of_the_whole, "{before}\n{after}");
    }
}

/// The text with a comment before it; nothing where the text has to begin the file.
pub(super) fn with_a_line_before(text: &str) -> Option<String> {
    (!text.starts_with('\u{feff}')).then(|| format!("# A line more.\n{text}"))
}

/// The line of the first byte that is no UTF-8, and of none if there is none.
pub(super) fn line_that_is_not_utf8(bytes: &[u8]) -> Option<usize> {
    let good = std::str::from_utf8(bytes).err()?.valid_up_to();
    Some(bytes[..good].split(|byte| *byte == b'\n').count())
}
