//! Which names are one name, and which could be mistaken for each other on a screen across a dark room.
//!
//! Names are compared by the skeletons of UTS #39, section 4, and its tables. Case and forms of compatibility are folded
//! first (NFKC), because wide, raised and slanted letters are no other name. Spaces are left out, because nobody hears
//! them and few see them; so are joiners. Each name has two shapes: as it is written, in which a capital I is a small l,
//! and in small letters, in which Greek and Cyrillic capitals are what they look like. Names are alike when either is
//! the same; the shapes are in small letters again, because the tables give a capital O for a zero.

use unicode_normalization::UnicodeNormalization;
use unicode_security::skeleton;

use super::{letters, normalised};

/// What a name is compared by, worked out once: whoever comes is compared with everybody who is there.
#[derive(Clone, Debug)]
pub struct Likeness {
    spelling: String,
    shapes: [String; 2],
}

impl Likeness {
    /// That of a name.
    pub fn of(name: &str) -> Likeness {
        let spelling = normalised(name).to_lowercase();
        let written: String =
            name.nfkc().filter(|letter| !letter.is_whitespace() && letters::is_seen(*letter)).collect();
        Likeness { spelling, shapes: [shape(&written), shape(&written.to_lowercase())] }
    }

    /// True for two spellings of one name: the case of letters tells nobody apart.
    pub fn is_same(&self, other: &Likeness) -> bool {
        self.spelling == other.spelling
    }

    /// True for names that could be mistaken for each other. It goes both ways, and a name is like itself.
    pub fn is_like(&self, other: &Likeness) -> bool {
        self.shapes.iter().zip(&other.shapes).any(|(one, other)| one == other)
    }
}

fn shape(text: &str) -> String {
    skeleton(text).collect::<String>().to_lowercase()
}
