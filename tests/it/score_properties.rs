//! What is true of every score: it reads the same before and after `fmt`, `fmt` twice is `fmt` once, and no bytes
//! make the reader, the formatter or the reports panic.

use holdfast::score::model::{Item, Score, Span, TempoChange};
use holdfast::score::problem::Severity;
use holdfast::score::vocabulary::Vocabulary;
use holdfast::score::{Reading, format, read};
use proptest::prelude::*;

use crate::strategies::score_text;

fn read_built_in(source: impl AsRef<[u8]>) -> Reading {
    read(source, "a.fight", &Vocabulary::built_in())
}

/// The score with every place in its text forgotten.
fn without_spans(mut score: Score) -> Score {
    let none: Span = 0..0;
    score.fighters.iter_mut().for_each(|fighter| fighter.span = none.clone());
    score.bystanders.iter_mut().for_each(|bystander| bystander.span = none.clone());
    for phrase in &mut score.phrases {
        phrase.span = none.clone();
        phrase.items.iter_mut().for_each(forget);
    }
    score
}

fn forget(item: &mut Item) {
    let none: Span = 0..0;
    match item {
        Item::Move(line) => {
            line.span = none.clone();
            line.answer.iter_mut().for_each(|answer| answer.span = none.clone());
            line.sounds.iter_mut().for_each(|sounds| sounds.span = none.clone());
        }
        Item::Walk(line) => line.span = none,
        Item::Place(line) => line.span = none,
        Item::Tempo(TempoChange::Step { span, .. } | TempoChange::Ramp { span, .. }) => *span = none,
        Item::Repeat(line) => {
            line.span = none;
            line.items.iter_mut().for_each(forget);
        }
        Item::Rest(line) => line.span = none,
        Item::Sound(line) => {
            line.span = none.clone();
            line.sounds.span = none;
        }
    }
}

/// Every comment of a text, in order.
fn comments(reading: &Reading) -> Vec<String> {
    reading.raw.lines.iter().filter_map(|line| line.comment.as_ref()).map(|comment| comment.value.clone()).collect()
}

/// Does everything with a text that the program can do with it.
fn survive(source: &[u8]) {
    let reading = read_built_in(source);
    assert_eq!(reading.score.is_none(), reading.has_errors());
    for problem in &reading.problems {
        assert!(reading.text.get(problem.span.clone()).is_some(), "{problem:?} points outside the text");
        assert!(!problem.message.is_empty() && !problem.message.ends_with('.'));
    }
    let rendered = reading.render(false);
    assert!(reading.problems.iter().all(|problem| rendered.contains(problem.code)));
    reading.render(true);
    for report in reading.reports() {
        assert!(
            report.line >= 1
                && report.column >= 1
                && (report.end_line, report.end_column) >= (report.line, report.column)
        );
    }
    match format(source) {
        Ok(formatted) => assert_eq!(format(&formatted).as_ref(), Ok(&formatted)),
        Err(refused) => assert!(!refused.render("a.fight", false).is_empty()),
    }
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    #[test]
    fn formatting_changes_nothing_that_is_said(text in score_text()) {
        let before = read_built_in(&text);
        prop_assert!(before.problems.iter().all(|problem| problem.severity == Severity::Advice), "{}", before.render(false));
        let formatted = format(&text).unwrap();
        let after = read_built_in(&formatted);
        prop_assert_eq!(comments(&before), comments(&after));
        prop_assert_eq!(without_spans(before.score.unwrap()), without_spans(after.score.unwrap()));
        prop_assert_eq!(&format(&formatted).unwrap(), &formatted);
        prop_assert!(formatted.ends_with('\n') && !formatted.contains('\r') && !formatted.contains(" \n"));
    }

    #[test]
    fn spans_say_what_they_point_at(text in score_text()) {
        let reading = read_built_in(&text);
        let score = reading.score.unwrap();
        for fighter in &score.fighters {
            prop_assert!(reading.text[fighter.span.clone()].contains(&fighter.name));
        }
        for item in score.phrases.iter().flat_map(|phrase| &phrase.items) {
            if let Item::Move(line) = item {
                prop_assert!(reading.text[line.span.clone()].contains(&line.action));
                if let Some(answer) = &line.answer {
                    prop_assert!(reading.text[answer.span.clone()].contains(&answer.reply));
                }
            }
        }
    }

    #[test]
    fn no_bytes_are_too_bad(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        survive(&bytes);
    }

    #[test]
    fn no_text_is_too_bad(text in "(fight|phrase|repeat|end|[0-9+/.-]{1,4}|[\"#!,\r\n\t ]|->|\\PC){0,60}") {
        survive(text.as_bytes());
    }

    #[test]
    fn no_change_to_a_score_is_too_bad(
        text in score_text(),
        changes in proptest::collection::vec((any::<prop::sample::Index>(), any::<u8>(), 0..4u8), 1..6),
    ) {
        let mut bytes = text.into_bytes();
        for (at, byte, kind) in changes {
            if bytes.is_empty() { break; }
            let at = at.index(bytes.len());
            match kind {
                0 => bytes[at] = byte,
                1 => bytes.insert(at, byte),
                2 => { bytes.remove(at); }
                _ => bytes.truncate(at),
            }
        }
        survive(&bytes);
    }
}

#[test]
fn hostile_files_are_refused_in_good_time() {
    let many_words = "phrase A\n".to_owned() + &"nonsense ".repeat(100_000);
    let many_lines = "x\n".repeat(200_000);
    let deep = "fight A\nfighters\nA none none\nphrase B\n".to_owned() + &"repeat 9 every 1 at 1\n".repeat(50_000);
    let large = " ".repeat(holdfast::score::LARGEST + 1);
    let wrong =
        "fight A\nfighters\nA none none\nphrase B\n".to_owned() + &"1 D trust bely / E pary 4\n".repeat(100_000);
    let fractions = "phrase A\n".to_owned() + &"9".repeat(100_000) + "+1/3 A cut";
    for source in [many_words, many_lines, deep, large, wrong, fractions] {
        survive(source.as_bytes());
        assert!(read_built_in(&source).score.is_none());
    }
}
