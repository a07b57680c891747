//! Names against Unicode's own tables.

use icu_properties::CodePointSetData;
use icu_properties::props::{BidiControl, DefaultIgnorableCodePoint};
use proptest::prelude::*;

use super::*;

fn same(one: &str, other: &str) -> bool {
    Likeness::of(one).is_same(&Likeness::of(other))
}

fn alike(one: &str, other: &str) -> bool {
    Likeness::of(one).is_like(&Likeness::of(other))
}

#[test]
fn names_of_many_scripts_are_taken_as_they_are() {
    for name in [
        "Åse",
        "Zoë",
        "Nguyễn",
        "Łucja",
        "O'Neil",
        "O’Neil",
        "Jean-Luc",
        "محمد",
        "李小龍",
        "राम",
        "Анна",
        "Ζωή",
        "יעל",
        "สมชาย",
        "さくら",
        "김민준",
        "Anna 2",
        "J. R.",
        "ክፍሌ",
        "Şükrü",
        "Dvořák",
        // Persian, with the non-joiner that its spelling asks for; Sinhala "Sri", with the joiner.
        "علی\u{200c}رضا",
        "ශ්\u{200d}රී",
    ] {
        let composed: String = name.nfc().collect();
        assert_eq!(checked(name, LONGEST).as_deref(), Ok(composed.as_str()));
    }
    assert_eq!(checked(" A\u{30a}se \u{2003}\u{a0} Lund\t\n", LONGEST).as_deref(), Ok("Åse Lund"), "NFC, UAX #15");
}

/// What a sentence says: the letter, and where it stands.
#[test]
fn a_refusal_says_which_letter_and_where() {
    let rows = [
        ("Lot\u{202e}te", "U+202E after “Lot” changes the direction"),
        ("\u{feff}Lotte", "U+FEFF at the beginning is not seen"),
        ("Lotte\u{200b}", "U+200B after “Lotte” is not seen"),
        ("Lotte\u{200d}", "U+200D after “Lotte” is not seen and joins nothing there"),
        ("Lot\u{200c}te", "U+200C after “Lot” is not seen and joins nothing there"),
        ("Lotte\u{1b}[2J", "U+001B after “Lotte” is a command"),
        ("Lotte\u{e000}", "U+E000 after “Lotte” looks different"),
        ("Lotte\u{378}", "U+0378 after “Lotte” is no letter"),
        ("Lotte\u{3164}", "U+3164 after “Lotte” is not seen"),
        ("Lo\u{301}\u{302}\u{303}\u{304}\u{306}tte", "U+0306 is one mark too many on “o”"),
        ("Lo\u{323}\u{323}tte", "U+0323 is one mark too many on “o”"),
        ("…!?", "needs a letter"),
        ("\u{301}", "needs a letter"),
        (" \u{3000} ", "Write your name first"),
    ];
    for (name, says) in rows {
        let refused = checked(name, LONGEST).unwrap_err();
        assert!(refused.contains(says), "{name:?}: {refused}");
        assert!(refused.ends_with('.') && refused.chars().all(letters::is_seen), "{refused:?}");
    }
    assert!(checked(&"x".repeat(40), LONGEST).is_ok() && checked(&"x".repeat(41), LONGEST).unwrap_err().contains("40"));
    assert!(checked(&"ắ".repeat(40), LONGEST).is_ok(), "marks are not counted");
}

/// UAX #9, table of explicit formatting characters (section 2), and Default_Ignorable_Code_Point in
/// DerivedCoreProperties.txt: rows of them, written out here.
#[test]
fn no_letter_of_unicodes_lists_of_the_unseen_is_in_a_name() {
    let bidi = "\u{202a}\u{202b}\u{202c}\u{202d}\u{202e}\u{2066}\u{2067}\u{2068}\u{2069}\u{200e}\u{200f}\u{61c}";
    let ignorable = "\u{ad}\u{34f}\u{115f}\u{1160}\u{17b4}\u{180b}\u{200b}\u{2060}\u{2064}\u{206a}\u{3164}\u{fe00}\u{feff}\u{ffa0}\u{fff0}\u{1bca0}\u{1d173}\u{e0001}\u{e0061}\u{e0100}";
    for letter in bidi.chars().chain(ignorable.chars()) {
        assert!(checked(&format!("Lot{letter}te"), LONGEST).is_err(), "U+{:04X}", u32::from(letter));
    }
}

