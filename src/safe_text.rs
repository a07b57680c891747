//! The one place that makes text which somebody typed safe for where it goes: a terminal, a line of the log, a cell of a
//! spreadsheet, a page, JSON that is printed. A name, a reason or a score then reads as it was typed and does nothing: it
//! moves no cursor, opens no link, turns no line round, forges no line, computes nothing. What would act is shown as its
//! number, `\u{1b}`; every other letter stays as it is, whatever its script. Every function may be used twice: what is
//! safe comes out unchanged.
//!
//! They are used where the text leaves, not where it is made: `cli::output` and `cli::terminal` for terminals and the log,
//! the writers of tables for cells, and each page as a whole.

use std::borrow::Cow;

use maud::Markup;

/// True for a letter that acts instead of being read: the control characters (C0, DEL and C1; ECMA-48), what turns the
/// direction of text (Bidi_Control, UAX #9), line and paragraph separators, the byte order mark, the deprecated format
/// characters and those of interlinear notes (The Unicode Standard, chapter 23). Tabs and line ends act as well; what is
/// done about them depends on the place.
pub fn acts(letter: char) -> bool {
    letter.is_control()
        || matches!(letter,
            '\u{61c}' | '\u{200e}' | '\u{200f}' | '\u{2028}'..='\u{202e}' | '\u{2066}'..='\u{206f}'
            | '\u{feff}' | '\u{fff9}'..='\u{fffb}')
}

/// Text for a terminal. Line ends and tabs stay, for a page has many lines.
pub fn terminal(text: &str) -> Cow<'_, str> {
    shown(text, |letter| acts(letter) && !matches!(letter, '\n' | '\t'))
}

/// Text for one line of the log: no line ends in it.
pub fn log_line(text: &str) -> Cow<'_, str> {
    shown(text, |letter| acts(letter) && letter != '\t')
}

/// Text for a cell of a spreadsheet: as for a terminal, and nothing in it is taken for a formula. OWASP's page "CSV
/// Injection" names the letters at its beginning; an apostrophe goes in front. Some programs take a semicolon or a tab for
/// the end of a cell, so what follows one is looked at as well. A number stays a number.
pub fn cell(text: &str) -> String {
    if is_number(text) {
        return text.to_owned();
    }
    let text = terminal(text);
    let mut safe = String::with_capacity(text.len() + 1);
    for part in text.split_inclusive([';', '\t', '\n']) {
        if part.trim_start().starts_with(['=', '+', '-', '@', '＝', '＋', '－', '＠']) {
            safe.push('\'');
        }
        safe.push_str(part);
    }
    // A tab or a line end at the beginning is named there too: some programs take it away before they look.
    if safe.starts_with(['\t', '\n']) {
        safe.insert(0, '\'');
    }
    safe
}

/// Digits, with a sign and a point where one belongs.
fn is_number(text: &str) -> bool {
    let digits = text.strip_prefix(['-', '+']).unwrap_or(text);
    let whole = |part: &str| !part.is_empty() && part.bytes().all(|byte| byte.is_ascii_digit());
    match digits.split_once('.') {
        None => whole(digits),
        Some((before, after)) => whole(before) && whole(after),
    }
}

/// A page, or a part of one, as it is sent. The markup has escaped what stands in it; what is left is what would act on
/// its reader.
pub fn page(markup: Markup) -> String {
    let page = markup.into_string();
    match terminal(&page) {
        Cow::Borrowed(_) => page,
        Cow::Owned(safe) => safe,
    }
}

/// JSON for a terminal: the same values, with what acts written as JSON writes it. Such letters stand only inside of its
/// strings, and none is beyond U+FFFF.
pub fn json(text: &str) -> Cow<'_, str> {
    replaced(
        text,
        |letter| acts(letter) && !matches!(letter, '\n' | '\t'),
        |letter| format!("\\u{:04x}", letter as u32),
    )
}

/// The text with its acting letters as numbers.
fn shown(text: &str, acts: impl Fn(char) -> bool) -> Cow<'_, str> {
    replaced(text, acts, |letter| match letter {
        '\n' => "\\n".to_owned(),
        '\r' => "\\r".to_owned(),
        _ => letter.escape_unicode().to_string(),
    })
}

