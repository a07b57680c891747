//! What is true of every score: it reads the same before and after `fmt`, `fmt` twice is `fmt` once, and no bytes
//! make the reader, the formatter or the reports panic.

use holdfast::score::model::Item;
use holdfast::score::problem::Severity;
use holdfast::score::vocabulary::Vocabulary;
use holdfast::score::{Reading, format, read};
use proptest::prelude::*;

use crate::fuzz::targets::score as fuzz;
use crate::strategies::score_text;

fn read_built_in(source: impl AsRef<[u8]>) -> Reading {
    read(source, "a.fight", &Vocabulary::built_in())
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(128))]

    #[test]
    fn formatting_changes_nothing_that_is_said(text in score_text()) {
        let before = read_built_in(&text);
        prop_assert!(before.problems.iter().all(|problem| problem.severity == Severity::Advice), "{}", before.render(false));
        let formatted = format(&text).unwrap();
        let after = read_built_in(&formatted);
        prop_assert_eq!(fuzz::comments(&before), fuzz::comments(&after));
        prop_assert_eq!(fuzz::said(&before.score.unwrap()), fuzz::said(&after.score.unwrap()));
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
                prop_assert!(reading.text[line.span.clone()].contains(line.action.as_str()));
                if let Some(answer) = &line.answer {
                    prop_assert!(reading.text[answer.span.clone()].contains(answer.reply.as_str()));
                }
            }
        }
    }

    #[test]
    fn no_bytes_are_too_bad(bytes in proptest::collection::vec(any::<u8>(), 0..400)) {
        fuzz::run(&bytes);
    }

    #[test]
    fn no_text_is_too_bad(text in "(fight|phrase|repeat|end|[0-9+/.-]{1,4}|[\"#!,\r\n\t ]|->|\\PC){0,60}") {
        fuzz::run(text.as_bytes());
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
        fuzz::run(&bytes);
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
        fuzz::run(source.as_bytes());
        assert!(read_built_in(&source).score.is_none());
    }
}