/// Rows of confusables.txt (UTS #39), each letter in a name beside the one that it looks like; and what NFKC folds.
#[test]
fn names_that_look_alike_are_alike() {
    let rows = [
        ("Lotte", "Lоtte"),   // U+043E → o
        ("Anna", "Аnna"),     // U+0410 → A
        ("Anna", "Αnna"),     // U+0391 → A
        ("Lotte", "L0tte"),   // 0 → O
        ("Alan", "AIan"),     // I → l
        ("Alan", "A1an"),     // 1 → l
        ("Pia", "Ρia"),       // U+03A1 → P
        ("Marnie", "Mamie"),  // m → rn
        ("Paul", "раul"),     // U+0440, U+0430 → p, a
        ("O'Neil", "O’Neil"), // U+2019 → '
        ("Lotte", "Ｌｏｔｔｅ"),
        ("Lotte", "𝓛otte"),
        ("Lotte", "LOTTE"),
        ("Jo Anne", "Joanne"),
    ];
    for (one, other) in rows {
        assert!(alike(one, other), "{one} {other}");
    }
    for (one, other) in [("Lotte", "Lotta"), ("Anna", "Anne"), ("Åse", "Ase"), ("Anna 1", "Anna 2"), ("李", "林")] {
        assert!(!alike(one, other), "{one} {other}");
    }
    assert!(same("Åse  LUND", "A\u{30a}se Lund") && !same("Anna", "Аnna"));
}

#[test]
fn who_signs_is_written_without_what_is_not_seen() {
    assert_eq!(tidied(" Lot\u{202e}te\u{200b}  A\u{30a}se\n\u{1b}"), "Lotte Åse");
    assert_eq!(tidied("Åse (for Zoë)"), "Åse (for Zoë)");
}

fn any_name() -> impl Strategy<Value = String> {
    let often = prop::sample::select(
        "aoIl10оаΑÅ\u{30a}\u{301}\u{302}\u{200c}\u{200d}\u{202e}\u{feff} \u{3000}ش\u{94d}कK'-."
            .chars()
            .collect::<Vec<_>>(),
    );
    prop::collection::vec(prop_oneof![4 => often, 1 => any::<char>()], 0..12).prop_map(|it| it.into_iter().collect())
}

proptest! {
    #[test]
    fn normalising_twice_is_once(name in any_name()) {
        let once = normalised(&name);
        prop_assert_eq!(normalised(&once), once);
        let tidy = tidied(&name);
        prop_assert_eq!(normalised(&tidy), tidy);
    }

    #[test]
    fn what_is_accepted_is_seen_and_stays_accepted(name in any_name()) {
        if let Ok(name) = checked(&name, LONGEST) {
            prop_assert_eq!(checked(&name, LONGEST), Ok(name.clone()));
            let (bidi, ignored) = (CodePointSetData::new::<BidiControl>(), CodePointSetData::new::<DefaultIgnorableCodePoint>());
            for letter in name.chars().filter(|it| !matches!(it, '\u{200c}' | '\u{200d}')) {
                prop_assert!(!letter.is_control() && !bidi.contains(letter) && !ignored.contains(letter));
            }
        }
    }

    #[test]
    fn likeness_goes_both_ways_and_to_oneself(one in any_name(), other in any_name()) {
        prop_assert!(alike(&one, &one) && same(&one, &one));
        prop_assert_eq!(alike(&one, &other), alike(&other, &one));
        prop_assert!(!same(&one, &other) || alike(&one, &other));
    }
}
