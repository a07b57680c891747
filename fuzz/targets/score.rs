//! A score, as `check`, `fmt` and the score page read it. Whatever the bytes are, each problem is a sentence at a place
//! in the text. What can be formatted is formatted once and for all, and says the same before and after.

use std::sync::LazyLock;

use holdfast::production::Judge;
use holdfast::score::model::Score;
use holdfast::score::raw::RawLine;
use holdfast::score::vocabulary::Vocabulary;
use holdfast::score::{Reading, format, read_with_lines};

/// The built-in rules and words.
static JUDGE: LazyLock<Judge> = LazyLock::new(Judge::alone);
static WORDS: LazyLock<Vocabulary> = LazyLock::new(Vocabulary::built_in);

pub(crate) fn run(bytes: &[u8]) {
    let fight = JUDGE.fight(bytes, "a.fight");
    let reading = &fight.reading;
    assert_eq!(reading.score.is_none(), reading.has_errors());
    for problem in fight.problems() {
        assert!(reading.text.get(problem.span.clone()).is_some(), "{problem:?} points outside the text");
        assert!(!problem.message.is_empty() && !problem.message.ends_with('.'), "{problem:?}");
    }
    let rendered = reading.render(false);
    assert!(reading.problems.iter().all(|problem| rendered.contains(problem.code)));
    reading.render(true);
    for report in reading.reports() {
        let (from, to) = ((report.line, report.column), (report.end_line, report.end_column));
        assert!(report.line >= 1 && report.column >= 1 && from <= to, "{report:?}");
    }
    match format(bytes) {
        Ok(formatted) => formatted_well(reading, &formatted),
        Err(refused) => {
            assert!(reading.has_errors(), "not formatted, and nothing is wrong with it");
            assert!(!refused.problems.is_empty() && !refused.render("a.fight", false).is_empty());
        }
    }
}

/// The formatted text is formatted, and reads as the text did.
fn formatted_well(before: &Reading, formatted: &str) {
    assert_eq!(format(formatted).as_deref(), Ok(formatted), "formatting twice is not formatting once");
    let after = JUDGE.fight(formatted.as_bytes(), "a.fight").reading;
    assert_eq!(comments(before), comments(&after));
    for (before, after) in statements(before).zip(statements(&after)) {
        assert_eq!(before, after, "formatting changed a line");
    }
    assert_eq!(statements(before).count(), statements(&after).count(), "formatting changed how many lines there are");
    assert_eq!(before.score.as_ref().map(said), after.score.as_ref().map(said), "formatting changed what is said");
    let codes = |reading: &Reading| {
        let mut codes: Vec<&str> = reading.problems.iter().map(|problem| problem.code).collect();
        codes.sort_unstable();
        codes
    };
    assert_eq!(codes(before), codes(&after), "formatting changed what is wrong");
}

/// Everything that a score says, without where it says it.
pub(crate) fn said(score: &Score) -> String {
    without_places(format!("{score:?}"))
}

/// What every line says that says something, also of a score with errors, without where.
fn statements(reading: &Reading) -> impl Iterator<Item = String> {
    let statements = lines(reading).into_iter().filter_map(|line| line.statement);
    statements.map(|statement| without_places(format!("{statement:?}")))
}

fn lines(reading: &Reading) -> Vec<RawLine> {
    read_with_lines(&reading.text, &reading.file_name, &WORDS).1.lines
}

fn without_places(whole: String) -> String {
    let mut pieces = whole.split("span: ");
    let mut said = pieces.next().unwrap_or_default().to_owned();
    for piece in pieces {
        said.push_str(piece.trim_start_matches(|letter: char| letter.is_ascii_digit() || letter == '.'));
    }
    said
}

/// Every comment of a text, in order.
pub(crate) fn comments(reading: &Reading) -> Vec<String> {
    lines(reading).into_iter().filter_map(|line| line.comment).map(|comment| comment.value.to_string()).collect()
}
