//! Two texts that were made of the same third are made one, line by line. Nothing that either of them changed is lost:
//! where both changed the same lines, both versions come out side by side and a person decides.
//!
//! The comparison is `diffy`'s; it gives the result as one text with markers in it, and this file takes that apart.
//! The markers are made longer than any run of their characters in the texts, so that no text can look like one.

use diffy::{ConflictStyle, MergeOptions};

/// What came of it.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Merged {
    /// One text with the changes of both.
    One(String),
    /// Both changed the same lines; at least one piece is [`Piece::Both`].
    Two(Vec<Piece>),
}

/// A piece of the result: whole lines.
#[derive(Clone, Debug, PartialEq, Eq)]
pub enum Piece {
    /// Both say this, or only one of them changed it.
    Agreed(String),
    /// Both changed it.
    Both {
        /// What it was.
        base: String,
        /// What mine makes of it.
        mine: String,
        /// What theirs makes of it.
        theirs: String,
    },
}

/// Makes one of `mine` and `theirs`, which were both made of `base`. A last line without its break is given one.
pub fn merge(base: &str, mine: &str, theirs: &str) -> Merged {
    let (base, mine, theirs) = (ended(base), ended(mine), ended(theirs));
    let length = marker_length(&[&base, &mine, &theirs]);
    let mut options = MergeOptions::new();
    options.set_conflict_marker_length(length).set_conflict_style(ConflictStyle::Diff3);
    match options.merge(&base, &mine, &theirs) {
        Ok(one) => Merged::One(one),
        Err(marked) => Merged::Two(pieces(&marked, length)),
    }
}

fn ended(text: &str) -> String {
    if text.is_empty() || text.ends_with('\n') { text.to_owned() } else { format!("{text}\n") }
}

/// The characters that markers are made of, in the order in which markers stand.
const MARKERS: [char; 4] = ['<', '|', '=', '>'];

/// Longer than every run of a marker's character in the texts.
fn marker_length(texts: &[&String]) -> usize {
    let mut longest = 6;
    for text in texts {
        let (mut last, mut run) = ('\n', 0);
        for character in text.chars() {
            run = if character == last { run + 1 } else { 1 };
            last = character;
            if MARKERS.contains(&character) {
                longest = longest.max(run);
            }
        }
    }
    longest + 1
}

/// Takes the marked text apart.
fn pieces(marked: &str, length: usize) -> Vec<Piece> {
    let markers = MARKERS.map(|character| character.to_string().repeat(length));
    let mut pieces = Vec::new();
    // The lines of the piece at hand: agreed, or mine, base and theirs once a marker has opened a conflict.
    let mut parts: [String; 4] = Default::default();
    let mut at = 0;
    for line in marked.split_inclusive('\n') {
        match markers.iter().position(|marker| line.starts_with(marker.as_str())) {
            Some(3) => {
                let [_, mine, base, theirs] = std::mem::take(&mut parts);
                pieces.push(Piece::Both { base, mine, theirs });
                at = 0;
            }
            Some(marker) => {
                if marker == 0 && !parts[0].is_empty() {
                    pieces.push(Piece::Agreed(std::mem::take(&mut parts[0])));
                }
                at = marker + 1;
            }
            None => {
                if let Some(part) = parts.get_mut(at) {
                    part.push_str(line);
                }
            }
        }
    }
    if !parts[0].is_empty() {
        pieces.push(Piece::Agreed(std::mem::take(&mut parts[0])));
    }
    pieces
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn changes_in_different_places_become_one_text() {
        let base = "a\nb\nc\nd\ne\n";
        assert_eq!(merge(base, "A\nb\nc\nd\ne\n", "a\nb\nc\nd\nE\n"), Merged::One("A\nb\nc\nd\nE\n".into()));
        assert_eq!(merge(base, base, "a\nc\n"), Merged::One("a\nc\n".into()));
        assert_eq!(merge(base, "x\n", "x\n"), Merged::One("x\n".into()), "both say the same");
        assert_eq!(merge("a", "a\nb", "a"), Merged::One("a\nb\n".into()), "a last line without its break");
    }

    #[test]
    fn the_same_line_changed_twice_is_kept_twice() {
        let both = Piece::Both { base: "b\n".into(), mine: "B\n".into(), theirs: "8\n".into() };
        let expected = vec![Piece::Agreed("a\n".into()), both, Piece::Agreed("c\n".into())];
        assert_eq!(merge("a\nb\nc\n", "a\nB\nc\n", "a\n8\nc\n"), Merged::Two(expected));
    }

    #[test]
    fn a_text_that_is_full_of_markers_is_only_text() {
        let (base, mine) = ("x\n=======\ny\n", "<<<<<<<<< me\n=======\ny\n");
        let both =
            Piece::Both { base: "x\n".into(), mine: "<<<<<<<<< me\n".into(), theirs: ">>>>>>>>>>>> you\n".into() };
        assert_eq!(
            merge(base, mine, ">>>>>>>>>>>> you\n=======\ny\n"),
            Merged::Two(vec![both, Piece::Agreed("=======\ny\n".into())])
        );
    }
}