/// The text itself where nothing is to be replaced.
fn replaced(text: &str, which: impl Fn(char) -> bool, by: impl Fn(char) -> String) -> Cow<'_, str> {
    if !text.contains(&which) {
        return Cow::Borrowed(text);
    }
    let mut out = String::with_capacity(text.len() + 16);
    for letter in text.chars() {
        if which(letter) {
            out.push_str(&by(letter));
        } else {
            out.push(letter);
        }
    }
    Cow::Owned(out)
}

#[cfg(test)]
mod tests {
    use icu_properties::CodePointSetData;
    use icu_properties::props::BidiControl;
    use proptest::prelude::*;

    use super::*;

    /// Letters of every kind, and those that act more often than by chance.
    fn any_text() -> impl Strategy<Value = String> {
        let acting = prop::sample::select(
            "\u{1b}\u{9b}\u{7}\u{0}\r\n\t\u{202e}\u{2066}\u{2028}\u{feff}\u{7f};=+-@\"',<>&`"
                .chars()
                .collect::<Vec<_>>(),
        );
        prop::collection::vec(prop_oneof![acting, any::<char>()], 0..24)
            .prop_map(|letters| letters.into_iter().collect())
    }

    /// Unicode's Bidi_Control (PropList.txt), as another library has it; and ECMA-48's C0 and C1 with DEL.
    #[test]
    fn what_acts_holds_unicodes_bidirectional_controls_and_all_controls() {
        let bidi = CodePointSetData::new::<BidiControl>();
        for letter in (0..=0x10_ffff).filter_map(char::from_u32) {
            let control = matches!(letter as u32, 0..=0x1f | 0x7f..=0x9f);
            assert!(acts(letter) || !(control || bidi.contains(letter)), "{:x}", letter as u32);
        }
    }

    #[test]
    fn ordinary_texts_stay_as_they_are() {
        for text in [
            "Zoë Łucja",
            "محمد יעל",
            "李小龍 राम",
            "👩\u{200d}🎤 🏴 ❤\u{fe0f}",
            "a <b> & `c` \"d\"",
            "می\u{200c}خواهم",
            "one\n\ttwo",
        ] {
            assert_eq!((&*terminal(text), cell(text).as_str(), &*json(text)), (text, text, text));
            assert_eq!(log_line(text), text.replace('\n', "\\n"));
        }
    }

    /// The letters are those of OWASP, "CSV Injection".
    #[test]
    fn a_cell_is_no_formula_and_a_number_is_a_number() {
        for text in [
            "=1+1",
            "+x",
            "-x",
            "@SUM(A1)",
            "\t=1",
            "\r=1",
            "\n=1",
            "  =1",
            "＝1",
            "=cmd|' /C calc'!A0",
            "-1+2",
            "a;=1",
            "a; =1",
        ] {
            assert_ne!(cell(text), text);
        }
        assert_eq!(cell("a; =1"), "a;' =1");
        for number in ["-1", "+4", "-0.25", "12", "7.50"] {
            assert_eq!(cell(number), number);
        }
    }

    proptest! {
        #[test]
        fn nothing_acts_after_it_was_made_safe(text in any_text()) {
            prop_assert!(!terminal(&text).contains(|it| acts(it) && !matches!(it, '\n' | '\t')));
            prop_assert!(!log_line(&text).contains(|it| acts(it) && it != '\t'));
            let page = page(maud::html! { p title=(text) { (text) } });
            prop_assert!(!page.contains(|it| acts(it) && !matches!(it, '\n' | '\t')));
        }

        #[test]
        fn what_is_safe_comes_out_unchanged(text in any_text()) {
            for made in [terminal(&text), log_line(&text)] {
                prop_assert_eq!(&terminal(&made), &made);
            }
            let cell_once = cell(&text);
            prop_assert_eq!(cell(&cell_once), cell_once);
        }

        #[test]
        fn no_program_takes_a_cell_for_a_formula(text in any_text()) {
            let safe = cell(&text);
            for part in safe.split([';', '\t', '\n']).chain([&*safe]) {
                prop_assert!(!part.trim_start().starts_with(['=', '+', '-', '@']) || is_number(&safe), "{safe:?}");
            }
        }

        #[test]
        fn json_means_what_it_meant(text in any_text()) {
            let written = serde_json::to_string(&text).unwrap();
            let safe = json(&written);
            prop_assert!(!safe.contains(acts));
            prop_assert_eq!(serde_json::from_str::<String>(&safe).unwrap(), text);
        }
    }
}
