//! How often each of several kinds was, in a line.

use crate::review::split::Kind;

/// How many kinds, revisions and casts are shown; the JSON has all of them.
pub(super) const SHOWN: usize = 6;

/// `grip ×3, late`, the most usual of them.
pub(super) fn often(kinds: &[Kind]) -> String {
    let one = |it: &Kind| if it.count == 1 { it.what.clone() } else { format!("{} ×{}", it.what, it.count) };
    let mut said: Vec<String> = kinds.iter().take(SHOWN).map(one).collect();
    if kinds.len() > SHOWN {
        said.push(format!("{} others", kinds.len() - SHOWN));
    }
    said.join(", ")
}
