//! Near misses on the page: how many, where and why, and then each of them.

use maud::{Markup, html};

use super::often::often;
use crate::review::near_miss::NearMiss;
use crate::review::say;
use crate::review::split::kinds;

/// Nothing where there was none: that nobody reported one says nothing about the fight.
pub(super) fn section(misses: &[NearMiss]) -> Markup {
    let places = kinds(misses.iter().map(|it| it.phrase.clone().unwrap_or_else(|| "no place given".to_owned())));
    let reasons = kinds(misses.iter().filter_map(|it| it.reason.clone()));
    let (without, noted) =
        (misses.iter().filter(|it| it.reason.is_none()).count(), misses.iter().filter(|it| it.note.is_some()).count());
    html! {
        @if !misses.is_empty() {
            p {
                strong { "Near misses, reported without a hold: " } (misses.len()) " (" (often(&places)) "). "
                @if !reasons.is_empty() { strong { "Why: " } (often(&reasons)) ". " }
                (say::of_all(without, misses.len(), "has no reason", "have no reason")) " "
                (say::of_all(noted, misses.len(), "has a note", "have a note"))
            }
            table {
                caption { "Near misses" }
                thead { tr { th scope="col" { "When" } th scope="col" { "Where" } th.num scope="col" { "Speed" } th scope="col" { "Why" } th scope="col" { "Note" } th scope="col" { "Reported by" } } }
                tbody { @for it in misses { (row(it)) } }
            }
        }
    }
}

fn row(it: &NearMiss) -> Markup {
    html! {
        tr {
            td { (it.at) }
            td { @match (&it.phrase, &it.beat) {
                (Some(phrase), Some(beat)) => { (phrase) ", beat " (beat) @if let Some(words) = &it.words { ": " (words) } },
                _ => { "no place given" },
            } }
            td.num { (if it.phrase.is_some() { say::speed(it.speed) } else { "–".to_owned() }) }
            td { (it.reason.as_deref().unwrap_or("no reason given")) }
            td { (it.note.as_deref().unwrap_or("")) }
            td { (it.who.as_deref().unwrap_or("no name given")) }
        }
    }
}
