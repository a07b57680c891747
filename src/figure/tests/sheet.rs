//! The contact sheet: every picture of the built-in vocabulary with its words, to be looked at.

use std::collections::BTreeMap;
use std::fmt::Write as _;

use super::every::{Case, every};
use crate::figure::{Picture, STYLE, View};
use crate::score::vocabulary::Vocabulary;

/// The page. Moves that look alike stand on it once.
pub(crate) fn page(vocabulary: &Vocabulary) -> String {
    let cases = every(vocabulary);
    let mut out = format!(
        "<!doctype html><meta charset=utf-8><title>Figures</title><style>{STYLE}\
         body{{margin:8px;font:12px sans-serif;display:grid;grid-template-columns:repeat(auto-fill,136px);gap:10px}}\
         body{{background:var(--ground,#faf8f4);color:var(--ink,#14171c)}}figure{{margin:0}}svg{{width:128px;height:128px;display:block}}svg+svg{{width:42px;height:42px}}\
         @media(prefers-color-scheme:dark){{body{{background:#0b0e13;color:#f3f0e8}}}}</style>"
    );
    // The markup of each picture, with its words and the moves that it shows.
    let mut seen: BTreeMap<String, (String, String, Vec<&str>)> = BTreeMap::new();
    for Case { name, drawn } in &cases {
        let Some(picture) = Picture::of(vocabulary, drawn) else { continue };
        let (markup, small) = (picture.inline(View::Doer), picture.small(View::Doer));
        let form = markup.split("</title>").nth(1).unwrap_or_default().to_owned();
        seen.entry(form).or_insert_with(|| (markup + &small, picture.words(), Vec::new())).2.push(name);
    }
    let mut pictures: Vec<_> = seen.into_values().collect();
    pictures.sort_by(|one, other| one.2.cmp(&other.2));
    for (markup, words, names) in pictures {
        let (name, all) = (names[0], names.join(";"));
        let _ = write!(out, "<figure data-names=\"{all}\" title=\"{words}\">{markup}<b>{name}</b></figure>");
    }
    out
}
