//! The names of people, as they are typed: one spelling for each, nothing in it that is not seen, and none that could be
//! taken for the name of somebody who is here.
//!
//! A name is normalised (NFC, UAX #15; any white space is one space), then looked at letter by letter
//! (`letters.rs`), then compared with the names that are there (`likeness.rs`). All of it goes by Unicode's own tables.

use unicode_normalization::UnicodeNormalization;

pub use likeness::Likeness;

mod letters;
mod likeness;

/// The longest name of a person, in letters; what is written above or below a letter is not counted.
const LONGEST: usize = 40;
/// The same in bytes, whatever is written above and below.
const LONGEST_BYTES: usize = 240;
/// The most marks on one letter (UTS #39, section 5.4).
const MOST_MARKS: usize = 4;

/// The name as it is kept: normalised, of so many letters at the most, and of letters that are seen.
///
/// # Errors
/// A sentence for whoever typed it: what cannot be in a name, where it stands, what to do.
pub fn checked(typed: &str, letters: usize) -> Result<String, String> {
    let name = normalised(typed);
    if name.is_empty() {
        return Err("Write your name first.".to_owned());
    }
    let counted = name.chars().filter(|letter| !letters::is_mark(*letter) && !letters::joins(*letter)).count();
    let longest = letters.min(LONGEST);
    if counted > longest || name.len() > LONGEST_BYTES {
        return Err(format!("A name may have {longest} letters at the most. Write a shorter one."));
    }
    let all: Vec<char> = name.chars().collect();
    if let Some((at, why)) = (0..all.len()).find_map(|at| Some((at, letters::fault(&all, at)?))) {
        let letter = all.get(at).map_or(0, |letter| u32::from(*letter));
        let place = place(all.get(..at).unwrap_or_default());
        return Err(format!("U+{letter:04X} {place} {why}. Delete it, or type the name letter by letter."));
    }
    marks_are_readable(&name)?;
    if !all.iter().any(|letter| letter.is_alphanumeric()) {
        return Err("A name needs a letter or a number that can be read aloud. Write your name.".to_owned());
    }
    Ok(name)
}

/// A name that is written down beside what somebody else does, such as who signs: normalised, without letters that are
/// not seen. Nothing is refused, for there is nobody to mistake for it.
pub fn tidied(typed: &str) -> String {
    let all: Vec<char> = normalised(typed).chars().collect();
    let seen = |at: &usize| letters::fault(&all, *at).is_none();
    normalised(&(0..all.len()).filter(seen).filter_map(|at| all.get(at)).collect::<String>())
}

/// One spelling for what looks the same: NFC, and one space for any white space, none at the ends.
fn normalised(name: &str) -> String {
    name.nfc().collect::<String>().split_whitespace().collect::<Vec<_>>().join(" ")
}

/// Where a letter stands that is not seen itself.
fn place(before: &[char]) -> String {
    match before.iter().rposition(|letter| letter.is_alphanumeric()) {
        Some(at) => {
            let from = at.saturating_sub(9);
            let seen = before.get(from..=at).unwrap_or_default().iter().filter(|letter| letters::is_seen(**letter));
            format!("after “{}”", seen.collect::<String>().trim_start())
        }
        None => "at the beginning".to_owned(),
    }
}

/// No letter carries a heap of marks, or one of them twice (UTS #39, section 5.4).
fn marks_are_readable(name: &str) -> Result<(), String> {
    let (mut marks, mut last) = (0, None);
    let mut base = ' ';
    for letter in name.nfd() {
        if !letters::is_stacked(letter) {
            (marks, last, base) = (0, None, letter);
            continue;
        }
        marks += 1;
        if marks > MOST_MARKS || last == Some(letter) {
            let number = u32::from(letter);
            return Err(format!(
                "U+{number:04X} is one mark too many on “{base}”: {MOST_MARKS} fit on a letter, each once. Delete some."
            ));
        }
        last = Some(letter);
    }
    Ok(())
}

#[cfg(test)]
mod tests;
