//! The company's own pictures of words: the files in the folder of pictures that rows of the vocabulary name.

use std::collections::BTreeMap;
use std::path::Path;

use super::fight::bytes;
use crate::score::vocabulary::{Drawing, Vocabulary};

/// The vocabulary with the pictures that it names, and a sentence for each that cannot be shown; a word without its
/// picture has the one that is made of its row.
pub(super) fn with_pictures(folder: &Path, vocabulary: Vocabulary) -> (Vocabulary, Vec<String>) {
    let (mut drawings, mut unread) = (BTreeMap::new(), Vec::new());
    for (file, words) in vocabulary.picture_files() {
        match drawing(&folder.join(file)) {
            Ok(drawing) => drop(drawings.insert(file.to_owned(), drawing)),
            Err(why) => unread.push(format!(
                "pictures/{file}, the picture of “{}”, {why}. Until then it is drawn from its row.",
                words.join("”, “")
            )),
        }
    }
    if drawings.is_empty() {
        return (vocabulary, unread);
    }
    match vocabulary.with_drawings(&drawings) {
        Ok(with) => (with, unread),
        Err(error) => {
            unread.push(format!("The pictures of the folder pictures cannot be used: {error}"));
            (vocabulary, unread)
        }
    }
}

fn drawing(path: &Path) -> Result<Drawing, String> {
    // One byte more than it may have, so that the reader says that it is too long.
    let bytes = bytes(path, Drawing::MOST_BYTES as u64 + 1).map_err(|error| format!("cannot be read ({error})"))?;
    Drawing::of(&bytes)
}
