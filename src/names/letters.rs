//! Which letters cannot be in a name, by Unicode's tables of properties: those that are not seen, that turn the direction
//! of text, or that mean nothing that two screens would draw alike.
//!
//! The joiners U+200C and U+200D are not seen, but Persian and the scripts of India are misspelt without them. They are
//! allowed where RFC 5892 (appendices A.1 and A.2) allows them in the names of the internet: after a virama, and U+200C
//! between letters that it keeps from joining. Names are compared without them.

use icu_properties::props::{
    BidiControl, CanonicalCombiningClass, DefaultIgnorableCodePoint, GeneralCategory, JoiningType,
};
use icu_properties::{CodePointMapData, CodePointSetData};

const NON_JOINER: char = '\u{200c}';
const JOINER: char = '\u{200d}';

/// What is wrong with the letter at `at`, in words that follow "U+202E after “Lot”"; nothing when it may stand there.
pub(super) fn fault(all: &[char], at: usize) -> Option<&'static str> {
    let letter = *all.get(at)?;
    if joins(letter) {
        let fits = joiner_fits(all, at);
        return (!fits).then_some("is not seen and joins nothing there");
    }
    if CodePointSetData::new::<BidiControl>().contains(letter) {
        return Some("changes the direction of what is written");
    }
    match category(letter) {
        GeneralCategory::Control => return Some("is a command for a machine, no letter"),
        GeneralCategory::PrivateUse => return Some("looks different on every phone"),
        GeneralCategory::Unassigned | GeneralCategory::Surrogate => return Some("is no letter that Unicode knows"),
        _ => {}
    }
    (!is_seen(letter)).then_some("is not seen")
}

/// False for what leaves no ink: what Unicode ignores by default, formats, and the empty Braille cell.
pub(super) fn is_seen(letter: char) -> bool {
    let ignored = CodePointSetData::new::<DefaultIgnorableCodePoint>().contains(letter);
    !ignored && !matches!(category(letter), GeneralCategory::Format | GeneralCategory::Control) && letter != '\u{2800}'
}

/// True for a joiner.
pub(super) fn joins(letter: char) -> bool {
    matches!(letter, NON_JOINER | JOINER)
}

/// True for what is written above, below or around a letter.
pub(super) fn is_mark(letter: char) -> bool {
    is_stacked(letter) || category(letter) == GeneralCategory::SpacingMark
}

/// True for a mark that takes no room of its own.
pub(super) fn is_stacked(letter: char) -> bool {
    matches!(category(letter), GeneralCategory::NonspacingMark | GeneralCategory::EnclosingMark)
}

fn category(letter: char) -> GeneralCategory {
    CodePointMapData::<GeneralCategory>::new().get(letter)
}

/// The rules of RFC 5892, A.1 and A.2.
fn joiner_fits(all: &[char], at: usize) -> bool {
    let (before, behind) = (all.get(..at).unwrap_or_default(), all.get(at + 1..).unwrap_or_default());
    let class = |letter: &char| CodePointMapData::<CanonicalCombiningClass>::new().get(*letter);
    if before.last().map(class) == Some(CanonicalCombiningClass::Virama) {
        return true;
    }
    let kind = |letter: &char| CodePointMapData::<JoiningType>::new().get(*letter);
    let carries = |letter: &&char| kind(letter) != JoiningType::Transparent;
    let left = before.iter().rev().find(carries).map(kind);
    let right = behind.iter().find(carries).map(kind);
    all.get(at) == Some(&NON_JOINER)
        && matches!(left, Some(JoiningType::LeftJoining | JoiningType::DualJoining))
        && matches!(right, Some(JoiningType::RightJoining | JoiningType::DualJoining))
}
