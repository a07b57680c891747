//! "Did you mean": the known word nearest to one that is not known.

/// Longer than any word that somebody could have meant.
const LONGEST: usize = 48;

/// The nearest of `known` to `word`, when one is near enough to have been meant: a third of the letters may differ.
pub(crate) fn nearest<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let letters = word.chars().count();
    if letters > LONGEST {
        return None;
    }
    let folded = word.to_lowercase();
    known
        .into_iter()
        .map(|candidate| (strsim::damerau_levenshtein(&folded, &candidate.to_lowercase()), candidate))
        .filter(|(distance, _)| *distance <= (letters / 3).max(1))
        .min_by_key(|(distance, _)| *distance)
        .map(|(_, candidate)| candidate)
}

/// The nearest word as a sentence.
pub(crate) fn did_you_mean<'a>(word: &str, known: impl IntoIterator<Item = &'a str>) -> Option<String> {
    nearest(word, known).map(|near| format!("did you mean `{near}`?"))
}

/// A list for people: `a, b or c`.
pub(crate) fn any_of<'a>(words: impl IntoIterator<Item = &'a str>) -> String {
    let words: Vec<&str> = words.into_iter().collect();
    match words.split_last() {
        None => "nothing".to_owned(),
        Some((only, [])) => (*only).to_owned(),
        Some((last, others)) => format!("{} or {last}", others.join(", ")),
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_near_words_are_suggested() {
        let known = ["thrust", "cut", "slash"];
        assert_eq!(nearest("trust", known), Some("thrust"));
        assert_eq!(nearest("CUT", known), Some("cut"));
        assert_eq!(nearest("pirouette", known), None);
    }

    #[test]
    fn lists_read_like_speech() {
        assert_eq!(any_of(["a"]), "a");
        assert_eq!(any_of(["a", "b", "c"]), "a, b or c");
    }
}
