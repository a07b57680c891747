//! Slips in a vocabulary file: whatever letter is wrong, the line is told and the word that was meant.

use std::collections::BTreeSet;
use std::ops::Range;

use proptest::prelude::*;

use super::{BUILT_IN_TEXT, Mode, Vocabulary};

/// The fields whose words are known ones: of a few words, or of other rows.
const OF_WORDS: [&str; 20] = [
    "across",
    "actions",
    "also_closes",
    "closes",
    "effects",
    "goes",
    "hand",
    "heights",
    "kind",
    "limb",
    "makes",
    "needs",
    "other_height",
    "part",
    "posture",
    "sound",
    "takes",
    "targets",
    "touch",
    "vital",
];

/// Where known words stand in the built-in vocabulary: names of tables, names of fields, and the words of [`OF_WORDS`].
fn known_words() -> Vec<Range<usize>> {
    let mut found = Vec::new();
    let mut start = 0;
    for line in BUILT_IN_TEXT.split_inclusive('\n') {
        let from = if line.starts_with('[') { start + 1 } else { start };
        let name = BUILT_IN_TEXT[from..].find(|letter: char| !letter.is_ascii_lowercase() && letter != '_').unwrap();
        if name > 0 {
            found.push(from..from + name);
        }
        if OF_WORDS.contains(&&BUILT_IN_TEXT[from..from + name]) && from == start {
            let quotes: Vec<usize> = line.match_indices('"').map(|(at, _)| start + at).collect();
            found.extend(quotes.chunks(2).map(|pair| pair[0] + 1..pair[1]));
        }
        start += line.len();
    }
    found
}

/// The file with another letter in the word there, the line, the word as it was, and as it is now.
fn slip(word: Range<usize>, at: usize, letter: char) -> (String, usize, &'static str, String) {
    let meant = &BUILT_IN_TEXT[word.clone()];
    let mut wrong = meant.to_owned();
    wrong.replace_range(at..=at, &letter.to_string());
    let line = BUILT_IN_TEXT[..word.start].matches('\n').count() + 1;
    let text = format!("{}{wrong}{}", &BUILT_IN_TEXT[..word.start], &BUILT_IN_TEXT[word.end..]);
    (text, line, meant, wrong)
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(256))]

    #[test]
    fn a_slip_is_told_with_its_line_and_the_word_that_was_meant(
        word in prop::sample::select(known_words()),
        at in any::<prop::sample::Index>(),
        letter in prop::char::range('a', 'z'),
    ) {
        let at = at.index(word.len());
        let (text, line, meant, wrong) = slip(word, at, letter);
        let words: BTreeSet<&str> = known_words().into_iter().map(|word| &BUILT_IN_TEXT[word]).collect();
        prop_assume!(!words.contains(wrong.as_str()));
        let error = Vocabulary::from_toml(&text, "house.toml", Mode::Replace).unwrap_err();
        // "foet" is as near to "foot" as to "feet".
        let suggests = |says: &str| {
            let near = says.split("did you mean `").nth(1).and_then(|rest| rest.split('`').next());
            near.is_some_and(|near| near == meant || strsim::damerau_levenshtein(near, &wrong) == 1)
        };
        let told = error.problems.iter().any(|problem| problem.line == line && suggests(&problem.says));
        prop_assert!(told, "{wrong} for {meant} in line {line}:\n{error}");
    }

    #[test]
    fn no_half_right_text_makes_it_panic(
        cut in any::<prop::sample::Index>(),
        other in "\\PC{0,12}|[\\[\\]{}=.'\"\n#0-9a-z_-]{0,12}",
    ) {
        let mut at = cut.index(BUILT_IN_TEXT.len());
        while !BUILT_IN_TEXT.is_char_boundary(at) { at -= 1; }
        let text = format!("{}{other}{}", &BUILT_IN_TEXT[..at], &BUILT_IN_TEXT[at..]);
        for mode in [Mode::Extend, Mode::Replace] {
            if let Err(error) = Vocabulary::from_toml(&text, "house.toml", mode) {
                prop_assert!(!error.problems.is_empty(), "{error}");
            }
        }
    }
}

/// A file that is laid over its own rows changes none of them.
#[test]
fn the_built_in_rows_laid_over_themselves_stay_as_they_are() {
    let once = Vocabulary::built_in();
    let mut twice = Vocabulary::from_toml(BUILT_IN_TEXT, "vocabulary.toml", Mode::Extend).unwrap();
    assert_eq!(twice.texts.0.len(), 2);
    twice.texts = once.texts.clone();
    assert_eq!(twice, once);
}
