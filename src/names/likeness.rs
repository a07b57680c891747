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

/// True for two spellings of one name: the case of letters tells nobody apart.
pub fn same(one: &str, other: &str) -> bool {
    normalised(one).to_lowercase() == normalised(other).to_lowercase()
}

/// True for names that could be mistaken for each other. It goes both ways, and a name is like itself.
pub fn alike(one: &str, other: &str) -> bool {
    let (one, other) = (shapes(one), shapes(other));
    one.iter().zip(&other).any(|(one, other)| one == other)
}

fn shapes(name: &str) -> [String; 2] {
    let written: String = name.nfkc().filter(|letter| !letter.is_whitespace() && letters::is_seen(*letter)).collect();
    [shape(&written), shape(&written.to_lowercase())]
}

fn shape(text: &str) -> String {
    skeleton(text).collect::<String>().to_lowercase()
}
